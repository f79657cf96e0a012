"""The demo clinic: complete, invented, and as old as the day on which it is laid."""

import io
import re
from collections import Counter
from datetime import timedelta

import pytest
from allauth.account.models import EmailAddress
from django.core.management import CommandError, call_command
from django.utils import timezone
from procrastinate.contrib.django.models import ProcrastinateJob

from clinic.callbacks import answer_lists
from clinic.callbacks.helped_queries import helped, lately
from clinic.callbacks.kept_views import kept_views
from clinic.callbacks.models import CallBack
from clinic.callbacks.queries import Wanted, counts, overdue
from clinic.callbacks.reminder_models import AskingPlan
from clinic.callbacks.totals import totals
from clinic.letters.document import Photos, said
from clinic.letters.document import from_json as letter_from_json
from clinic.letters.models import Letter
from clinic.letters.pdf import SHEET, render
from clinic.letters.texts import plain_words
from clinic.mail.models import Message
from clinic.models import (
    BookingChange,
    ClinicDetails,
    Contact,
    HeadsUp,
    Measurement,
    Owner,
    Patient,
    Record,
    Staff,
    Summary,
    Visit,
)
from clinic.morning.pages import morning
from clinic.people.actor import Actor
from clinic.people.models import Phone
from clinic.people.rights import Role
from clinic.promises.queries import open_promises
from clinic.summaries.document import from_json
from exams.models import Exam, ExamPhoto, Finding, LumpMeasure, Operation
from fixtures.demo import laying
from fixtures.demo.curve import weight_on
from fixtures.demo.laying import is_stale, lay, wipe
from fixtures.demo.scenario import StoryUnreadable, Weight, span, story
from nutrition.models import Plan
from nutrition.programme import course
from nutrition.running import programme_of, weights_until
from nutrition.versions import composed
from preventive.models import Certificate, Dose, Hold, ProtocolEdition, Supply
from preventive.tasks_queue import CERTIFICATE_TASK
from tests.accessible import faults
from tests.people import NOW, TODAY

pytestmark = pytest.mark.django_db

# each place of the house is in it, and one of each kind of story
SOME = (
    "anouk", "ash", "bruno", "canela", "colonel", "domino", "duchess", "fern", "hazel", "juno", "laika",
    "mitzi", "moss", "pip", "rags", "scamp", "shadow", "squeak", "willow", "ziggy",
)  # fmt: skip


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker):
    """Laid once for all questions of this file, and taken away after the last."""
    with django_db_blocker.unblock():
        lay(now=NOW, only=SOME)
        yield
        wipe()


@pytest.fixture
def laid(demo, db):
    """What a test changes in it is taken back after the test."""


def test_every_signed_record_has_a_letter_and_a_seal(laid):
    signed = Record.objects.exclude(signed_at=None)
    assert signed.count() > 40
    assert not signed.filter(letters=None).exists()
    assert not signed.filter(seal="").exists()


def test_the_letter_names_who_signed_it(laid):
    for letter in Letter.objects.select_related("record")[:10]:
        lines = letter.content["signed"]["lines"]
        assert letter.record.signed_name in lines[0]["text"]


def test_its_letters_read_as_whole_sentences_and_are_fit_for_paper(laid, long_run):
    """Of every kind there is: nothing left of a text, one sheet, and what both checkers of PDF/UA ask for."""
    kinds = {}
    for letter in Letter.objects.order_by("at", "pk"):
        document = letter_from_json(letter.content)
        texts = [each.text for each in said(document)]
        odd = [each for each in texts if re.search(r"[{}]|  |\.\.(?!\.)", each)]
        assert odd == [], letter.pk
        if letter.language == "es":
            assert not [each for each in texts if "next visit" in plain_words(each)], letter.pk
        kind = (letter.kind, letter.language, letter.large_print, letter.version, document.tone)
        if not any(isinstance(block, Photos) for each in document.sections for block in each.blocks):
            kinds.setdefault(kind, document)  # where the pictures lie goes with the test that laid them
    assert len(kinds) >= 6
    for document in list(kinds.values())[: None if long_run else 3]:
        made = render(document)
        assert faults(made.content) == []
        assert document.large_print or made.pages <= SHEET or made.annex_on == SHEET + 1


def test_nothing_waits_to_be_sent_but_what_the_manager_may_still_stop(laid):
    reminders = Message.objects.filter(reminder__isnull=False).exclude(state="sent")  # those were answered
    assert reminders.count() == 3
    assert all(each.state == "waiting" and each.next_try_at > NOW for each in reminders)
    waiting = ProcrastinateJob.objects.exclude(task_name=CERTIFICATE_TASK)
    assert {job.args["message_id"] for job in waiting} == {str(each.pk) for each in reminders}
    others = Message.objects.filter(reminder=None)
    assert set(others.values_list("state", flat=True)) == {"sent", "failed"}
    assert others.filter(state="failed").count() == 1


