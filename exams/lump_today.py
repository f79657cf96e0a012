"""What one exam says of the patient's lumps, as plain frozen data; the words are the trade’s.

Descriptions: common practice. Nothing is filled by default: an empty word was not said.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from exams.lump_places import Place
from exams.lumps import Size

TARGET = "lump:"
MEASURED, GONE, MERGED, NOT_LOOKED = "measured", "gone", "merged", "not-looked"
METHODS = ("caliper", "ruler", "estimate")
SAMPLES = ("needle", "biopsy")
GONE_HOW = {"not-felt": "not felt any more", "removed": "removed by surgery"}
LOOKS: Mapping[str, tuple[str, ...]] = {
    "shape": ("round", "oval", "stalked", "plaque", "irregular"),
    "firmness": ("soft", "fluctuant", "doughy", "rubbery", "firm", "hard"),
    "mobility": ("free", "moves with skin", "partly fixed", "fixed"),
    "attachment": ("skin", "deeper tissue", "both", "neither"),
    "surface": ("haired", "hairless", "smooth", "wart-like", "crusted", "ulcerated", "bleeding"),
    "colour": ("skin colour", "pink", "red", "black", "blue", "yellow", "white"),
    "pain": ("none", "mild", "marked"),
    "change": ("same", "bigger", "smaller", "different look"),
    "bothers": ("yes", "no"),
    "node": ("normal", "enlarged", "not felt"),
}
SEVERAL = ("surface",)


@dataclass(frozen=True, slots=True)
class LumpToday:
    """One lump in one exam.

    `new`: placed here for the first time; `place`: where it lies, `moved_from`: where it lay before it was
    put right here. `said`: "" (no size yet), measured, gone, merged or not-looked. `looks`: of LOOKS, several
    joined by ", ", and `note`.
    `sample`: needle, biopsy or removed, taken today. `how`, `words`, `reason`, `into`: of a
    lump that is gone, was not looked at or grew together with another. `grown`: since the last measure, in
    words; `asks`: rules that ask for a sample, each with its source. `facts`: what moves the class of the
    finding, which is `code` on `line`.
    """

    number: int
    new: bool = False
    place: Place | None = None
    moved_from: Place | None = None
    first_seen: str = ""
    first_words: str = ""
    said: str = ""
    axes_mm: tuple[float, ...] = ()
    method: str = ""
    reordered: bool = False
    looks: Mapping[str, str] = field(default_factory=dict)
    sample: str = ""
    reason: str = ""
    words: str = ""
    how: str = ""
    into: str = ""
    grown: str = ""
    asks: tuple[tuple[str, str], ...] = ()
    facts: Mapping[str, float | bool] = field(default_factory=dict)
    line: str = ""
    code: str = ""
    person: str = ""
    observed_by: str = ""
    made_at: str = ""
    operation: str = ""

    @property
    def size(self) -> str:
        return axes_words(self.axes_mm)


@dataclass(frozen=True, slots=True)
class Known:
    """A lump of earlier exams: where it lies and what was last said of it. `days`: present, last_days: since
    its last measure, both until this exam."""

    number: int
    place: Place
    days: int
    last: Size | None = None
    last_days: int = 0
    sampled: bool = False
    gone: bool = False


@dataclass(frozen=True, slots=True)
class KnownLumps:
    """Lumps of earlier exams by their id, and the highest number ever given. read: that was asked."""

    by_id: Mapping[str, Known] = field(default_factory=dict)
    last_number: int = 0
    read: bool = False


def axes_words(axes_mm: tuple[float, ...]) -> str:
    """14 × 12 × 8 mm"""
    return f"{' × '.join(f'{a:g}' for a in axes_mm)} mm" if axes_mm else ""


def lump_to_json(lump: LumpToday | None) -> dict[str, Any] | None:
    if lump is None:
        return None
    return {k: v for k, v in dataclasses.asdict(lump).items() if v not in ("", None, False, (), {})}


def lump_from_json(data: Mapping[str, Any]) -> LumpToday:
    """The inverse of `lump_to_json`."""
    place, before = data.get("place"), data.get("moved_from")
    return LumpToday(
        **{
            **data,
            "place": Place(**place) if place else None,
            "moved_from": Place(**before) if before else None,
            "axes_mm": tuple(data.get("axes_mm", ())),
            "asks": tuple((words, source) for words, source in data.get("asks", ())),
        }
    )


def lumps_to_json(lumps: Mapping[str, LumpToday]) -> dict[str, Any]:
    return {key: lump_to_json(lump) for key, lump in lumps.items()}


def lumps_from_json(data: Mapping[str, Any]) -> dict[str, LumpToday]:
    return {key: lump_from_json(lump) for key, lump in data.items()}
