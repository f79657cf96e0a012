"""The certificate of all vaccines: what is proven, numbered, frozen, voided, checked by its code."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse

from clinic.letters.spelling import spelled
from clinic.models import Owner, Patient
from clinic.platform.files import read
from preventive import actions
from preventive.actions.certificates import is_current
from preventive.certificate_sheet import certificate_html, sheet_of
from preventive.errors import NoCertificate, StandsAlready
from preventive.letter import ROOM
from preventive.models import Certificate
from preventive.tasks import render_certificate
from preventive.versions import protocol_in_force
from preventive.views.certificate import _says
from tests.accessible import faults
from tests.people import NOW, TODAY
from tests.preventive.build import under
from tests.preventive.room import room

pytestmark = pytest.mark.django_db


@pytest.fixture
def dog():
    """Twenty weeks old, two vaccines given here, one elsewhere with a paper, one by the owner's word."""
    made = room(weeks=20, colour="black and tan")
    Owner.objects.update(street="3 Fen Row", city="Quillwater", region="Fenland", postal_code="4410")
    made.core = made.give(site="LSH")
    made.rabies = made.give("rabisal-3", site="RSH")
    elsewhere = {
        "actor": made.actor(),
        "now": NOW,
        "patient": made.patient,
        "given_on": TODAY - timedelta(28),
    }
    actions.record_outside_dose(
        **elsewhere, antigens=["Leptospira"], kind="inactivated", proof=True, proof_words="booklet, page 4"
    )
    actions.record_outside_dose(**elsewhere, antigens=["Bordetella"], source="owner", product_name="Hearsay")
    return made


def issue(dog, by="clinician", **facts):
    return actions.issue_vaccination_certificate(
        actor=dog.actor(by), now=NOW, patient=facts.pop("patient", dog.patient), **facts
    )


# AAHA 2022 (A): day, who gave it, name, lot, maker, expiry, site and route of each dose
def test_each_dose_says_what_is_asked_of_a_record(dog):
    certificate = issue(dog)
    assert str(certificate) == "V-000001"
    rows = sheet_of(certificate).doses
    assert rows[0] == (
        "11 March 2026",
        "Rabies",
        "Rabisal three-year, inactivated, Lindhollow Biologicals",
        "lot RB0932, expiry 30 November 2028",
        "under the skin, right shoulder",
        "Dr Maren Oduya",
    )
    assert [row[1] for row in rows] == [
        "Rabies",
        "Distemper, adenovirus (hepatitis), parvovirus",
        "Leptospirosis",
    ]
    assert rows[2][5] == "elsewhere; proof: booklet, page 4"
    assert "Hearsay" not in certificate_html(certificate)


def test_every_field_stands_on_the_paper(dog):
    certificate = issue(dog)
    fields = under().rules.vaccination
    assert set(certificate.values) == set(fields)
    shown = {label for _, rows in sheet_of(certificate).groups for label, _ in rows}
    assert shown == {
        spelled(field.label, "us") for code, field in fields.items() if code not in {"doses", "next"}
    }


# NASPHV 2016 (A): after a first dose the law's date goes before the label's three years
def test_what_is_due_again_is_the_protocol_s_and_the_law_s_day(dog):
    certificate = issue(dog)
    again = {against: due for against, _, due in sheet_of(certificate).following}
    assert again["Rabies"] == "11 March 2027"
    assert again["Leptospirosis"] == "11 March 2026"
    assert "Bordetella" not in again
    assert certificate.due_by == TODAY
    assert is_current(certificate, TODAY)
    assert not is_current(certificate, TODAY + timedelta(1))


def test_a_dose_that_does_not_count_says_so(dog):
    actions.rule_on_dose(actor=dog.actor(), now=NOW, dose=dog.core, counted=False, reason="vial was warm")
    row = next(row for row in sheet_of(issue(dog)).doses if row[1].startswith("Distemper"))
    assert "does not count" in row[1]


def test_the_same_is_not_issued_twice_and_the_next_one_stands_beside_it(dog):
    first = issue(dog)
    with pytest.raises(StandsAlready):
        issue(dog)
    dog.give("bordelle-nasal", site="", answers={"well": "well", "not_due": "asked for"})
    second = issue(dog)
    assert [first.number, second.number] == [1, 2]
    assert Certificate.objects.filter(struck_at=None).count() == 2


def test_it_is_frozen_and_a_struck_dose_voids_it(dog):
    certificate = issue(dog)
    Patient.objects.update(colour="white")
    certificate.refresh_from_db()
    assert certificate.values["colours"] == "black and tan"
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE preventive_certificate SET values = '{}'")
    actions.strike_dose(actor=dog.actor(), now=NOW, dose=dog.core, reason="another dog’s")
    certificate.refresh_from_db()
    assert certificate.struck_reason == "The dose was struck out: another dog’s"


def test_it_is_voided_and_replaced_from_the_record_as_it_is_now(dog):
    certificate = issue(dog)
    Patient.objects.update(colour="white")
    made = actions.replace_certificate(
        actor=dog.actor(), now=NOW, certificate=Certificate.objects.get(), reason="the colour was wrong"
    )
    assert (made.replaces, made.values["colours"], str(made)) == (certificate, "white", "V-000002")


def test_nothing_proven_no_owner_or_no_right_no_certificate(dog):
    with pytest.raises(PermissionDenied):
        issue(dog, by="technician")
    dog.patient.ownerships.all().delete()
    with pytest.raises(NoCertificate, match="Owner's name"):
        issue(dog)
    for dose in (dog.core, dog.rabies):
        actions.strike_dose(actor=dog.actor(), now=NOW, dose=dose, reason="mistake")
    dog.patient.doses.filter(antigens=["Leptospira"]).update(
        struck_at=NOW, struck_by=dog.people.clinician, struck_reason="mistake"
    )
    with pytest.raises(NoCertificate, match="that a paper proves"):
        issue(dog)


def test_the_paper_is_pdf_ua(dog):
    certificate = issue(dog)
    render_certificate(certificate_id=certificate.pk)
    file = Certificate.objects.get().file
    content = read(f"{file.sha256[:2]}/{file.sha256}.pdf")
    assert faults(content) == []


def test_anybody_learns_whether_it_stands_and_nothing_else(dog):
    certificate = issue(dog)
    shown = Client().get(reverse("certificate-check"), {"code": certificate.code}).content.decode()
    assert "Certificate V-000001 stands." in shown
    for private in ("Tarn", "Dovale", "Leptospirosis", "Rabisal", "RB0932"):
        assert private not in shown
    english = ROOM("en")
    assert _says(certificate, TODAY, english)[1].endswith("is due again by 11 March 2026.")
    assert "was due again by" in _says(certificate, TODAY + timedelta(1), english)[1]
    certificate.due_by = None
    assert _says(certificate, TODAY, english)[1].endswith("as issued on 11 March 2026.")


def test_from_the_page_it_is_issued_once_and_shown(dog):
    client = Client()
    client.force_login(dog.people.clinician)
    sent = {"once": uuid4()}
    address = reverse("certificate-issue-all", args=[dog.patient.pk])
    made = client.post(address, sent, follow=True).content.decode()
    assert "Vaccination certificate" in made
    assert "booklet, page 4" in made
    client.post(address, sent)
    assert Certificate.objects.count() == 1
    page_of = client.get(reverse("patient-prevention", args=[dog.patient.pk])).content.decode()
    assert "of all vaccines, issued" in page_of
    assert protocol_in_force().rules.vaccination["doses"].source == "AAHA 2022"
