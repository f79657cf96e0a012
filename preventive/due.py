"""What one protocol item comes to for one animal, and how it stands on a day."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from preventive.dates import PartialDate, days_before

DUE_SOON_DAYS = 30


class Action(StrEnum):
    START = "start"
    GO_ON = "go on"
    RESTART = "restart"
    ONE_DOSE = "one dose"
    TEST = "test"
    TREAT = "treat"
    EXAMINE = "examine"
    ASK = "ask"
    WAIT = "wait"
    NONE = "none"


class Standing(StrEnum):
    UPCOMING = "upcoming"
    DUE_SOON = "due soon"
    DUE = "due"
    OVERDUE = "overdue"
    DECLINED = "declined"
    DEFERRED = "deferred"
    HOLD = "hold"
    COMPLETE = "complete"
    NOT_APPLICABLE = "not applicable"


@dataclass(frozen=True, slots=True)
class Step:
    """One reason in the chain that leads to a date."""

    text: str
    source: str
    certainty: str


@dataclass(frozen=True, slots=True)
class Change:
    """What would change the answer: on a day by itself (``on``), or when something becomes known."""

    text: str
    on: date | None = None


@dataclass(frozen=True, slots=True)
class Uncounted:
    """A dose that does not count, and why. ``needs_decision``: a veterinarian may rule otherwise."""

    dose_id: str
    given: PartialDate
    code: str
    text: str
    source: str
    certainty: str
    needs_decision: bool


@dataclass(frozen=True, slots=True)
class Pause:
    """Why nobody is to be reminded now; ``until`` None means until somebody releases it."""

    kind: Standing
    since: date | None
    until: date | None
    reason: str


@dataclass(frozen=True, slots=True)
class Sequence:
    """Where the next dose stands: the n-th of the initial series, or a booster (``number`` 0)."""

    kind: str
    number: int = 0

    def __str__(self) -> str:
        return f"{self.kind} {self.number}" if self.number else self.kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One item for one animal.

    ``target`` is the date the item is due; after ``latest`` (or ``target`` where there is none) it is
    overdue; before ``earliest`` it must not be done. ``legal`` is the date the law or the certificate
    knows, ``product_due`` the date by the product's label alone. ``action`` is what to do on the day the
    answer was reckoned for, ``then`` what to do once the time has come. ``why`` are the rules in the order
    in which they were used; ``notes`` hold for every animal and lead to no date. The answer holds until the
    day before ``recheck_on``.
    """

    code: str
    label: str
    group: str
    group_label: str
    kind: str
    category: str
    applies: bool
    earliest: date | None
    target: date | None
    latest: date | None
    legal: date | None
    product_due: date | None
    valid_from: date | None
    last_on: date | None
    action: Action
    then: Action
    sequence: Sequence | None
    why: tuple[Step, ...]
    notes: tuple[Step, ...]
    changes: tuple[Change, ...]
    needs: tuple[Step, ...]
    uncounted: tuple[Uncounted, ...]
    pause: Pause | None
    recheck_on: date | None

    @property
    def due_by(self) -> date | None:
        """The last day on which the item is not overdue."""
        return self.latest or self.target


def standing(due: Due, on: date) -> Standing:
    """How the item stands on a day; reckoned, never stored."""
    if not due.applies:
        return Standing.NOT_APPLICABLE
    paused = paused_on(due.pause, on)
    if paused is not None:
        return paused
    if due.target is None or due.due_by is None:
        return Standing.DUE if due.then is Action.ASK else Standing.COMPLETE
    if on > due.due_by:
        return Standing.OVERDUE
    if on >= due.target:
        return Standing.DUE
    return Standing.DUE_SOON if on >= days_before(due.target, DUE_SOON_DAYS) else Standing.UPCOMING


def paused_on(pause: Pause | None, on: date) -> Standing | None:
    """The pause's standing if it holds on that day."""
    if pause is None or (pause.until is not None and on >= pause.until):
        return None
    return pause.kind


def overdue_days(due: Due, on: date) -> int:
    """Days since the item was due; 0 while it is not overdue."""
    return (on - due.due_by).days if due.due_by is not None and on > due.due_by else 0


@dataclass(frozen=True, slots=True)
class DueGroup:
    """Items of one group that share every date and action: one line on a page."""

    label: str
    dues: tuple[Due, ...]

    @property
    def first(self) -> Due:
        return self.dues[0]


def grouped(dues: tuple[Due, ...]) -> tuple[DueGroup, ...]:
    """Join antigens of one vaccine that are due alike; keeps the order of first appearance."""
    groups: dict[tuple[object, ...], list[Due]] = {}
    for due in dues:
        groups.setdefault(_alike(due), []).append(due)
    return tuple(DueGroup(_group_label(members), tuple(members)) for members in groups.values())


def _alike(due: Due) -> tuple[object, ...]:
    return (due.group, due.applies, due.earliest, due.target, due.latest, due.action, due.then, due.pause)


def _group_label(members: list[Due]) -> str:
    return members[0].group_label if len(members) > 1 else members[0].label
