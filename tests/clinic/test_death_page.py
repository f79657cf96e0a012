"""The page of a death: who may record what, what is typed stays, what is refused stands beside its field."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.models import BodyDecision, Death, Measurement, Patient, Visit
from tests import death, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def page(client: Client, house: people.People) -> Client:
    client.force_login(house.clinician)
    return client


@pytest.fixture
def pomfret(house: people.People) -> Patient:
    return people.patient()


def send(page: Client, patient: Patient, **fields: str):
    form = page.get(reverse("patient-death", args=[patient.pk])).context["form"]
    sent = {"once": str(form["once"].value()), "on": str(timezone.localdate()), "owner_knows": "yes"}
    sent |= {"body": "owner", "how": "died-home", "told_by": "Henrike Dovale"}
    return page.post(reverse("patient-death", args=[patient.pk]), sent | fields)


def euthanised(house: people.People, **other: str) -> dict[str, str]:
    before = timezone.localtime() - timedelta(minutes=2)
    return {
        "how": "euthanised", "on": str(before.date()), "at": f"{before:%H:%M}", "told_by": "",
        "certified_by": str(house.clinician.pk), "consent_by": "Henrike Dovale", "consent_as": "owner",
        "consent_how": "telephone", "consent_on": str(before.date()), "consent_time": f"{before:%H:%M}",
        "consent_taken_by": str(house.clinician.pk), "consent_second": str(house.technician.pk),
        "identity": "owner", "no_weight_reason": "in pain", **other,
    }  # fmt: skip


def test_a_euthanasia_is_recorded_with_its_consent(page, house, pomfret):
    assert send(page, pomfret, **euthanised(house)).status_code == 302
    made = Death.objects.get()
    assert (made.consent_second, made.consent_taken_by) == (house.technician, house.clinician)
    text = page.get(f"/patients/{pomfret.pk}/death/").text
    assert "Inés Varga listened" in text
    assert "euthanised on" in page.get(f"/patients/{pomfret.pk}/").text


def test_without_consent_it_is_refused_beside_the_field_and_nothing_typed_is_lost(page, house, pomfret):
    answer = send(page, pomfret, **euthanised(house, consent_by="", words="She slept in."))
    assert answer.status_code == 422
    assert answer.context["form"].errors["consent_by"] == ["No euthanasia without consent: say who gave it."]
    assert "She slept in." in answer.text
    assert not Death.objects.exists()


def test_an_assistant_notes_what_the_owner_tells_and_no_more(client, house, pomfret):
    client.force_login(house.assistant)
    text = client.get(f"/patients/{pomfret.pk}/death/").text
    assert "was euthanised by us" not in text
    assert send(client, pomfret, **euthanised(house)).status_code == 422
    assert send(client, pomfret).status_code == 302
    assert Death.objects.get().by == house.assistant


def test_each_promise_wants_its_answer(page, house, pomfret):
    line = people.visit_here(pomfret).record.plan_lines.create(
        kind="call", text="call with the result", answerable=house.technician, due_on=people.TODAY,
        by=house.clinician, at=people.NOW,
    )  # fmt: skip
    field = f"promise-plan-line-{line.pk}"
    answer = send(page, pomfret)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    choices = dict(answer.context["form"].fields[field].choices)
    assert str(house.technician.pk) not in map(str, choices)  # no clinician
    assert send(page, pomfret, **{field: str(house.colleague.pk)}).status_code == 302
    assert line.progress.get().answerable == house.colleague


def test_the_body_is_decided_later(page, pomfret):
    send(page, pomfret, body="undecided")
    url = f"/patients/{pomfret.pk}/death/"
    once = str(page.get(url).context["body"]["once"].value())
    wrong = page.post(f"{url}body/", {"once": once, "what": "burial", "said_by": ""})
    assert wrong.status_code == 422
    assert wrong.context["body"].errors["said_by"] == ["Say whose wish it is."]
    page.post(f"{url}body/", {"once": once, "what": "burial", "said_by": "Henrike Dovale"})
    assert BodyDecision.objects.last().what == "burial"


def test_taken_back_with_a_reason(page, pomfret):
    send(page, pomfret)
    url = f"/patients/{pomfret.pk}/death/"
    once = str(page.get(url).context["back"]["once"].value())
    assert page.post(f"{url}back/", {"once": once, "why": ""}).status_code == 422
    assert page.post(f"{url}back/", {"once": once, "why": "the other dog"}).status_code == 302
    assert "taken back by Dr Maren Oduya: the other dog" in page.get(url).text


def test_going_home_dead_leads_to_the_page(page, pomfret):
    visit = people.visit_here(pomfret)
    answer = page.post(reverse("visit-home", args=[visit.pk]), {"outcome": "euthanised", "seen": visit.place})
    assert answer.headers["Location"] == f"/patients/{pomfret.pk}/death/?how=euthanised"
    assert Visit.objects.get().place == "with-clinician"
    assert page.get(answer.headers["Location"]).context["form"]["how"].value() == "euthanised"


def test_weighed_today_is_no_weight_of_yesterday(page, house, pomfret):
    death_day = timezone.localtime() - timedelta(days=1)
    visit = people.visit_here(pomfret)
    Measurement.objects.create(
        patient=pomfret, visit=visit, kind="weight", typed="22.4", unit="kg", value="22.4",
        measured_at=timezone.now(), recorded_at=timezone.now(), observed_by=house.technician,
        entered_by=house.technician,
    )  # fmt: skip
    facts = euthanised(house, on=str(death_day.date()), consent_on=str(death_day.date()), no_weight_reason="")
    answer = send(page, pomfret, **facts)
    assert answer.status_code == 422
    assert "weigh it, or say why not" in answer.text


def test_a_death_of_before_is_completed_with_its_facts(page, pomfret):
    """Recorded when a death had a day and no more."""
    Patient.objects.filter(pk=pomfret.pk).update(deceased_on=people.TODAY, deceased_how="died")
    form = page.get(f"/patients/{pomfret.pk}/death/").context["form"]
    assert form["on"].value() == people.TODAY
    assert send(page, pomfret, on=str(people.TODAY)).status_code == 302
    assert Death.objects.get().died_on == people.TODAY


def asked(page: Client, patient: Patient) -> int:
    with CaptureQueriesContext(
        connection,
    ) as told:
        assert page.get(f"/patients/{patient.pk}/death/").status_code == 200
    return len(told)


@pytest.mark.parametrize("dead", [False, True], ids=["form", "facts"])
def test_the_number_of_questions_does_not_grow(page, house, pomfret, dead):
    def more(count: int) -> None:
        for _ in range(count):
            Visit.objects.create(
                patient=pomfret, place="expected", place_since=people.NOW, made_at=people.NOW,
                expected_at=people.NOW, booked_for="nails",
            )  # fmt: skip
            if dead:
                Death.objects.get().body_decisions.create(what="burial", by=house.clinician, at=people.NOW)

    if dead:
        death.die(pomfret, actor=house.actor("clinician"))
    page.get(f"/patients/{pomfret.pk}/death/")
    more(2)
    few = asked(page, pomfret)
    more(18)
    assert asked(page, pomfret) == few
