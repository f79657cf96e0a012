"""Reminders by post: whom, their words, one PDF, and that printing is noted."""

import io
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from clinic.callbacks import actions, posting
from clinic.callbacks.by_hand import steps_in_force
from clinic.callbacks.models import Asking
from clinic.callbacks.post_models import PostRun
from clinic.callbacks.tasks import print_post
from clinic.models import CallBack, Owner
from clinic.platform.files import read
from tests import people
from tests.accessible import faults
from tests.clinic.test_reminders import house  # noqa: F401 - a fixture, found by its name

pytestmark = pytest.mark.django_db
TODAY, NOW = people.TODAY, people.NOW


def household(name: str, *, email: str = "", street: str = "3 Mill Row", **also) -> Owner:
    owner = people.owner(name, email)
    Owner.objects.filter(pk=owner.pk).update(street=street, city="Quillwater", postal_code="04412", **also)
    CallBack.objects.create(
        patient=people.patient(f"{name.split()[1]}'s", of=owner), source="dues", key="rabies", label="Rabies",
        due_on=TODAY - timedelta(days=9), refreshed_at=NOW,
    )  # fmt: skip
    return owner


@pytest.fixture
def owners(house: people.People, monkeypatch) -> dict[str, Owner]:  # noqa: F811
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    return {
        "paper": household("Nia Paper", email="p@example.com", letters_by="paper"),
        "back": household("Bo Back", email="b@example.com", email_state="bounced", language="es"),
        "none": household("Cy None", print_size="large"),
        "mail": household("Di Mail", email="d@example.com"),
        "homeless": household("Ed Street", street=""),
    }


def test_by_post_go_those_whom_no_mail_reaches_and_who_have_a_street(owners) -> None:
    found = {each.owner for each in posting.letters_by_post(today=TODAY)}
    assert found == {"Nia Paper", "Bo Back", "Cy None"}


def test_an_address_names_a_country_only_where_it_is_another(owners) -> None:
    Owner.objects.filter(pk=owners["none"].pk).update(country="CA")
    found = {each.owner: each.address for each in posting.letters_by_post(today=TODAY)}
    assert found["Cy None"][-1] == "CA"
    assert found["Nia Paper"] == ("Nia Paper", "3 Mill Row", "Quillwater 04412")


def test_the_due_list_says_how_many_go_by_post(owners, house) -> None:  # noqa: F811
    client = Client()
    client.force_login(house.assistant)
    assert "By post: 3<" in client.get(reverse("due-list")).content.decode()
    actions._suppress("p@example.com", NOW)  # said stop under that address: no letter either
    assert (
        posting.how_many(plans=steps_in_force(), today=TODAY)
        == len(posting.letters_by_post(today=TODAY))
        == 2
    )


def test_printed_once_noted_as_asked_and_made_as_one_pdf(owners, house) -> None:  # noqa: F811
    client = Client()
    client.force_login(house.assistant)
    where = reverse("due-post")
    shown = client.get(where)
    once = shown.context["form"]["once"].value()
    sent = {"once": str(once), "owner": [each.pk for each in owners.values()]}
    for _ in range(2):  # a double tap
        assert client.post(where, sent).status_code == 302
    run = PostRun.objects.get()
    assert run.households == 3
    assert set(Asking.objects.values_list("how", "outcome", "by")) == {
        ("letter", "asked", house.assistant.pk)
    }
    assert Asking.objects.count() == 3
    assert posting.letters_by_post(today=TODAY) == []
    assert (
        client.post(where, {"once": "5d0e9a54-0b7d-4b0a-8c11-6d0b3c1e54c5", "owner": [1]}).status_code == 422
    )
    made = reverse("due-post-pdf", args=[run.pk])
    waits = client.get(made)
    assert (waits.status_code, "data-until-ready" in waits.content.decode()) == (202, True)
    print_post.func(run_id=run.pk)
    print_post.func(run_id=run.pk)
    assert client.get(made)["Content-Type"] == "application/pdf"
    run.refresh_from_db()
    pdf = PdfReader(io.BytesIO(read(f"{run.sha256[:2]}/{run.sha256}.pdf")))
    assert len(pdf.pages) == run.pages == 3
    assert pdf.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert b"pdfuaid" in pdf.trailer["/Root"]["/Metadata"].get_data()
    told = [sheet.extract_text() for sheet in pdf.pages]
    spanish = next(each for each in told if "Bo Back" in each)
    assert "Rabia" in spanish
    assert "Un aviso para" in spanish
    assert all("3 Mill Row" in each for each in told)
    assert client.get(reverse("due-post-pdf", args=[run.pk]))["Content-Type"] == "application/pdf"


def test_it_is_pdf_ua_1_by_a_validator_that_we_did_not_write(owners) -> None:
    from clinic.letters.pdf import render_html

    made = render_html(posting.post_html(posting.letters_by_post(today=TODAY)), paper="letter")
    assert faults(made.content) == []


def test_the_address_stands_in_the_window(owners) -> None:
    """20 to 105 mm from the left, 45 to 90 mm from the top (DIN 5008, form B), line by line."""
    from clinic.letters.pdf import render_html

    made = render_html(posting.post_html(posting.letters_by_post(today=TODAY)), paper="A4")
    found: list[tuple[float, float]] = []

    def see(text, matrix, inner, _font, _size) -> None:
        if text.strip() in ("3 Mill Row", "Quillwater 04412"):
            x = inner[4] * matrix[0] + inner[5] * matrix[2] + matrix[4]
            y = inner[4] * matrix[1] + inner[5] * matrix[3] + matrix[5]
            found.append((x / 72 * 25.4, 297 - y / 72 * 25.4))

    for sheet in PdfReader(io.BytesIO(made.content)).pages:
        sheet.extract_text(visitor_text=see)
    assert len(found) >= 3
    assert all(20 <= x <= 105 and 45 <= y <= 90 for x, y in found), found
