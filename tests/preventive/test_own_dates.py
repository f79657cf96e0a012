"""A clinician's own due date for one item: over the rules' date, within law and shortest intervals."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks.models import CallBack
from clinic.patients.models import Patient
from preventive.dates import day_words
from preventive.due import Action, Step, standing
from preventive.facts import OwnDate
from preventive.models import Dose, Reckoning
from preventive.models import OwnDate as OwnDateRow
from preventive.plugs import EXPORTED, PreventionExport
from tests.preventive.build import cat, core, day, dog, due, history, rabies, result, under
from tests.preventive.room import room

CPV = "dog_core:CPV"
ORIGIN = "a clinician’s own date, by Ada Brook, 3 March 2025"
RULES = "By the rules it would be 31 March 2025."


def own(on_day, *, code="dog_core", on="2025-03-03", reason="Outbreak next door."):
    return OwnDate(code, day(on_day), day(on), "Ada Brook", reason)


def second(*own_dates, on="2025-03-05", doses=("2025-03-03",)):
    """A puppy after its first dose: the second from 17 March to 31 March."""
    return due(dog("2025-01-06"), history(*core(*doses), own_dates=own_dates), on, CPV)


def test_an_earlier_date_leads_and_says_whose_it_is():
    plain, item = second(), second(own("2025-03-20"))
    assert item.target == day("2025-03-20")
    assert (item.then, item.sequence, item.earliest) == (plain.then, plain.sequence, plain.earliest)
    said = [step for step in item.why if "Outbreak next door." in step.text]
    assert [step.certainty for step in said] == ["clinic"]
    assert "by Ada Brook, 3 March 2025" in said[0].source
    assert any("By the rules it would be" in step.text for step in item.why)


def test_it_never_goes_before_the_shortest_interval_so_no_series_ends_early():
    item = second(own("2025-03-06"))
    assert item.target == item.earliest == day("2025-03-17")
    assert "It may not be done before 17 March 2025." in [step.text for step in item.why]
    assert item.action is Action.WAIT


def test_a_later_date_puts_off_when_it_is_overdue_and_says_so():
    item = second(own("2025-05-20"))
    assert (item.target, item.latest) == (day("2025-05-20"), None)
    assert any("the last day by the rules" in step.text for step in item.why)


def test_it_never_moves_a_legal_date_later():
    animal, given = dog("2024-01-06"), rabies("2024-06-01")
    plain = due(animal, history(given), "2025-05-01", "rabies", under("us-tx"))
    moved = history(given, own_dates=(own("2025-12-01", code="rabies", on="2025-04-01"),))
    item = due(animal, moved, "2025-05-01", "rabies", under("us-tx"))
    assert plain.legal is not None
    assert item.legal == plain.legal
    assert item.due_by <= plain.legal
    assert any(step.text.startswith("The law goes first") for step in item.why)


@pytest.mark.parametrize(
    ("doses", "counts"),
    [
        (("2025-03-03",), True),  # set right after the dose of that day
        (("2025-03-03", "2025-03-19"), False),  # done since, though before its day
        (("2025-03-03", "2025-03-20"), False),
    ],
)
def test_it_is_spent_once_the_thing_was_done(doses, counts):
    item = second(own("2025-03-20"), on="2025-03-25", doses=doses)
    assert any("Outbreak" in step.text for step in item.why) is counts


def test_of_two_the_newer_leads_and_one_of_another_item_or_of_later_does_not():
    older, newer = own("2025-03-20"), own("2025-03-22", on="2025-03-04")
    assert second(older, newer).target == day("2025-03-22")
    plain = second()
    assert second(own("2025-03-20", code="dog_leptospira")) == plain
    assert second(own("2025-03-20", on="2025-03-06")) == plain


def test_where_nothing_is_due_it_changes_nothing_and_says_so():
    no = dog("2020-01-06", no=("tick_exposure",))
    plain = due(no, history(), "2025-03-05", "dog_borrelia")
    item = due(no, history(own_dates=(own("2025-03-20", code="dog_borrelia"),)), "2025-03-05", "dog_borrelia")
    assert standing(item, day("2025-03-05")) is standing(plain, day("2025-03-05"))
    assert (item.target, item.why) == (plain.target, plain.why)
    tested = {"tests": (result("felv_ag", "2024-01-10"),)}
    indoors = cat("2020-01-06", no=("retrovirus_exposure", "lives_with_infected"))
    told = history(**tested, own_dates=(own("2025-03-20", code="cat_felv_test"),))
    item = due(indoors, told, "2025-03-05", "cat_felv_test")
    plain = due(indoors, history(**tested), "2025-03-05", "cat_felv_test")
    words = "The clinician’s own date, 20 March 2025, changes nothing: no date is due by the rules."
    assert (item.target, item.then) == (None, plain.then)
    assert item.why == (*plain.why, Step(f"{words} Outbreak next door.", ORIGIN, "clinic"))


def added(item, plain):
    """The steps it adds, each of which must be told from the rules'."""
    assert item.why[: len(plain.why)] == plain.why
    assert item.why[len(plain.why)].source == ORIGIN
    assert all(
        step[1:] == ("the rules before", "derived") for step in map(parts, item.why[len(plain.why) + 1 :])
    )
    return [step.text for step in item.why[len(plain.why) :]]


