"""A promise: handed on, moved, closed by what happened; none disappears without what closed it."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic.care import actions as care
from clinic.care.in_house import in_house
from clinic.models import PlanLine, PromiseStep, Record
from clinic.promises import actions
from clinic.promises.errors import ChangedMeanwhile, ClosedBefore, Unsaid
from clinic.promises.queries import find_promise, open_promises
from clinic.visits.errors import SentBefore
from tests import people
from tests.examples import examples

pytestmark = pytest.mark.django_db
FRIDAY = people.TODAY + timedelta(days=2)


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def line(house: people.People) -> PlanLine:
    return planned(house)


@pytest.fixture
def desk(house: people.People) -> dict:
    return {"actor": house.actor("clinician"), "now": people.NOW}


def planned(house: people.People, name: str = "Pomfret", due: date = FRIDAY, **fields) -> PlanLine:
    patient = people.patient(name, of=people.owner(f"Owner {name}", email=f"{name.lower()}@example.com"))
    facts = {
        "kind": "call", "text": "call with the blood result", "answerable": house.clinician, "due_on": due,
        "by": house.clinician, "at": people.NOW,
    }  # fmt: skip
    return people.visit_here(patient).record.plan_lines.create(**(facts | fields))


def found(line: PlanLine, house: people.People):
    return find_promise("plan-line", str(line.pk), actor=house.actor("clinician"))


def test_it_is_on_the_list_from_its_day(line: PlanLine) -> None:
    assert open_promises(by=FRIDAY - timedelta(days=1)) == []
    assert [each.key for each in open_promises(by=FRIDAY)] == [str(line.pk)]


def test_handed_on_both_see_it(line: PlanLine, house: people.People, desk: dict) -> None:
    actions.hand_on(promise=found(line, house), to=house.colleague, words="You know the dog", **desk)
    now_is = found(line, house)
    assert now_is.who == "Dr Tobias Falk"
    assert "Dr Maren Oduya handed it to Dr Tobias Falk" in now_is.passed
    assert "You know the dog" in now_is.passed
    assert now_is.passed_by_id == house.clinician.pk


def test_moved_to_another_day_it_is_due_then(line: PlanLine, house: people.People, desk: dict) -> None:
    later = FRIDAY + timedelta(days=3)
    actions.move(promise=found(line, house), to=later, words="the laboratory is closed", **desk)
    assert open_promises(by=FRIDAY) == []
    assert open_promises(by=later)[0].due_on == later
    step = PromiseStep.objects.get()
    assert (step.due_was, step.due_on) == (FRIDAY, later)


def test_moved_forward_it_is_found_on_the_earlier_day(line: PlanLine, house, desk: dict) -> None:
    actions.move(promise=found(line, house), to=people.TODAY, words="the owner leaves tomorrow", **desk)
    assert [each.key for each in open_promises(by=people.TODAY)] == [str(line.pk)]


@pytest.mark.parametrize("outcome", PromiseStep.Outcome.values)
def test_closed_by_what_happened_with_words(line: PlanLine, house, desk: dict, outcome: str) -> None:
    actions.close(promise=found(line, house), outcome=outcome, words="reached Ms Dovale", **desk)
    assert open_promises() == []
    assert found(line, house) is None


def test_done_is_said_at_the_plan_line_too(line: PlanLine, house: people.People, desk: dict) -> None:
    actions.close(promise=found(line, house), outcome="done", words="reached her", **desk)
    assert line.progress.get().standing == "done"


def test_could_not_does_not_make_the_line_done(line: PlanLine, house: people.People, desk: dict) -> None:
    actions.close(promise=found(line, house), outcome="could-not", words="no answer, three times", **desk)
    told = line.progress.get()
    assert (told.standing, told.note) == ("advised", "could not be done: no answer, three times")


def test_what_the_plan_page_says_later_counts(line: PlanLine, house: people.People, desk: dict) -> None:
    actions.hand_on(promise=found(line, house), to=house.colleague, words="please", **desk)
    later = {**desk, "now": people.NOW + timedelta(hours=1)}
    care.progress(line=line, standing="advised", answerable=house.technician, **later)
    assert found(line, house).who == "Inés Varga"
    assert found(line, house).step == 1


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda p, h, d: actions.hand_on(promise=p, to=h.colleague, words=" ", **d), "words"),
        (lambda p, h, d: actions.hand_on(promise=p, to=h.clinician, words="x", **d), "to"),
        (lambda p, h, d: actions.move(promise=p, to=FRIDAY + timedelta(days=1), words="", **d), "words"),
        (lambda p, h, d: actions.move(promise=p, to=people.TODAY - timedelta(days=1), words="x", **d), "on"),
        (lambda p, h, d: actions.move(promise=p, to=FRIDAY, words="x", **d), "on"),
        (lambda p, h, d: actions.close(promise=p, outcome="done", words="", **d), "words"),
    ],
)
def test_each_step_wants_its_words_and_sense(line: PlanLine, house, desk: dict, call, field: str) -> None:
    with pytest.raises(Unsaid) as refused:
        call(found(line, house), house, desk)
    assert refused.value.field == field
    assert not PromiseStep.objects.exists()


def test_two_tablets_the_second_is_told_what_the_first_did(line: PlanLine, house, desk: dict) -> None:
    seen = found(line, house)
    actions.hand_on(promise=seen, to=house.colleague, words="please", **desk)
    with pytest.raises(ChangedMeanwhile, match="handed it to Dr Tobias Falk"):
        actions.hand_on(promise=seen, to=house.technician, words="please", **desk)
    assert PromiseStep.objects.count() == 1


def test_nothing_follows_after_closing(line: PlanLine, house: people.People, desk: dict) -> None:
    seen = found(line, house)
    actions.close(promise=seen, outcome="done", words="reached her", **desk)
    with pytest.raises(ClosedBefore, match="closed it, done"):
        actions.close(promise=seen, outcome="not-needed", words="came by", **desk)


def test_a_double_tap_is_one_step(line: PlanLine, house: people.People, desk: dict) -> None:
    once = uuid4()
    actions.hand_on(promise=found(line, house), to=house.colleague, words="please", once=once, **desk)
    with pytest.raises(SentBefore):
        actions.hand_on(promise=found(line, house), to=house.technician, words="please", once=once, **desk)


@pytest.mark.parametrize("change", ["update", "delete"])
def test_the_database_keeps_every_step(line: PlanLine, house, desk: dict, change: str) -> None:
    actions.hand_on(promise=found(line, house), to=house.colleague, words="please", **desk)
    rows = PromiseStep.objects.all()
    with pytest.raises(IntegrityError, match="only added"), transaction.atomic():
        rows.update(words="x") if change == "update" else rows._raw_delete(rows.db)


def test_what_was_declined_is_promised_again(house: people.People, desk: dict) -> None:
    again = people.TODAY + timedelta(days=365)
    line = planned(
        house, due=None, answerable=None, kind="test", text="urine test", standing="declined",
        declined_why="later", risks_explained="missed infection", explained_by=house.clinician,
        offer_again_on=again,
    )  # fmt: skip
    assert open_promises(by=again - timedelta(days=1)) == []
    told = open_promises(by=again)[0]
    assert (told.source, told.key, told.who) == ("offer-again", str(line.pk), "Dr Maren Oduya")
    actions.close(promise=told, outcome="not-needed", words="done elsewhere", **desk)
    assert open_promises() == []


def test_a_sample_taken_here_waits_in_somebodys_list_until_it_is_looked_at(house, desk) -> None:
    visit = people.visit_here(clinician=house.clinician)
    problem = care.open_problem(patient=visit.patient, visit=visit, title="loose stool", **desk)
    test = care.take_in_house(record=visit.record, problem=problem, test=in_house("faecal"), **desk)
    sent = care.send_out(
        record=visit.record, problem=problem, title="Blood", answerable=house.clinician, due_on=FRIDAY, **desk
    )
    care.enter_result(test=sent, value="1.2", meaning="inside", for_owner="All is well.", **desk)
    assert [each.what for each in open_promises()] == ["test: Blood"]  # the visit is still going on
    Record.objects.filter(visit=visit).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )
    # the letter told the blood's result; nobody has looked at the stool
    [told] = open_promises()
    assert (told.what, told.due_on, told.who) == (
        "look at the sample: Faecal test",
        people.TODAY,
        "Dr Maren Oduya",
    )
    care.enter_result(test=test, value="no eggs seen", meaning="negative", for_owner="We saw none.", **desk)
    assert open_promises() == []


def test_a_fixed_number_of_queries(house: people.People) -> None:
    counts = []
    for many in (2, 20):
        for number in range(many):
            planned(house, name=f"Pet{many}x{number}")
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert len(open_promises(by=FRIDAY)) >= many
        counts.append(len(asked))
    assert counts == [7, 7]  # one for each source, two for people and steps


OPERATIONS = st.lists(
    st.tuples(
        st.sampled_from(["new", "hand", "move", "move-back", "close", "plan-done", "plan-put-off", "stale"]),
        st.integers(0, 5),
    ),
    max_size=14,
)


@settings(
    max_examples=examples(5), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(operations=OPERATIONS)
def test_no_promise_disappears_without_an_event_that_closed_it(house, operations) -> None:
    """Whatever is done in whatever order: open is exactly what no closing event names."""
    savepoint = transaction.savepoint()
    try:
        _follow(house, operations)
    finally:
        transaction.savepoint_rollback(savepoint)


def _follow(house: people.People, operations) -> None:
    record = planned(house).record
    made = [PlanLine.objects.get()]
    stale = found(made[0], house)
    closed: set[str] = set()
    for minute, (what, which) in enumerate(operations):
        desk = {"actor": house.actor("clinician"), "now": people.NOW + timedelta(minutes=minute + 1)}
        line = made[which % len(made)]
        promise = found(line, house)
        if what == "new":
            made.append(
                record.plan_lines.create(
                    kind="call",
                    text=f"call {which}",
                    answerable=house.clinician,
                    due_on=FRIDAY + timedelta(days=which),
                    by=house.clinician,
                    at=desk["now"],
                )
            )
        elif promise is None:
            assert str(line.pk) in closed
        elif what == "hand":
            to = house.colleague if promise.who_id != house.colleague.pk else house.clinician
            actions.hand_on(promise=promise, to=to, words="please", **desk)
        elif what in ("move", "move-back"):
            to = promise.due_on + timedelta(days=which + 1) if what == "move" else people.TODAY
            if to != promise.due_on:
                actions.move(promise=promise, to=to, words="asked for it", **desk)
        elif what == "close":
            actions.close(promise=promise, outcome=list(PromiseStep.Outcome)[which % 3], words="so", **desk)
            closed.add(str(line.pk))
        elif what == "plan-done":
            care.progress(line=line, standing="done", **desk)
            closed.add(str(line.pk))
        elif what == "plan-put-off":
            care.progress(line=line, standing="advised", due_on=FRIDAY + timedelta(days=40), **desk)
        elif what == "stale" and found(made[0], house) and found(made[0], house).step:
            with pytest.raises((ChangedMeanwhile, ClosedBefore)):
                actions.close(promise=stale, outcome="done", words="so", **desk)
        left = {str(each.pk) for each in made} - closed
        assert {each.key for each in open_promises()} == left
        far = people.TODAY + timedelta(days=4000)
        assert {each.key for each in open_promises(by=far)} == left
        for each in open_promises():
            assert each in open_promises(by=each.due_on)


# --- Pages --------------------------------------------------------------------------------------------------


def test_today_says_late_in_words_and_mine_first(client: Client, house: people.People) -> None:
    today = timezone.localdate()
    planned(house, name="Grit", due=today - timedelta(days=9), answerable=house.colleague)
    planned(house, name="Thimble", due=today - timedelta(days=1))
    client.force_login(house.clinician)
    text = client.get(reverse("today")).content.decode()
    assert "late, 1 day" in text
    assert "late, 9 days" in text
    assert text.index("late, 1 day") < text.index("late, 9 days")  # one’s own before the older one


def test_the_page_filters_by_person(client: Client, house: people.People) -> None:
    planned(house, name="Grit", answerable=house.colleague)
    planned(house, name="Thimble")
    client.force_login(house.clinician)
    text = client.get(reverse("promises"), {"who": house.colleague.pk}).content.decode()
    assert "Grit" in text
    assert "Thimble" not in text


def test_a_refused_form_keeps_what_was_typed(client: Client, house: people.People, line: PlanLine) -> None:
    client.force_login(house.clinician)
    sent = {"once": uuid4(), "step": 0, "outcome": "done", "words": ""}
    answer = client.post(reverse("promise-close", args=["plan-line", line.pk]), sent)
    assert answer.status_code == 422
    sent = {"once": uuid4(), "step": 0, "on": "2020-01-01", "words": "my long words"}
    answer = client.post(reverse("promise-move", args=["plan-line", line.pk]), sent)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "my long words" in text
    assert "This day is past." in text


def test_a_closed_one_says_by_what(client: Client, house: people.People, line: PlanLine, desk: dict) -> None:
    actions.close(promise=found(line, house), outcome="could-not", words="moved away", **desk)
    client.force_login(house.clinician)
    text = client.get(reverse("promise", args=["plan-line", line.pk])).content.decode()
    assert "This promise is closed" in text
    assert "moved away" in text
    assert client.get(reverse("promise", args=["plan-line", 999999])).status_code == 404
