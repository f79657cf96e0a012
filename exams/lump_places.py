"""Places of lumps: regions of our body maps, finer places asked after a tap, and what a place means.

`lump_regions.json`: drawing → region → plain name, clinical name, side ("" for the midline), and a point
inside (parts of the drawing's width and height). Borders of regions: common practice, drawn by hand.

Where a lump is sampled at any size: mouth, digit and nail bed, common practice; anal sac, Lea, Clinician's
Brief 2023. A cat's injection sites (between the shoulders, lower limbs, tail, flank): NC State oncology and
Clinician's Brief round table 2016. Mammary glands in both sexes: Merck Veterinary Manual 2024.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

VIEWS = ("left", "right", "above", "below")
SIDES = ("left", "right", "midline")
DEPTHS = ("in the skin", "under the skin", "deep or in muscle", "mammary", "in the mouth", "other")

MOUTH, ANAL_SAC = "inside the mouth", "anal sac"
_TOES = tuple(f"toe {n}{' (dewclaw)' if n == 1 else ''}" for n in range(1, 6))
_NAILS = tuple(f"nail bed of toe {n}" for n in range(1, 6))
_PAW = ("top of the paw", "pad", *_TOES, *_NAILS)
_MOUTH = ("nose", "lip", "chin", MOUTH)
_DETAILS: Mapping[str, tuple[str, ...]] = {
    "face": ("upper eyelid", "lower eyelid", "cheek", "lip", MOUTH),
    "muzzle": _MOUTH,
    "jaw": _MOUTH,
    "lip": ("lip", MOUTH),
    "ear": ("ear flap", "base of the ear"),
    "ear-inner": ("ear flap", "base of the ear"),
    **dict.fromkeys(("forepaw", "forepaw-inner", "forepaw-pads"), _PAW),
    **dict.fromkeys(("hindpaw", "hindpaw-inner", "hindpaw-pads"), _PAW),
    "perineum": ("around the anus", ANAL_SAC, "skin below the anus"),
    "genital": (),
}
_BY_SEX: Mapping[tuple[str, str], tuple[str, ...]] = {
    ("perineum", "female"): ("vulva",),
    ("perineum", "male"): ("scrotum",),
    ("genital", "female"): ("vulva",),
    ("genital", "male"): ("prepuce", "penis", "scrotum"),
}
DETAILS = tuple(
    dict.fromkeys(words for listed in (*_DETAILS.values(), *_BY_SEX.values()) for words in listed)
)
_INJECTION = (
    *("withers", "flank", "tail", "tail-base", "tail-under"),
    *("forearm", "forearm-inner", "wrist", "wrist-palm", "foreleg-inner"),
    *("lower-leg", "lower-leg-inner", "hock", "hock-inner", "hindleg-inner"),
)
_STATIONS: Mapping[str, str] = {
    **dict.fromkeys(("face", "muzzle"), "NOS"),
    **dict.fromkeys(("jaw", "lip", "under-jaw"), "MTH"),
    **dict.fromkeys(("ear", "ear-inner"), "EAR"),
    **dict.fromkeys(("neck-side", "neck-top", "throat"), "NEK"),
    **dict.fromkeys(("back", "loins", "rump", "tail", "tail-base", "tail-under", "withers"), "SPN"),
    **dict.fromkeys(("chest", "breastbone", "forechest"), "LUN"),
    **dict.fromkeys(("belly", "flank", "navel"), "ABD"),
    "groin": "HER",
    "perineum": "PER",
    "genital": "GUM",
    "gland": "GUM",
    **dict.fromkeys(("shoulder", "armpit"), "FLB"),
    **dict.fromkeys(("upper-arm", "upper-arm-inner", "elbow", "elbow-inner"), "FLB"),
    **dict.fromkeys(("forearm", "forearm-inner", "foreleg-inner", "wrist", "wrist-palm"), "FLB"),
    **dict.fromkeys(("forepaw", "forepaw-inner", "forepaw-pads"), "FLB"),
    **dict.fromkeys(("thigh", "thigh-inner", "stifle", "stifle-inner"), "HLB"),
    **dict.fromkeys(("lower-leg", "lower-leg-inner", "hindleg-inner", "hock", "hock-inner"), "HLB"),
    **dict.fromkeys(("hindpaw", "hindpaw-inner", "hindpaw-pads"), "HLB"),
}  # fmt: skip


class Region(NamedTuple):
    """One field of a drawing. side: left, right, or "" where the middle of the animal runs through it."""

    plain: str
    clinical: str
    side: str
    x: float
    y: float


class PlaceError(ValueError):
    """A place that is on no drawing of this animal; the text is for the person who tapped."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a lump lies. x, y: parts of the drawing's width and height, 0 to 1, y downwards."""

    drawing: str
    x: float
    y: float
    region: str
    side: str
    detail: str = ""
    depth: str = ""

    @property
    def base(self) -> str:
        """The region without its side: "elbow" of elbow-left, "gland" of gland-dog-3-left."""
        plain = self.region.removesuffix("-left").removesuffix("-right")
        return "gland" if plain.startswith("gland-") else plain

    @property
    def gland(self) -> int:
        """The number of the mammary gland; 0: not at one."""
        return int(self.region.split("-")[2]) if self.base == "gland" else 0

    @property
    def station(self) -> str:
        """The station of the walk where hands come by; "" for none but the skin."""
        eyelid = self.detail.endswith("eyelid")
        return "EYE" if eyelid else "MTH" if self.detail in ("lip", MOUTH) else _STATIONS.get(self.base, "")

    @property
    def rule_region(self) -> str:
        """The place in the words of `exams.lumps`: mouth, digit, nail bed, anal sac, or the region."""
        if self.detail == MOUTH or self.depth == "in the mouth":
            return "mouth"
        return "digit" if self.detail.startswith("toe") else self.detail.partition(" of ")[0] or self.base

    def injection_site(self, species: str) -> bool:
        return species == "cat" and self.base in _INJECTION

    @property
    def words(self) -> str:
        """Side first: "left elbow", "lower back, right of the middle", "left forepaw, toe 2"."""
        told = region(self.drawing, self.region)
        name = told.plain if told else self.region.replace("-", " ")
        if self.side and self.side not in name:
            name = f"{name}, {'in the middle' if self.side == 'midline' else f'{self.side} of the middle'}"
        return f"{name}, {self.detail}" if self.detail else name