def parts(step):
    return step.text, step.source, step.certainty


def test_every_reason_it_adds_word_by_word_and_to_the_day():
    """By Texas a first rabies dose: not before 12 weeks (31 March), by 16 weeks (28 April)."""
    pup = dog("2025-01-06")

    def first(on_day):
        told = history(own_dates=(own(on_day, code="rabies"),)) if on_day else history()
        return due(pup, told, "2025-03-05", "rabies", under("us-tx"))

    plain = first(None)
    for on_day, target, latest, *words in (
        ("2025-03-30", "2025-03-31", "2025-04-28", "It may not be done before 31 March 2025.", RULES),
        ("2025-03-31", "2025-03-31", "2025-04-28", RULES),
        ("2025-04-10", "2025-04-10", "2025-04-28", RULES),
        ("2025-04-28", "2025-04-28", "2025-04-28", RULES),
        ("2025-04-29", "2025-04-28", "2025-04-28", "The law goes first: no later than 28 April 2025.", RULES),
    ):
        item = first(on_day)
        said = f"Due on {day_words(day(on_day))} by the clinician: Outbreak next door."
        assert (item.target, item.latest) == (day(target), day(latest)), on_day
        assert added(item, plain) == [said, *words]
    late = "That is after 31 March 2025, the last day by the rules."
    assert added(second(own("2025-04-01")), second())[1:] == [late]


def test_set_and_done_on_one_day_it_is_spent_and_set_today_it_counts():
    done_that_day = own("2025-03-19", on="2025-03-19")
    doses = ("2025-03-03", "2025-03-19")
    assert second(done_that_day, on="2025-03-19", doses=doses) == second(on="2025-03-19", doses=doses)
    assert second(own("2025-03-20", on="2025-03-05")).target == day("2025-03-20")


@pytest.mark.django_db
def test_a_clinician_sets_one_on_the_page_and_another_gets_one_clear_answer():
    """Kept in the dues, said on the page with its origin, exported; withdrawn by a reason."""
    puppy, client = room(), Client()
    client.force_login(puppy.people.clinician)
    group, code = "dog_leptospira", "dog_leptospira"
    page = reverse("prevention-item", args=[puppy.patient.pk, code])
    with CaptureQueriesContext(connection) as plain:
        client.get(page)
    ahead = timezone.localdate() + timedelta(days=200)
    told = {"day": ahead.isoformat(), "reason": "Outbreak next door."}

    def send(where, **fields):
        return client.post(f"{page}own-date/{where}", {"once": str(uuid4()), **fields})

    assert send("", **told).status_code == 302
    second = send("", **told)
    assert second.status_code == 422
    assert f"{puppy.people.clinician.full_name} set" in second.content.decode()
    assert "Withdraw that first" in second.content.decode()
    with CaptureQueriesContext(connection) as once:
        shown = client.get(page).content.decode()
    assert len(once) <= len(plain) + 1
    assert "Outbreak next door." in shown
    assert f"a clinician’s own date, by {puppy.people.clinician.full_name}" in shown
    assert "It does not count" not in shown
    due_on = CallBack.objects.filter(patient=puppy.patient, key=group).values_list("due_on", flat=True)
    assert list(due_on) == [ahead]
    (row,) = OwnDateRow.objects.all()
    exported = [each for each in PreventionExport().rows(puppy.patient) if each["row"] == "owndate"]
    assert [(each["day"], each["reason"]) for each in exported] == [(ahead, "Outbreak next door.")]
    assert send("withdraw/", row=row.pk, reason="").status_code == 422
    assert send("withdraw/", row=row.pk, reason="Over.").status_code == 302
    assert not CallBack.objects.filter(patient=puppy.patient, due_on=ahead).exists()
    assert send("withdraw/", row=row.pk, reason="Over.").status_code == 422
    entered = {
        "patient": puppy.patient,
        "entered_by": puppy.people.clinician,
        "entered_at": timezone.now() - timedelta(days=1),
    }
    yesterday = timezone.localdate() - timedelta(days=1)
    OwnDateRow.objects.create(code=group, day=ahead, on=yesterday, reason="Before it was done.", **entered)
    Dose.objects.create(
        antigens=["Leptospira"], given_on=timezone.localdate(), precision="day", route="SC",
        source="outside", **entered,
    )  # fmt: skip
    assert "It does not count: this was done since" in client.get(page).content.decode()


def test_every_row_of_a_patient_is_in_the_export():
    """What is reckoned is no record; everything else that has a patient's key is."""
    kept = {
        model
        for model in apps.get_app_config("preventive").get_models()
        if any(getattr(field, "related_model", None) is Patient for field in model._meta.concrete_fields)
    }
    assert kept - {Reckoning} <= set(EXPORTED)
