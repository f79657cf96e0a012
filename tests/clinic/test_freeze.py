"""The database itself refuses to change what was signed, also for a program that means to."""

import os
from collections.abc import Iterator
from contextlib import contextmanager

import psycopg
import pytest
from django.db import IntegrityError, connection, transaction

from clinic.models import HeadsUp, Letter, Measurement, Record
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    return people.people()


@pytest.fixture
def signed(house: people.People) -> Record:
    visit = people.visit_here(clinician=house.clinician)
    record = visit.record
    HeadsUp.objects.create(
        record=record, station="EAR", words="smells sour", by=house.technician, at=people.NOW
    )
    record.signed_at, record.signed_by, record.signed_name = people.NOW, house.clinician, "Dr Maren Oduya"
    record.save()
    return record


@contextmanager
def refused(sqlstate: str) -> Iterator[None]:
    with pytest.raises(IntegrityError, match="refused") as raised:
        yield
    assert raised.value.__cause__.sqlstate == sqlstate


def test_a_row_of_a_signed_record_cannot_be_changed(signed: Record) -> None:
    with refused("23T01"), transaction.atomic():
        signed.heads_ups.update(words="nothing")


def test_a_row_of_a_signed_record_cannot_be_deleted(signed: Record) -> None:
    with refused("23T01"), transaction.atomic():
        signed.heads_ups.all().delete()


def test_nothing_can_be_added_to_a_signed_record(signed: Record, house: people.People) -> None:
    with refused("23T01"), transaction.atomic():
        HeadsUp.objects.create(record=signed, station="EYE", words="late", by=house.technician, at=people.NOW)


def test_a_row_cannot_be_moved_out_of_a_signed_record(signed: Record, house: people.People) -> None:
    other = people.visit_here(people.patient("Grit")).record
    with refused("23T01"), transaction.atomic():
        signed.heads_ups.update(record=other)


def test_the_signature_itself_cannot_be_taken_back(signed: Record) -> None:
    with refused("23T01"), transaction.atomic():
        Record.objects.filter(pk=signed.pk).update(signed_at=None, signed_by=None, signed_name="")


def test_an_open_record_still_changes(house: people.People) -> None:
    record = people.visit_here().record
    HeadsUp.objects.create(record=record, station="EAR", words="one", by=house.technician, at=people.NOW)
    assert record.heads_ups.update(words="two") == 1


def test_a_letter_is_only_ever_added(signed: Record, house: people.People) -> None:
    patient = signed.visit.patient
    Letter.objects.create(
        patient=patient,
        record=signed,
        owner=patient.owners.get(),
        language="en",
        content={},
        content_sha256="0" * 64,
        by=house.clinician,
        at=people.NOW,
    )
    with refused("23T03"), transaction.atomic():
        Letter.objects.update(content={"changed": True})
    with refused("23T03"), transaction.atomic():
        Letter.objects.all().delete()


def test_a_measurement_is_struck_out_and_never_changed(house: people.People) -> None:
    visit = people.visit_here()
    people.weigh(visit, "27.4", by=house.technician)
    with refused("23T02"), transaction.atomic():
        Measurement.objects.update(value=20)
    struck = {"struck_at": people.NOW, "struck_by": house.technician, "struck_reason": "wrong patient"}
    assert Measurement.objects.update(**struck) == 1
    with refused("23T02"), transaction.atomic():
        Measurement.objects.update(struck_at=None, struck_by=None, struck_reason="")


@pytest.fixture
def as_application() -> psycopg.Connection:
    """The test's own database, seen as web and worker see it."""
    from urllib.parse import urlsplit, urlunsplit

    parts = urlsplit(os.environ["TEST_DATABASE_APP_URL"])
    url = urlunsplit(parts._replace(path="/" + connection.settings_dict["NAME"]))
    with psycopg.connect(url, autocommit=True) as application:
        yield application


@pytest.mark.parametrize(
    "attempt",
    [
        "ALTER TABLE clinic_headsup DISABLE TRIGGER tailward_freeze",
        "DROP TRIGGER tailward_freeze ON clinic_headsup",
        "DROP FUNCTION tailward_freeze() CASCADE",
        "SET session_replication_role = replica",
        "TRUNCATE clinic_headsup",
    ],
)
def test_the_application_role_cannot_switch_the_freeze_off(
    as_application: psycopg.Connection, attempt: str
) -> None:
    with pytest.raises(psycopg.errors.InsufficientPrivilege):
        as_application.execute(attempt)
