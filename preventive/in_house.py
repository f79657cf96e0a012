"""Tests that prevention asks for and the house does itself: taken in one tap, resulted in a second. Pure."""

from clinic.care.in_house import IN_HOUSE, InHouse, Outcome
from preventive.codes import RESULT_KINDS

_UNCLEAR = Outcome("unclear", "unclear", "unclear", "The result was not clear. We say what we do next.")


def _blood(kind: str, title: str, said: str, negative: str, positive: str) -> InHouse:
    return InHouse(
        code=kind,
        kind=kind,
        title=title,
        for_owner=said,
        outcomes=(
            Outcome("negative", "negative", "negative", negative),
            Outcome("positive", "positive", "positive", positive),
            _UNCLEAR,
        ),
    )


_OWN = (
    _blood(
        "heartworm-microfilariae",
        "Microfilariae in the blood",
        "We looked for young heartworms in the blood.",
        "We saw no young heartworms in the blood.",
        "We saw young heartworms in the blood. It needs a plan before any chew.",
    ),
    _blood(
        "heartworm-antibody",
        "Heartworm antibody",
        "We tested the blood for heartworm.",
        "The blood test found no sign of heartworm.",
        "The heartworm test is positive. It needs a second test.",
    ),
    _blood(
        "tick-borne",
        "Tick-borne disease test",
        "We tested the blood for diseases that ticks carry.",
        "The blood test found no sign of diseases that ticks carry.",
        "The blood test found signs of a disease that ticks carry.",
    ),
    _blood(
        "felv-antigen",
        "FeLV test",
        "We tested the blood for leukaemia virus (FeLV).",
        "The test for leukaemia virus is negative.",
        "The test for leukaemia virus is positive. It needs a second test.",
    ),
    _blood(
        "fiv-antibody",
        "FIV test",
        "We tested the blood for immunodeficiency virus (FIV).",
        "The test for immunodeficiency virus is negative.",
        "The test for immunodeficiency virus is positive. It needs a second test.",
    ),
)
TESTS = (*(each for each in IN_HOUSE if each.kind in RESULT_KINDS), *_OWN)
_BY_KIND = {each.kind: each for each in TESTS}


def for_results(results: frozenset[str]) -> tuple[InHouse, ...]:
    """The tests whose results the schedule reads as one of these."""
    return tuple(each for each in TESTS if RESULT_KINDS[each.kind] in results)


def by_kind(kind: str) -> InHouse | None:
    return _BY_KIND.get(kind)
