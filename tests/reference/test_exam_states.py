"""Check facts of species, sex, side, state and urgency (exam-R, exam-V). The source stands beside each."""

import pytest

from exams.digest import missing_to_sign
from exams.lines import applicable
from exams.state import shown, standing, start
from exams.urgency import effective, facts_of, highest
from tests.exams.walkhelp import ADULT_DAYS, dog, found, queen, tap, walk
from tests.for_each import for_each


def case(name, *values, source="common practice"):
    return pytest.param(*values, id=f"{name} {source}")


def lines_of(species, sex, neutered):
    return applicable(walk(), species, sex, neutered, ADULT_DAYS)


@pytest.mark.parametrize(
    ("animal", "absent", "here"),
    [
        case(
            "exam-R01",
            ("dog", "male", True),
            ["GUM.testes|left"],
            ["HER.scrotum|left", "GUM.prepuce|-", "PER.prostate|left", "GUM.mammary|left-1"],
        ),
        case("exam-R03", ("dog", "female", True), ["ABD.uterus|-"], ["GUM.vulva|-", "GUM.mammary|left-1"]),
        case(
            "exam-R04 female",
            ("dog", "female", False),
            ["PER.prostate|left"],
            ["LYM.axillary|left", "GUM.mammary|right-5"],
        ),
        case(
            "exam-R04 cat",
            ("cat", "male", True),
            ["PER.prostate|left"],
            ["LYM.axillary|left", "GUM.mammary|right-4"],
        ),
    ],
)
def test_what_does_not_apply(animal, absent, here) -> None:
    lines = lines_of(*animal)
    assert not any(lines[k].applies for k in absent)
    assert all(lines[k].applies for k in here)


def test_exam_r04_a_prostate_is_not_even_shown_in_a_cat_but_testes_of_the_neutered_are_counted() -> None:
    """Source: common practice."""
    assert lines_of("cat", "male", True)["PER.prostate|left"].hidden
    assert not lines_of("dog", "male", True)["GUM.testes|left"].hidden


def test_exam_r02_a_testis_in_a_neutered_dog_asks_to_correct_the_record() -> None:
    """Source: common practice."""
    _, outcome = tap(start(), "GUM.testes|left", "set_normal")
    assert "have the sex on record corrected" in outcome.words
    _, outcome = tap(start(), "GUM.neuter|-", "set_abnormal", {**found("GUM-22"), "sure": True})
    assert outcome.accepted


def test_exam_r06_an_eye_finding_without_a_side_cannot_be_saved() -> None:
    """Source: common practice; side errors: error-prone abbreviations, J Patient Safety 2019."""
    _, outcome = tap(start(), "EYE.conjunctiva", "set_abnormal", found("EYE-04"))
    assert outcome.reason == "needs-side"


def test_exam_r07_both_ears_red_become_two_entries() -> None:
    """Source: common practice."""
    payload = {"left": found("EAR-01", severity="mild"), "right": found("EAR-01", severity="severe")}
    state, _ = tap(start(), "EAR.canal|both", "set_abnormal", payload)
    keys = ("EAR.canal|left", "EAR.canal|right")
    assert [shown(state, dog(), k).findings[0].severity for k in keys] == ["mild", "severe"]


def test_exam_r09_an_untouched_form_is_not_signed_and_its_lines_are_counted() -> None:
    """Source: common practice."""
    routine = next(m for m in missing_to_sign(start(), walk(), dog()) if m.kind == "routine")
    assert len(routine.where) == int(routine.words.split()[0]) > 0


def test_exam_r10_a_station_not_examined_with_its_reason_may_be_signed() -> None:
    """Source: common practice."""
    payload = {"reason": "would-not-allow", "all": True}
    state, _ = tap(start(), "exam", "station_rest_not_examined", payload)
    state, _ = tap(state, "EAR.canal|left", "set_normal")
    assert missing_to_sign(state, walk(), dog()) == ()


