"""Problems, assessments, plan lines, medicines and tests: who may, what is refused, what is kept."""

from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest

from clinic.care import actions
from clinic.care.directions import Directions
from clinic.care.in_house import in_house
from clinic.care.plugs import MedicineAssessed, ProblemPlanned
from clinic.care.queries import lines_covered
from clinic.care.sources import Matter, all_matters, problem_sources
from clinic.models import Alert, Medicine, PlanLine, Record, Test
from clinic.people.actor import NotAllowed
from clinic.visits.actions import pin_heads_up
from clinic.visits.errors import NotOpen, SentBefore
from tests import people
from tests.people import NOW, TODAY

pytestmark = pytest.mark.django_db

DROPS = Directions(
    name="Millrace ear drops",
    ingredients=("miconazole",),
    strength="10 mg in 1 ml",
    dose="5 drops",
    route="into the ear",
    side="left",
    times="twice a day",
    first_dose="this evening",
    last_dose="21 March 2026",
)
TABLETS = Directions(
    name="Amberlock tablets 250",
    ingredients=("amoxicillin",),
    strength="250 mg in a tablet",
    dose="1 tablet",
    route="by mouth",
    times="twice a day",
    first_dose="",
    last_dose="",
)
DRUM = [{"code": "ear-drum", "reason": "seen whole with the otoscope"}]


@pytest.fixture
def staff():
    return people.people()


@pytest.fixture
def me(staff):
    return {"actor": staff.actor("clinician"), "now": NOW}


@pytest.fixture
def record(staff) -> Record:
    visit = people.visit_here(clinician=staff.clinician)
    people.weigh(visit, "27.4", by=staff.technician)
    return visit.record


@pytest.fixture
def problem(record, me):
    return actions.open_problem(
        patient=record.visit.patient, visit=record.visit, title="Red left ear", lines=["EAR.canal:left"], **me
    )


def sign(record, by):
    Record.objects.filter(pk=record.pk).update(signed_at=NOW, signed_by=by, signed_name=by.printed_name)


# --- who: Maryland COMAR 15.14.13.13; Maine 32 MRS 4866; AVMA technology policy


@pytest.mark.parametrize("role", ["technician", "assistant", "manager"])
def test_only_a_clinician_judges_plans_and_prescribes(role, staff, record, problem):
    other = {"actor": staff.actor(role), "now": NOW}
    for call in (
        lambda: actions.open_problem(patient=record.visit.patient, visit=record.visit, title="x", **other),
        lambda: actions.assess(problem=problem, record=record, text="x", **other),
        lambda: actions.add_plan_line(record=record, problem=problem, kind="test", text="x", **other),
        lambda: actions.prescribe(
            record=record, problem=problem, how="given", directions=TABLETS, reason="x", **other
        ),
        lambda: actions.close_problem(problem=problem, reason="x", **other),
    ):
        with pytest.raises(NotAllowed):
            call()


def test_a_technician_enters_a_result_and_a_clinician_reads_it(staff, record, problem, me):
    test = actions.take_in_house(record=record, problem=problem, test=in_house("faecal"), **me)
    technician = {"actor": staff.actor("technician"), "now": NOW}
    result = actions.enter_result(
        test=test, value="no eggs seen", meaning="negative", for_owner="We saw none.", **technician
    )
    assert result.read_by is None
    with pytest.raises(NotAllowed):
        actions.read_result(result=result, for_owner="None.", **technician)
    with pytest.raises(actions.OwnerSentenceMissing):
        actions.read_result(result=result, for_owner=" ", **me)
    assert actions.read_result(result=result, for_owner="We saw none.", **me)
    assert not actions.read_result(result=result, for_owner="Something else.", **me)
    result.refresh_from_db()
    assert (result.read_by, result.for_owner) == (staff.clinician, "We saw none.")


# --- problems


def test_a_finding_is_in_one_open_problem(record, problem, me):
    with pytest.raises(actions.AlreadyOpen) as refused:
        actions.open_problem(
            patient=record.visit.patient, visit=None, title="Ear", lines=["EAR.canal:left", "x"], **me
        )
    assert refused.value.problem == problem


