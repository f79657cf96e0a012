"""How an item came to its date, in the order of the reckoning: what was given, the rules, the date. Pure."""

from collections.abc import Iterator
from dataclasses import replace

from preventive.dates import day_words
from preventive.due import Due, Step
from preventive.wording import dates_words

_DONE = {
    "vaccine": ("Last dose that counts", "No dose that counts is on record."),
    "test": ("Last test", "No test is on record."),
    "treatment": ("Last treatment", "No treatment is on record."),
    "visit": ("Last exam", "No exam is on record."),
    "dental": ("Last cleaning", "No cleaning is on record."),
}


def chain(due: Due) -> tuple[Step, ...]:
    """What happened, the rules as they were used, and the date they give.

    Of what is not for this animal only the reason is said; of preventives the rule itself names what went
    home.
    """
    return tuple(_steps(due)) if due.applies else due.why


def _steps(due: Due) -> Iterator[Step]:
    if due.kind in _DONE:
        last, none = _DONE[due.kind]
        yield Step(f"{last}: {day_words(due.last_on)}." if due.last_on else none, "the record", "clinic")
    yield from due.why
    dates = dates_words(replace(due, last_on=None))
    if dates:
        yield Step(f"This gives: {dates}.", "reckoned from the steps before", "derived")
