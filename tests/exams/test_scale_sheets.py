"""A scale is shown with its wording, its source and how sure we are; a licensed form is not shown at all."""

import pytest

from exams.grading import GradeConflict, grimace, pain_total
from exams.lines import applicable
from exams.scale_plugs import ScalesAtIntake
from exams.scale_sheets import sheet_json, sheets_for, sheets_of
from tests import people
from tests.exams.walkhelp import dog, queen, walk

TOTALS = [s for s in walk().scales if s.acts]


def offered(lines):
    return {c for x in lines for c in x.codes}


def test_each_species_is_offered_its_own_pain_scales() -> None:
    assert "cmps-sf" in sheets_for(walk(), dog(), offered(dog()))
    assert "feline-grimace" not in sheets_for(walk(), dog(), offered(dog()))
    assert "feline-grimace" in sheets_for(walk(), queen(), offered(queen()))


def test_a_heart_stage_is_on_no_page() -> None:
    """exam-G04. Source: Keene et al., J Vet Intern Med 2019;33:1127-1140: a stage needs imaging."""
    for lines in (dog(), queen()):
        assert not any(k.startswith("acvim") for k in sheets_for(walk(), lines, offered(lines)))
    assert "needs imaging" in sheet_json(walk().scale["murmur-6"], "dog")["note"]


def test_every_scale_a_finding_is_graded_on_can_be_opened() -> None:
    for lines in (dog(), queen(), applicable(walk(), "dog", "female", False, 60)):
        graded = {walk().finding[c].grade_scale for c in offered(lines)} - {""}
        assert graded <= set(sheets_for(walk(), lines, offered(lines)))
        assert set(sheets_of(lines).values()) <= set(sheets_for(walk(), lines, offered(lines)))


@pytest.mark.parametrize("scale", walk().scales, ids=lambda s: s.key)
def test_a_sheet_names_source_version_and_permission(scale) -> None:
    sheet = sheet_json(scale, "dog")
    assert sheet["source"]
    assert sheet["version"]
    assert sheet["permission"]
    if "licensed" in sheet["permission"]:
        assert not sheet["grades"]


def test_a_cats_body_condition_has_its_own_words_and_a_drawing() -> None:
    cat = sheet_json(walk().scale["bcs-9"], "cat")
    assert cat["grades"][4]["wording"].startswith("well proportioned")
    assert cat["drawn"]


@pytest.mark.parametrize("scale", TOTALS, ids=lambda s: s.key)
def test_the_page_and_the_rules_suggest_relief_from_the_same_total(scale) -> None:
    for act in scale.acts:
        at, most = (int(n) for n in act.split(" of "))
        assert pain_total(scale.key, at, most).relief
        assert not pain_total(scale.key, at - 1, most).relief


def test_the_grimace_ratio_is_the_rules_own() -> None:
    """exam-G19. Source: Evangelista et al., Sci Rep 2019;9:19128."""
    limit = walk().scale["feline-grimace"].act_ratio
    items = ("ears", "eyes", "muzzle", "whiskers", "head")
    four = grimace(dict(zip(items, (1, 1, 1, 1, 0), strict=True)))
    three = grimace(dict(zip(items, (1, 1, 1, 0, 0), strict=True)))
    assert (four.ratio > limit, four.relief) == (True, True)
    assert (three.ratio > limit, three.relief) == (False, False)


def test_a_total_that_its_form_cannot_give_is_refused() -> None:
    with pytest.raises(GradeConflict):
        pain_total("cmps-sf", 25, 24)


def test_the_coma_scale_has_three_parts_of_six_steps() -> None:
    parts = sheet_json(walk().scale["mgcs-18"], "dog")["parts"]
    assert [(p["key"], len(p["grades"])) for p in parts] == [
        ("motor", 6),
        ("brainstem", 6),
        ("consciousness", 6),
    ]


@pytest.mark.django_db
def test_the_intake_shows_both_condition_scales(client) -> None:
    house = people.people()
    visit = people.visit_here(clinician=house.clinician)
    panel = ScalesAtIntake().context(visit, actor=house.actor("technician"), today=people.TODAY)
    assert [s["key"] for s in panel["sheets"]] == ["bcs-9", "mcs-4"]
    assert panel["sheets"][0]["drawing"] == "clinic/drawings/bcs-dog.svg"
    client.force_login(house.technician)
    page = client.get(f"/visits/{visit.pk}/intake/").content.decode()
    assert "ribs felt without excess fat" in page
    assert "Source: WSAVA Global Nutrition Committee" in page
