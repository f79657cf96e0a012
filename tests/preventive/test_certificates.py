"""Rabies certificates: every field of the published form, numbered, frozen, voided, replaced, checked."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.letters.spelling import spelled
from clinic.models import ClinicDetails, Owner, Patient
from clinic.platform.files import read
from clinic.platform.rates import Limit
from preventive import actions
from preventive.actions.certificates import is_current
from preventive.certificate_code import ALPHABET, as_typed, in_groups, new_code
from preventive.certificate_sheet import certificate_html, sheet_of
from preventive.errors import NoCertificate, StandsAlready, StruckAlready
from preventive.models import Certificate
from preventive.tasks import render_certificate
from preventive.views import certificate as views
from tests.accessible import faults
from tests.people import NOW, TODAY
from tests.preventive.build import under
from tests.preventive.room import room

pytestmark = pytest.mark.django_db


@pytest.fixture
def dog():
    """Twenty weeks old, everything on record that the form asks for."""
    made = room(weeks=20, colour="black and tan")
    Owner.objects.update(street="3 Fen Row", city="Quillwater", region="Fenland", postal_code="4410")
    return made


def rabies(dog, **facts):
    return dog.give("rabisal-3", site="RSH", tag_number="T-77", **facts)


def issue(dog, dose, by="clinician", **facts):
    return actions.issue_certificate(actor=dog.actor(by), now=NOW, dose=dose, **facts)


# NASPHV Form 51 (A; items with a star C): every field of the list is on the paper
def test_every_field_of_the_form_stands_on_the_paper(dog):
    certificate = issue(dog, rabies(dog))
    fields = under().rules.certificate
    assert set(certificate.values) == set(fields)
    shown = {label for _, rows in sheet_of(certificate).groups for label, _ in rows}
    labels = {spelled(field.label, "us") for code, field in fields.items() if code != "due_by"}
    assert shown == labels
    paper = certificate_html(certificate)
    for words in (
        "Next vaccination due by",
        "T-77",
        "RB0932",
        "Lindhollow Biologicals",
        "L-1001",
        "36 months",
    ):
        assert words in paper


# prev-R02: NASPHV 2016 (A): a three-year product, first dose: due in one year, valid from day 28
def test_the_due_date_printed_is_the_legal_one(dog):
    certificate = issue(dog, rabies(dog))
    assert certificate.due_by.isoformat() == "2027-03-11"
    assert certificate.valid_from.isoformat() == "2026-04-08"
    assert certificate.values["due_by"] == "11 March 2027"
    assert certificate.values["dose_kind"] == "initial"


# 7 Pa. Code 16.43 as quoted (B), prev-R12: from one year of age a first dose holds as long as its label
def test_another_places_law_gives_another_date(dog):
    ClinicDetails.objects.update(jurisdiction="us-pa")
    Patient.objects.filter(pk=dog.patient.pk).update(birth_date=TODAY - timedelta(days=800))
    dog.patient.refresh_from_db()
    certificate = issue(dog, rabies(dog))
    assert certificate.due_by.isoformat() == "2029-03-11"
    assert sheet_of(certificate).place == "Pennsylvania"


# NASPHV 2016: overdue the day after the anniversary (B)
def test_it_holds_from_its_first_day_to_the_day_it_is_due(dog):
    certificate = issue(dog, rabies(dog))
    days = (certificate.valid_from, certificate.due_by)
    assert [is_current(certificate, day) for day in days] == [True, True]
    one = timedelta(1)
    assert not is_current(certificate, days[0] - one)
    assert not is_current(certificate, days[1] + one)


def test_what_is_missing_is_named_all_at_once(dog):
    Owner.objects.update(street="")
    Patient.objects.update(colour="")
    with pytest.raises(NoCertificate, match="Street, city, state, ZIP; Predominant colours and markings"):
        issue(dog, rabies(dog))
    assert not Certificate.objects.exists()


def test_a_dose_that_does_not_count_gets_none(dog):
    young = room_of(dog)
    early = young.give(
        "rabisal-3", site="RSH", answers={"too_young": "travels", "not_due": "travels"}, by="clinician"
    )
    with pytest.raises(NoCertificate, match="does not count for the law"):
        issue(young, early)


def room_of(dog):
    """The same house, the puppy ten weeks old."""
    Patient.objects.filter(pk=dog.patient.pk).update(birth_date=TODAY - timedelta(weeks=10))
    dog.patient.refresh_from_db()
    return dog


def test_another_vaccine_gets_none(dog):
    with pytest.raises(NoCertificate):
        issue(dog, dog.give())


def test_a_technician_does_not_issue(dog):
    with pytest.raises(PermissionDenied):
        issue(dog, rabies(dog), by="technician")


def test_a_dose_has_one_that_stands_and_numbers_have_no_gap(dog):
    dose = rabies(dog)
    first = issue(dog, dose)
    with pytest.raises(StandsAlready):
        issue(dog, dose)
    second = actions.replace_certificate(
        actor=dog.actor(), now=NOW, certificate=first, reason="the colour was wrong"
    )
    assert (first.number, second.number) == (1, 2)
    assert second.replaces == first
    with pytest.raises(StruckAlready):
        actions.void_certificate(actor=dog.actor(), now=NOW, certificate=first, reason="again")


def test_it_is_frozen_also_against_the_record(dog):
    certificate = issue(dog, rabies(dog))
    Patient.objects.update(colour="white")
    ClinicDetails.objects.update(jurisdiction="us-pa")
    certificate.refresh_from_db()
    assert certificate.values["colours"] == "black and tan"
    assert sheet_of(certificate).place.startswith("Compendium")
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE preventive_certificate SET due_by = '2030-01-01'")
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM preventive_certificate")


def test_a_dose_struck_out_takes_its_certificate_with_it(dog):
    dose = rabies(dog)
    certificate = issue(dog, dose)
    actions.strike_dose(actor=dog.actor(), now=NOW, dose=dose, reason="another dog’s")
    certificate.refresh_from_db()
    assert certificate.struck_reason == "The dose was struck out: another dog’s"


def test_the_paper_is_pdf_ua_and_stored_once(dog):
    certificate = issue(dog, rabies(dog))
    render_certificate(certificate_id=certificate.pk)
    file = Certificate.objects.get().file
    render_certificate(certificate_id=certificate.pk)
    assert Certificate.objects.get().file == file
    assert file.pages == 1
    content = read(f"{file.sha256[:2]}/{file.sha256}.pdf")
    assert faults(content) == []


def test_a_code_is_read_as_people_type_it():
    assert as_typed(" 4f7k-9q2m xa31 ") == "4F7K9Q2MXA31"
    assert as_typed("OIL0-0000-0000") == "011000000000"
    assert as_typed("4F7K") == ""
    assert as_typed("4F7K9Q2MXA3U") == ""
    made = new_code()
    assert set(made) <= set(ALPHABET)
    assert as_typed(in_groups(made)) == made


def check(code):
    return Client().get(reverse("certificate-check"), {"code": code}).content.decode()


def test_anybody_learns_whether_it_stands_and_nothing_else(dog):
    certificate = issue(dog, rabies(dog))
    shown = check(in_groups(certificate.code))
    assert "R-000001 stands" in shown
    for private in ("Tarn", "Dovale", "black and tan", "Fen Row", "RB0932"):
        assert private not in shown
    actions.void_certificate(actor=dog.actor(), now=NOW, certificate=certificate, reason="mistake")
    assert "was voided. It proves nothing." in check(certificate.code)
    assert "No certificate has this code." in check("0000-0000-0000")
    assert "No certificate" not in check("")


def test_it_is_said_in_the_language_asked_for_and_the_others_are_offered(dog):
    address, code = reverse("certificate-check"), issue(dog, rabies(dog)).code
    page = Client().get(address, {"code": code}, headers={"Accept-Language": "es-MX"}).content.decode()
    assert "El certificado R-000001 vale hasta el 11 de marzo de 2027." in page
    assert f'href="?language=en&amp;code={code}"' in page
    asked = Client().get(address, {"code": code, "language": "en"}, headers={"Accept-Language": "es"})
    assert "R-000001 stands. It is valid until 11 March 2027." in asked.content.decode()


def test_who_tries_codes_from_one_address_has_to_wait(dog, monkeypatch):
    certificate = issue(dog, rabies(dog))
    # so long that no new window begins meanwhile
    monkeypatch.setattr(views, "LIMIT", Limit("certificate", most=2, window=timedelta(days=20_000)))
    assert "No certificate has this code." in check("0000-0000-0000")
    assert "R-000001 stands" in check(certificate.code)
    address = reverse("certificate-check")
    third = Client().get(address, {"code": certificate.code})
    assert (third.status_code, "R-000001 stands" in third.content.decode()) == (429, False)
    assert Client().get(address).status_code == 200
    elsewhere = Client(REMOTE_ADDR="192.0.2.7").get(address, {"code": certificate.code})
    assert "R-000001 stands" in elsewhere.content.decode()


def client(dog, role="clinician"):
    made = Client()
    made.force_login(getattr(dog.people, role))
    return made


def test_from_the_page_it_is_issued_once_shown_voided_and_replaced(dog):
    dose = rabies(dog)
    sent = {"once": uuid4(), "dose": dose.pk}
    address = reverse("certificate-issue", args=[dog.patient.pk])
    made = client(dog).post(address, sent, follow=True)
    assert "Next vaccination due by <b>11 March 2027</b>" in made.content.decode()
    client(dog).post(address, sent)
    certificate = Certificate.objects.get()
    assert client(dog).get(reverse("certificate-pdf", args=[certificate.pk])).status_code == 202
    void = reverse("certificate-void", args=[certificate.pk])
    assert client(dog).post(void, {"once": uuid4(), "reason": "", "do": "void"}).status_code == 422
    again = client(dog).post(void, {"once": uuid4(), "reason": "wrong tag", "do": "replace"}, follow=True)
    assert "It replaces R-000001." in again.content.decode()
    assert "Replaced by" in client(dog).get(reverse("certificate", args=[certificate.pk])).content.decode()


def test_what_is_missing_is_said_on_the_page(dog):
    Owner.objects.update(street="")
    answer = client(dog).post(
        reverse("certificate-issue", args=[dog.patient.pk]), {"once": uuid4(), "dose": rabies(dog).pk}
    )
    assert answer.status_code == 422
    assert "Missing: Street, city, state, ZIP." in answer.content.decode()
    assert timezone.localdate() >= TODAY
