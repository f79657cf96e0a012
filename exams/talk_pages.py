"""What was said and heard, as the exam page knows it. Plain JSON."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.conf import settings

from exams.models import Exam, HeardItem, TalkChoice, TalkLine, TalkRecording
from exams.queries import Standing
from exams.talk_applying import item_of
from exams.talk_items import item_words, keys_of, taps_of
from exams.talk_words import spoken_languages

_SENTENCE = re.compile(r"\S.*?(?:[.!?;](?=\s)|$)", re.MULTILINE)  # a decimal point ends none
_CLAUSE = re.compile(r"[^,\s][^,]*")
CLAUSE_WORDS = 3  # a shorter one ("on the left,") mostly belongs to its neighbour
SURE_FROM = 0.8  # below: said so beside the words


def talk_json(standing: Standing) -> dict[str, Any]:
    """Lines in their order and what is still to be confirmed. Four queries; one where nobody spoke."""
    exam = standing.exam
    spoken = exam.pk is not None and exam.talk_changes > 0
    heard = list(HeardItem.objects.filter(exam=exam)) if spoken else []
    return {
        "changes": exam.talk_changes,
        "lines": [_line(row, heard) for row in _lines(exam)] if spoken else [],
        "items": [_item(row, standing) for row in heard if row.state == HeardItem.State.OPEN],
        "recordings": [_recording(row) for row in _recordings(exam)] if spoken else [],
        "agreed": bool(exam.talk_agreed),
        "keeps": keeps_words(),
        "languages": list(spoken_languages()),
        "records": bool(settings.SPEECH_MODEL),
    }


def keeps_words() -> bool:
    """Whether the clinic keeps what was said after the signature, where the owner agreed. One query."""
    return bool(TalkChoice.objects.values_list("keeps", flat=True).first())


@dataclass(frozen=True)
class SaidLine:
    by: str
    text: str


def said_lines(exam: Exam) -> tuple[SaidLine, ...]:
    """What is kept of a signed exam; no query where nobody spoke."""
    if exam.pk is None or not exam.talk_changes:
        return ()
    return tuple(SaidLine(row.by.full_name, row.text) for row in _lines(exam))


def _lines(exam: Exam) -> Iterable[TalkLine]:
    return TalkLine.objects.filter(exam=exam).select_related("by")


def _recordings(exam: Exam) -> Iterable[TalkRecording]:
    return TalkRecording.objects.filter(exam=exam).exclude(state=TalkRecording.State.DONE)


def unheard(text: str, spans: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Where nothing was heard: whole sentences of two words and more, and clauses of three in the others."""
    taken = list(spans)

    def is_free(at: re.Match[str]) -> bool:
        return not any(start < at.end() and at.start() < end for start, end in taken)

    found = []
    for sentence in _SENTENCE.finditer(text):
        if is_free(sentence):
            found += [sentence] if " " in sentence[0] else []
            continue
        clauses = _CLAUSE.finditer(text, sentence.start(), sentence.end())
        found += [each for each in clauses if len(each[0].split()) >= CLAUSE_WORDS and is_free(each)]
    return [(each.start(), each.end()) for each in found]


def _line(row: TalkLine, heard: Iterable[HeardItem]) -> dict[str, Any]:
    spans = ((start, end) for item in heard for line, start, end in item.spans if line == str(row.pk))
    return {
        "id": str(row.pk),
        "text": row.text,
        "unheard": unheard(row.text, spans),
        "by": row.by.full_name,
        "at": row.made_at,
        "mine": str(row.entered_by_id),
    }


def _recording(row: TalkRecording) -> dict[str, Any]:
    return {"id": str(row.pk), "state": row.state, "why": row.why}


def _item(row: HeardItem, standing: Standing) -> dict[str, Any]:
    item = item_of(row)
    told = taps_of(item, standing.walk, standing.lines)
    return {
        "id": str(row.pk),
        "kind": row.kind,
        "station": row.station,
        "state": item.said.get("state", ""),
        "words": item_words(item, standing.walk, standing.lines),
        "keys": list(keys_of(item, standing.lines)),
        "spans": row.spans,
        "reason": row.reason,
        "sure": row.confidence >= SURE_FROM,
        "taps": [
            {
                "target": t.target or str(row.pk),
                "what": t.what,
                "payload": dict(t.payload),
                "words": t.words,
                "group": t.group,
            }
            for t in told.taps
        ],
        "lacks": told.lacks,
    }