def test_a_letter_of_the_past_left_on_its_day(laid):
    for message in Message.objects.filter(state="sent", reminder=None).select_related("letter"):
        assert message.sent_at == message.letter.at <= NOW


def test_whoever_has_no_address_gets_paper(laid):
    no_mail = Owner.objects.filter(email="")
    assert no_mail.exists()
    assert not Message.objects.filter(owner__in=no_mail).exists()


def test_somebody_is_in_each_place(laid):
    here = Counter(
        Visit.objects.filter(arrived_at__gte=NOW - timedelta(hours=8)).values_list("place", flat=True)
    )
    assert here["arrived"] == 4
    assert here["with-technician"] == 1
    assert here["with-clinician"] == 1
    assert here["gone-home"] >= 3
    assert Visit.objects.filter(place="expected", expected_at__date=TODAY).count() >= 2
    assert Visit.objects.filter(place="did-not-come").count() == 1


def test_one_must_be_seen_now_and_nobody_has_it(laid):
    visit = Visit.objects.get(see_now_at__isnull=False)
    assert visit.see_now_taken_at is None
    assert visit.see_now_why


def test_two_kittens_share_one_arrival(laid):
    pip, squeak = Visit.objects.filter(patient__name__in=("Pip", "Squeak"))
    assert pip.arrival == squeak.arrival


def test_one_exam_of_yesterday_is_not_signed_and_something_is_missing(laid):
    record = Record.objects.get(signed_at=None, visit__place="gone-home", visit__gone_at__date__lt=TODAY)
    assert record.visit.patient.name == "Willow"
    assert record.heads_ups.filter(answer="").exists()


def test_an_intake_is_half_done_with_a_heads_up(laid):
    visit = Visit.objects.get(place="with-technician")
    assert HeadsUp.objects.filter(record=visit.record, answer="").count() == 1
    assert set(visit.measurements.values_list("kind", flat=True)) == {"weight", "bcs"}


def test_an_exam_is_begun_and_not_done(laid):
    exam = Exam.objects.get(record__visit__place="with-clinician")
    assert 0 < exam.findings.values("station").distinct().count() < 12


def test_every_tap_was_accepted(laid):
    assert Operation.objects.count() > 300
    assert all(
        outcome["result"] == "accepted" for outcome in Operation.objects.values_list("outcome", flat=True)
    )


def test_nobody_is_real(laid):
    addresses = [*Owner.objects.exclude(email="").values_list("email", flat=True)]
    addresses += [*Staff.objects.values_list("email", flat=True), ClinicDetails.objects.get().email]
    assert all(re.search(r"@(example\.com|quillwater\.example)$", each) for each in addresses)
    numbers = [*Phone.objects.values_list("number", flat=True), "555-0100", "555-0199"]
    assert all(re.fullmatch(r"555-01\d\d", each) for each in numbers)


def test_everybody_can_sign_in_by_a_confirmed_address(laid):
    assert EmailAddress.objects.filter(verified=True, primary=True).count() == Staff.objects.count() == 5


def test_ages_and_weights_can_be(laid):
    for patient in Patient.objects.exclude(birth_date=None):
        assert patient.birth_date < TODAY
        assert (TODAY - patient.birth_date).days < 20 * 365
        first = patient.visits.order_by("made_at").first()
        assert first is None or first.made_at.date() > patient.birth_date
    assert not Measurement.objects.filter(kind="weight", value__lt="0.3").exists()


def test_a_birth_date_may_be_unknown(laid):
    assert Patient.objects.get(name="Shadow").birth_date is None


def test_one_has_died_and_nothing_is_asked_of_it_any_more(laid):
    rags = Patient.objects.get(name="Rags")
    death = rags.deaths.get()
    assert (rags.deceased_on, death.how, death.identity) == (death.died_on, "euthanised", "owner")
    assert death.weight
    assert death.consent_witness
    assert death.body_decisions.get().what == "private"
    assert open_promises(patient=rags) == []
    letter = rags.letters.get(kind="condolence")
    assert letter.by == death.certified_by
    assert not letter.messages.exists()
    assert not CallBack.objects.filter(patient=rags).exists()
    assert not rags.visits.filter(place="expected").exists()


def test_one_moved_away(laid):
    domino = Patient.objects.get(name="Domino")
    assert domino.left_practice_on
    assert not CallBack.objects.filter(patient=domino).exists()


def test_the_due_list_has_what_is_late_and_what_comes(laid):
    assert CallBack.objects.filter(due_on__lt=TODAY).exists()
    assert CallBack.objects.filter(due_on__gt=TODAY).exists()
    assert Dose.objects.count() > 20
    assert Supply.objects.count() > 10


