"""Classes of urgency: monitor, recheck, treat soon, emergency.

The classes and the circumstances that move them are data beside each finding (common practice: no published
standard exists for a general exam). What cannot be reckoned stays with the clinician, whose own class goes
first.

A condition is a flag (`sudden`), a finding of this exam (`finding:VIT-06`) or a comparison
(`heart_rate > 180`, `severity == severe`). A fact that nobody stated makes its condition false.
"""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from exams.walk import CLASSES, FindingCode, Walk

Fact = str | float | bool
Facts = Mapping[str, Fact]

WORDS = {"M": "monitor", "R": "recheck", "T": "treat soon", "E": "emergency"}
OWNER_WORDS = {
    "M": "Watch this at home",
    "R": "We want to look again",
    "T": "Needs a test or treatment",
    "E": "Needs care now",
}
NEEDS_PLAN = ("T", "E")

_COMPARISON = re.compile(r"^([a-z_]\w*)\s*(>=|<=|==|>|<)\s*([\w.-]+)$")
_FLAG = re.compile(r"^(finding:[A-Z]{3}-\d\d|[a-z_]\w*)$")
_OPERATORS: Mapping[str, Callable[[float, float], bool]] = {
    ">=": operator.ge,
    "<=": operator.le,
    ">": operator.gt,
    "<": operator.lt,
    "==": operator.eq,
}


class ConditionError(ValueError):
    """A condition in the data cannot be read."""


@dataclass(frozen=True, slots=True)
class Urgency:
    """The class that counts, the finding's own class, and the conditions that moved it (empty: none did).

    `why`: the clinician's reason, when the class was set by hand.
    """

    letter: str
    default: str
    because: tuple[str, ...] = ()
    set_by_clinician: bool = False
    why: str = ""


def holds(condition: str, facts: Facts) -> bool:
    """Whether one condition is true. Raises ConditionError for one that cannot be read."""
    if _FLAG.match(condition):
        return facts.get(condition) is True
    match = _COMPARISON.match(condition)
    if not match:
        raise ConditionError(condition)
    name, sign, wanted = match.groups()
    value = facts.get(name)
    if value is None:
        return False
    if isinstance(value, str):
        return sign == "==" and value == wanted
    return _OPERATORS[sign](float(value), float(wanted))


def effective(finding: FindingCode, facts: Facts, *, set_by_clinician: str = "", why: str = "") -> Urgency:
    """The class in these circumstances. Up wins over down, and a clinician's own class over both."""
    if set_by_clinician:
        return Urgency(set_by_clinician, finding.urgency, set_by_clinician=True, why=why)
    moved = [c for c in finding.change if all(holds(x, facts) for x in c.all)]
    up = [c for c in moved if CLASSES.index(c.to) > CLASSES.index(finding.urgency)]
    if up:
        best = max(up, key=lambda c: CLASSES.index(c.to))
        return Urgency(best.to, finding.urgency, best.all)
    if moved:
        least = max(moved, key=lambda c: CLASSES.index(c.to))
        return Urgency(least.to, finding.urgency, least.all)
    return Urgency(finding.urgency, finding.urgency)


def highest(letters: Iterable[str]) -> str:
    """The overall class: the highest of all; empty when there is none."""
    return max(letters, key=CLASSES.index, default="")


def facts_of(
    walk: Walk,
    *,
    species: str,
    age_days: int | None = None,
    neutered: bool | None = None,
    numbers: Mapping[str, float] | None = None,
    codes: Collection[str] = (),
    said: Collection[str] = (),
) -> dict[str, Fact]:
    """Everything conditions may ask.

    numbers: by name with unit, as in the data: temperature_c, heart_rate, refill_s, systolic_mmhg,
    sleeping_rate, longest_mm, present_days, lasting_days, itch. codes: findings of this exam.
    said: circumstances that somebody stated.
    """
    facts: dict[str, Fact] = {"species": species, **(numbers or {})}
    if age_days is not None:
        facts |= {"age_days": age_days, "age_weeks": age_days / 7, "age_months": age_days / 30.4375}
    if neutered is not None:
        facts["neutered" if neutered else "intact"] = True
    facts |= {f"finding:{code}": True for code in codes}
    facts |= dict.fromkeys(implied(walk, codes, said), True)
    return facts


def implied(walk: Walk, codes: Collection[str], said: Collection[str]) -> set[str]:
    """The circumstances said, those that findings imply, and what follows from them."""
    true = set(said) | {c.key for c in walk.circumstances if set(c.codes) & set(codes)}
    while True:
        more = {c.key for c in walk.circumstances if set(c.implied_by) & true} - true
        if not more:
            return true
        true |= more


def in_words(walk: Walk, because: Iterable[str]) -> str:
    """The conditions that moved a class, for the page: "age weeks < 12", "sudden", "VIT-06"."""
    words = []
    for condition in because:
        circumstance = walk.circumstance.get(condition)
        words.append(
            circumstance.words if circumstance else condition.removeprefix("finding:").replace("_", " ")
        )
    return ", ".join(words)