def test_exam_r11_an_emergency_needs_a_plan_line() -> None:
    """Source: common practice."""
    state, _ = tap(start(), "VIT.mucous-membranes|-", "set_abnormal", found("VIT-07"))
    waits = {m.kind: m.where for m in missing_to_sign(state, walk(), dog())}
    assert waits["plan"] == ("VIT-07",)
    assert "plan" not in {m.kind for m in missing_to_sign(state, walk(), dog(), planned={"VIT-07"})}


def test_exam_r12_a_technicians_grade_stays_unconfirmed() -> None:
    """Source: Maryland COMAR 15.14.13.13."""
    state, _ = tap(start(), "HRT.murmur|-", "set_abnormal", found("HRT-01", grade="1"), role="technician")
    assert "unconfirmed" in {m.kind for m in missing_to_sign(state, walk(), dog())}


def test_exam_r18_an_amputated_leg_takes_its_structures_away() -> None:
    """Source: common practice."""
    state, _ = tap(start(), "HLB.*|left", "set_abnormal", found("HLB-28"))
    gone = [x for x in dog().at("HLB|left") if not x.whole_station]
    assert {standing(state, dog(), x.key)[0] for x in gone} == {"not-applicable"}


def test_exam_r20_the_overall_class_is_the_highest() -> None:
    """Source: common practice."""
    assert highest("MRT") == "T"
    assert highest("MRTE") == "E"
    assert highest("") == ""


def test_both_sexes_have_mammary_glands_and_a_cat_has_four_pairs() -> None:
    """Source: Merck Veterinary Manual, Mammary Tumors in Cats, 2024."""
    assert sum(x.structure == "GUM.mammary" for x in queen()) == 8
    assert sum(x.structure == "GUM.mammary" and x.applies for x in dog()) == 10


@pytest.mark.parametrize(
    ("code", "context", "letter"),
    [
        case(
            "exam-V03",
            "VIT-01",
            {"numbers": {"temperature_c": 39.6}},
            "T",
            source="Dorn et al., Animals 2024",
        ),
        case("exam-V08", "VIT-01", {"numbers": {"temperature_c": 41.2}}, "E"),
        case("exam-V08 dull", "VIT-01", {"numbers": {"temperature_c": 40.0}, "codes": ["GEN-02"]}, "E"),
        case("exam-V15", "VIT-03", {"numbers": {"heart_rate": 170}, "said": ["at_rest"]}, "R"),
        case(
            "exam-V16",
            *("VIT-03", {"numbers": {"heart_rate": 185}, "said": ["at_rest"]}, "E"),
            source="Merck Veterinary Manual, emergency assessment table",
        ),
        case(
            "exam-V18",
            *("VIT-04", {"species": "cat", "numbers": {"heart_rate": 112}, "codes": ["GEN-02"]}, "E"),
            source="Merck Veterinary Manual, emergency assessment table",
        ),
        case("exam-V28", "LUN-05", {}, "M"),
        case("exam-V29", "LUN-04", {"species": "cat"}, "E"),
        case("exam-V34", "VIT-07", {}, "E"),
        case("exam-L01", "SKN-27", {"numbers": {"longest_mm": 12, "present_days": 40}}, "T"),
        case("exam-L02", "SKN-27", {"numbers": {"longest_mm": 8, "present_days": 90}}, "R"),
        case("exam-T14", "MTH-07", {"age_days": 275, "said": ["unexplained"]}, "T"),
        case("exam-G28", "NEU-06", {"age_days": 56}, "M"),
        case("a single bad day", "FLB-01", {"numbers": {"grade": 1}, "said": ["single_day"]}, "M"),
        case("up wins over down", "GEN-09", {"said": ["single_past_event", "now_normal"]}, "T"),
    ],
)
def test_the_class_in_its_circumstances(code, context, letter) -> None:
    facts = facts_of(walk(), **{"species": "dog", "age_days": ADULT_DAYS} | context)
    assert effective(walk().finding[code], facts).letter == letter


@for_each(walk().finding.values(), named=lambda f: f.code)
def test_without_any_circumstance_a_finding_keeps_its_own_class(finding) -> None:
    """Source: common practice (the classes are defaults for an otherwise stable animal)."""
    assert effective(finding, {}).letter == finding.urgency
