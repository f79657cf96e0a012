"""The plan page: queries, what is typed, sent twice, read-only once signed."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.care import actions
from clinic.care.in_house import in_house
from clinic.letters.composition import compose
from clinic.letters.document import sentences
from clinic.models import Assessment, Medicine, NextVisit, PlanLine, Problem, Record, TestResult
from clinic.visits.actions import pin_heads_up
from tests import medicines, people
from tests.people import NOW

pytestmark = pytest.mark.django_db

DROPS = {
    "name": "Millrace ear drops",
    "how": "dispensed",
    "dose": "5 drops",
    "route": "into the ear",
    "side": "left",
    "times": "morning and evening",
    "reason": "yeast in the left ear",
}


@pytest.fixture
def staff():
    people.clinic_details()
    made = people.people()
    medicines.keep_list(made.actor("manager"))
    return made


@pytest.fixture
def visit(staff):
    visit = people.visit_here(clinician=staff.clinician)
    people.weigh(visit, "27.4", by=staff.technician)
    return visit


@pytest.fixture
def clinician(client, staff):
    client.force_login(staff.clinician)
    return client


@pytest.fixture
def ear(visit, staff):
    return problem_of(visit, staff, "Red left ear")


def problem_of(visit, staff, title):
    return actions.open_problem(
        patient=visit.patient, visit=visit, title=title, actor=staff.actor("clinician"), now=NOW
    )


def url(name: str, visit, *more) -> str:
    return reverse(name, args=[visit.pk, *more])


def once(page) -> str:
    """The token of the open form."""
    return re.findall(r'name="once" value="([0-9a-f-]{36})"', page.content.decode())[-1]


def send(client, address, visit, /, *more, **fields):
    fields.setdefault("once", "6f0f3a52-2f4e-4a3c-9d0a-0f6f3a522f4e")
    return client.post(url(address, visit, *more), fields)


def busy(visit, staff, many: int) -> None:
    """Problems with everything that can hang on one."""
    me = {"actor": staff.actor("clinician"), "now": NOW}
    for number in range(many):
        problem = problem_of(visit, staff, f"Problem {number}")
        actions.assess(problem=problem, record=visit.record, text="x", **me)
        line = actions.add_plan_line(
            record=visit.record,
            problem=problem,
            kind="call",
            text="Call",
            answerable=staff.colleague,
            due_on=people.TODAY,
            **me,
        )
        actions.progress(line=line, standing="booked", answerable=staff.colleague, **me)
        test = actions.take_in_house(record=visit.record, problem=problem, test=in_house("faecal"), **me)
        actions.enter_result(test=test, value="Giardia", meaning="positive", **me)
        Medicine.objects.create(
            record=visit.record,
            problem=problem,
            how="given",
            name="x",
            ingredients=["y"],
            prescriber=staff.clinician,
            at=NOW,
        )
        NextVisit.objects.create(
            patient=visit.patient,
            record=visit.record,
            on=people.TODAY,
            kind="focused",
            reason="x",
            problem=problem,
            by=staff.clinician,
            made_at=NOW,
        )
        pin_heads_up(record=visit.record, station="", words="x", actor=staff.actor("technician"), now=NOW)
        closed = problem_of(visit, staff, "Closed")
        actions.close_problem(problem=closed, reason="healed", **me)


def test_twenty_problems_ask_no_more_questions_than_two(clinician, visit, staff):
    counted = []
    for many in (2, 18):
        busy(visit, staff, many)
        with CaptureQueriesContext(connection) as queries:
            assert clinician.get(url("visit-plan", visit)).status_code == 200
        counted.append(len(queries))
    assert counted[0] == counted[1]


def test_a_heads_up_becomes_a_problem_and_is_offered_no_more(clinician, visit, staff):
    pinned = pin_heads_up(
        record=visit.record,
        station="",
        words="Scratches the left ear",
        actor=staff.actor("technician"),
        now=NOW,
    )
    key = f"heads-up:{pinned.pk}"
    answer = send(clinician, "plan-problem", visit, matters=key)
    problem = Problem.objects.get()
    assert (problem.title, problem.lines) == ("Scratches the left ear", [key])
    assert answer.url.endswith(f"?do=assess&problem={problem.pk}#do")
    page = clinician.get(answer.url)
    assert f'value="{key}"' not in page.content.decode()
    assert 'name="certainty"' in page.content.decode()


def test_nothing_chosen_is_said_beside_the_field(clinician, visit):
    answer = send(clinician, "plan-problem", visit)
    assert answer.status_code == 422
    assert "write in your own words" in answer.content.decode()


@pytest.mark.parametrize(
    ("name", "typed", "says"),
    [
        ("plan-assess", {"text": "", "for_owner": "The ear is sore", "certainty": "confirmed"}, "required"),
        (
            "plan-line",
            {"kind": "procedure", "text": "Biopsy of the lump", "standing": "declined", "declined_why": ""},
            "the owner’s reason",
        ),
        ("plan-line", {"kind": "call", "text": "Call Henrike", "standing": "consented"}, "say who agreed"),
        ("plan-medicine", DROPS | {"dose": "", "quantity": "1 bottle of 10 ml"}, "required"),
        ("plan-medicine", DROPS | {"side": "", "quantity": "1 bottle of 10 ml"}, "Which side"),
        ("plan-medicine", DROPS | {"name": "Unheard of", "ingredients": ""}, "its active ingredients"),
        ("plan-test-out", {"title": "Blood count", "due_on": "2026-03-13"}, "a person who answers"),
        ("plan-close", {"reason": ""}, "required"),
    ],
)
def test_what_is_wrong_stands_beside_what_was_typed(name, typed, says, clinician, visit, ear):
    answer = send(clinician, name, visit, ear.pk, **typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    for words in typed.values():
        assert words in page
    assert not PlanLine.objects.exists()
    assert not Medicine.objects.exists()
    assert not Assessment.objects.exists()


def test_the_drum_is_asked_about_and_a_reason_lets_the_drops_through(clinician, visit, ear):
    answer = send(clinician, "plan-medicine", visit, ear.pk, **DROPS)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "left ear drum was not seen whole" in page
    assert "common practice" in page
    assert 'value="5 drops"' in page
    send(clinician, "plan-medicine", visit, ear.pk, **DROPS, **{"answer-ear-drum": "seen after cleaning"})
    made = Medicine.objects.get()
    assert made.directions == "5 drops into the left ear, morning and evening."
    assert (made.ingredients, made.strength) == (["miconazole"], "10 mg in 1 ml")
    assert made.answers[0]["reason"] == "seen after cleaning"


def test_the_sentence_is_composed_while_typing(clinician, visit):
    answer = clinician.get(url("plan-directions", visit), DROPS)
    assert answer.json()["sentence"] == "5 drops into the left ear, morning and evening."
    assert clinician.get(url("plan-directions", visit), {"dose": "5 drops"}).json()["sentence"] == ""


def test_what_one_dose_holds_and_what_is_not_known_is_said_while_typing(clinician, visit):
    typed = {
        "name": "Steadfold chews 5",
        "ingredients": "pimobendan, unheard-of",
        "strength": "5 mg and 2 mg in a chew",
    }
    told = clinician.get(url("plan-directions", visit), typed | {"dose": "1 chew"}).json()
    assert told["notes"][0].startswith("One dose: pimobendan 5 mg, 0.182 mg/kg")
    assert "by 27.4 kg of " in told["notes"][0]
    assert told["notes"][1:] == ["No kind of unheard-of is known: the guards cannot ask about it."]


def test_words_that_judge_are_asked_about_once(clinician, visit, ear, staff):
    typed = {
        "kind": "test",
        "text": "X-ray",
        "standing": "declined",
        "declined_why": "refused to pay",
        "risks_explained": "a break may be missed",
        "explained_by": staff.clinician.pk,
    }
    answer = send(clinician, "plan-line", visit, ear.pk, **typed)
    assert answer.status_code == 422
    assert "may read as a judgement" in answer.content.decode()
    assert (
        send(clinician, "plan-line", visit, ear.pk, **typed, words_why="the owner’s own words").status_code
        == 302
    )
    assert PlanLine.objects.get().declined_why == "refused to pay"


def test_an_ear_sample_takes_two_taps(clinician, visit, ear):
    send(clinician, "plan-test", visit, ear.pk, code="ear-cytology-left")
    test = visit.patient.tests.get()
    page = clinician.get(url("visit-plan", visit))
    assert "yeast and cocci" in page.content.decode()
    clinician.post(url("plan-result", visit, test.pk), {"outcome": "yeast", "once": once(page)})
    result = TestResult.objects.get()
    assert (result.value, result.meaning, result.for_owner) == ("yeast", "positive", "We saw yeast.")
    assert result.read_by == result.entered_by


@pytest.mark.parametrize(
    ("name", "fields", "rows"),
    [
        ("plan-assess", {"text": "otitis", "certainty": "differential"}, Assessment),
        ("plan-line", {"kind": "recheck", "text": "Look again", "standing": "advised"}, PlanLine),
        ("plan-medicine", DROPS | {"answer-ear-drum": "seen"}, Medicine),
        ("plan-test", {"code": "faecal"}, PlanLine),
        ("plan-test-out", {"title": "Blood count"}, PlanLine),
    ],
)
def test_a_form_sent_twice_is_recorded_once(name, fields, rows, clinician, visit, ear):
    for _ in range(2):
        assert send(clinician, name, visit, ear.pk, **fields).status_code == 302
    assert rows.objects.count() == 1


def test_a_test_of_the_house_that_no_list_names_is_done_here_in_its_own_words(clinician, visit, ear, staff):
    send(clinician, "plan-test-out", visit, ear.pk, title="Urine: strip", laboratory="x", here="1")
    test = visit.record.tests.get()
    assert (test.in_house, test.sent_at, test.laboratory, test.plan_line.standing) == (True, None, "", "done")
    answer = clinician.get(url("visit-plan", visit)).content.decode()
    assert "taken here" in answer
    actions.enter_result(
        test=test,
        value="1.012",
        meaning="low",
        for_owner="The urine is thin.",
        actor=staff.actor("clinician"),
        now=NOW,
    )
    told = "".join(each.text for each in sentences(compose(visit.record, today=people.TODAY)))
    assert "Urine: strip: 1.012 (low).The urine is thin." in told


def test_a_next_visit_sent_twice_is_planned_once(clinician, visit, ear):
    fields = {"on": "2126-03-13", "kind": "focused", "reason": "ear", "minutes": "20", "problem": ear.pk}
    for _ in range(2):
        assert send(clinician, "plan-next", visit, **fields).status_code == 302
    planned = NextVisit.objects.get()
    assert planned.problem == ear
    clinician.post(url("plan-next-back", visit, planned.pk))
    planned.refresh_from_db()
    assert planned.state == "cancelled"


def test_a_day_that_is_past_keeps_the_rest_of_the_next_visit(clinician, visit):
    answer = send(
        clinician, "plan-next", visit, on="2020-01-01", kind="focused", reason="look at the ear", minutes="20"
    )
    assert answer.status_code == 422
    assert "cannot be on a day that is past" in answer.content.decode()
    assert "look at the ear" in answer.content.decode()


def test_a_technician_reads_and_enters_results_only(client, visit, ear, staff):
    actions.take_in_house(
        record=visit.record,
        problem=ear,
        test=in_house("heartworm-antigen"),
        actor=staff.actor("clinician"),
        now=NOW,
    )
    client.force_login(staff.technician)
    page = client.get(url("visit-plan", visit) + f"?do=assess&problem={ear.pk}").content.decode()
    assert "A clinician assesses, plans and prescribes" in page
    assert url("plan-assess", visit, ear.pk) not in page
    assert 'name="outcome" value="negative"' in page


def test_a_signed_visit_is_read_only(clinician, visit, ear, staff):
    Record.objects.filter(visit=visit).update(
        signed_at=NOW, signed_by=staff.clinician, signed_name="Dr Maren Oduya"
    )
    page = clinician.get(url("visit-plan", visit)).content.decode()
    assert "This record is signed" in page
    assert "do=assess" not in page
    answer = send(clinician, "plan-assess", visit, ear.pk, text="otitis", certainty="confirmed")
    assert answer.status_code == 422
    assert "otitis" in answer.content.decode()
    assert not Assessment.objects.exists()


def test_a_closed_problem_opens_again(clinician, visit, ear):
    clinician.post(url("plan-close", visit, ear.pk), {"reason": "healed"})
    page = clinician.get(url("visit-plan", visit)).content.decode()
    assert "healed" in page
    refused = clinician.post(url("plan-reopen", visit, ear.pk), {"reason": " "})
    assert refused.status_code == 422
    assert "Why it is opened again" in refused.content.decode()
    assert Problem.objects.get().closed_at is not None
    clinician.post(url("plan-reopen", visit, ear.pk), {"reason": "it came back"})
    assert Problem.objects.get().closed_at is None


def test_a_result_of_a_technician_is_read_with_its_sentence_at_hand(clinician, visit, ear, staff):
    test = actions.take_in_house(
        record=visit.record, problem=ear, test=in_house("faecal"), actor=staff.actor("clinician"), now=NOW
    )
    result = actions.enter_result(
        test=test,
        value="Giardia",
        meaning="positive",
        for_owner="We saw Giardia.",
        actor=staff.actor("technician"),
        now=NOW,
    )
    page = clinician.get(url("visit-plan", visit) + f"?do=read&problem={ear.pk}&at={test.pk}")
    assert 'value="We saw Giardia."' in page.content.decode()
    clinician.post(url("plan-read", visit, test.pk), {"for_owner": "We saw Giardia, a parasite."})
    result.refresh_from_db()
    assert (result.read_by, result.for_owner) == (staff.clinician, "We saw Giardia, a parasite.")