def test_a_problem_is_closed_with_a_reason_and_opens_again(problem, record, me):
    with pytest.raises(actions.TextMissing):
        actions.close_problem(problem=problem, reason=" ", **me)
    assert actions.close_problem(problem=problem, reason="healed", **me)
    assert not actions.close_problem(problem=problem, reason="again", **me)
    problem.refresh_from_db()
    assert problem.closed_reason == "healed"
    with pytest.raises(actions.ProblemClosed):
        actions.assess(problem=problem, record=record, text="x", **me)
    with pytest.raises(actions.TextMissing):
        actions.reopen_problem(problem=problem, reason=" ", **me)
    assert actions.reopen_problem(problem=problem, reason="it came back", **me)
    assert not actions.reopen_problem(problem=problem, reason="again", **me)
    problem.refresh_from_db()
    actions.assess(problem=problem, record=record, text="otitis", **me)
    assert [(each.what, each.reason) for each in problem.turns.all()] == [
        ("closed", "healed"),
        ("reopened", "it came back"),
    ]


def test_the_most_urgent_finding_gives_a_problem_its_class(problem, me):
    actions.add_lines(problem=problem, lines=["EAR.drum:left"], urgency="T", **me)
    changed = actions.add_lines(problem=problem, lines=["EAR.pinna:left"], urgency="M", **me)
    assert (changed.urgency, len(changed.lines)) == ("T", 3)


def test_another_patients_problem_is_refused(problem, me):
    other = people.visit_here(people.patient("Bramble", of=people.owner("Ada Lunt", "ada@example.com")))
    with pytest.raises(actions.WrongPatient):
        actions.assess(problem=problem, record=other.record, text="x", **me)


def test_heads_ups_are_offered_until_a_problem_speaks_of_them(record, staff):
    technician = {"actor": staff.actor("technician"), "now": NOW}
    pinned = pin_heads_up(record=record, station="", words="Holds the head to the left", **technician)
    (matter,) = all_matters(record)
    assert matter.line_keys == (f"heads-up:{pinned.pk}",)
    assert matter.title == "Holds the head to the left"


# --- plan lines: AVMA policy on informed consent; RCVS Code supporting guidance 13

DECLINE = {"declined_why": "wants to wait", "risks_explained": "the lump may grow"}


@pytest.mark.parametrize("missing", ["declined_why", "risks_explained", "explained_by"])
def test_a_decline_says_why_which_risks_and_who_explained(missing, record, problem, staff, me):
    whole = DECLINE | {"explained_by": staff.clinician}
    line = {
        "record": record,
        "problem": problem,
        "kind": "procedure",
        "text": "Biopsy",
        "standing": "declined",
    }
    with pytest.raises(actions.DeclineIncomplete) as refused:
        actions.add_plan_line(**line, **(whole | {missing: None if missing == "explained_by" else " "}), **me)
    assert refused.value.field == missing
    made = actions.add_plan_line(**line, **whole, answerable=staff.clinician, due_on=TODAY, **me)
    assert (made.due_on, made.answerable) == (None, None)


def test_a_consent_says_who_gave_it(record, problem, me):
    line = {
        "record": record,
        "problem": problem,
        "kind": "procedure",
        "text": "X-ray",
        "standing": "consented",
    }
    with pytest.raises(actions.ConsentIncomplete) as nobody:
        actions.add_plan_line(**line, consent_how="in-words", **me)
    with pytest.raises(actions.ConsentIncomplete) as no_way:
        actions.add_plan_line(**line, consent_by="Henrike Dovale", **me)
    assert (nobody.value.field, no_way.value.field) == ("consent_by", "consent_how")
    said = {"consent_by": "Henrike Dovale", "consent_how": "in-words", "estimate": "seen"}
    made = actions.add_plan_line(**line, **said, **me)
    assert (made.consent_by, made.consent_how, made.estimate) == ("Henrike Dovale", "in-words", "seen")


def test_a_day_has_a_person(record, problem, staff, me):
    call = {"record": record, "problem": problem, "kind": "call", "text": "Call", "due_on": TODAY}
    with pytest.raises(actions.DateWithoutPerson):
        actions.add_plan_line(**call, **me)
    actions.add_plan_line(**call, answerable=staff.colleague, **me)


def test_what_became_of_a_line_does_not_change_the_line(record, problem, staff, me):
    line = actions.add_plan_line(record=record, problem=problem, kind="recheck", text="Look again", **me)
    sign(record, staff.clinician)
    with pytest.raises(actions.TextMissing):
        actions.progress(line=line, standing="declined", actor=staff.actor("assistant"), now=NOW)
    actions.progress(line=line, standing="done", note="ear dry", actor=staff.actor("assistant"), now=NOW)
    line.refresh_from_db()
    assert (line.standing, line.progress.get().standing) == ("advised", "done")


