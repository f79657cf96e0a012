"""Which lines an animal has."""

import pytest

from exams.lines import Absence, applicable
from tests.exams.walkhelp import ADULT_DAYS, dog, queen, walk


def keys(lines, structure):
    return [line.key for line in lines if line.structure == structure]


@pytest.mark.parametrize(
    ("structure", "expected"),
    [
        ("NOS.planum", ["NOS.planum|-"]),
        ("EAR.canal", ["EAR.canal|left", "EAR.canal|right"]),
        ("FLB.elbow", ["FLB.elbow|left", "FLB.elbow|right"]),
        ("NEU.hopping", [f"NEU.hopping|{s}" for s in ("LF", "RF", "LH", "RH")]),
        ("MTH.gums", [f"MTH.gums|{s}" for s in ("upper-right", "upper-left", "lower-left", "lower-right")]),
    ],
)
def test_a_structure_has_a_line_a_side(structure, expected) -> None:
    assert keys(dog(), structure) == expected


@pytest.mark.parametrize(("lines", "glands", "teeth"), [(dog, 10, 42), (queen, 8, 30)])
def test_glands_and_teeth_follow_the_species(lines, glands, teeth) -> None:
    assert len(keys(lines(), "GUM.mammary")) == glands
    assert len(keys(lines(), "MTH.teeth")) == teeth


@pytest.mark.parametrize(("age", "teeth"), [(60, 28), (100, 42), (None, 42)])
def test_a_puppys_teeth_are_its_baby_teeth_until_they_mix(age, teeth) -> None:
    assert len(keys(applicable(walk(), "dog", age_days=age), "MTH.teeth")) == teeth


def test_routine_lines_of_two_usual_animals_are_as_counted_in_the_vocabulary() -> None:
    def asked(lines):
        return {
            x.structure
            for x in lines
            if x.applies and x.asked == "every" and not walk().structure[x.structure].twin
        }

    male = applicable(walk(), "dog", "male", True, ADULT_DAYS)
    spayed = applicable(walk(), "cat", "female", True, ADULT_DAYS)
    own = [s for st in walk().stations for s in st.structures if not s.twin and s.asked == "every"]
    assert asked(male) == {s.code for s in own if s.applies_when in ("", "male") and "dog" in s.species}
    assert asked(spayed) == {s.code for s in own if s.applies_when in ("", "female") and "cat" in s.species}


def test_twins_are_answered_at_their_home() -> None:
    assert dog()["NEU.menace|left"].stored_at == ("EYE.vision|left",)
    assert dog()["HLB.groin|right"].stored_at == ("HRT.pulses|right",)
    assert dog()["GUM.scrotum|-"].stored_at == ("HER.scrotum|left", "HER.scrotum|right")


def test_a_limb_is_one_line_wherever_it_is_shown() -> None:
    pairs = {"LF": "FLB.gait|left", "RF": "FLB.gait|right", "LH": "HLB.gait|left", "RH": "HLB.gait|right"}
    for limb, key in pairs.items():
        assert dog()[f"NEU.gait|{limb}"].stored_at == (key,)
        assert dog()[key].covered_by == "GEN.gait|-"


def test_both_stations_of_a_twin_offer_the_findings_of_both() -> None:
    assert {"EYE-27", "NEU-06"} <= set(dog()["EYE.vision|left"].codes)
    assert {"EYE-27", "NEU-06"} <= set(dog()["NEU.menace|left"].codes)


def test_a_forelimb_is_not_offered_the_hind_limbs_lameness() -> None:
    assert "HLB-01" not in dog()["FLB.gait|left"].codes
    assert "HLB-01" not in dog()["NEU.gait|LF"].codes


def test_findings_come_in_the_order_of_their_rank() -> None:
    assert dog()["EAR.canal|left"].codes[:3] == ("EAR-02", "EAR-01", "EAR-20")


def test_findings_of_the_other_species_are_not_offered() -> None:
    assert "EAR-19" not in queen()["EAR.canal|left"].codes
    assert "THR-07" not in dog()["THR.thyroid|left"].codes


def test_a_further_test_names_the_line_it_belongs_to() -> None:
    assert dog()["EYE.stain|left"].within == "EYE.cornea|left"


def test_unknown_sex_shows_every_genital_line() -> None:
    unknown = applicable(walk(), "dog")
    assert all(x.applies for x in unknown if x.station == "GUM")


def test_growth_is_asked_of_the_young_only() -> None:
    assert applicable(walk(), "dog", age_days=100)["BCM.growth|-"].applies
    assert dog()["BCM.growth|-"].absent == "age"


@pytest.mark.parametrize(
    ("what", "gone", "kept"),
    [
        (
            "limb:LH",
            ["HLB.hip|left", "NEU.placement|LH", "LYM.popliteal|left"],
            ["HLB.hip|right", "FLB.elbow|left"],
        ),
        ("station:EYE|left", ["EYE.lens|left"], ["EYE.lens|right"]),
        ("tooth:409", ["MTH.teeth|409"], ["MTH.teeth|408"]),
        ("structure:SPN.tail", ["SPN.tail|-"], ["SPN.lumbar|-"]),
        ("line:GUM.mammary|left-3", ["GUM.mammary|left-3"], ["GUM.mammary|left-2"]),
    ],
)
def test_what_is_lastingly_absent_is_not_applicable_and_says_why(what, gone, kept) -> None:
    lines = applicable(walk(), "dog", "male", True, ADULT_DAYS, [Absence(what, "removed 2024")])
    assert [(lines[k].absent, lines[k].why) for k in gone] == [("absent", "removed 2024")] * len(gone)
    assert all(lines[k].applies for k in kept)
