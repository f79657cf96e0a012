"""What the plan page shows, as plain values: one row a thing, with its shape and the word beside it."""

from dataclasses import dataclass

from clinic.care.models import PlanLine
from clinic.care.result_rows import Mark, TestRow

URGENCY = {
    "E": ("danger", "danger", "needs care now"),
    "T": ("abnormal", "look", "treat soon"),
    "R": ("begun", "normal", "recheck"),
    "M": ("begun", "normal", "monitor"),
}
STANDING = {
    PlanLine.Standing.ADVISED: "new",
    PlanLine.Standing.CONSENTED: "begun",
    PlanLine.Standing.BOOKED: "begun",
    PlanLine.Standing.DECLINED: "unseen",
    PlanLine.Standing.DONE: "normal",
}
SETTLED = (PlanLine.Standing.DONE, PlanLine.Standing.DECLINED)


@dataclass(frozen=True)
class MatterRow:
    key: str
    title: str
    words: str
    mark: Mark


@dataclass(frozen=True)
class AssessmentRow:
    id: int
    text: str
    small: str
    for_owner: str
    mine: bool
    below: bool = False  # one of today's stands above it, so that it can be moved up


@dataclass(frozen=True)
class StepRow:
    words: str


@dataclass(frozen=True)
class LineRow:
    """`mine`: of this record, so that it can be taken back. `open`: not done and not declined."""

    id: int
    text: str
    small: str
    mark: Mark
    steps: tuple[StepRow, ...]
    mine: bool
    open: bool
    late: bool

    @property
    def hollow(self) -> bool:
        """Its mark is not filled: it is still to be done, and in time."""
        return self.open and not self.late


@dataclass(frozen=True)
class DoseRow:
    """`struck`: by whom, when and why, where it was struck out."""

    id: int
    words: str
    struck: str


@dataclass(frozen=True)
class MedicineRow:
    """`state`: in use, stopped or over; `in_use`: it can be changed; `here`: doses are given here."""

    id: int
    title: str
    directions: str
    small: str
    answers: tuple[str, ...]
    mine: bool
    state: str = ""
    in_use: bool = False
    here: bool = False
    doses: tuple[DoseRow, ...] = ()


@dataclass(frozen=True)
class ProblemBlock:
    id: int
    title: str
    small: str
    mark: Mark
    today: tuple[AssessmentRow, ...]
    earlier: tuple[AssessmentRow, ...]
    lines: tuple[LineRow, ...]
    medicines: tuple[MedicineRow, ...]
    tests: tuple[TestRow, ...]
    nothing_planned: bool
    conditions: tuple[str, ...] = ()
    about: tuple[str, ...] = ()  # line keys of the walk


@dataclass(frozen=True)
class AgainRow:
    """`problem`: an open one to offer it for; None where that was closed."""

    id: int
    text: str
    small: str
    problem: int | None


@dataclass(frozen=True)
class ClosedRow:
    id: int
    title: str
    small: str


@dataclass(frozen=True)
class NextRow:
    id: int
    when: str
    small: str
    mine: bool
