"""Everything of one exam in one round trip, its record held first where a change follows.

A hold and the reading behind it are two statements sent together: each has its own snapshot, so whoever
waited for the record reads what was committed meanwhile. As one statement it would read what was there before
the wait.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar
from uuid import UUID

from django.db import connection
from django.db.models import Model

from clinic.patients.models import Measurement
from clinic.people.models import Staff
from clinic.visits.models import HeadsUp, Record, Visit
from exams.models import Exam
from exams.rows import FINDING_COLUMNS, answers_of_columns, undo_of
from exams.state import LineAnswer, Outcome, Undo, outcome_from_json

M = TypeVar("M", bound=Model)

# what of the record, its visit, heads-ups and values makes an open exam look different; the exam's own
# changes are counted in its revision
PULSE = """concat_ws('|', r.signed_at, v.kind,
    (SELECT concat(count(*), '.', count(answered_at), '.', max(answered_at)) FROM clinic_headsup
      WHERE record_id = r.id),
    (SELECT concat(count(*), '.', count(struck_at)) FROM clinic_measurement WHERE visit_id = v.id))"""
FROM = """FROM clinic_record r JOIN clinic_visit v ON v.id = r.visit_id
  LEFT JOIN exams_exam e ON e.record_id = r.id WHERE """
# numbers travel as text: JSON's own would lose what a decimal keeps
READ = f"""SELECT json_build_object(
  'record', to_jsonb(r), 'visit', to_jsonb(v), 'exam', to_jsonb(e), 'pulse', {PULSE},
  'findings', (SELECT json_agg(json_build_array({", ".join("f." + c for c in FINDING_COLUMNS)}))
    FROM exams_finding f WHERE f.exam_id = e.id),
  'measured', (SELECT json_agg(
      to_jsonb(m) || jsonb_build_object('typed', m.typed::text, 'value', m.value::text)
      ORDER BY m.measured_at, m.id)
    FROM clinic_measurement m WHERE m.visit_id = v.id AND m.struck_at IS NULL),
  'heads_ups', (SELECT json_agg(to_jsonb(h) || jsonb_build_object('by_name', s.full_name) ORDER BY h.at, h.id)
    FROM clinic_headsup h JOIN clinic_staff s ON s.id = h.by_id WHERE h.record_id = r.id),
  'known', (SELECT json_agg(json_build_array(o.key, o.outcome, o.undo))
    FROM exams_operation o WHERE o.exam_id = e.id AND o.key = ANY(%s)),
  'last', (SELECT max(number) FROM exams_operation WHERE exam_id = e.id),
  'names', (SELECT jsonb_object_agg(id, full_name) FROM clinic_staff WHERE id IN (
    SELECT unnest(ARRAY[person_id, observed_by_id]) FROM exams_finding WHERE exam_id = e.id
    UNION SELECT unnest(ARRAY[entered_by_id, observed_by_id]) FROM clinic_measurement WHERE visit_id = v.id))
)::text {FROM}"""  # noqa: S608 - nothing but names of this module stands in it
HOLD = "SELECT id FROM clinic_record WHERE {} = %s FOR NO KEY UPDATE;"


@dataclass(frozen=True)
class Everything:
    """What was read of one record's exam. `exam`: None when nobody began it.

    `measured`: the newest value of each kind. `outcomes`, `undo`: of the operations asked for. `last`: number
    of the exam's last operation. `names`: of everybody in it, by staff number. `pulse`: see PULSE.
    """

    record: Record
    exam: Exam | None
    answers: Mapping[str, LineAnswer]
    measured: tuple[Measurement, ...]
    heads_ups: tuple[HeadsUp, ...]
    outcomes: Mapping[str, Outcome]
    undo: Mapping[str, Undo]
    last: int
    names: Mapping[str, str]
    pulse: str


def read_record(record_id: int, *, keys: Iterable[str] = ()) -> Everything:
    """By the record. One query. `keys`: operations whose first answers are wanted."""
    found = _ask("r.id", record_id, keys, hold=False)
    assert found is not None, "a record that is being read does not vanish"
    return found


def hold_record(record_id: int, *, keys: Iterable[str] = ()) -> Everything:
    """By the record, which is held until the transaction ends."""
    found = _ask("r.id", record_id, keys, hold=True)
    assert found is not None, "records are never deleted"
    return found


def hold_visit(visit_id: int, *, keys: Iterable[str] = ()) -> Everything | None:
    """By the visit, whose record is held until the transaction ends. None: no such visit, or not arrived."""
    return _ask("r.visit_id", visit_id, keys, hold=True)


def _ask(column: str, value: int, keys: Iterable[str], *, hold: bool) -> Everything | None:
    wanted = [UUID(key) for key in keys]
    held = HOLD.format(column.removeprefix("r.")) if hold else ""
    assert not hold or connection.in_atomic_block, "what is held is let go at once outside a transaction"
    with connection.cursor() as cursor:
        cursor.execute(f"{held} {READ} {column} = %s", [*([value] if hold else []), wanted, value])
        if hold:
            cursor.nextset()
        row = cursor.fetchone()
    return _everything(json.loads(row[0])) if row else None


def _everything(told: Mapping[str, Any]) -> Everything:
    record = row_of(Record, told["record"])
    record.visit = row_of(Visit, told["visit"])
    exam = row_of(Exam, told["exam"]) if told["exam"] else None
    if exam:
        exam.record = record
    measured = {each["kind"]: each for each in told["measured"] or ()}  # the newest of each kind comes last
    known = told["known"] or ()
    return Everything(
        record=record,
        exam=exam,
        answers=answers_of_columns(told["findings"] or ()),
        measured=tuple(row_of(Measurement, each) for each in measured.values()),
        heads_ups=tuple(_heads_up(each) for each in told["heads_ups"] or ()),
        outcomes={key: outcome_from_json(outcome) for key, outcome, _ in known},
        undo={key: undo_of(undo) for key, _, undo in known if undo},
        last=told["last"] or 0,
        names=told["names"] or {},
        pulse=told["pulse"],
    )


def _heads_up(told: Mapping[str, Any]) -> HeadsUp:
    row = row_of(HeadsUp, told)
    row.by = Staff.from_db(connection.alias, ["id", "full_name"], [told["by_id"], told["by_name"]])
    return row


def row_of(model: type[M], told: Mapping[str, Any]) -> M:
    """The row that PostgreSQL's `to_jsonb` tells."""
    fields = model._meta.concrete_fields
    return model.from_db(
        connection.alias, [f.attname for f in fields], [f.to_python(told[str(f.column)]) for f in fields]
    )
