"""History rows say who worked, by which grant, and carry one id per request."""

from uuid import UUID

import pghistory
import pytest
from django.apps import apps
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from clinic.people.actions import add_person
from clinic.people.history import credited_to
from clinic.people.middleware import WorkingPerson
from clinic.people.models import Staff
from clinic.platform.requests import RequestHistory
from tests.people import people

pytestmark = pytest.mark.django_db


def written_by() -> list[dict]:
    rows = apps.get_model("clinic", "StaffEvent").objects.exclude(pgh_context=None).order_by("pgh_id")
    return [row.pgh_context.metadata for row in rows]


def test_a_change_carries_who_works_their_grant_and_the_requests_id():
    house = people()
    client = Client()
    client.force_login(house.manager)
    form = client.get(f"/records/staff/{house.assistant.pk}/").context["form"]
    sent = {"once": form["once"].value(), "full_name": "Jonas Brell", "roles": ["assistant"]}
    answer = client.post(f"/records/staff/{house.assistant.pk}/", sent, headers={"X-Request-ID": "tap-0001"})
    assert answer.status_code == 302
    seen = written_by()[-1]
    assert (seen["user"], seen["request"]) == (house.manager.pk, "tap-0001")
    assert seen["grant"] == str(client.get("/me/").wsgi_request.actor.grant_id)


def test_the_history_names_who_works_and_not_who_opened_the_session(rf):
    house = people()
    client = Client()
    client.force_login(house.manager)
    add_person(tablet_id=UUID(client.session["tablet"]), staff=house.colleague, now=timezone.now())
    request = rf.get("/")
    request.session, request.user = client.session, house.manager
    WorkingPerson(lambda _: HttpResponse())(request)
    assert RequestHistory(lambda _: None).get_context(request)["user"] == house.colleague.pk


def rename(staff: Staff, name: str) -> None:
    Staff.objects.filter(pk=staff.pk).update(full_name=name)


def test_work_of_another_grant_in_the_same_request_keeps_its_own_name():
    house = people()
    with pghistory.context(user=house.technician.pk, request="tap-0002"):
        rename(house.assistant, "One")
        with credited_to(house.clinician):
            rename(house.assistant, "Two")
        rename(house.assistant, "Three")
    assert [row["user"] for row in written_by()] == [
        house.technician.pk,
        house.clinician.pk,
        house.technician.pk,
    ]
