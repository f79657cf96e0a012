"""From rows to the core's facts: one animal or many at once, always the same number of questions."""

import json
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from functools import lru_cache
from typing import Any, TypeVar

from django.db.models import Model
from django.utils import timezone

from clinic.care.models import TestResult as ResultRow
from clinic.patients.models import Microchip, Patient
from preventive import facts, models
from preventive.codes import (
    CONDITIONS,
    LARGE_FROM_KG,
    LIFESTYLE,
    RESULT_KINDS,
    is_abcb1_breed,
)
from preventive.dates import PartialDate, Precision, Span, day_after
from preventive.life_facts import as_facts
from preventive.products import VaccineFacts, vaccine_facts, vaccine_on_label
from preventive.rows import PatientRows
from preventive.titres import is_titre

_BIRTH = {
    Patient.BirthPrecision.DAY: Precision.DAY,
    Patient.BirthPrecision.MONTH: Precision.MONTH,
    Patient.BirthPrecision.YEAR: Precision.YEAR,
    # an estimate is taken as good to the month: the youngest age it allows decides
    Patient.BirthPrecision.ESTIMATE: Precision.MONTH,
}
_SOURCE = {
    models.Source.HERE: facts.DoseSource.HERE,
    models.Source.OUTSIDE: facts.DoseSource.OUTSIDE,
    models.Source.OWNER: facts.DoseSource.OWNER,
}
M = TypeVar("M", bound=Model)


@dataclass(frozen=True)
class Known:
    """One patient as the schedule reads it; from `changes_on` its own facts are others, as noted already."""

    animal: facts.Animal
    history: facts.History
    changes_on: date | None = None


def history_of(patient: Patient, *, today: date, examined_on: date | None = None) -> Known:
    """One patient; see `histories_of`."""
    days = {patient.pk: examined_on} if examined_on else {}
    return histories_of([patient], today=today, examined_on=days)[patient.pk]


def histories_of(
    patients: Sequence[Patient], *, today: date, examined_on: dict[int, date] | None = None
) -> dict[int, Known]:
    """By patient's id, what is known on `today`. One query for any number of patients.

    `examined_on`: patients whose full examination is under way, and its day. What was recorded for a patient
    merged into one of these counts for that one.
    """
    rows = _Rows(patients)
    exams = examined_on or {}
    return {
        each.pk: Known(
            rows.animal(each, today), rows.history(each, exams.get(each.pk)), rows.changes_on(each, today)
        )
        for each in patients
    }


class _Rows:
    """All rows of some patients, read once and put in order."""

    def __init__(self, patients: Sequence[Patient]) -> None:
        rows = PatientRows(each.pk for each in patients)
        self.doses = _sorted(rows.doses, lambda row: (row.given_on, row.pk))
        self.supplies = _sorted(rows.supplies, lambda row: (row.first_on, row.pk))
        self.treatments = _sorted(rows.treatments, lambda row: (row.on, row.pk))
        self.declines = _sorted(rows.declines, lambda row: (row.on, row.pk))
        self.deferrals = _sorted(rows.deferrals, lambda row: (row.on, row.pk))
        self.holds = _sorted(rows.holds, lambda row: (row.on, row.pk))
        self.own_dates = _sorted(rows.own_dates, lambda row: (row.on, row.pk))
        self.life_facts = _sorted(rows.life_facts, lambda row: (row.entered_at, row.pk))
        self.results = _sorted(rows.results, lambda row: (row.resulted_at, row.pk))
        self.exams = _sorted(rows.exams, lambda row: row.pk)
        self.conditions = _sorted(rows.conditions, lambda row: row.pk)
        self.lifestyle = _sorted(rows.lifestyle, lambda row: (row.answered_at, row.pk))
        self.weights = _sorted(rows.weights, lambda row: row.pk)
        self.chips = _sorted(rows.chips, lambda row: row.pk)
        self.zone = timezone.get_current_timezone()  # asked for once: there are many moments to place
        # dogs whose owner also has a living cat here
        self.with_cats = rows.living_with_cats & {each.pk for each in patients if each.species == "dog"}

    def animal(self, patient: Patient, today: date) -> facts.Animal:
        codes = {
            CONDITIONS.get(each.code, each.code)
            for each in self.conditions[patient.pk]
            if each.since <= today and (each.until is None or each.until >= today)
        }
        weighed = max(self.weights[patient.pk], key=lambda each: each.measured_at, default=None)
        return facts.Animal(
            species=facts.Species(patient.species),
            birth=birth_of(patient),
            sex=patient.sex,
            neutered=patient.is_neutered,
            conditions=frozenset(codes),
            lifestyle=self._answers(patient),
            size=_size(patient),
            chipped_on=min((_chipped(each, self.zone) for each in self.chips[patient.pk]), default=None),
            abcb1=facts.Abcb1.ONE_MUTANT if "abcb1" in codes else facts.Abcb1.UNKNOWN,
            abcb1_breed=patient.species == "dog" and is_abcb1_breed(patient.breed),
            weight_kg=float(weighed.value) if weighed and weighed.value is not None else None,
            weighed_on=_local(weighed.measured_at, self.zone) if weighed else None,
            **as_facts((each.code, each.value) for each in self.life_facts[patient.pk]),
        )

    def changes_on(self, patient: Patient, today: date) -> date | None:
        """The next day on which a condition begins, or is over, by what is noted today."""
        noted = self.conditions[patient.pk]
        days = [each.since for each in noted] + [day_after(each.until) for each in noted if each.until]
        return min((day for day in days if day > today), default=None)

    def _answers(self, patient: Patient) -> tuple[facts.Answer, ...]:
        answers = [
            facts.Answer(
                LIFESTYLE.get(each.code, each.code),
                _yes_or_no(each.answer),
                _local(each.answered_at, self.zone),
            )
            for each in self.lifestyle[patient.pk]
        ]
        answers = _either(answers)
        if patient.pk in self.with_cats:
            # a cat of the same owner is known, whatever was answered
            answers = [each for each in answers if each.code != "cats_in_home"]
            answers.append(facts.Answer("cats_in_home", True))
        return tuple(answers)

    def history(self, patient: Patient, examined_on: date | None) -> facts.History:
        key = patient.pk
        exams = {_local(each.arrived_at or each.made_at, self.zone) for each in self.exams[key]}
        return facts.History(
            doses=tuple(_dose(each) for each in self.doses[key]),
            tests=tuple(found for each in self.results[key] if (found := _result(each, self.zone))),
            supplies=tuple(supply_fact(each) for each in self.supplies[key]),
            treatments=tuple(facts.Treatment(each.kind, each.on) for each in self.treatments[key]),
            exams=tuple(sorted(exams | ({examined_on} if examined_on else set()))),
            declines=tuple(_put_off(facts.Decline, each) for each in self.declines[key]),
            deferrals=tuple(_put_off(facts.Deferral, each) for each in self.deferrals[key]),
            holds=tuple(
                facts.Hold(each.code, each.on, each.reason, each.released_on) for each in self.holds[key]
            ),
            own_dates=tuple(
                facts.OwnDate(each.code, each.day, each.on, each.by, each.reason)
                for each in self.own_dates[key]
            ),
        )


