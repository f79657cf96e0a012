"""Awake, sedated or anaesthetised: how the animal was in the course of an exam, and in which state a look was
made. Pure.

An exam may begin awake and go on under an anaesthetic. Every finding keeps the state in which it was made:
what was seen awake does not become certain because the animal sleeps now; it has to be looked at again.
Stages of the teeth seen awake are first impressions (Bauer et al., PLOS ONE 2018;13(9):e0203930).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

from exams.guards import Refusal
from exams.state import LineAnswer, Since

AWAKE, SEDATED, ANAESTHETISED = "awake", "sedated", "anaesthetised"
STATES = (AWAKE, SEDATED, ANAESTHETISED)
WORDS_MOST = 200


def since(state: str, by_what: str, *, at: str, person: str) -> Since:
    """A new state. Raises Refusal: sedated and anaesthetised say with what."""
    if state not in STATES or len(by_what) > WORDS_MOST:
        raise Refusal("bad-payload", f"awake is one of {', '.join(STATES)}, with what it was done")
    if state != AWAKE and not by_what:
        raise Refusal("with-what", f"{state}: say with what")
    return Since(state, "" if state == AWAKE else by_what, at, person)


def made_in(log: Sequence[Since], now: str, claimed: object) -> str:
    """In which state something was seen: as the tablet says it, if this exam was ever so; else as it is now.

    A tap that waited without a network may arrive after the animal was put to sleep: the tablet's own word
    counts. Awake may always be said. Raises Refusal for a state that this exam never had.
    """
    if claimed is None or claimed == "":
        return now
    if claimed not in (AWAKE, now, *(s.state for s in log)):
        raise Refusal("never-so", f"say first that it is {claimed}, and with what")
    return str(claimed)


def is_firm(state: str) -> bool:
    """Whether a dental stage seen in this state stands; every other is a first impression."""
    return state == ANAESTHETISED


def stamped(
    answers: Mapping[str, LineAnswer | None], *, operation: str, state: str
) -> Mapping[str, LineAnswer | None]:
    """The answers that this operation gives, each with the state in which it was seen."""
    if not state:
        return answers
    return {
        key: dataclasses.replace(a, made_in=state) if a and a.operation == operation and not a.made_in else a
        for key, a in answers.items()
    }


def log_json(log: Sequence[Since]) -> list[dict[str, str]]:
    return [dataclasses.asdict(s) for s in log]


def log_of(rows: Sequence[Mapping[str, Any]]) -> tuple[Since, ...]:
    return tuple(Since(**row) for row in rows)


def spoken(log: Sequence[Since]) -> str:
    """The states in their order with what brought them: "awake, then anaesthetised (propofol)"."""
    said: list[Since] = []
    for each in log:
        if said and said[-1].state == each.state:
            said[-1] = each  # said again: with better words
        else:
            said.append(each)
    words = [f"{s.state} ({s.by_what})" if s.by_what else s.state for s in said]
    return ", then ".join(words)
