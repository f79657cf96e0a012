"""Ages by calendar dates: how old in words, and birth dates that are only estimates.

Weeks are 7 days; months and years are calendar ones, completed on the same day number. Where that day
does not exist (29 February, the 31st) an age is reached on the first of the next month, the careful
side for minimum ages. Unknown birth dates keep an earliest and a latest day, so that a rule about a
minimum age can reckon with the youngest the animal can be.
"""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

from dateutil.relativedelta import relativedelta

DAYS_UNTIL_WEEKS = 14
MONTHS_UNTIL_MONTHS = 6
LONGEST_YEARS = 40


class BornLater(ValueError):
    """The day asked about is before the birth."""


class AgeNotUnderstood(ValueError):
    """The words do not name an age a dog or cat can have."""


class AgeUnit(StrEnum):
    DAYS = "days"
    WEEKS = "weeks"
    MONTHS = "months"
    YEARS = "years"


class Precision(StrEnum):
    DAY = "day"
    MONTH = "month"
    YEAR = "year"
    ESTIMATE = "estimate"


@dataclass(frozen=True)
class BirthEstimate:
    """`on` is the best guess, to be stored with `precision`; the truth lies in earliest..latest."""

    on: date
    earliest: date
    latest: date
    precision: Precision = Precision.ESTIMATE


@dataclass(frozen=True)
class StatedAge:
    """An age as people say it: "about 3 years" is 36 months, said in years."""

    days: int
    months: int
    unit: AgeUnit


def age_days(birth: date, on: date) -> int:
    """Whole days lived; 0 on the day of birth. Raises BornLater."""
    days = (on - birth).days
    if days < 0:
        raise BornLater(f"{on} is before the birth on {birth}")
    return days


def completed_months(birth: date, on: date) -> int:
    """Calendar months completed: one born on 29 February is a year old on 1 March. Raises BornLater."""
    age_days(birth, on)
    months = (on.year - birth.year) * 12 + on.month - birth.month
    return months - 1 if on.day < birth.day else months


def reaches(birth: date, *, years: int = 0, months: int = 0, weeks: int = 0) -> date:
    """The first day on which that age is complete; for minimum ages, so a missing day rolls forward."""
    target = birth + relativedelta(years=years, months=months)
    if (years or months) and target.day < birth.day:
        target += timedelta(days=1)
    return target + timedelta(weeks=weeks)


def in_words(birth: date, on: date, *, estimated: bool = False) -> str:
    """ "3 days", "14 weeks", "7 months", "8 y 4 m"; "about " in front of an estimate. Raises BornLater."""
    counted = _age(birth, on)
    short = counted[0][1] == "year"
    words = " ".join(f"{number} {word[0]}" if short else _counted(number, word) for number, word in counted)
    return f"about {words}" if estimated else words


def in_full(birth: date, on: date, *, estimated: bool = False) -> str:
    """The same without a unit cut short: "8 years 4 months". Raises BornLater."""
    words = " ".join(_counted(number, word) for number, word in _age(birth, on))
    return f"about {words}" if estimated else words


def _age(birth: date, on: date) -> list[tuple[int, str]]:
    days, months = age_days(birth, on), completed_months(birth, on)
    if days < DAYS_UNTIL_WEEKS:
        return [(days, "day")]
    if months < MONTHS_UNTIL_MONTHS:
        return [(days // 7, "week")]
    if months < 12:
        return [(months, "month")]
    years, rest = divmod(months, 12)
    return [(years, "year"), (rest, "month")] if rest else [(years, "year")]


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


# --- Estimates --------------------------------------------------------------------------------------

UNIT_WORDS = {
    AgeUnit.DAYS: ("d", "day", "days"),
    AgeUnit.WEEKS: ("w", "wk", "wks", "week", "weeks"),
    AgeUnit.MONTHS: ("m", "mo", "mos", "month", "months"),
    AgeUnit.YEARS: ("y", "yr", "yrs", "year", "years"),
}
PART = re.compile(r"(\d+(?:[.,]5)?)\s*([a-z]+)\.?")
FILLER = re.compile(
    r"\b(about|around|approx|approximately|roughly|ca|circa|nearly|almost|old|and|of age)\b[.,]?|~"
)


def stated_age(text: str) -> StatedAge:
    """Read "about 3 years", "14 weeks", "2.5 y", "8 y 4 m", "18 months old". Raises AgeNotUnderstood."""
    left = FILLER.sub(" ", text.lower()).strip(" ,")
    parts = PART.findall(left)
    if not parts or PART.sub(" ", left).strip(" ,"):
        raise AgeNotUnderstood(f"“{text}” is not an age such as “3 years” or “10 weeks”")
    days, months, unit = 0, 0, AgeUnit.YEARS
    for number, word in parts:
        unit = _unit(word, text)
        amount = Decimal(number.replace(",", "."))
        add_days, add_months = _amount(amount, unit, text)
        days, months = days + add_days, months + add_months
    if months > LONGEST_YEARS * 12 or days > LONGEST_YEARS * 366:
        raise AgeNotUnderstood(f"“{text}” is older than a dog or cat can be")
    return StatedAge(days, months, unit)


def _unit(word: str, text: str) -> AgeUnit:
    for unit, words in UNIT_WORDS.items():
        if word in words:
            return unit
    raise AgeNotUnderstood(f"“{word}” in “{text}” is not days, weeks, months or years")


def _amount(amount: Decimal, unit: AgeUnit, text: str) -> tuple[int, int]:
    """Days and months. Halves are months for years, and whole days for weeks and months."""
    if unit is AgeUnit.YEARS:
        return 0, int(amount * 12)
    if unit is AgeUnit.MONTHS:
        return (15 if amount % 1 else 0), int(amount)
    if unit is AgeUnit.WEEKS:
        return int(amount * 7), 0
    if amount % 1:
        raise AgeNotUnderstood(f"“{text}”: give whole days")
    return int(amount), 0


def birth_from_age(age: StatedAge, on: date) -> BirthEstimate:
    """The birth date of an animal said to be so old on that day, give or take half the unit it was said in
    (a whole one for days and weeks). The latest is never after `on`.
    """
    best = on - relativedelta(months=age.months) - timedelta(days=age.days)
    margin = {
        AgeUnit.DAYS: relativedelta(days=1),
        AgeUnit.WEEKS: relativedelta(weeks=1),
        AgeUnit.MONTHS: relativedelta(days=15),
        AgeUnit.YEARS: relativedelta(months=6),
    }[age.unit]
    return BirthEstimate(best, best - margin, min(best + margin, on))


def birth_known_to(birth: date, precision: Precision) -> BirthEstimate:
    """The span a stored date stands for: a day, its month, its year; an estimate, half a year each way."""
    if precision is Precision.MONTH:
        first = birth.replace(day=1)
        return BirthEstimate(birth, first, first + relativedelta(months=1, days=-1), precision)
    if precision is Precision.YEAR:
        return BirthEstimate(birth, date(birth.year, 1, 1), date(birth.year, 12, 31), precision)
    if precision is Precision.ESTIMATE:
        half = relativedelta(months=6)
        return BirthEstimate(birth, birth - half, birth + half, precision)
    return BirthEstimate(birth, birth, birth, precision)


def youngest_days(birth: BirthEstimate, on: date) -> int:
    """The fewest days the animal can have lived; 0 where it may be born only now. Raises BornLater."""
    age_days(birth.earliest, on)
    return max((on - birth.latest).days, 0)
