"""Lumps over time: size, growth, when to take a sample, and what a letter may not say.

Sources: "see something, do something": Ettinger, WSAVA congress 2017 (an awareness guideline); cat injection
sites (3-2-1): NC State oncology and Clinician's Brief round table 2016; mammary masses: Merck Veterinary
Manual 2024; anal sac: Lea, Clinician's Brief 2023. Growth of 20% and measurement error: common practice.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date, timedelta

from exams.urgency import highest

INJECTION_SITES = ("between shoulders", "lower leg", "tail", "flank")
SAMPLE_ALWAYS = ("mouth", "digit", "nail bed", "anal sac")
ETTINGER = "Ettinger, WSAVA congress 2017"
THREE_TWO_ONE = "NC State oncology; Clinician's Brief 2016"
MAMMARY = "Merck Veterinary Manual, mammary tumors, 2024"
MAMMARY_SIZE = "common practice"
ANAL_SAC = "Lea, Clinician's Brief 2023"
NEEDS_RESULT = re.compile(
    r"\b(fatty lump|fatty tumou?r|lipoma|benign|harmless lump|cancer|malignant)\b", re.IGNORECASE
)


class LumpError(ValueError):
    """A size that cannot be."""


@dataclass(frozen=True, slots=True)
class Size:
    """Millimetres, longest first. height 0: two axes only. method: caliper, ruler or estimate."""

    length_mm: float
    width_mm: float
    height_mm: float = 0.0
    method: str = "caliper"
    reordered: bool = False

    @property
    def volume_mm3(self) -> float:
        """Ellipsoid pi/6 x L x W x H; with two axes half L x W squared, an estimate (common practice)."""
        if self.height_mm:
            return math.pi / 6 * self.length_mm * self.width_mm * self.height_mm
        return 0.5 * self.length_mm * self.width_mm**2

    @property
    def estimated(self) -> bool:
        return not self.height_mm or self.method == "estimate"


@dataclass(frozen=True, slots=True)
class Growth:
    """Change between two dates. doubling_days None: not growing. within_error: too small to report."""

    diameter_percent: float
    volume_percent: float
    doubling_days: float | None
    within_error: bool


@dataclass(frozen=True, slots=True)
class Prompt:
    """One rule that speaks for a sample. words for the clinician, source of the rule; fact: how the walk's
    own rules name it ("": they do not)."""

    code: str
    urgency: str
    words: str
    source: str
    fact: str = ""


@dataclass(frozen=True, slots=True)
class Lump:
    """What the rules ask of a lump. days_present and days_since_injection: None when unknown."""

    species: str
    region: str
    longest_mm: float
    days_present: int | None = None
    sampled: bool = False
    mammary: bool = False
    injection_site: bool = False
    days_since_injection: int | None = None
    growing: bool = False
    changing: bool = False
    ulcerated: bool = False
    bothers: bool = False


def size(*axes_mm: float, method: str = "caliper") -> Size:
    """Two or three axes in any order, sorted longest first; `reordered` says when that was needed."""
    if len(axes_mm) not in (2, 3) or any(not 1 <= a <= 600 for a in axes_mm):
        raise LumpError("two or three axes, each 1 to 600 mm")
    ordered = tuple(sorted(axes_mm, reverse=True))
    length, width, height = (*ordered, 0.0)[:3]
    return Size(length, width, height, method, reordered=ordered != axes_mm)


def growth(before: Size, after: Size, days: float) -> Growth:
    """Compare two measurements of one method. Raises LumpError for different methods or no time between."""
    if before.method != after.method or bool(before.height_mm) != bool(after.height_mm):
        raise LumpError("only measurements of the same method are compared")
    if days <= 0:
        raise LumpError("the later measurement is not later")
    ratio = after.volume_mm3 / before.volume_mm3
    change_mm = after.length_mm - before.length_mm
    return Growth(
        diameter_percent=percent(before.length_mm, after.length_mm),
        volume_percent=(ratio - 1) * 100,
        doubling_days=days * math.log(2) / math.log(ratio) if ratio > 1 else None,
        within_error=abs(change_mm) < 3 and before.length_mm < 20,
    )


ERROR_MM = 2.0  # of one axis by calipers through hair: easily 2 to 3 mm (common practice)


@dataclass(frozen=True, slots=True)
class Doubling:
    """Days in which the volume doubles, and the range that the error of measuring leaves.

    slowest_days None: it may not be growing at all.
    """

    days: float
    fastest_days: float
    slowest_days: float | None


def doubling(before: Size, after: Size, days: float, *, error_mm: float = ERROR_MM) -> Doubling | None:
    """Days x ln 2 / ln(V2 / V1), with its range; None: not larger than before. Raises as `growth`.

    Source: exponential growth, arithmetic; errors of the axes taken as independent, so that the relative
    errors of the volume add as squares.
    """
    told = growth(before, after, days)
    if told.doubling_days is None:
        return None
    logs = math.log(after.volume_mm3 / before.volume_mm3)
    error = math.hypot(_log_error(before, error_mm), _log_error(after, error_mm))
    slow = logs - error
    return Doubling(
        told.doubling_days,
        days * math.log(2) / (logs + error),
        days * math.log(2) / slow if slow > 0 else None,
    )


def _log_error(size: Size, error_mm: float) -> float:
    """The relative error of the volume; with two axes the width counts twice (half L x W squared)."""
    axes = (
        ((size.length_mm, 1), (size.width_mm, 1), (size.height_mm, 1))
        if size.height_mm
        else ((size.length_mm, 1), (size.width_mm, 2))
    )
    return math.hypot(*(times * error_mm / axis for axis, times in axes))


def grows(change: Growth) -> bool:
    """Growth that asks for a sample: 20% or more in the longest axis, outside the error of measuring."""
    return round(change.diameter_percent, 6) >= 20 and not change.within_error


def percent(before_mm: float, after_mm: float) -> float:
    return (after_mm / before_mm - 1) * 100


def scaled_volume_percent(diameter_percent: float) -> float:
    """What a change in diameter means for the volume if all axes scale: +20% becomes +73%."""
    return ((1 + diameter_percent / 100) ** 3 - 1) * 100


def response(diameter_percent: float) -> str:
    """Progressive over +20%, partial over -30%, else stable (AAHA oncology guidelines, follow-up care)."""
    if diameter_percent > 20:
        return "progressive"
    return "partial response" if diameter_percent < -30 else "stable"


def sampling(lump: Lump) -> tuple[Prompt, ...]:
    """Every rule that asks for a sample of a lump that has no result yet."""
    if lump.sampled:
        return ()
    code = "GUM-01" if lump.mammary else "PER-05" if lump.region == "anal sac" else "SKN-27"
    large = 20 if lump.species == "cat" else 30
    found = [
        (_pea_sized(lump), "1 cm or more for a month: sample", ETTINGER, "pea_sized"),
        (lump.growing, "growing: sample", ETTINGER, "growing"),
        (lump.changing or lump.bothers, "changes or bothers: sample", ETTINGER, "changing"),
        (_three_two_one(lump), "cat injection site, 3-2-1: biopsy", THREE_TWO_ONE, "injection_site"),
        (lump.mammary, "mammary mass: sample", MAMMARY, ""),
        (
            lump.mammary and lump.longest_mm > large,
            f"mammary mass over {large // 10} cm: worse outlook, act earlier",
            MAMMARY_SIZE,
            "",
        ),
        (lump.region in SAMPLE_ALWAYS, f"{lump.region}: sample at any size", *_at_any_size(lump.region)),
        (lump.ulcerated, "ulcerated or bleeding: sample", "common practice", "ulcerated"),
    ]
    return tuple(Prompt(code, "T", words, source, fact) for holds, words, source, fact in found if holds)


def _at_any_size(region: str) -> tuple[str, str]:
    return (ANAL_SAC if region == "anal sac" else "common practice", "place_asks")


def lump_class(lump: Lump) -> str:
    """The class of an unsampled lump: T when a rule asks for a sample, else the finding's own R."""
    return highest(["R", *(p.urgency for p in sampling(lump))])


AGAIN_AFTER = timedelta(weeks=12)  # the far end of class R, 2 to 12 weeks (common practice)


def look_again(last_on: date) -> date:
    """When a lump of which no sample was taken is to be looked at again, where nobody set another day."""
    return last_on + AGAIN_AFTER


def unsaid_without_result(text: str, *, has_result: bool) -> tuple[str, ...]:
    """Words that a letter may not use for a lump before a result is recorded: looks and feel cannot tell."""
    return () if has_result else tuple(m.group(0) for m in NEEDS_RESULT.finditer(text))


def _pea_sized(lump: Lump) -> bool:
    return lump.longest_mm >= 10 and lump.days_present is not None and lump.days_present >= 30


def _three_two_one(lump: Lump) -> bool:
    """Still there at 3 months, over 2 cm, or growing 1 month after the injection: any one."""
    if lump.species != "cat" or not lump.injection_site:
        return False
    days = lump.days_since_injection if lump.days_since_injection is not None else lump.days_present
    there = days is not None and days >= 90
    growing = lump.growing and days is not None and days >= 30
    return there or lump.longest_mm > 20 or growing