@cache
def regions() -> Mapping[str, Mapping[str, Region]]:
    """Every drawing's regions."""
    text = Path(__file__).with_name("lump_regions.json").read_text(encoding="utf-8")
    return {name: {k: Region(*v) for k, v in own.items()} for name, own in json.loads(text).items()}


def region(drawing: str, code: str) -> Region | None:
    return regions().get(drawing, {}).get(code)


def drawings(species: str) -> tuple[str, ...]:
    return tuple(f"{species}-{view}" for view in VIEWS)


def details(code: str, sex: str) -> tuple[str, ...]:
    """Finer places asked after a tap. sex "": not known, so both are offered."""
    base = code.removesuffix("-left").removesuffix("-right")
    own = [
        words for (at, of), listed in _BY_SEX.items() if at == base and sex in ("", of) for words in listed
    ]
    return tuple(dict.fromkeys((*_DETAILS.get(base, ()), *own)))


def check(place: Place, *, species: str, sex: str) -> None:
    """Raises PlaceError for a place that this animal does not have, or one without its side."""
    told = region(place.drawing, place.region)
    if place.drawing not in drawings(species) or told is None:
        raise PlaceError("that place is not on a drawing of this animal")
    if not (0 <= place.x <= 1 and 0 <= place.y <= 1):
        raise PlaceError("that point lies outside the drawing")
    if place.side not in SIDES or (told.side and place.side != told.side):
        raise PlaceError(f"{told.plain}: say left, right or in the middle")
    if place.detail and place.detail not in details(place.region, sex):
        raise PlaceError(f"{told.plain}: there is no {place.detail!r} in this animal")
    if place.detail == ANAL_SAC and place.side == "midline":
        raise PlaceError("anal sac: left or right?")
    if place.depth and place.depth not in DEPTHS:
        raise PlaceError(f"the depth is one of {', '.join(DEPTHS)}")


def mirrored(place: Place) -> Place:
    """The same place on the animal's other side: side views change their drawing, the others their half."""
    other = {"left": "right", "right": "left"}
    species, _, view = place.drawing.partition("-")
    code, _, side = place.region.rpartition("-")
    return Place(
        f"{species}-{other.get(view, view)}",
        1 - place.x,
        place.y,
        f"{code}-{other[side]}" if side in other else place.region,
        other.get(place.side, place.side),
        place.detail,
        place.depth,
    )
