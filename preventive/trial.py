"""A changed protocol tried on animals before anybody approves it: who becomes due, who not any more. Pure."""

from dataclasses import dataclass
from datetime import date

from preventive.dates import day_words
from preventive.due import Due, Standing, standing
from preventive.facts import Animal, History
from preventive.protocol import Protocol
from preventive.schedule import due_items

NOW_DUE = frozenset({Standing.DUE, Standing.OVERDUE})


@dataclass(frozen=True, slots=True)
class Moved:
    """One item of one animal whose answer differs.

    `how`: due, free (not due any more), earlier, later, other.
    """

    code: str
    label: str
    how: str
    before: str
    after: str


def tried(animal: Animal, history: History, before: Protocol, after: Protocol, on: date) -> tuple[Moved, ...]:
    """The items of one animal that stand otherwise under `after`, in the order of the schedule."""
    was = {due.code: due for due in due_items(animal, history, before, on)}
    moved = []
    for due in due_items(animal, history, after, on):
        old = was.pop(due.code, None)
        if old is None or _stands(old, on) != _stands(due, on):
            moved.append(_moved(old, due, on))
    moved += [Moved(each.code, each.label, "free", _words(each, on), "no item") for each in was.values()]
    return tuple(moved)


def _stands(due: Due, on: date) -> tuple[object, ...]:
    return (standing(due, on), due.target, due.action, due.then, *(getattr(due, name) for name, _ in _DATES))


def _moved(old: Due | None, new: Due, on: date) -> Moved:
    was_due = old is not None and standing(old, on) in NOW_DUE
    is_due = standing(new, on) in NOW_DUE
    if is_due and not was_due:
        how = "due"
    elif was_due and not is_due:
        how = "free"
    elif old is not None and old.target and new.target and old.target != new.target:
        how = "earlier" if new.target < old.target else "later"
    else:
        how = "other"
    before, after = _words(old, on) if old else "no item", _words(new, on)
    if old is not None and before == after:
        before, after = _further(old, new), _further(new, old)
    return Moved(new.code, new.label, how, before, after)


def _words(due: Due, on: date) -> str:
    at = standing(due, on).value
    return f"{at}, {day_words(due.target)}" if due.target else at


_DATES = (("earliest", "from"), ("latest", "latest"), ("legal", "by law"), ("valid_from", "valid from"))


def _further(due: Due, other: Due) -> str:
    """What differs where the day and the standing are the same."""
    said = [due.then.value] if (due.action, due.then) != (other.action, other.then) else []
    for name, words in _DATES:
        on = getattr(due, name)
        if on != getattr(other, name):
            said.append(f"{words} {day_words(on)}" if on else f"no day for “{words}”")
    return ", ".join([f"due {day_words(due.target)}" if due.target else "no date", *said])
