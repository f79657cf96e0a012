"""What the page is told again and again: how the exam stands now. Plain JSON, only what is said."""

from __future__ import annotations

from typing import Any

from clinic.visits.models import HeadsUp
from exams.queries import Standing, names_of
from exams.state import LineAnswer, answer_to_json

UNSAID = ("operation", "role", "derived_from")


def live_json(standing: Standing, *, pulse: str) -> dict[str, Any]:
    """Answers and versions by stored key, heads-ups, and the names of the people in it. One query."""
    state = standing.state
    people = {a.person for a in state.answers.values()} | {a.observed_by for a in state.answers.values()}
    return {
        "pulse": pulse,
        "signed": standing.exam.record.is_signed,
        "answers": {key: _answer(a) for key, a in state.answers.items()},
        "versions": dict(state.versions),
        "notes": dict(state.notes),
        "heads_ups": [_heads_up(row) for row in standing.heads_ups],
        "kind": state.kind,
        "stations": list(state.stations),
        "kind_reason": state.kind_reason,
        "awake": state.awake,
        "people": names_of(people),
    }


def _answer(answer: LineAnswer) -> dict[str, Any]:
    plain = answer_to_json(answer) or {}
    kept = {k: v for k, v in plain.items() if k not in UNSAID}
    if answer.status != "measured":
        kept.pop("made_at", None)  # the hour matters to a value only
    return kept


def _heads_up(row: HeadsUp) -> dict[str, Any]:
    return {
        "id": str(row.pk),
        "station": row.station,
        "side": row.side,
        "words": row.words,
        "by": row.by.full_name,
        "at": row.at.isoformat(),
        "answer": row.answer,
        "reason": row.answer_reason,
    }