def _sorted(rows: dict[int, list[M]], order: Callable[[M], Any]) -> dict[int, list[M]]:
    return defaultdict(list, {key: sorted(each, key=order) for key, each in rows.items()})


def _local(moment: datetime, zone: tzinfo) -> date:
    """The clinic's day on which it was."""
    return moment.astimezone(zone).date()


def birth_of(patient: Patient) -> facts.Birth | None:
    if patient.birth_date is None:
        return None
    precision = _BIRTH[Patient.BirthPrecision(patient.birth_precision)]
    estimated = patient.birth_precision == Patient.BirthPrecision.ESTIMATE
    return facts.Birth(PartialDate(patient.birth_date, precision), estimated)


def _size(patient: Patient) -> str:
    if patient.expected_adult_kg is None:
        return ""
    return "large" if patient.expected_adult_kg >= LARGE_FROM_KG else "small"


def _chipped(chip: Microchip, zone: tzinfo) -> date:
    return chip.implanted_on or _local(chip.entered_at, zone)


def _yes_or_no(answer: str) -> bool | None:
    return {"yes": True, "no": False}.get(answer)


def _either(answers: list[facts.Answer]) -> list[facts.Answer]:
    """Two questions may stand for one of the protocol's: one yes is a yes, two no are a no."""
    joined: dict[str, facts.Answer] = {}
    for each in answers:
        other = joined.get(each.code)
        if other is None:
            joined[each.code] = each
            continue
        value = (
            True
            if True in (each.value, other.value)
            else None
            if None in (each.value, other.value)
            else False
        )
        joined[each.code] = facts.Answer(
            each.code, value, min(filter(None, (each.answered_on, other.answered_on)), default=None)
        )
    return list(joined.values())


def _dose(row: models.Dose) -> facts.Dose:
    label = row.product_facts
    return facts.Dose(
        id=str(row.pk),
        antigens=tuple(row.antigens),
        given=PartialDate(row.given_on, Precision(row.precision)),
        product=_product(json.dumps(label, sort_keys=True)) if label else facts.NO_PRODUCT,
        route=_route(row.route),
        site=row.site,
        source=_SOURCE[models.Source(row.source)],
        proof=row.proof,
        lot=row.lot,
        lot_expires_on=row.expires_on,
        decision=row.counted,
        decision_reason=row.counted_reason,
    )


@lru_cache(maxsize=512)
def _product(label: str) -> facts.VaccineProduct:
    """Thousands of doses have the same label on them: read once."""
    read = json.loads(label)
    return vaccine_on_label(read["name"], tuple(read["species"]), vaccine_facts(read["facts"]))


def label_facts(row: models.Dose) -> VaccineFacts:
    """What the label said on that day."""
    return vaccine_facts(row.product_facts["facts"])


def _route(code: str) -> facts.Route:
    return facts.Route(code)


def _result(row: ResultRow, zone: tzinfo) -> facts.TestResult | None:
    """None for tests the schedule does not know, and where there is no clear result: it stays due."""
    kind = RESULT_KINDS.get(row.analyte) or RESULT_KINDS.get(row.test.kind)
    positive = {"negative": False, "inside": False, "positive": True}.get(row.meaning)
    low = False
    if kind is not None and is_titre(kind) and row.meaning in _TITRE:
        positive = low = _TITRE[row.meaning]
    if kind is None or positive is None:
        return None
    on = _local(row.test.taken_at or row.resulted_at, zone)
    return facts.TestResult(id=str(row.pk), kind=kind, on=on, positive=positive, low=low)


# a laboratory's interval says how much antibody is enough: too little asks for a dose like none at all
_TITRE = {"low": True, "high": False}


def supply_fact(row: models.Supply) -> facts.Supply:
    """A supply as the schedule reads it."""
    return facts.Supply(
        id=str(row.pk),
        product=row.product_name,
        interval=Span.parse(row.interval),
        count=row.count,
        first_on=row.first_on,
        protects=frozenset(row.protects),
        ingredients=tuple(row.ingredients),
    )


P = TypeVar("P", facts.Decline, facts.Deferral)


def _put_off(kind: Callable[[str, date, date, str], P], row: models.PutOff) -> P:
    return kind(row.code, row.on, row.until, row.reason)
