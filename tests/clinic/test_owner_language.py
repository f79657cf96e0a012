"""What else an owner reads in their language: the medicine sheet, mails of bookings, condolences; and the
mail to a colleague, who reads the language that the clinic chooses."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.care.take_home import take_home
from clinic.death.condolence import greeting
from clinic.letters.document import said
from clinic.mail import further
from clinic.mail.transport import as_email
from clinic.models import Letter, Message, Owner
from clinic.platform.registries import sign_checks
from clinic.summaries.consent import Consent
from clinic.visits import actions as visits
from tests import letters, people
from tests.letters import NOW, TODAY
from tests.owners import at_own_address, browser, link_to, path_of, printed

pytestmark = pytest.mark.django_db


@pytest.fixture
def sore() -> letters.Case:
    case = letters.sore_ear()
    Owner.objects.update(language="es")
    return case


def test_the_medicine_sheet_is_in_both_languages_where_nobody_reviewed_it(sore):
    told = take_home(sore.record)
    assert told.title == "Ludo, perro: cómo dar las medicinas, 11 de marzo de 2026"
    where = next(each for each in said(told.section) if each.key.endswith(":where"))
    assert (where.text, where.both) == ("Dónde: en el oído izquierdo.", True)
    client = Client()
    client.force_login(sore.people.clinician)
    page = client.get(reverse("visit-medicines", args=[sore.visit.pk])).content.decode()
    assert '<article class="paper take-home" aria-label="The sheet" lang="es">' in page
    assert "La carta de la visita llega después." in page
    assert '<span class="own" lang="en">“' in page


def test_a_booking_s_mail_is_in_the_owner_s_language(sore, monkeypatch):
    monkeypatch.setattr(sign_checks, "_entries", {})  # what a signature needs is tested elsewhere
    sore.sign()
    plan = sore.record.next_visits.get()
    visits.move_next_visit(
        next_visit=plan, on=TODAY + timedelta(days=15), at=None, why="they cannot come", tell=True,
        actor=sore.actor("assistant"), now=NOW,
    )  # fmt: skip
    message = Message.objects.get(purpose="service")
    assert message.subject == "La visita de Ludo cambia de día: jueves 26 de marzo de 2026"
    assert "Ahora: jueves 26 de marzo de 2026" in message.body
    assert "urgencias, día y noche" in message.body


def test_a_condolence_greets_in_the_owner_s_language(sore):
    assert greeting(Owner.objects.get()) == "Para Henrike Dovale:"


def to_colleague(letter: Letter, language: str) -> str:
    message = further.send_to_colleague(
        letter=letter, to_whom="Dr Ines Tarn", address=f"{language}@referrals.example", language=language,
        consent=Consent(who="Henrike Dovale", how="telephone"), actor=letters.Actor.of(letter.by), now=NOW,
    )  # fmt: skip
    return as_email(message).body


def test_a_colleague_reads_it_in_the_language_that_the_clinic_chooses(sore):
    letter = printed(sore.freeze())
    english, spanish = to_colleague(letter, "en"), to_colleague(letter, "es")
    assert "For Dr Ines Tarn: this is the letter that Henrike Dovale has from us." in english
    assert "Henrike Dovale agreed by telephone" in english
    assert "WHEN TO CALL" not in spanish
    assert "The whole letter is attached as a PDF." in english
    assert "emergencies, day and night" in english.rsplit("\n\n", 1)[-1]
    assert "Para Dr Ines Tarn: esta es la carta nuestra que tiene Henrike Dovale." in spanish
    assert "dio su permiso por teléfono" in spanish
    assert "La carta entera va adjunta en PDF." in spanish


def test_a_second_owner_is_written_to_and_reads_in_their_own_language(sore, settings):
    at_own_address(settings)
    letter = printed(sore.freeze())
    second = people.owner("Piet Vos", "piet@example.com")
    sore.patient.ownerships.create(owner=second, since=TODAY)
    message = further.send_to_owner(letter=letter, owner=second, actor=sore.actor(), now=NOW)
    assert message.subject.startswith("Ludo’s visit")
    page = browser().get(path_of(link_to(letter, owner=second, now=timezone.now()))).content.decode()
    assert '<html lang="en">' in page
    assert 'hreflang="es"' in page
