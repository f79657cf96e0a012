"""Everything that the schedule reads of some patients, asked for in one statement."""

import json
from collections import defaultdict
from collections.abc import Callable, Iterable
from datetime import date, datetime
from functools import cache
from types import SimpleNamespace
from typing import Any

from django.db import connection
from django.db.models import Model

from clinic.care.models import Test, TestResult
from clinic.patients.models import Condition, LifestyleAnswer, Measurement, Microchip
from clinic.visits.models import Visit
from preventive import models

# What was recorded for a patient merged into one of these, also by way of another, counts for that one.
STATEMENT = """
WITH RECURSIVE mine(id, stands_for) AS (
  SELECT id, id FROM unnest(%(ids)s::bigint[]) AS id
  UNION
  SELECT p.id, mine.stands_for FROM clinic_patient p JOIN mine ON p.merged_into_id = mine.id
)
SELECT stands_for, 'dose', to_jsonb(t) FROM preventive_dose t JOIN mine ON patient_id = mine.id
  WHERE struck_at IS NULL
UNION ALL SELECT stands_for, 'supply', to_jsonb(t) FROM preventive_supply t JOIN mine ON patient_id = mine.id
  WHERE struck_at IS NULL
UNION ALL SELECT stands_for, 'treatment', to_jsonb(t) FROM preventive_treatmentgiven t
  JOIN mine ON patient_id = mine.id WHERE struck_at IS NULL
UNION ALL SELECT stands_for, 'decline', to_jsonb(t) FROM preventive_decline t
  JOIN mine ON patient_id = mine.id WHERE struck_at IS NULL
UNION ALL SELECT stands_for, 'deferral', to_jsonb(t) FROM preventive_deferral t
  JOIN mine ON patient_id = mine.id WHERE struck_at IS NULL
UNION ALL SELECT stands_for, 'hold', to_jsonb(t) FROM preventive_hold t JOIN mine ON patient_id = mine.id
UNION ALL SELECT stands_for, 'own-date', to_jsonb(t) || jsonb_build_object('by', s.full_name)
  FROM preventive_owndate t JOIN mine ON patient_id = mine.id JOIN clinic_staff s ON s.id = t.entered_by_id
  WHERE t.struck_at IS NULL
UNION ALL SELECT stands_for, 'life-fact', to_jsonb(t) FROM preventive_lifefact t
  JOIN mine ON patient_id = mine.id WHERE struck_at IS NULL
UNION ALL SELECT stands_for, 'result', to_jsonb(r) || jsonb_build_object('of_test', to_jsonb(t))
  FROM clinic_testresult r JOIN clinic_test t ON t.id = r.test_id JOIN mine ON t.patient_id = mine.id
  WHERE r.struck_at IS NULL
UNION ALL SELECT stands_for, 'exam', to_jsonb(v) FROM clinic_visit v JOIN mine ON v.patient_id = mine.id
  LEFT JOIN clinic_record r ON r.visit_id = v.id
  WHERE v.kind = 'full' AND (r.signed_at IS NOT NULL OR v.place = 'gone-home')
UNION ALL SELECT stands_for, 'condition', to_jsonb(t) FROM clinic_condition t
  JOIN mine ON patient_id = mine.id
UNION ALL SELECT stands_for, 'lifestyle', to_jsonb(t) FROM clinic_lifestyleanswer t
  JOIN mine ON patient_id = mine.id
UNION ALL SELECT stands_for, 'weight', to_jsonb(newest) FROM mine CROSS JOIN LATERAL (
  SELECT * FROM clinic_measurement t WHERE t.patient_id = mine.id AND kind = 'weight' AND struck_at IS NULL
    AND value IS NOT NULL ORDER BY measured_at DESC, t.id DESC LIMIT 1) newest
UNION ALL SELECT stands_for, 'chip', to_jsonb(t) FROM clinic_microchip t JOIN mine ON patient_id = mine.id
UNION ALL SELECT DISTINCT o.patient_id, 'lives-with-cat', 'true'::jsonb
  FROM clinic_ownership o JOIN clinic_ownership c ON c.owner_id = o.owner_id AND c.until IS NULL
  JOIN clinic_patient cat ON cat.id = c.patient_id AND cat.id <> o.patient_id
  WHERE o.until IS NULL AND o.patient_id = ANY(%(ids)s) AND cat.species = 'cat'
    AND cat.deceased_on IS NULL AND cat.left_practice_on IS NULL AND cat.merged_into_id IS NULL
"""


class PatientRows:
    """By patient's id, the rows of each kind that count; whoever reads them puts them in order.

    A row has its table's columns as attributes and nothing else of a model: there are many, only read.
    """

    def __init__(self, ids: Iterable[int]) -> None:
        found: dict[str, dict[int, list[dict[str, Any]]]] = defaultdict(lambda: defaultdict(list))
        with connection.cursor() as cursor:
            cursor.execute(STATEMENT, {"ids": list(ids)})
            for stands_for, what, row in cursor.fetchall():
                found[what][stands_for].append(json.loads(row))
        self.doses = _of(models.Dose, found["dose"])
        self.supplies = _of(models.Supply, found["supply"])
        self.treatments = _of(models.TreatmentGiven, found["treatment"])
        self.declines = _of(models.Decline, found["decline"])
        self.deferrals = _of(models.Deferral, found["deferral"])
        self.holds = _of(models.Hold, found["hold"])
        self.own_dates = _of(models.OwnDate, found["own-date"])
        self.life_facts = _of(models.LifeFact, found["life-fact"])
        self.results = {key: [_result(row) for row in rows] for key, rows in found["result"].items()}
        self.exams = _of(Visit, found["exam"])
        self.conditions = _of(Condition, found["condition"])
        self.lifestyle = _of(LifestyleAnswer, found["lifestyle"])
        self.weights = _of(Measurement, found["weight"])
        self.chips = _of(Microchip, found["chip"])
        self.living_with_cats = set(found["lives-with-cat"])


Row = Any


def _of(model: type[Model], found: dict[int, list[dict[str, Any]]]) -> dict[int, list[Row]]:
    return {key: [_row(model, row) for row in rows] for key, rows in found.items()}


@cache
def _in_time(model: type[Model]) -> tuple[tuple[str, Callable[[str], Any]], ...]:
    """Columns that JSON has no type for, and how their text is read."""
    read: dict[str, Callable[[str], Any]] = {
        "DateField": date.fromisoformat,
        "DateTimeField": datetime.fromisoformat,
    }
    return tuple(
        (str(field.column), read[kind])
        for field in model._meta.concrete_fields
        if (kind := field.get_internal_type()) in read
    )


def _row(model: type[Model], row: dict[str, Any]) -> Row:
    for column, read in _in_time(model):
        if row[column] is not None:
            row[column] = read(row[column])
    return SimpleNamespace(pk=row["id"], **row)


def _result(row: dict[str, Any]) -> Row:
    test = _row(Test, row.pop("of_test"))
    result = _row(TestResult, row)
    result.test = test
    return result
