"""Check facts of tooth numbers (exam-T). The source stands beside each."""

import pytest

from exams.lines import applicable
from exams.state import start
from exams.teeth import ToothError, check_side, dentition, retained, tooth, unexplained_gaps, valid_teeth
from exams.tooth_chart import questions
from tests.exams.walkhelp import found, tap, walk

TRIADAN = "modified Triadan: RVC and WikiVet"
BELLOWS = "Bellows, Feline Dentistry, dental formula"
ERUPTION = "common practice (eruption tables)"


def case(name, *values, source):
    return pytest.param(*values, id=f"{name} {source}")


@pytest.mark.parametrize(
    ("species", "number", "name", "side", "deciduous"),
    [
        case("exam-T01", "dog", 108, "upper right fourth premolar", "right", False, source=TRIADAN),
        case("exam-T01 carnassial", "dog", 309, "lower left first molar", "left", False, source=TRIADAN),
        case("exam-T08", "dog", 704, "deciduous lower left canine", "left", True, source=TRIADAN),
    ],
)
def test_a_tooth_is_named_and_its_side_derived(species, number, name, side, deciduous) -> None:
    told = tooth(species, number)
    assert (told.name, told.side, told.deciduous) == (name, side, deciduous)


@pytest.mark.parametrize(
    ("species", "number", "why"),
    [
        case("exam-T03", "dog", 111, "no upper right third molar", source=TRIADAN),
        case("exam-T04", "cat", 105, "no upper right first premolar", source=f"{TRIADAN}; {BELLOWS}"),
        case("exam-T06", "cat", 306, "no lower left second premolar", source=BELLOWS),
        case("exam-T09", "dog", 705, "no deciduous first premolar", source=ERUPTION),
        case("exam-T09 cat lower second baby premolar", "cat", 706, "second premolar", source=BELLOWS),
        case("exam-T09 molar", "dog", 509, "no deciduous molar", source=TRIADAN),
        case("exam-T09 nonsense", "dog", 912, "not a Triadan number", source=TRIADAN),
        case("exam-T09 zero", "dog", 100, "not a Triadan number", source=TRIADAN),
    ],
)
def test_a_tooth_that_does_not_exist_is_refused_with_why(species, number, why) -> None:
    with pytest.raises(ToothError, match=why):
        tooth(species, number)


def test_exam_t07_a_side_that_disagrees_with_the_number_is_refused() -> None:
    """Source: modified Triadan, RVC and WikiVet."""
    with pytest.raises(ToothError, match="2xx is left"):
        check_side(208, "right")
    check_side(208, "left")


@pytest.mark.parametrize(
    ("species", "deciduous", "count"),
    [
        case("exam-T11", "dog", False, 42, source=BELLOWS),
        case("exam-T11", "cat", False, 30, source=BELLOWS),
        case("exam-T11", "dog", True, 28, source=BELLOWS),
        case("exam-T11", "cat", True, 26, source=BELLOWS),
    ],
)
def test_the_number_of_teeth(species, deciduous, count) -> None:
    numbers = valid_teeth(species, deciduous=deciduous)
    assert len(numbers) == len(set(numbers)) == count
    assert all(tooth(species, n).number == n for n in numbers)


def test_only_the_valid_numbers_are_accepted() -> None:
    """Source: modified Triadan, RVC and WikiVet; Bellows, Feline Dentistry."""
    for species in ("dog", "cat"):
        accepted = set()
        for number in range(1000):
            try:
                accepted.add(tooth(species, number).number)
            except ToothError:
                continue
        assert accepted == set(valid_teeth(species)) | set(valid_teeth(species, deciduous=True))


def test_exam_t12_a_baby_tooth_beside_its_successor_at_eight_months_is_retained() -> None:
    """MTH-12. Source: common practice (eruption tables)."""
    assert retained({504, 104}, 8) == (504,)
    assert retained({504, 104}, 4) == ()


def test_exam_t14_a_tooth_missing_at_nine_months_without_extraction_is_to_be_explained() -> None:
    """MTH-07. Source: common practice (investigate a tooth missing at 7 months)."""
    assert unexplained_gaps("dog", 9, {110}, ()) == (110,)
    assert unexplained_gaps("dog", 9, {110}, {110}) == ()
    assert unexplained_gaps("dog", 5, {110}, ()) == ()


def test_a_puppy_is_looked_at_by_its_baby_teeth_before_they_mix() -> None:
    """Source: common practice (mixed teeth from 3-4 months)."""
    assert dentition("dog", 60) == valid_teeth("dog", deciduous=True)
    assert dentition("dog", 120) == valid_teeth("dog")


def charted(species: str, months: float, number: int, present: list[int]):
    """What the chart asks after somebody said which teeth stand at a place."""
    lines = applicable(walk(), species, "male", False, round(months * 30.4375) + 2)
    payload = {"charted": {"present": present}}
    state, outcome = tap(start(), f"MTH.teeth|{number}", "set_normal", payload, lines)
    assert outcome.accepted, outcome.words
    assert not any(a.findings for a in state.answers.values())  # a suggestion, never recorded by itself
    return [(q.code, q.tooth) for q in questions(lines, state.answers)]


@pytest.mark.parametrize(
    ("months", "number", "present", "asks"),
    [
        case("exam-T12", 8, 104, [504, 104], [("MTH-12", 504)], source=ERUPTION),
        case("exam-T12 at four months", 4, 104, [504, 104], [], source=ERUPTION),
        case("exam-T12 alone at eight months", 8, 104, [504], [("MTH-12", 504)], source=ERUPTION),
        case("exam-T14", 9, 110, [], [("MTH-07", 110)], source=ERUPTION),
        case("exam-T14 at five months", 5, 110, [], [], source=ERUPTION),
    ],
)
def test_the_chart_asks_about_teeth_that_are_late_or_stay(months, number, present, asks) -> None:
    assert charted("dog", months, number, present) == asks


@pytest.mark.parametrize(
    ("number", "why"),
    [
        case("exam-T04 on a line", 105, "no upper right first premolar", source=TRIADAN),
        case("exam-T06 on a line", 306, "no lower left second premolar", source=BELLOWS),
    ],
)
def test_a_tooth_that_a_cat_does_not_have_cannot_be_recorded(number, why) -> None:
    lines = applicable(walk(), "cat", "female", False, 2000)
    assert f"MTH.teeth|{number}" not in lines
    quadrant = "upper-right" if number < 200 else "lower-left"
    _, outcome = tap(
        start(), f"MTH.gums|{quadrant}", "set_abnormal", found("MTH-05", grade="2", tooth=number), lines
    )
    assert (outcome.reason, why in outcome.words) == ("tooth", True)


def test_exam_t07_the_side_is_never_typed_with_a_tooth() -> None:
    """Source: modified Triadan, RVC and WikiVet."""
    lines = applicable(walk(), "dog", "male", True, 2000)
    payload = found("MTH-09", qualifiers={"side": "right"})
    _, outcome = tap(start(), "MTH.teeth|208", "set_abnormal", payload, lines)
    assert outcome.reason == "side"
