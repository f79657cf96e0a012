"""How often the pages around prevention ask the database: as often for little as for much."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from preventive import actions
from tests.preventive.room import Room, room

pytestmark = pytest.mark.django_db


@pytest.fixture
def dog() -> Room:
    made = room(birth_date=timezone.localdate() - timedelta(weeks=60))
    made.give("rabisal-3", site="RH-D", now=timezone.now(), lot=running(made, "rabisal-3"))
    return made


def running(made: Room, code: str):
    lot = made.lot(code)
    lot.expires_on = timezone.localdate() + timedelta(days=300)
    lot.save()
    return lot


def more(dog: Room) -> None:
    """Ten doses from elsewhere, ten supplies, ten products."""
    for number in range(10):
        actions.record_outside_dose(
            actor=dog.actor(),
            now=timezone.now(),
            patient=dog.patient,
            antigens=["CPV"],
            given_on=timezone.localdate() - timedelta(days=30 * (number + 1)),
            proof=True,
            refresh=False,
        )
        actions.record_supply(
            actor=dog.actor(),
            now=timezone.now(),
            patient=dog.patient,
            visit=None,
            product=dog.stock["wormbane-chew-dog"],
            band="over 5 to 10 kg",
            source="owner",
            first_on=timezone.localdate() - timedelta(days=40 * (number + 1)),
            refresh=False,
        )
        product = dog.stock["corvane-three"]
        product.pk, product.code, product.name = None, f"other-{number}", f"Other {number}"
        product.save()


@pytest.mark.parametrize(
    ("name", "args", "most"),
    [
        ("reaction-new", ("patient",), 10),
        ("certificate-check", (), 6),
        ("protocol", (), 10),
        ("protocol-editions", (), 8),
        ("protocol-values", (), 8),
        ("lot-new", (), 8),
        ("product", ("product",), 8),
        ("product-new", ("preventive",), 8),
    ],
)
def test_much_asks_as_often_as_little(dog, name, args, most):
    known = {"patient": dog.patient.pk, "product": dog.stock["wormbane-chew-dog"].pk}
    url = reverse(name, args=[known.get(each, each) for each in args])
    client = Client()
    client.force_login(dog.people.clinician)
    little = asked(client, url)
    more(dog)
    assert asked(client, url) == little
    assert little <= most


def test_a_certificate_of_all_asks_as_often_for_many_doses(dog):
    client = Client()
    client.force_login(dog.people.clinician)

    def issued() -> str:
        made = actions.issue_vaccination_certificate(
            actor=dog.actor(), now=timezone.now(), patient=dog.patient, once=uuid4()
        )
        return reverse("certificate", args=[made.pk])

    little = asked(client, issued())
    more(dog)
    assert asked(client, issued()) == little
    assert little <= 8


def asked(client: Client, url: str) -> int:
    """The second look, so that nothing is counted that the first one alone does."""
    client.get(url)
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url).status_code == 200
    return len(seen)
