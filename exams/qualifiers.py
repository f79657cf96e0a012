"""What qualifies a finding: how each qualifier is asked, what values it takes, which facts it states.

The list is data (`walk/qualifiers.toml`). A name that is not in it and reads "a / b" offers those words, one
that ends in "?" is a flag; anything else is asked in words. Several values stand in one text, joined by ", ".
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

KINDS = ("flag", "one", "several", "number", "sizes", "total", "text", "known")
CLOSED = ("flag", "one", "several")
LASTING = "lasting days"  # asked where the class of urgency depends on how long it lasts
JOIN = ", "
_PART = re.compile(r"\d+(?:[.,]\d+)?")
_SIZES = re.compile(rf"^{_PART.pattern}(?:\s*[x×]\s*{_PART.pattern}){{1,2}}$")
_TOTAL = re.compile(r"(?:^|\s)(\d+) of (\d+)(?:$|:)")


@dataclass(frozen=True, slots=True)
class Qualifier:
    """One way of asking. `codes`: only for these findings. `fact`: how conditions know its number.

    kind: flag (yes or not said) · one · several (of `values`, or own words) · number · sizes (two or three
    numbers) · total (of one of `scales`) · text · known (line, grade or measurement says it already).
    """

    names: tuple[str, ...]
    kind: str
    words: str = ""
    values: tuple[str, ...] = ()
    unit: str = ""
    least: float | None = None
    most: float | None = None
    codes: tuple[str, ...] = ()
    scales: tuple[str, ...] = ()
    fact: str = ""


def how(asked: Iterable[Qualifier], code: str, name: str) -> Qualifier:
    """How one qualifier of one finding is asked: the finding's own entry goes before the common one."""
    named = [q for q in asked if name in q.names]
    found = next((q for q in named if code in q.codes), next((q for q in named if not q.codes), None))
    listed = tuple(v.strip() for v in name.split(" / ")) if " / " in name else ()
    if found is None:
        kind = "one" if listed else "flag" if name.endswith("?") else "text"
        return Qualifier((name,), kind, words="" if listed else name.removesuffix("?"), values=listed)
    if found.kind in ("one", "several") and not found.values:
        return Qualifier((name,), found.kind, values=listed, codes=found.codes)
    return found


def problem(asked: Qualifier, value: str) -> str:
    """Empty when the value can stand, else what is wrong with it. Own words beside a list are allowed."""
    if asked.kind == "number":
        numbers = [value]
        if not _PART.fullmatch(value):
            return "a number is wanted"
    elif asked.kind == "sizes":
        if not _SIZES.match(value):
            return "numbers with × between them are wanted, as 12 x 10 x 8"
        numbers = _PART.findall(value)
    elif asked.kind == "total":
        return "" if _TOTAL.search(value) else "a total of a maximum is wanted, as 4 of 10"
    else:
        return ""
    lows = [n for n in numbers if asked.least is not None and _number(n) < asked.least]
    highs = [n for n in numbers if asked.most is not None and _number(n) > asked.most]
    if lows or highs:
        return f"{(lows or highs)[0]} is outside {asked.least:g} to {asked.most:g}"
    return ""


def facts(asked: Iterable[Qualifier], code: str, told: Mapping[str, str]) -> dict[str, float]:
    """The numbers of a finding's qualifiers by the names that conditions use; the longest of three sizes."""
    ways = tuple(asked)
    found: dict[str, float] = {}
    for name, value in told.items():
        way = how(ways, code, name)
        numbers = [_number(n) for n in _PART.findall(value)] if way.fact and not problem(way, value) else []
        if numbers:
            found[way.fact] = max(numbers)
    if "mm" in found:
        found.setdefault("longest_mm", found["mm"])
    if "lasting_days" in found:
        found["present_days"] = found["lasting_days"]
    if "rate" in found and told.get("setting", "") == "asleep at home":
        found["sleeping_rate"] = found["rate"]
    return found


def in_words(asked: Iterable[Qualifier], code: str, name: str, value: str) -> str:
    """One qualifier as the record says it: "22 mm", "14 × 11 × 8 mm", "hot", "left apex", "calm: no"."""
    way = how(asked, code, name)
    if way.kind in ("number", "sizes") and not problem(way, value):
        said = " × ".join(_PART.findall(value))
        told = f"{said}{way.unit}" if way.unit == "%" else f"{said} {way.unit}".strip()
        lead = way.words if name in (LASTING, "count", "0-10 scale") or not way.unit else ""
        return f"{lead[:1].lower()}{lead[1:]} {told}".strip()
    if way.kind == "flag" and value == "yes":
        return way.words or name.removesuffix("?")
    return f"{name.removesuffix('?')}: {value}" if value in ("yes", "no") else value


def total_of(value: str) -> tuple[int, int] | None:
    """(total, maximum) of a text as "Feline Grimace Scale 4 of 10"."""
    match = _TOTAL.search(value)
    return (int(match[1]), int(match[2])) if match else None


def _number(text: str) -> float:
    return float(text.replace(",", "."))
