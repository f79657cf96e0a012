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


def _antibody(kind: str, name: str) -> InHouse:
    found = f"The blood test found antibodies against {name}."
    return InHouse(
        code=kind,
        kind=kind,
        title=f"Antibody against {name}",
        for_owner=f"We tested the blood for antibodies against {name}.",
        outcomes=(
            Outcome("found", "antibody found", "inside", found),
            Outcome("none", "no antibody found", "positive", found.replace("found", "found no")),
            _UNCLEAR,
        ),
    )


_GENE = InHouse(
    code="abcb1-gene",
    kind="abcb1-gene",
    title="ABCB1 (MDR1) gene",
    for_owner="We tested the gene that keeps some medicines out of the brain.",
    outcomes=(
        Outcome("normal", "both normal", "negative", "Both copies of the gene are normal."),
        Outcome(
            "changed", "one or two changed", "positive", "The gene is changed: not every medicine is safe."
        ),
        _UNCLEAR,
    ),
)
# taken when a clinician wants one; no date asks for them
ON_WISH = {
    "dog": (
        _antibody("antibody-distemper", "distemper"),
        _antibody("antibody-adenovirus", "adenovirus"),
        _antibody("antibody-parvovirus", "parvovirus"),
        _GENE,
    ),
    "cat": (),
}
TESTS = (*(each for each in IN_HOUSE if each.kind in RESULT_KINDS), *_OWN)
_BY_KIND = {each.kind: each for each in (*TESTS, *ON_WISH["dog"])}


def on_wish(species: str) -> tuple[InHouse, ...]:
    return ON_WISH.get(species, ())


def for_results(results: frozenset[str]) -> tuple[InHouse, ...]:
    """The tests whose results the schedule reads as one of these."""
    return tuple(each for each in TESTS if RESULT_KINDS[each.kind] in results)


def by_kind(kind: str) -> InHouse | None:
    return _BY_KIND.get(kind)