def test_the_due_list_shows_who_was_asked_and_who_said_stop(laid):
    found = set(overdue(Wanted(), today=TODAY).values_list("patient__name", "why"))
    assert found >= {
        ("Mitzi", ""),
        ("Willow", "often"),
        ("Ash", "lately"),
        ("Ziggy", "lately"),
        ("Shadow", "elsewhere"),
        ("Fern", "stopped"),
        ("Duchess", "stopped-item"),
    }


def test_a_lump_was_measured_again_and_again(laid):
    sizes = LumpMeasure.objects.filter(lump__patient__name="Colonel").values_list("length_mm", flat=True)
    assert list(sizes) == sorted(set(sizes))
    assert len(sizes) == 3


def test_a_murmur_was_followed(laid):
    graded = Finding.objects.filter(exam__record__visit__patient__name="Hazel", structure="HRT.murmur")
    grades = [each.findings[0]["grade"] for each in graded.exclude(findings=[]).order_by("exam__begun_at")]
    assert grades == ["2", "3", "3"]


def test_a_cat_became_thin(laid):
    weights = [
        row.value
        for row in Measurement.objects.filter(patient__name="Duchess", kind="weight").order_by("measured_at")
    ]
    assert weights[-1] < weights[0] * 3 / 4


def test_a_demo_of_another_day_is_laid_anew_until_somebody_signed_in(laid):
    assert not is_stale(TODAY)
    tomorrow = TODAY + timedelta(days=1)
    assert is_stale(tomorrow)
    Staff.objects.filter(roles=["manager"]).update(last_login=NOW)
    assert not is_stale(tomorrow)
    Staff.objects.update(last_login=None)


@pytest.mark.long
def test_the_whole_clinic_is_laid(transactional_db):
    lay(now=NOW)
    assert Patient.objects.count() == len(story().animals) >= 55
    assert not ProcrastinateJob.objects.exists()
    assert not Record.objects.exclude(signed_at=None).filter(letters=None).exists()


@pytest.fixture
def nobody_there(transactional_db, monkeypatch):
    """An empty database, and a demo of one animal."""
    whole = laying.lay
    monkeypatch.setattr(
        "fixtures.management.commands.demo.lay", lambda *, now: whole(now=now, only=["laika"])
    )


def _demo(*arguments: str) -> str:
    out = io.StringIO()
    call_command("demo", *arguments, stdout=out)
    return out.getvalue()


def test_the_command_lays_once_and_always_says_who_may_sign_in(nobody_there):
    said = _demo("--if-empty")
    assert "ines.varga@quillwater.example" in said
    before = Patient.objects.get().pk
    assert _demo("--if-empty") == said
    assert Patient.objects.get().pk == before


def test_the_command_lays_anew_on_another_day(nobody_there):
    _demo("--if-empty")
    ClinicDetails.objects.update(demo_laid_on=timezone.localdate() - timedelta(days=3))
    _demo("--if-empty")
    assert ClinicDetails.objects.get().demo_laid_on == timezone.localdate()
    assert Patient.objects.count() == 1


def test_the_command_leaves_a_real_practice_alone(nobody_there):
    from tests import people

    people.clinic_details()
    people.people()
    assert _demo("--if-empty") == ""
    with pytest.raises(CommandError, match="A practice stands"):
        _demo()
    assert not Patient.objects.exists()


@pytest.mark.parametrize(("age", "days"), [("9w", 63), ("20d", 20)])
def test_an_age_is_read(age, days):
    assert TODAY - span(age) == TODAY - timedelta(days=days)


@pytest.mark.parametrize("age", ["", "old", "6", "y", "6y4"])
def test_what_is_no_age_is_refused(age):
    with pytest.raises(StoryUnreadable):
        span(age)


def test_a_weight_lies_between_the_points_of_the_story():
    from random import Random

    points = (Weight(100, 10.0, 5), Weight(0, 20.0, 7))
    assert weight_on(points, 200, Random(1)) == (10.0, 5.0)
    kg, bcs = weight_on(points, 50, Random(1))
    assert 14.8 < kg < 15.2
    assert bcs == 6.0


def test_contacts_of_every_kind_that_is_not_a_visit(laid):
    kinds = set(Contact.objects.values_list("kind", flat=True))
    assert kinds == {"call", "mail", "advice", "estimate", "consent", "withheld", "referral"}
    assert not Contact.objects.filter(happened_at__gt=NOW).exists()
    assert Contact.objects.filter(again_by__isnull=False).exists()


def test_one_booking_was_moved_and_one_called_off_each_with_its_reason(laid):
    moved, off = BookingChange.objects.order_by("at")
    assert (moved.what, moved.visit.place, moved.visit.expected_at.date()) == (
        "moved",
        "expected",
        moved.now_on,
    )
    assert (off.what, off.visit.place) == ("cancelled", "cancelled")
    assert moved.why
    assert off.why
    assert moved.now_on > TODAY


