"""A real practice begins with one command, and only once."""

import io
import sys

import pytest
from allauth.account.models import EmailAddress
from django.core.management import CommandError, call_command

from clinic.models import ClinicDetails, Staff

CLINIC = {
    "clinic": "Tollgate Veterinary Practice",
    "street": "1 Tollgate",
    "city": "Quillwater",
    "country": "us",
    "phone": "555-0110",
    "clinic_email": "desk@tollgate.example",
    "emergency_name": "Tollgate, out of hours",
    "emergency_phone": "555-0111",
}


def begin(monkeypatch, password="seven-old-teacups", **changed):
    monkeypatch.setattr(sys, "stdin", io.StringIO(password + "\n"))
    options = CLINIC | {"email": "ada@tollgate.example", "name": "Ada Lunt"} | changed
    call_command("first_manager", password_from_stdin=True, stdout=io.StringIO(), **options)


@pytest.mark.django_db
def test_the_manager_can_sign_in_and_the_letterhead_is_there(client, monkeypatch):
    begin(monkeypatch)
    staff = Staff.objects.get()
    assert staff.roles == ["manager"]
    assert staff.check_password("seven-old-teacups")
    assert EmailAddress.objects.get(user=staff).verified
    details = ClinicDetails.objects.get()
    assert (details.emergency_phone, details.country, details.demo_laid_on) == ("555-0111", "US", None)


@pytest.mark.django_db
def test_a_second_manager_is_invited_instead(monkeypatch):
    begin(monkeypatch)
    with pytest.raises(CommandError, match="invite"):
        begin(monkeypatch, email="second@tollgate.example")
    assert Staff.objects.count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"emergency_phone": ""}, "out of hours"),
        ({"country": "USA"}, "two letters"),
        ({"password": "short"}, "short"),
        ({"email": "no-address"}, "valid email"),
        ({"clinic_email": "no-address"}, "valid email"),
    ],
)
def test_what_is_missing_or_too_easy_is_said_and_nothing_is_begun(monkeypatch, changed, words):
    with pytest.raises(CommandError, match=words):
        begin(monkeypatch, **changed)
    assert not Staff.objects.exists()
    assert not ClinicDetails.objects.exists()