# --- the freeze: RCVS 13 (records are not changed afterwards)


def test_nothing_is_added_or_taken_back_once_signed(record, problem, staff, me):
    said = actions.assess(problem=problem, record=record, text="otitis", **me)
    line = actions.add_plan_line(record=record, problem=problem, kind="recheck", text="Look again", **me)
    test = actions.take_in_house(record=record, problem=problem, test=in_house("faecal"), **me)
    medicine = actions.prescribe(
        record=record, problem=problem, how="dispensed", directions=DROPS, reason="yeast", answers=DRUM, **me
    )
    sign(record, staff.clinician)
    for call in (
        lambda: actions.assess(problem=problem, record=record, text="x", **me),
        lambda: actions.add_plan_line(record=record, problem=problem, kind="call", text="x", **me),
        lambda: actions.prescribe(
            record=record, problem=problem, how="given", directions=TABLETS, reason="x", **me
        ),
        lambda: actions.withdraw_assessment(assessment=said, **me),
        lambda: actions.withdraw_plan_line(line=line, **me),
        lambda: actions.withdraw_medicine(medicine=medicine, **me),
        lambda: actions.withdraw_test(test=test, **me),
    ):
        with pytest.raises(NotOpen):
            call()
    assert actions.enter_result(test=test, value="no eggs seen", meaning="negative", **me).pk


def test_all_is_taken_back_before(record, problem, me):
    actions.withdraw_assessment(
        assessment=actions.assess(problem=problem, record=record, text="otitis", **me), **me
    )
    medicine = actions.prescribe(
        record=record, problem=problem, how="dispensed", directions=DROPS, reason="yeast", answers=DRUM, **me
    )
    actions.withdraw_medicine(medicine=medicine, **me)
    test = actions.take_in_house(record=record, problem=problem, test=in_house("faecal"), **me)
    with pytest.raises(actions.CareError):
        actions.withdraw_plan_line(line=test.plan_line, **me)
    actions.withdraw_test(test=test, **me)
    assert not PlanLine.objects.exists()
    assert not Medicine.objects.exists()
    assert not Test.objects.exists()


def test_a_medicine_of_which_a_dose_was_given_stays(record, problem, me):
    medicine = actions.prescribe(
        record=record, problem=problem, how="given", directions=TABLETS, reason="pain", **me
    )
    dose = actions.give_dose(medicine=medicine, amount="1 tablet", **me)
    with pytest.raises(actions.CareError, match="Stop it instead"):
        actions.withdraw_medicine(medicine=medicine, **me)
    actions.strike_dose(dose=dose, reason="spat out", **me)
    with pytest.raises(actions.CareError, match="Stop it instead"):
        actions.withdraw_medicine(medicine=medicine, **me)
    assert Medicine.objects.count() == 1


def test_a_test_with_a_result_stays(record, problem, me):
    test = actions.take_in_house(record=record, problem=problem, test=in_house("ear-cytology-left"), **me)
    actions.enter_result(test=test, value="yeast", meaning="positive", **me)
    with pytest.raises(actions.CareError):
        actions.withdraw_test(test=test, **me)
    assert Test.objects.count() == 1


# --- medicines


def prescribe(record, problem, me, directions=TABLETS, **fields):
    return actions.prescribe(
        record=record,
        problem=problem,
        directions=directions,
        **({"how": "dispensed", "reason": "pain"} | fields),
        **me,
    )


def test_a_question_is_lifted_only_by_its_own_reason(record, problem, staff, me):
    Alert.objects.create(
        patient=record.visit.patient,
        kind="allergy",
        text="hives after penicillin",
        entered_by=staff.technician,
        entered_at=NOW,
    )
    for answers in ([], [{"code": "weight", "reason": "known"}], [{"code": "allergy", "reason": "  "}]):
        with pytest.raises(actions.QuestionsOpen) as refused:
            prescribe(record, problem, me, answers=answers)
        assert [each.code for each in refused.value.questions] == ["allergy"]
    made = prescribe(record, problem, me, answers=[{"code": "allergy", "reason": "tolerated in May"}])
    (kept,) = made.answers
    assert (kept["code"], kept["reason"], kept["source"]) == (
        "allergy",
        "tolerated in May",
        "common practice",
    )
    assert "hives after penicillin" in kept["question"]


