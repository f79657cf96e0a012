"""What care says in the letter: from recorded facts only, in the words as directed."""

from datetime import timedelta

import pytest

from clinic.care import actions
from clinic.care.directions import Directions
from clinic.care.in_house import IN_HOUSE, in_house, offered_for
from clinic.care.letter import CareInLetter
from clinic.letters.document import Mark, Section
from clinic.letters.texts import END, OWN
from clinic.visits.actions import plan_next_visit
from tests import people
from tests.people import NOW, TODAY

pytestmark = pytest.mark.django_db
FRIDAY = TODAY + timedelta(days=2)


@pytest.fixture
def staff():
    return people.people()


@pytest.fixture
def me(staff):
    return {"actor": staff.actor("clinician"), "now": NOW}


@pytest.fixture
def record(staff):
    visit = people.visit_here(clinician=staff.clinician)
    people.weigh(visit, "27.4", by=staff.technician)
    return visit.record


@pytest.fixture
def ear(record, me):
    return actions.open_problem(patient=record.visit.patient, visit=record.visit, title="Left ear sore", **me)


def part(record):
    return CareInLetter().part(record, language="en", today=TODAY)


def section(record, name: str) -> Section:
    return next(each for each in part(record).sections if each.name == name)


def line_words(record, name: str) -> list[str]:
    (line,) = section(record, name).blocks[0].lines
    return [line.label.text, *(each.text for each in line.sentences)]


def drops(record, ear, me, route="into the ear", side="left", **fields):
    directions = Directions(
        name="Millrace ear drops",
        ingredients=("miconazole",),
        strength="10 mg in 1 ml",
        dose="5 drops",
        route=route,
        side=side,
        times="morning and evening",
        first_dose="this evening",
        last_dose="21 March 2026",
    )
    answers = [{"code": "ear-drum", "reason": "seen whole"}]
    return actions.prescribe(
        record=record,
        problem=ear,
        directions=directions,
        answers=answers,
        **({"how": "dispensed", "reason": "yeast in the left ear"} | fields),
        **me,
    )


def test_without_a_plan_it_says_nothing(record):
    empty = part(record)
    assert (empty.headline, empty.points, empty.sections, empty.next_things) == (None, (), (), ())


def test_an_infection_is_named_only_by_an_assessment(record, ear, me):
    drops(record, ear, me)
    assert part(record).headline is None
    actions.assess(
        problem=ear, record=record, text="yeast otitis", for_owner="The left ear has a yeast infection", **me
    )
    headline = part(record).headline
    assert headline.text == "The left ear has a yeast infection."
    assert (headline.by, headline.recorded) == ("Dr Maren Oduya", "Left ear sore: yeast otitis")


def test_a_medicine_is_copied_word_for_word(record, ear, me):
    made = drops(record, ear, me, own_words="Five drops into the left ear. Warm the bottle first.")
    (text,) = section(record, "medicine").blocks
    assert [each.text for each in text.sentences] == [
        "Millrace ear drops (miconazole, 10 mg in 1 ml).",
        made.directions,
        "For yeast in the left ear. Prescribed by Dr Maren Oduya.",
    ]


def test_in_short_says_what_to_give_and_from_when(record, ear, me):
    drops(record, ear, me)
    (point,) = part(record).points
    assert (point.what.text, point.do.text, point.by.text) == (
        "Left ear sore.",
        "Give Millrace ear drops, morning and evening,",
        "from this evening.",
    )


def test_what_goes_on_the_skin_is_used_and_not_given(record, ear, me):
    drops(record, ear, me, route="on the skin", side="")
    (point,) = part(record).points
    assert point.do.text == "Use Millrace ear drops, morning and evening,"


def test_in_short_says_who_calls_about_what_and_by_when(record, ear, staff, me):
    actions.add_plan_line(
        record=record, problem=ear, kind="call", text="Ask about the ear", for_owner="How does the ear look?",
        answerable=staff.colleague, due_on=FRIDAY, **me,
    )  # fmt: skip
    (point,) = part(record).points
    assert (point.do.text, point.by.text) == (
        "Dr Tobias Falk calls you: How does the ear look?",
        "By Friday 13 March 2026.",
    )


def test_in_short_says_who_tells_the_result_and_by_when(record, ear, staff, me):
    actions.send_out(
        record=record, problem=ear, title="Ear culture", answerable=staff.colleague, due_on=FRIDAY, **me
    )
    (point,) = part(record).points
    assert (point.do.text, point.by.text) == (
        "Dr Tobias Falk calls you about the result: Ear culture.",
        "By Friday 13 March 2026.",
    )


