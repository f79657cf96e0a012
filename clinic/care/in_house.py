"""Tests done in the house, in two taps: what was taken, and what was seen. Pure.

The owner's sentence says what was seen, never what it means: that is the assessment's.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Outcome:
    """`meaning`: negative, positive or unclear."""

    code: str
    value: str
    meaning: str
    for_owner: str


@dataclass(frozen=True)
class InHouse:
    """`side`: left or right, where the sample has one."""

    code: str
    kind: str
    title: str
    for_owner: str
    outcomes: tuple[Outcome, ...]
    side: str = ""


_UNCLEAR = Outcome("unclear", "unclear", "unclear", "The result was not clear. We say what we do next.")


def _ear(side: str) -> InHouse:
    return InHouse(
        code=f"ear-cytology-{side}",
        kind="ear-cytology",
        title=f"Ear sample, {side} ear",
        side=side,
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
        code="heartworm-antigen",
        kind="heartworm-antigen",
        title="Heartworm antigen",
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
_BY_CODE = {each.code: each for each in IN_HOUSE}


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
