"""One list of promises from many rooms, and what their steps changed. Pure: no clock, no database."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime


@dataclass(frozen=True)
class Promise:
    """Something that somebody answers for by a day.

    `as_of`: when its source last named day or person; a later step says otherwise. `step` counts the steps so
    far. `passed` says in words who handed it to whom, or who moved it; `died`, that the patient did.
    """

    source: str
    key: str
    patient_id: int
    patient_name: str
    what: str
    due_on: date
    who_id: int | None
    who: str
    as_of: datetime
    url: str = ""
    step: int = 0
    passed: str = ""
    passed_by_id: int | None = None
    died: str = ""

    @property
    def name(self) -> tuple[str, str]:
        return (self.source, self.key)

    def days_late(self, today: date) -> int:
        """0 when it is due today or later."""
        return max((today - self.due_on).days, 0)


@dataclass(frozen=True)
class Step:
    """The newest step of one promise."""

    number: int
    closes: bool
    due_on: date
    who_id: int | None
    who: str
    at: datetime
    words: str
    by_id: int


def fold(found: Iterable[Promise], newest: Mapping[tuple[str, str], Step]) -> list[Promise]:
    """Each promise with the day and person last agreed; without those that a step closed."""
    folded = []
    for each in found:
        step = newest.get(each.name)
        if step is None:
            folded.append(each)
        elif not step.closes:
            folded.append(_after(each, step))
    return folded


def _after(each: Promise, step: Step) -> Promise:
    counted = replace(each, step=step.number, passed=step.words, passed_by_id=step.by_id)
    if step.at < each.as_of:
        return counted
    return replace(counted, due_on=step.due_on, who_id=step.who_id, who=step.who)


def until(promises: Iterable[Promise], day: date) -> list[Promise]:
    """Those that are due by that day."""
    return [each for each in promises if each.due_on <= day]


def mine_first(promises: Iterable[Promise], me: int) -> list[Promise]:
    """One's own before the others', the longest overdue first."""
    return sorted(promises, key=lambda each: (each.who_id != me, each.due_on, each.name))