def assessed(record, ear, me):
    actions.assess(
        problem=ear, record=record, text="healed", certainty="confirmed", for_owner="The left ear has healed",
        **me,
    )  # fmt: skip


def test_what_stands_in_the_first_sentence_and_asks_for_nothing_is_no_point(record, ear, me):
    assert len(part(record).points) == 0  # nothing of it was touched at this visit
    assessed(record, ear, me)
    assert part(record).points == ()
    assert part(record).looks
    drops(record, ear, me)
    assert [each.what.text for each in part(record).points] == ["Left ear sore."]


def test_a_problem_that_is_over_is_no_point_and_gives_no_warning_ground(record, ear, me):
    assessed(record, ear, me)
    actions.close_problem(problem=ear, reason="healed", visit=record.visit, **me)
    told = part(record)
    assert (told.points, told.looks) == ((), False)


def test_a_pending_result_has_a_person_and_a_day(record, ear, staff, me):
    actions.send_out(
        record=record,
        problem=ear,
        title="Blood count",
        for_owner="We took blood from a leg",
        answerable=staff.colleague,
        due_on=FRIDAY,
        **me,
    )
    assert line_words(record, "tests") == [
        "Blood count: result pending.",
        "We took blood from a leg.",
        "Dr Tobias Falk calls you by Friday 13 March 2026.",
        "If you hear nothing from us, please call.",
    ]
    (dated,) = part(record).next_things
    assert (dated.on, dated.what.text) == (FRIDAY, "Dr Tobias Falk calls you about the result: Blood count")


def test_a_result_is_explained_only_when_a_clinician_has_read_it(record, ear, staff, me):
    test = actions.take_in_house(record=record, problem=ear, test=in_house("ear-cytology-left"), **me)
    result = actions.enter_result(
        test=test,
        value="yeast",
        meaning="positive",
        for_owner="We saw yeast.",
        actor=staff.actor("technician"),
        now=NOW,
    )
    assert line_words(record, "tests") == ["Ear sample, left ear: yeast."]
    actions.read_result(result=result, for_owner="We saw yeast.", **me)
    assert line_words(record, "tests") == ["Ear sample, left ear: yeast.", "We saw yeast."]
    assert section(record, "tests").blocks[0].lines[0].mark is Mark.ABNORMAL


@pytest.mark.parametrize(
    ("lines", "here", "first_outside"),
    [
        (["SKN.lumps|-"], ["needle-sample", "impression-smear"], "Cytology of a needle sample"),
        (["EAR.canal|left"], ["ear-cytology-left"], "Culture and sensitivity"),
        (["MTH.gums|upper-left"], [each.code for each in IN_HOUSE], "Biopsy, histopathology"),
    ],
)
def test_a_problem_is_offered_what_fits_its_place_first(lines, here, first_outside):
    fit, rest, outside = offered_for(lines)
    assert [each.code for each in fit] == here
    assert {*fit, *rest} == {*IN_HOUSE}
    assert outside[0].title == first_outside


@pytest.mark.parametrize("test", IN_HOUSE, ids=[each.code for each in IN_HOUSE])
def test_what_is_tapped_of_a_test_of_the_house_is_said_in_spanish(record, ear, me, test):
    for outcome in test.outcomes:
        done = actions.take_in_house(record=record, problem=ear, test=test, **me)
        value, told = outcome.value, outcome.for_owner
        result = actions.enter_result(test=done, value=value, meaning=outcome.meaning, for_owner=told, **me)
        actions.read_result(result=result, for_owner=told, **me)
    spanish = CareInLetter().part(record, language="es", today=TODAY)
    (walk,) = next(each for each in spanish.sections if each.name == "tests").blocks
    said = [words.text for line in walk.lines for words in (line.label, *line.sentences)]
    assert len(walk.lines) == len(test.outcomes)
    assert not [each for each in said if OWN in each]  # nothing is quoted in English


def test_what_somebody_typed_of_such_a_test_stays_theirs(record, ear, me):
    done = actions.take_in_house(record=record, problem=ear, test=in_house("faecal"), **me)
    result = actions.enter_result(
        test=done, value="no eggs seen", meaning="negative", for_owner="All clear", **me
    )
    actions.read_result(result=result, for_owner="All clear", **me)
    spanish = CareInLetter().part(record, language="es", today=TODAY)
    (walk,) = next(each for each in spanish.sections if each.name == "tests").blocks
    assert walk.lines[0].label.text == "Análisis de heces: sin huevos."
    assert walk.lines[0].sentences[0].text == f"{OWN}All clear.{END}"


