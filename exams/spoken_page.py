"""The page of the spoken exam: what corrections taught, what is listened for, whether words are kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from clinic.people.actor import Actor
from clinic.people.rights import Right
from exams.models import SpokenForm, TalkChoice
from exams.talk_lessons import FINDING, STRUCTURE, meanings
from exams.versions import composed
from exams.walk import Walk

MOST = 100


@dataclass(frozen=True)
class FormRow:
    id: int
    kind: str
    kind_words: str
    words: str
    means: str
    means_words: str
    language: str
    heard_as: str
    recorded_as: str
    at: datetime
    by: str
    wrong: str = ""


@dataclass(frozen=True)
class SpokenPageRows:
    candidates: tuple[FormRow, ...]
    accepted: tuple[FormRow, ...]
    more: int
    keeps: bool
    keeps_said: str
    kinds: tuple[tuple[str, str], ...]
    meanings: tuple[str, ...]
    may_accept: bool
    may_choose: bool
    wrong: str = ""


def spoken_page(
    *, actor: Actor, wrong: tuple[int, str] | None = None, typed: Mapping[str, str] | None = None
) -> SpokenPageRows:
    """Three queries, or four in a clinic with a walk of its own. `wrong`: a form and why it was refused, with
    what was `typed`."""
    walk = composed()
    rows = list(
        SpokenForm.objects.filter(state__in=("candidate", "accepted")).select_related("decided_by")[
            : 2 * MOST + 1
        ]
    )
    made = [_row(row, walk, wrong, typed) for row in rows[: 2 * MOST]]
    choice = TalkChoice.objects.select_related("by").first()
    states = {row.pk: row.state for row in rows}
    here = wrong is not None and wrong[0] in states
    return SpokenPageRows(
        candidates=tuple(r for r in made if states[r.id] == "candidate"),
        accepted=tuple(r for r in made if states[r.id] == "accepted"),
        more=max(0, len(rows) - 2 * MOST),
        keeps=bool(choice and choice.keeps),
        keeps_said=f"{choice.by.full_name}, {choice.at:%-d %B %Y}" if choice else "",
        kinds=tuple((str(k), str(w)) for k, w in SpokenForm.Kind.choices),
        meanings=_meanings(walk) if "candidate" in states.values() and actor.may(Right.APPROVE_WALK) else (),
        may_accept=actor.may(Right.APPROVE_WALK),
        may_choose=actor.may(Right.MANAGE_CLINIC),
        wrong="" if here or wrong is None else wrong[1],
    )


def _row(
    row: SpokenForm, walk: Walk, wrong: tuple[int, str] | None, typed: Mapping[str, str] | None
) -> FormRow:
    told = typed if typed is not None and wrong is not None and wrong[0] == row.pk else {}
    return FormRow(
        row.pk,
        told.get("kind", row.kind),
        row.get_kind_display(),
        told.get("words", row.words),
        told.get("means", meanings(row.kind, walk).get(row.means, row.means)),
        means_words(row, walk),
        row.language,
        row.heard_as,
        row.recorded_as,
        row.decided_at or row.noted_at,
        row.decided_by.full_name if row.decided_by else "",
        wrong[1] if wrong is not None and wrong[0] == row.pk else "",
    )


def _meanings(walk: Walk) -> tuple[str, ...]:
    return (*meanings(FINDING, walk).values(), *meanings(STRUCTURE, walk).values())


def means_words(row: SpokenForm, walk: Walk) -> str:
    """What the code of the walk is called."""
    if row.means in walk.finding:
        return walk.finding[row.means].name
    if row.means in walk.structure:
        name = walk.structure[row.means].name
        return f"{name}: normal" if row.kind == SpokenForm.Kind.NORMAL else name
    return row.means
