"""What the page is told again and again: how the exam stands now. Plain JSON, only what is said."""

from __future__ import annotations

from typing import Any

from clinic.visits.models import HeadsUp
from exams.consciousness import log_json
from exams.lump_today import lumps_to_json
from exams.nodes import suggested
from exams.prompts import repeat_later
from exams.queries import Standing
from exams.readings import numbers_of
from exams.state import ExamState, LineAnswer, answer_to_json
from exams.urgency import Facts, facts_of

UNSAID = ("operation", "role", "derived_from")


def live_json(standing: Standing, *, since: ExamState | None = None) -> dict[str, Any]:
    """Answers and versions by stored key, heads-ups, and the names of the people in it. No query.

    `since`: what the page knows already. Then `part` is set, answers and versions are those that are other
    ones now, and `gone` names the lines that lost theirs; the rest is whole.
    """
    state, known = standing.state, since or ExamState()
    return {
        "pulse": standing.pulse,
        "signed": standing.exam.record.is_signed,
        "answers": {k: _answer(a) for k, a in state.answers.items() if known.answers.get(k) is not a},
        "versions": {k: v for k, v in state.versions.items() if known.versions.get(k) != v},
        **({"part": True, "gone": [k for k in known.answers if k not in state.answers]} if since else {}),
        "notes": dict(state.notes),
        "heads_ups": [_heads_up(row) for row in standing.heads_ups],
        "kind": state.kind,
        "visit_kind": standing.exam.record.visit.kind,
        "stations": list(state.stations),
        "kind_reason": state.kind_reason,
        "awake": state.awake,
        "awake_log": log_json(state.awake_log),
        "lumps": lumps_to_json(state.lumps),
        "photo_changes": standing.exam.photo_changes,
        "talk_changes": standing.exam.talk_changes,
        "people": dict(standing.names),
        "facts": _facts(standing),
        "repeat": repeat_later(standing.measured),
        "suggested": [
            {"line": s.line, "code": s.code, "words": s.words}
            for s in suggested(standing.state, standing.lines)
        ],
    }


def _facts(standing: Standing) -> Facts:
    """What conditions of urgency may ask, without today's findings: the page knows those sooner."""
    animal = standing.lines.animal
    return facts_of(
        standing.walk,
        species=animal.species,
        age_days=animal.age_days,
        neutered=animal.neutered,
        numbers=numbers_of(standing.measured),
    )


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
