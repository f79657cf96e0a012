"""The local outbox shows mail to owners to everybody, and links that sign somebody in to managers alone."""

import pytest
from django.core.mail import EmailMessage
from django.test import Client
from django.urls import reverse

from clinic.mail.transport import PURPOSE
from tests import people

pytestmark = pytest.mark.django_db
ADDRESS = "/outbox/"


@pytest.fixture
def staff(settings) -> people.People:
    settings.EMAIL_BACKEND = "clinic.platform.outbox.OutboxBackend"
    people.clinic_details()
    for purpose in ("medical", "staff", ""):
        mail = EmailMessage(f"about {purpose or 'a password'}", "text", to=["a@example.com"])
        if purpose:
            mail.extra_headers[PURPOSE] = purpose
        mail.attach(f"{purpose or 'none'}.pdf", b"%PDF-1.7", "application/pdf")
        mail.send()
    return people.people()


def mails(person) -> list[str]:
    client = Client()
    client.force_login(person)
    return sorted(each.subject for each in client.get(ADDRESS).context["mails"])


@pytest.mark.parametrize("role", ["assistant", "technician", "clinician"])
def test_whoever_cannot_manage_staff_sees_mail_to_owners_only(staff, role):
    assert mails(getattr(staff, role)) == ["about medical"]


def test_a_manager_sees_every_mail(staff):
    assert mails(staff.manager) == ["about a password", "about medical", "about staff"]


def test_an_attachment_of_a_hidden_mail_is_hidden_too(staff):
    client = Client()
    client.force_login(staff.manager)
    kept = client.get(ADDRESS).context["mails"]
    links = {each.subject: reverse("outbox-file", args=[each.name, 0]) for each in kept}
    assert {client.get(link).status_code for link in links.values()} == {200}
    client.force_login(staff.technician)
    answers = {subject: client.get(link).status_code for subject, link in links.items()}
    assert answers == {"about medical": 200, "about staff": 404, "about a password": 404}


def test_where_a_mail_server_is_named_there_is_no_outbox(staff, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    client = Client()
    client.force_login(staff.manager)
    assert client.get(ADDRESS).status_code == 404
