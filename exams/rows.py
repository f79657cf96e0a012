"""Between rows and the pure core: answers, heads-ups, what to take back, the animal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

from clinic.patients.models import LastingFact, Patient
from clinic.visits import models as visits
from exams.consciousness import log_of
from exams.lines import Absence, Animal
from exams.lump_today import lump_from_json, lump_to_json, lumps_from_json
from exams.models import Exam, Finding, Operation
from exams.state import (
    ExamState,
    HeadsUp,
    LineAnswer,
    Outcome,
    Undo,
    answer_from_json,
    answer_to_json,
    entries_from_json,
    outcome_from_json,
)

# the clinic's word for an answer, and the core's
TO_CORE = {
    "": "",
    "found": "found",
    "looked": "nothing",
    "not-today": "not-today",
    "elsewhere": "elsewhere",  # it was another patient's; only the house itself says so
}
FROM_CORE = {core: clinic for clinic, core in TO_CORE.items()}
PLAIN = (
    "status",
    "in_part",
    "reason",
    "reason_words",
    "together",
    "value",
    "unit",
    "flag",
    "role",
    "made_at",
    "made_in",
    "charted",
    "spoken",
)
FINDING_COLUMNS = ("line", *PLAIN, "findings", "person_id", "observed_by_id", "confirmed_by_id", "operation")


def answer_of(row: Finding) -> LineAnswer:
    """Persons are staff numbers, as text."""
    return answer_from_json(
        {
            **{name: getattr(row, name) for name in PLAIN},
            "findings": row.findings,
            "person": str(row.person_id),
            "observed_by": str(row.observed_by_id or ""),
            "confirmed_by": str(row.confirmed_by_id or ""),
            "operation": str(row.operation or ""),
        }
    )


def answers_of_columns(rows: Iterable[Sequence[Any]]) -> dict[str, LineAnswer]:
    """By line, from the values of FINDING_COLUMNS; without a model's row between, for a walk has 300 of them.

    Lines that were answered together are told alike and share one answer.
    """
    alike: dict[str, LineAnswer] = {}
    answers = {}
    for line, *told in rows:
        words = repr(told)
        if words not in alike:
            alike[words] = _answer_of_columns(told)
        answers[line] = alike[words]
    return answers


def _answer_of_columns(told: Sequence[Any]) -> LineAnswer:
    *plain, findings, person, observed_by, confirmed_by, operation = told
    return LineAnswer(
        findings=entries_from_json(findings),
        person=str(person),
        observed_by=str(observed_by or ""),
        confirmed_by=str(confirmed_by or ""),
        operation=operation or "",
        **dict(zip(PLAIN, plain, strict=True)),
    )


def finding_of(exam: Exam, line: str, answer: LineAnswer) -> Finding:
    """The row, not saved."""
    structure, _, side = line.partition("|")
    plain = answer_to_json(answer) or {}
    return Finding(
        exam=exam,
        record_id=exam.record_id,
        line=line,
        station=structure.partition(".")[0],
        structure=structure,
        side=side,
        findings=plain.get("findings", []),
        person_id=int(answer.person),
        observed_by_id=int(answer.observed_by) if answer.observed_by else None,
        confirmed_by_id=int(answer.confirmed_by) if answer.confirmed_by else None,
        operation=UUID(answer.operation) if answer.operation else None,
        **{name: getattr(answer, name) for name in PLAIN},
    )


def heads_up_of(row: visits.HeadsUp) -> HeadsUp:
    return HeadsUp(
        id=str(row.pk),
        station=row.station,
        words=row.words,
        person=str(row.by_id),
        answer=TO_CORE[row.answer],
        answer_words=row.answer_reason,
        answered_by=str(row.answered_by_id or ""),
        answered_at=row.answered_at.isoformat() if row.answered_at else "",
        side=row.side,
    )


def state_of(
    exam: Exam,
    answers: Mapping[str, LineAnswer],
    heads_ups: Iterable[visits.HeadsUp],
    readings: Mapping[str, LineAnswer],
    outcomes: Mapping[str, Outcome],
    undo: Mapping[str, Undo],
) -> ExamState:
    """The exam as the core knows it. A reading's value goes before what stands on its line."""
    return ExamState(
        answers={**answers, **readings},
        notes=dict(exam.notes),
        heads_ups={str(row.pk): heads_up_of(row) for row in heads_ups},
        kind=exam.kind,
        stations=tuple(exam.stations),
        kind_reason=exam.kind_reason,
        awake=exam.awake,
        awake_log=log_of(exam.awake_log),
        versions=dict(exam.versions),
        outcomes=outcomes,
        undo=undo,
        lumps=lumps_from_json(exam.lumps),
    )


def outcome_of(row: Operation) -> Outcome:
    return outcome_from_json(row.outcome)


def undo_of(data: Mapping[str, Any]) -> Undo:
    return Undo(
        {k: answer_from_json(v) if v else None for k, v in data.get("answers", {}).items()},
        {k: HeadsUp(**v) for k, v in data.get("heads_ups", {}).items()},
        dict(data.get("notes", {})),
        {k: lump_from_json(v) if v else None for k, v in data.get("lumps", {}).items()},
    )


def undo_json(undo: Undo) -> dict[str, Any]:
    plain = {
        "answers": {k: answer_to_json(v) for k, v in undo.answers.items()},
        "heads_ups": {k: vars_of(v) for k, v in undo.heads_ups.items()},
        "notes": dict(undo.notes),
        "lumps": {k: lump_to_json(v) for k, v in undo.lumps.items()},
    }
    return {k: v for k, v in plain.items() if v}


def vars_of(heads_up: HeadsUp) -> dict[str, str]:
    return {name: getattr(heads_up, name) for name in HeadsUp.__slots__}


def animal_json(patient: Patient, *, age_days: int | None) -> dict[str, Any]:
    """What of the patient decides its lines, as it is on the day of the exam."""
    return {
        "species": patient.species,
        **sex_json(patient),
        "age_days": age_days,
        "absences": absences_of(patient),
    }


def sex_json(patient: Patient) -> dict[str, Any]:
    """As `Animal` has them: "" and None where they are not known."""
    return {
        "sex": patient.sex if patient.sex in ("male", "female") else "",
        "neutered": patient.is_neutered,
    }


def absences_of(patient: Patient) -> list[list[str]]:
    """What there is none of, and why, as an exam keeps it. One query."""
    rows = LastingFact.objects.filter(patient=patient, struck_at=None).order_by("pk")
    return [[absence_of(fact), fact.why] for fact in rows]


def absence_of(fact: LastingFact) -> str:
    """What there is none of: `limb:LH`, `station:EYE|left`, `structure:SPN.tail`, `line:EAR.canal|left`."""
    what = fact.structure
    if ":" in what:
        return what
    if "|" in what:
        return f"line:{what}" if "." in what else f"station:{what}"
    return f"structure:{what}" if "." in what else f"limb:{what}"


def animal_of(data: Mapping[str, Any]) -> Animal:
    return Animal(
        data["species"],
        data["sex"],
        data["neutered"],
        data["age_days"],
        tuple(Absence(what, words) for what, words in data["absences"]),
    )
