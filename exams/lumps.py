"""Lumps over time: size, growth, when to take a sample, and what a letter may not say.

Sources: "see something, do something": Ettinger, WSAVA congress 2017 (an awareness guideline); cat injection
sites (3-2-1): NC State oncology and Clinician's Brief round table 2016; mammary masses: Merck Veterinary
Manual 2024; anal sac: Lea, Clinician's Brief 2023. Growth of 20% and measurement error: common practice.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from exams.urgency import highest

INJECTION_SITES = ("between shoulders", "lower leg", "tail", "flank")
SAMPLE_ALWAYS = ("mouth", "digit", "nail bed", "anal sac")
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
    """One rule that speaks for a sample. words for the clinician, source of the rule."""

    code: str
    urgency: str
    words: str
    source: str


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
    found = [
        (_pea_sized(lump), "1 cm or more for a month: sample", "Ettinger, WSAVA congress 2017"),
        (lump.growing, "growing: sample", "Ettinger, WSAVA congress 2017"),
        (lump.changing or lump.bothers, "changes or bothers: sample", "Ettinger, WSAVA congress 2017"),
        (
            _three_two_one(lump),
            "cat injection site, 3-2-1: biopsy",
            "NC State oncology; Clinician's Brief 2016",
        ),
        (lump.mammary, "mammary mass: sample", "Merck Veterinary Manual, mammary tumors, 2024"),
        (lump.region in SAMPLE_ALWAYS, f"{lump.region}: sample at any size", "Lea, Clinician's Brief 2023"),
        (lump.ulcerated, "ulcerated or bleeding: sample", "common practice"),
    ]
    return tuple(Prompt(code, "T", words, source) for holds, words, source in found if holds)


def lump_class(lump: Lump) -> str:
    """The class of an unsampled lump: T when a rule asks for a sample, else the finding's own R."""
    return highest(["R", *(p.urgency for p in sampling(lump))])


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