@pytest.mark.parametrize(
    ("days", "last_on", "asked"),
    [(-3, None, True), (-3, TODAY, True), (-3, TODAY - timedelta(1), False), (-400, None, False)],
)
def test_a_medicine_is_in_use_until_its_last_day(days, last_on, asked, record, problem, me):
    earlier = prescribe(record, problem, me, last_on=last_on)
    Medicine.objects.filter(pk=earlier.pk).update(at=NOW + timedelta(days=days))
    if not asked:
        assert prescribe(record, problem, me).answers == []
        return
    with pytest.raises(actions.QuestionsOpen) as refused:
        prescribe(record, problem, me)
    assert [each.code for each in refused.value.questions] == ["duplicate"]


def test_what_the_owner_gives_counts_as_in_use(record, problem, staff, me):
    record.given_at_home.create(name="Carprofen tablets", entered_by=staff.technician, entered_at=NOW)
    steroid = Directions(
        "Lantern tablets 5", ("prednisolone",), "5 mg", "1 tablet", "by mouth", "once a day", "", ""
    )
    with pytest.raises(actions.QuestionsOpen) as refused:
        prescribe(record, problem, me, directions=steroid)
    assert [each.code for each in refused.value.questions] == ["steroid-with-nsaid"]


def test_a_room_says_that_the_drum_was_seen(record, problem, me, monkeypatch):
    class Seen:
        name, order = "seen", 1

        def matters(self, record):
            return [Matter(("EAR.canal:left",), "EAR", "Red canal", "T", "red, moderate")]

        def facts(self, record):
            return {"ear-drum-seen-whole": {"left": True}}

    monkeypatch.setattr(problem_sources, "_entries", {"seen": Seen()})
    assert prescribe(record, problem, me, directions=DROPS).answers == []


def test_an_ear_has_a_side(record, problem, me):
    """left and right mix-ups; a side is required."""
    with pytest.raises(actions.SideMissing):
        prescribe(record, problem, me, directions=replace(DROPS, side=""), answers=DRUM)


def test_a_corrected_sentence_is_read_again_when_its_parts_change(record, problem, me):
    first = "1 tablet by mouth, twice a day."
    made = prescribe(record, problem, me, own_words="One tablet, with food.", corrected_from=first)
    assert made.directions == "One tablet, with food."
    with pytest.raises(actions.CorrectionOutdated) as refused:
        prescribe(record, problem, me, own_words="One tablet.", corrected_from="2 tablets by mouth, once.")
    assert refused.value.composed == first


# --- sent twice


def test_a_form_sent_twice_changes_nothing_twice(record, problem, me):
    once = uuid4()
    actions.assess(problem=problem, record=record, text="otitis", once=once, **me)
    with pytest.raises(SentBefore):
        actions.assess(problem=problem, record=record, text="otitis", once=once, **me)
    assert problem.assessments.count() == 1


# --- before signing


def test_a_medicine_without_an_assessment_stands_in_the_way(record, problem, me, staff):
    actions.prescribe(
        record=record, problem=problem, how="dispensed", directions=DROPS, reason="yeast", answers=DRUM, **me
    )
    (missing,) = MedicineAssessed().missing(record, actor=staff.actor("clinician"))
    assert missing.blocks
    assert "Millrace ear drops" in missing.sentence
    actions.assess(problem=problem, record=record, text="otitis", **me)
    assert MedicineAssessed().missing(record, actor=staff.actor("clinician")) == []


def test_a_problem_without_a_plan_is_shown_and_does_not_refuse(record, problem, me, staff):
    """Weed's problem-oriented record: a problem then needs a plan line."""
    (missing,) = ProblemPlanned().missing(record, actor=staff.actor("clinician"))
    assert not missing.blocks
    actions.add_plan_line(record=record, problem=problem, kind="recheck", text="Look again", **me)
    assert ProblemPlanned().missing(record, actor=staff.actor("clinician")) == []


@pytest.mark.parametrize("how", ["line", "medicine", "test"])
def test_lines_are_covered_by_what_is_planned_in_this_record(how, record, problem, me):
    assert lines_covered(record) == set()
    if how == "line":
        actions.add_plan_line(record=record, problem=problem, kind="recheck", text="Look again", **me)
    elif how == "medicine":
        prescribe(record, problem, me)
    else:
        actions.take_in_house(record=record, problem=problem, test=in_house("ear-cytology-left"), **me)
    assert lines_covered(record) == {"EAR.canal:left"}
    earlier = record.visit.patient.visits.create(place="gone-home", place_since=NOW, made_at=NOW)
    assert lines_covered(Record.objects.create(visit=earlier, opened_at=NOW)) == set()
