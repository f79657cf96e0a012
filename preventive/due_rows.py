"""What is due, line by line: how it stands, its dates, what to do now, and why."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from clinic.letters.texts import SOURCE
from clinic.patients.models import Patient
from preventive.chain import chain
from preventive.due import Action, Due, DueGroup, Pause, Standing, Step, grouped, standing
from preventive.letter import ROOM, thing
from preventive.queries import dues_of
from preventive.wording import SHAPES, dates_words, day, now_words, source_words, standing_words

OPEN = frozenset({Standing.OVERDUE, Standing.DUE, Standing.DUE_SOON})


@dataclass(frozen=True)
class Reason:
    text: str
    source: str


@dataclass(frozen=True)
class DueRow:
    """One line of the list: how it stands, its dates, what to do now, and why.

    `item`: explained apart. `needs`: what is still open; `notes`: what holds beside the steps of `why`.
    """

    code: str
    item: str
    title: str
    shape: str
    tone: str
    words: str
    dates: str
    now: str
    why: tuple[Reason, ...]
    needs: tuple[Reason, ...]
    notes: tuple[Reason, ...]
    uncounted: tuple[str, ...]
    changes: tuple[str, ...]
    category: str
    can_put_off: bool
    hollow: bool


def panel_of(patient: Patient, *, today: date) -> tuple[DueRow, ...]:
    """What is due for the patient, the most pressing first; empty for one that died."""
    return () if patient.deceased_on else panel(dues_of(patient, today=today), today=today)


def panel(dues: tuple[Due, ...], *, today: date) -> tuple[DueRow, ...]:
    groups = grouped(dues)
    order = (
        Standing.OVERDUE,
        Standing.DUE,
        Standing.HOLD,
        Standing.DUE_SOON,
        Standing.DEFERRED,
        Standing.DECLINED,
    )
    shown = [
        each for each in groups if section(each, today) != "rest" or standing(each.first, today) in order
    ]
    ranks = {at: number for number, at in enumerate((*order, Standing.UPCOMING))}

    def rank(group: DueGroup) -> tuple[int, date]:
        return ranks.get(standing(group.first, today), len(ranks)), group.first.target or date.max

    return tuple(due_row(each, today) for each in sorted(shown, key=rank))


def section(group: DueGroup, today: date) -> str:
    at = standing(group.first, today)
    if at in {Standing.NOT_APPLICABLE, Standing.COMPLETE}:
        return "rest"
    if at is Standing.DUE and group.first.then is Action.ASK:
        return "ask"
    if at is Standing.DUE_SOON and group.first.action is Action.WAIT:
        return "later"
    return "now" if at in {*OPEN, Standing.HOLD} else "later"


def due_row(group: DueGroup, today: date) -> DueRow:
    due = group.first
    at = standing(due, today)
    shape, tone = SHAPES[at]
    if at is Standing.DUE and due.then is Action.ASK:
        shape, tone = "new", ""
    return DueRow(
        code=due.group if len(group.dues) > 1 else due.code,
        item=due.code,
        title=thing(group, ROOM.of_files(SOURCE)) if due.kind == "vaccine" else group.label,
        shape=shape,
        tone=tone,
        words=standing_words(due, today),
        dates=dates_words(due),
        now=now_words(due),
        why=(*_reasons(chain(due)), *_pause(due.pause)),
        needs=_reasons(due.needs, besides=due.why),
        notes=_reasons(due.notes, besides=due.needs),
        uncounted=tuple(
            dict.fromkeys(
                f"{each.given.words}: {each.text} ({each.source})" for d in group.dues for each in d.uncounted
            )
        ),
        changes=tuple(dict.fromkeys(each.text for d in group.dues for each in d.changes)),
        category=due.category,
        can_put_off=at in OPEN and due.then is not Action.ASK,
        hollow=shape in {"new", "begun"},
    )


def _reasons(steps: Iterable[Step], *, besides: tuple[Step, ...] = ()) -> tuple[Reason, ...]:
    """Each once; nothing that is said `besides`."""
    once = [step for step in dict.fromkeys(steps) if step not in besides]
    return tuple(Reason(step.text, source_words(step.source, step.certainty)) for step in once)


def _pause(pause: Pause | None) -> tuple[Reason, ...]:
    if pause is None:
        return ()
    since = f"since {day(pause.since)}" if pause.since else "by the record"
    return (Reason(f"{pause.kind.value.capitalize()}: {pause.reason}", since),)