def test_a_decline_is_said_in_neutral_words(record, ear, staff, me):
    """AVMA policy on informed consent: what was advised, why not, the risks, who explained."""
    actions.add_plan_line(
        record=record,
        problem=ear,
        kind="test",
        text="Heart scan",
        for_owner="It could show whether the heart has grown",
        standing="declined",
        declined_why="wants to wait",
        risks_explained="the heart may fail unseen",
        explained_by=staff.clinician,
        offer_again_on=FRIDAY,
        **me,
    )
    assert line_words(record, "declined") == [
        "Heart scan: declined today.",
        "It could show whether the heart has grown.",
        "We advised it.",
        "Dr Maren Oduya explained the risk: the heart may fail unseen.",
        "Your reason: wants to wait.",
        "We ask again on 13 March 2026.",
    ]
    assert part(record).next_things == ()


def test_care_at_home_without_a_day_is_not_lost(record, ear, me):
    for text in ("Clean the ear daily", "Keep him out of water"):
        actions.add_plan_line(record=record, problem=ear, kind="home-care", text=text, **me)
    said = [block.sentences[0].text for block in section(record, "to-do").blocks]
    assert said == ["Clean the ear daily.", "Keep him out of water."]


def test_what_is_done_is_not_asked_of_the_owner(record, ear, me):
    actions.add_plan_line(
        record=record, problem=ear, kind="procedure", text="Ear cleaned", standing="done", **me
    )
    (point,) = part(record).points
    assert point.do is None


@pytest.mark.parametrize(("route", "warns"), [("by mouth", True), ("on the skin", False)])
def test_a_painkiller_given_at_home_says_when_to_stop_it(record, ear, me, route, warns):
    directions = Directions(
        name="Oakwhistle chews 50", ingredients=("carprofen",), strength="50 mg in a chew", dose="1 chew",
        route=route, times="once a day with food", first_dose="this evening", last_dose="",
    )  # fmt: skip
    actions.prescribe(
        record=record, problem=ear, directions=directions, answers=[], how="dispensed", reason="pain", **me
    )
    words = " ".join(each.text for block in section(record, "medicine").blocks for each in block.sentences)
    assert ("black stools: give no more Oakwhistle chews 50, and call us." in words) is warns


def insulin(record, ear, me):
    directions = Directions(
        name="Millrace insulin", ingredients=("insulin",), strength="40 units in 1 ml", dose="1 unit",
        route="under the skin", times="with each of two meals", first_dose="tomorrow morning", last_dose="",
    )  # fmt: skip
    return actions.prescribe(
        record=record,
        problem=ear,
        directions=directions,
        answers=[],
        how="dispensed",
        reason="diabetes",
        **me,
    )


def test_where_insulin_is_given_the_letter_says_what_low_sugar_looks_like(record, ear, me):
    drops(record, ear, me)
    assert part(record).call_now == ()
    insulin(record, ear, me)
    (sentence,) = part(record).call_now
    assert "On insulin, the blood sugar may be too low." in sentence.text
    assert sentence.recorded == "Millrace insulin"


def test_so_it_does_where_only_the_condition_is_recorded_and_not_when_it_ended(record):
    patient = record.visit.patient
    made = patient.conditions.create(
        code="insulin_diabetes", since=TODAY, entered_by=record.visit.clinician, entered_at=NOW
    )
    assert len(part(record).call_now) == 1
    made.until = TODAY
    made.save()
    assert part(record).call_now == ()


@pytest.mark.parametrize(
    ("days", "of_problem", "words"),
    [
        (5, True, ["We look into the ear again"]),
        (2, False, ["We look into the ear again. Left ear"]),
        (10, True, ["We look into the ear again", "left ear"]),
        (3, False, ["We look into the ear again. Left ear"]),
        (4, False, ["We look into the ear again", "left ear"]),
    ],
)
def test_a_visit_that_answers_a_plan_line_is_one_row_with_it(record, ear, me, staff, days, of_problem, words):
    actions.add_plan_line(
        record=record, problem=ear, kind="recheck", text="Recheck", for_owner="We look into the ear again",
        due_on=FRIDAY, answerable=staff.clinician, **me,
    )  # fmt: skip
    plan_next_visit(
        patient=record.visit.patient, record=record, problem=ear if of_problem else None, kind="focused",
        on=TODAY + timedelta(days=days), reason="left ear", **me,
    )  # fmt: skip
    assert sorted(each.what.text for each in part(record).next_things) == sorted(words)
