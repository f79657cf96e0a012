"""Tests done in the house, in two taps: what was taken, and what was seen. Pure.

The owner's sentence says what was seen, never what it means: that is the assessment's.
"""

from collections.abc import Iterable
from dataclasses import dataclass

# where on the walk a sample is commonly taken: beginnings of line keys. Common practice.
_SKIN, _LUMPS = ("SKN",), ("SKN.lumps", "GUM.mammary", "LYM")


@dataclass(frozen=True)
class Outcome:
    """`meaning`: negative, positive or unclear."""

    code: str
    value: str
    meaning: str
    for_owner: str


@dataclass(frozen=True)
class InHouse:
    """`side`: left or right, where the sample has one. `fits`: line keys, or their beginnings, it is of."""

    code: str
    kind: str
    title: str
    for_owner: str
    outcomes: tuple[Outcome, ...]
    side: str = ""
    fits: tuple[str, ...] = ()


@dataclass(frozen=True)
class Outside:
    """A test that a laboratory does, proposed by its name; the form is filled with it and can be changed."""

    title: str
    for_owner: str
    fits: tuple[str, ...]


_UNCLEAR = Outcome("unclear", "unclear", "unclear", "The result was not clear. We say what we do next.")


def _ear(side: str) -> InHouse:
    return InHouse(
        code=f"ear-cytology-{side}",
        kind="ear-cytology",
        title=f"Ear sample, {side} ear",
        side=side,
        fits=(f"EAR.{side}",),
        for_owner=f"We looked at wax from the {side} ear under the microscope.",
        outcomes=(
            Outcome("none", "no organisms", "negative", "We saw no yeast, no bacteria and no mites."),
            Outcome("yeast", "yeast", "positive", "We saw yeast."),
            Outcome("cocci", "cocci", "positive", "We saw round bacteria."),
            Outcome("rods", "rods", "positive", "We saw rod-shaped bacteria."),
            Outcome("yeast-cocci", "yeast and cocci", "positive", "We saw yeast and round bacteria."),
            Outcome("mites", "mites", "positive", "We saw ear mites."),
            _UNCLEAR,
        ),
    )


IN_HOUSE = (
    _ear("left"),
    _ear("right"),
    InHouse(
        code="needle-sample",
        kind="needle-sample",
        title="Needle sample, cytology",
        for_owner="We took cells with a thin needle and looked at them under the microscope.",
        fits=_LUMPS,
        outcomes=(
            # fat alone may also be what lies beside the lump: what it means the clinician says
            Outcome("fat", "fat cells only", "unclear", "We saw only fat cells."),
            Outcome("inflammation", "inflammatory cells", "positive", "We saw cells of inflammation."),
            Outcome("specialist", "for a pathologist", "unclear", "A specialist should look at it."),
            Outcome("few", "too few cells", "unclear", "There were too few cells. We say what we do next."),
            _UNCLEAR,
        ),
    ),
    InHouse(
        code="impression-smear",
        kind="impression-smear",
        title="Impression smear of the skin",
        for_owner="We pressed a slide on the skin and looked at it under the microscope.",
        fits=_SKIN,
        outcomes=(
            Outcome("none", "no organisms", "negative", "We saw no yeast and no bacteria."),
            Outcome("yeast", "yeast", "positive", "We saw yeast."),
            Outcome("cocci", "cocci", "positive", "We saw round bacteria."),
            Outcome("rods", "rods", "positive", "We saw rod-shaped bacteria."),
            Outcome("inflammation", "inflammatory cells", "positive", "We saw cells of inflammation."),
            _UNCLEAR,
        ),
    ),
    InHouse(
        code="heartworm-antigen",
        kind="heartworm-antigen",
        title="Heartworm antigen",
        fits=("HRT", "LUN"),
        for_owner="We tested the blood for heartworm.",
        outcomes=(
            Outcome("negative", "negative", "negative", "The blood test found no sign of adult heartworms."),
            Outcome(
                "positive", "positive", "positive", "The heartworm test is positive. It needs a second test."
            ),
            _UNCLEAR,
        ),
    ),
    InHouse(
        code="faecal",
        kind="faecal",
        title="Faecal test",
        fits=("ABD", "PER"),
        for_owner="We looked for worm eggs in the stool.",
        outcomes=(
            Outcome("negative", "no eggs seen", "negative", "We saw no worm eggs in this sample."),
            Outcome("roundworm", "roundworm eggs", "positive", "We saw eggs of roundworms."),
            Outcome("hookworm", "hookworm eggs", "positive", "We saw eggs of hookworms."),
            Outcome("whipworm", "whipworm eggs", "positive", "We saw eggs of whipworms."),
            Outcome("giardia", "Giardia", "positive", "We saw Giardia, a tiny gut parasite."),
            _UNCLEAR,
        ),
    ),
)
OUTSIDE = (
    Outside(
        "Cytology of a needle sample",
        "We took cells with a thin needle. A laboratory looks at them.",
        _LUMPS,
    ),
    Outside(
        "Biopsy, histopathology",
        "We took a small piece of tissue. A laboratory looks at it.",
        (*_SKIN, "GUM.mammary", "LYM", "MTH"),
    ),
    Outside(
        "Culture and sensitivity",
        "We took a sample. A laboratory sees which germs grow and what works against them.",
        ("EAR", *_SKIN),
    ),
)
_BY_CODE = {each.code: each for each in IN_HOUSE}


def _fits(each: InHouse | Outside, lines: Iterable[str]) -> bool:
    return any(_at(fit, line) for fit in each.fits for line in lines)


def _at(fit: str, line: str) -> bool:
    """Whether a line lies there: "EAR.left" is any line of the left ear, "EAR" of both."""
    station, _dot, side = fit.partition(".")
    if side in ("left", "right"):
        return line.startswith(f"{station}.") and not line.endswith(
            {"left": "|right", "right": "|left"}[side]
        )
    return line.startswith(fit)


def offered_for(lines: Iterable[str]) -> tuple[tuple[InHouse, ...], tuple[InHouse, ...], tuple[Outside, ...]]:
    """For a problem of these lines: tests here that fit, the others, and tests of a laboratory that fit.

    Where nothing fits, or the problem speaks of no line, every test of the house is offered alike.
    """
    about = tuple(lines)
    fit = tuple(each for each in IN_HOUSE if _fits(each, about))
    outside = tuple(each for each in OUTSIDE if not about or _fits(each, about))
    if not fit:
        return IN_HOUSE, (), outside
    return fit, tuple(each for each in IN_HOUSE if each not in fit), outside


def in_house(code: str) -> InHouse | None:
    """By code."""
    return _BY_CODE.get(code)


def outcomes_of(kind: str) -> tuple[Outcome, ...]:
    """The outcomes offered for a test of this kind; empty for a test that goes out."""
    return next((each.outcomes for each in IN_HOUSE if each.kind == kind), ())


def in_house_of(kind: str, title: str) -> InHouse | None:
    """By what a test keeps of it: two ears are of one kind."""
    same = [each for each in IN_HOUSE if each.kind == kind]
    return next((each for each in same if len(same) == 1 or each.title == title), None)
