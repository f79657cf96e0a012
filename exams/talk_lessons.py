"""What a correction may teach: words that were heard as one thing and recorded as another. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from exams.lines import Line, Lines
from exams.sentences import for_record
from exams.state import ABNORMAL, NORMAL, ExamState, LineAnswer
from exams.talk_items import LINE, Item, keys_of, stands
from exams.walk import Walk

FINDING, SAYS_NORMAL, STRUCTURE, MISHEARING = "finding", "normal", "structure", "mishearing"
_CODE = re.compile(r"\(([^()]+)\)$")


@dataclass(frozen=True, slots=True)
class Decided:
    """One thing heard with the words it stood on, as somebody answered it."""

    item: Item
    words: str
    discarded: bool


@dataclass(frozen=True, slots=True)
class Lesson:
    """A candidate: what the words may mean (`kind`, a code), and how the record has it."""

    kind: str
    means: str
    recorded: str


def lessons(decided: Decided, state: ExamState, walk: Walk, lines: Lines) -> Iterator[Lesson]:
    """Candidates, where the record says otherwise than was heard; nothing where it was left unsaid."""
    item = decided.item
    if item.kind != LINE or stands(item, state, walk, lines):
        return
    structure, heard = item.said["structure"], set(item.said.get("codes", ()))
    here = [x for x in lines.at(structure) if set(x.stored_at) & set(keys_of(item, lines))]
    for line in here[:1]:
        answer = state.answers.get(line.stored_at[0])
        if answer is None:
            if not decided.discarded:
                yield from _elsewhere(item, line, state, walk, lines)
            continue
        yield from _instead(answer, line, heard, walk)


def _instead(answer: LineAnswer, line: Line, heard: set[str], walk: Walk) -> Iterator[Lesson]:
    recorded = f"{line.name}: {for_record(walk, line, answer)}"
    if answer.status == NORMAL and not answer.findings:
        yield Lesson(SAYS_NORMAL, line.structure, recorded)
    if answer.status == ABNORMAL:
        codes = [f.code for f in answer.findings]
        for code in [c for c in codes if c not in heard] or codes:
            yield Lesson(FINDING, code, recorded)


def _elsewhere(item: Item, line: Line, state: ExamState, walk: Walk, lines: Lines) -> Iterator[Lesson]:
    """It was confirmed, and stands now on the other side."""
    for other in lines.at(line.structure):
        answer = state.answers.get(other.stored_at[0])
        if (
            other.key != line.key
            and answer
            and {f.code for f in answer.findings} & set(item.said.get("codes", ()))
        ):
            yield from _instead(answer, other, set(), walk)
            return


# ---- What words may mean


def meanings(kind: str, walk: Walk) -> Mapping[str, str]:
    """Everything of the walk that words of this kind may mean: its code, and how a person chooses it."""
    if kind == FINDING:
        return {f.code: f"{f.name} ({f.code})" for f in walk.finding.values() if not f.retired}
    if kind in (SAYS_NORMAL, STRUCTURE):
        return {s.code: f"{s.name} ({s.code})" for s in walk.structure.values()}
    return {}


def meant(kind: str, typed: str, walk: Walk) -> str:
    """The code, chosen or typed, alone or behind its name; misheard words as they stand. Empty: neither."""
    behind = _CODE.search(typed)
    code = behind[1] if behind else typed
    if kind == MISHEARING:
        return "" if code in walk.finding or code in walk.structure else typed
    return code if code in meanings(kind, walk) else ""
