"""What somebody reads whose address leads nowhere, who may not, whose page is too old, or when it fails."""

import pytest
from django.test import Client
from django.urls import reverse

from clinic.visits.views import today
from tests import people

SEARCH = 'role="search"'


def fails(*_arguments: object, **_named: object) -> None:
    raise ZeroDivisionError


@pytest.mark.django_db
def test_each_says_what_to_do_instead(monkeypatch, django_assert_max_num_queries):
    staff = people.people()
    desk = Client(raise_request_exception=False)
    desk.force_login(staff.assistant)
    with django_assert_max_num_queries(8):
        nowhere = desk.get(reverse("patient", args=[999_999]))
    assert nowhere.status_code == 404
    assert "Nothing is here" in nowhere.content.decode()
    assert SEARCH in nowhere.content.decode()
    refused = desk.get(reverse("staff"))
    assert refused.status_code == 403
    assert "Others do this here" in refused.content.decode()
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(staff.assistant)
    old = strict.post(reverse("check-in"))
    assert old.status_code == 403
    assert "This was not sent" in old.content.decode()
    monkeypatch.setattr(today, "today_page", fails)
    failed = desk.get(reverse("today"))
    assert failed.status_code == 500
    assert "Something went wrong here" in failed.content.decode()


@pytest.mark.django_db
def test_a_stranger_reads_nothing_of_the_clinic():
    people.clinic_details()
    page = Client().get("/no/such/page/").content.decode()
    assert "Nothing is here" in page
    assert SEARCH not in page
    assert "Quillwater" not in page
