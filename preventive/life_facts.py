"""What the schedule goes by besides the record and the answers about a life. Pure.

AAHA 2019 gives a dog no year from which it is senior: that is the last quarter of the lifespan expected of
its breed and size, or what the staff set. AAFP 2020 counts a cat's tests from its coming or exposure.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from preventive.dates import Span, Unit, day_words
from preventive.facts import Species
from preventive.rules import Rules

_BOTH = frozenset(Species)
LONGEST_YEARS = 30


class LifeCode(StrEnum):
    STAGE = "stage"
    LIFESPAN = "lifespan"
    ACQUIRED = "acquired"
    EXPOSURE = "exposure"
    WEANED = "weaned"


@dataclass(frozen=True, slots=True)
class Asked:
    """`changes`: what another answer does; `field`: of `facts.Animal`."""

    code: LifeCode
    label: str
    changes: str
    field: str
    species: frozenset[Species] = _BOTH


ASKED = (
    Asked(
        LifeCode.STAGE,
        "Life stage, as we see it",
        "Goes before the birthdays; seniors are examined every 6 months (AAHA 2019; AAHA/AAFP 2021).",
        "stage",
    ),
    Asked(
        LifeCode.LIFESPAN,
        "Years that its breed and size are expected to live",
        "Senior in the last quarter of them (AAHA 2019).",
        "lifespan_years",
        frozenset({Species.DOG}),
    ),
    Asked(
        LifeCode.ACQUIRED,
        "Came to its owner on",
        "The first FeLV and FIV tests are due from this day (AAFP 2020).",
        "acquired_on",
        frozenset({Species.CAT}),
    ),
    Asked(
        LifeCode.EXPOSURE,
        "May last have met FeLV or FIV on",
        "Negative tests are repeated 30 days (FeLV) and 60 days (FIV) after it (AAFP 2020).",
        "last_exposure_on",
        frozenset({Species.CAT}),
    ),
    Asked(
        LifeCode.WEANED,
        "Weaned on",
        "Where the protocol deworms by ESCCAP GL1: every 14 days to 2 weeks after it.",
        "weaned_on",
    ),
)
BY_CODE: Mapping[str, Asked] = {each.code.value: each for each in ASKED}


def asked_of(species: Species) -> tuple[Asked, ...]:
    return tuple(each for each in ASKED if species in each.species)


def stages(rules: Rules, species: Species) -> tuple[tuple[str, str], ...]:
    """Code and label, in the order of a life."""
    found = sorted(rules.stages[species.value].items(), key=lambda entry: entry[1].order)
    return tuple((code, stage.label) for code, stage in found)


def checked(code: str, typed: str, *, rules: Rules, species: Species, born_on: date | None, on: date) -> str:
    """As it is stored. Raises ValueError with a sentence. `born_on`: the earliest day it may be."""
    text = typed.strip()
    asked = BY_CODE.get(code)
    if asked is None or species not in asked.species:
        raise ValueError("That is not asked of this animal.")
    match asked.code:
        case LifeCode.STAGE:
            if text not in dict(stages(rules, species)):
                raise ValueError("Which life stage?")
            return text
        case LifeCode.LIFESPAN:
            if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= LONGEST_YEARS:
                raise ValueError(f"A whole number of years, {LONGEST_YEARS} at most.")
            return str(int(text))
        case _:
            return _day(text, born_on=born_on, on=on).isoformat()


def _day(text: str, *, born_on: date | None, on: date) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise ValueError("Which day?") from error
    if day > on:
        raise ValueError("This day has not come yet.")
    if born_on is not None and day < born_on:
        raise ValueError("That is before its birth.")
    return day


def value_words(code: str, value: str, *, rules: Rules, species: Species) -> str:
    match BY_CODE[code].code:
        case LifeCode.STAGE:
            return dict(stages(rules, species)).get(value, value)
        case LifeCode.LIFESPAN:
            return Span(int(value), Unit.YEAR).words
        case _:
            return day_words(date.fromisoformat(value))


def as_facts(noted: Iterable[tuple[str, str]]) -> dict[str, Any]:
    """Fields of `facts.Animal`, from code and stored value; of one code the last leads."""
    return {BY_CODE[code].field: _read(code, value) for code, value in noted}


def _read(code: str, value: str) -> str | float | date:
    match BY_CODE[code].code:
        case LifeCode.STAGE:
            return value
        case LifeCode.LIFESPAN:
            return float(value)
        case _:
            return date.fromisoformat(value)
