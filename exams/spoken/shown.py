"""Proposals as plain values with the names of the walk, for the command line and for scoring."""

from __future__ import annotations

from typing import Any

from exams.spoken.shapes import PARTIAL, Heard, Span
from exams.spoken.sides import LIMBS
from exams.walk import Walk


def plain(heard: Heard, text: str, walk: Walk) -> dict[str, Any]:
    """measurements, findings, heads_ups, plan and questions; structures by name, limbs in `site`."""
    return {
        "measurements": [
            {
                "what": m.what,
                "value": m.value,
                "unit": m.unit,
                "words": _words(text, m.spans),
                "spans": _plain(m.spans),
            }
            for m in heard.measurements
        ],
        "findings": [
            {
                "station": p.station,
                "structure": walk.structure[p.structure].name,
                "side": LIMBS.get(p.side, p.side),
                "state": "normal" if p.state == PARTIAL else p.state,
                "partial": p.state == PARTIAL,
                "codes": list(p.codes),
                "one_of": list(p.one_of),
                "severity": p.severity or None,
                "grade": p.grade or None,
                "size_mm": list(p.size_mm) or None,
                "site": p.side if p.side in LIMBS else p.site,
                "note": p.note,
                "words": _words(text, p.spans),
                "spans": _plain(p.spans),
                "confidence": p.confidence,
                "reason": p.reason,
            }
            for p in heard.proposals
        ],
        "heads_ups": [{"what": h.words, "words": h.words, "spans": _plain(h.spans)} for h in heard.heads_ups],
        "plan": [{"what": h.words, "words": h.words, "spans": _plain(h.spans)} for h in heard.plan],
        "questions": [
            {
                "words": q.words,
                "structure": walk.structure[q.structure].name,
                "side": q.side,
                "what": q.what,
                "spans": _plain(q.spans),
            }
            for q in heard.questions
        ],
    }


def _words(text: str, spans: tuple[Span, ...]) -> str:
    """The words of the last place: an exact quotation."""
    return text[spans[-1].start : spans[-1].end] if spans else ""


def _plain(spans: tuple[Span, ...]) -> list[list[int]]:
    return [[s.start, s.end] for s in spans]
