"""A laboratory's words as numbers, where they are numbers; nothing is converted and nothing rounded. Pure.

A value is as reported ("<0.5", "248", "1:160", "no growth"); an interval is the laboratory's own, for its
method and its unit. Whether a value lies inside is arithmetic; what it means is a clinician's to say.
"""

import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_VALUE = re.compile(rf"^(?P<relation>[<>≤≥]?)\s*(?P<number>{_NUMBER})$")
_BETWEEN = re.compile(rf"^(?P<low>{_NUMBER})\s*(?:-|–|—|to)\s*(?P<high>{_NUMBER})$")
_BOUND = re.compile(rf"^(?P<relation>[<>≤≥])\s*(?P<number>{_NUMBER})$")
MOST_DIGITS, MOST_PLACES = 10, 6


@dataclass(frozen=True)
class Reading:
    """`relation`: <, > or nothing. ≤ and ≥ count as < and >, as analysers print them at the ends of their
    range."""

    number: Decimal
    relation: str = ""


@dataclass(frozen=True)
class Interval:
    """Both ends belong to it; an open end is None."""

    low: Decimal | None
    high: Decimal | None


def reading(words: str) -> Reading | None:
    """The number in a reported value; None where it is no number ("1:160", "no growth", "1,234.5")."""
    found = _VALUE.match(_plain(words))
    number = _number(found["number"]) if found else None
    if found is None or number is None:
        return None
    return Reading(number, {"≤": "<", "≥": ">"}.get(found["relation"], found["relation"]))


def interval(words: str) -> Interval | None:
    """70-165, 3.5 – 5.8, < 2.6, ≥ 10; None where it says something else, or the ends are the wrong way."""
    plain = _plain(words).strip("()[] ")
    if found := _BETWEEN.match(plain):
        low, high = _number(found["low"]), _number(found["high"])
        return Interval(low, high) if low is not None and high is not None and low <= high else None
    if found := _BOUND.match(plain):
        number = _number(found["number"])
        if number is None:
            return None
        return Interval(None, number) if found["relation"] in "<≤" else Interval(number, None)
    return None


def place(value: Reading | None, of: Interval | None) -> str:
    """inside, low or high; empty where it cannot be told.

    A value below the analyser's range (<0.5) is low only when the whole of it lies below the interval; where
    the interval begins inside of it, nothing is said.
    """
    if value is None or of is None:
        return ""
    number, low, high = value.number, of.low, of.high
    if value.relation == "<":
        if low is not None and number <= low:
            return "low"
        return "inside" if low is None and high is not None and number <= high else ""
    if value.relation == ">":
        if high is not None and number >= high:
            return "high"
        return "inside" if high is None and low is not None and number >= low else ""
    if low is not None and number < low:
        return "low"
    if high is not None and number > high:
        return "high"
    return "inside"


def _plain(words: str) -> str:
    return " ".join(words.replace("\u00a0", " ").split())


def _number(text: str) -> Decimal | None:
    """A comma is a decimal comma; what would not fit a column is no number here."""
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        return None
    _, digits, exponent = number.as_tuple()
    places = -exponent if isinstance(exponent, int) and exponent < 0 else 0
    return number if places <= MOST_PLACES and len(digits) - places <= MOST_DIGITS else None