def test_one_summary_went_to_a_colleague_with_consent(laid):
    summary = Summary.objects.get()
    assert (summary.patient.name, summary.consent.kind) == ("Juno", "consent")
    sheet = from_json(summary.content)
    words = {part.name: " ".join(each.text for each in said(part)) for part in sheet.parts}
    assert "Fits, since" in words["problems"]
    assert "seizures" in words["lasting"]
    assert "Rabies" in words["vaccines"]
    assert "signed by Dr Maren Oduya" in words["findings"]


def test_photographs_of_one_place_lie_over_several_dates(laid):
    hazel = ExamPhoto.objects.filter(record__visit__patient__name="Hazel", target="EAR.canal|left")
    assert len({photo.record.opened_at.date() for photo in hazel}) > 1
    assert Patient.objects.exclude(photo_sha256="").exists()


def test_who_is_well_leaves_with_a_plan_of_its_own_state(laid):
    plans = Plan.objects.values_list("kind", "content__basis")
    counted = Counter(plans)
    assert counted["fed", "adult"] > 10
    assert counted["fed", "growth"]
    assert counted["keep", None]


FED = ("anouk", "ash", "crumb", "goliath", "knedl", "luna", "storm", "walnut")


def test_the_feeding_stories_are_told(transactional_db):
    lay(now=NOW, only=FED)
    stood = {}
    for name in ("Ash", "Goliath", "Walnut"):
        patient = Patient.objects.get(name=name)
        programme = programme_of(patient, weights_until(patient, TODAY))
        stood[name] = course(programme, TODAY, composed()).state
        weeks = (TODAY - programme.start_on).days / 7
        assert 8 < weeks < 18
    assert (stood["Ash"], stood["Walnut"]) == ("fast", "too_fast")
    assert stood["Goliath"] in ("on_course", "slow")
    newest = {
        plan.record.visit.patient.name: plan
        for plan in Plan.objects.select_related("record__visit__patient").order_by("at")
    }
    assert newest["Luna"].content["energy_code"] == "lactation.cat"
    assert newest["Crumb"].content["energy_code"] == "growth.unweaned"
    assert newest["Anouk"].content["energy_code"] == "growth.dog.large"
    assert newest["Storm"].content["because"] == ["diabetes on insulin"]
    assert (newest["Knedl"].kind, newest["Knedl"].until) == ("keep", "we have seen the food diary")
    anouk = Patient.objects.get(name="Anouk")
    assert anouk.expected_grown_weights.get().how == "parents"
    assert len(weights_until(anouk, TODAY)) == 8


def test_prevention_has_a_patchy_booklet_a_reaction_a_certificate_and_an_edition(demo):
    assert set(Dose.objects.filter(patient__name="Rags").values_list("precision", flat=True)) >= {
        "month",
        "year",
    }
    hold = Hold.objects.get(reaction__isnull=False, patient__name="Domino")
    assert hold.released_on is None
    assert Certificate.objects.get().dose.patient.name == "Moss"
    assert ProtocolEdition.objects.get().settings["leptospira_lapse"] == "fifteen_months"


def test_owners_answered_and_some_of_it_waits(laid):
    waiting = [row.kind for row in answer_lists.waiting(today=TODAY)]
    assert "book" in waiting  # with all animals laid there are more, and some are settled
    assert set(waiting) <= {"book", "elsewhere", "given-away"}


def test_two_years_of_asking_show_whether_it_helped(laid):
    found = helped(now=NOW)
    rows = found.asked
    assert {row.when for row in rows} == {"before it was due", "on the day", "when it was overdue"}
    assert {row.how for row in rows} == {"by e-mail", "by telephone"}
    assert all(sum(r.share.came for r in rows if r.how == how) > 0 for how in {row.how for row in rows})
    assert {row.when for row in found.unasked} == {"held out by lot", "not reached by e-mail"}
    assert len(found.texts) == 2
    assert set(AskingPlan.objects.exclude(approved_at=None).values_list("way", flat=True)) == {"mail", "call"}
    assert lately() is not None


def test_each_figure_of_the_manager_s_morning_shows_something(laid):
    manager = next(staff for staff in Staff.objects.all() if staff.role_set == {Role.MANAGER})
    page = morning(actor=Actor.of(manager), now=NOW)
    assert page.total.then is not None
    assert page.total.now > 0
    assert len(page.overdue) > 4
    assert len(page.leaving) == 3
    assert {"unsigned", "letterless", "promises"} <= {block.name for block in page.blocks}  # of some animals
    assert [view.name for view in kept_views(Actor.of(manager))] == ["Nobody asked yet, a month over"]
    assert totals(Wanted(), today=timezone.localdate(NOW)) == counts(
        overdue(Wanted(), today=timezone.localdate(NOW))
    )
