"""A finding sent while another connection signs ends inside the signature or refused, never beside it."""

import os
import threading
from collections.abc import Iterator
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest
from django.db import connection, transaction

from clinic.models import Record
from exams.models import Exam, Finding
from tests import people
from tests.exams.house import exam_here
from tests.faults.test_sign_race import until

pytestmark = pytest.mark.django_db(transaction=True)
FROZEN = "23T01"
INSERT = """
INSERT INTO exams_finding (exam_id, record_id, line, station, structure, side, status, findings, in_part,
    reason, reason_words, together, value, unit, flag, person_id, role, made_at, made_in, charted, spoken)
VALUES (%s, %s, 'EAR.canal|left', 'EAR', 'EAR.canal', 'left', 'normal', '[]', false,
    '', '', false, '', '', '', %s, 'clinician', '2026-03-11T10:00:00+00:00', '', '{}', false)
"""


@pytest.fixture
def house() -> people.People:
    return people.people()


@pytest.fixture
def exam(house) -> Exam:
    return exam_here(house.actor("clinician")).exam


@pytest.fixture
def tablet() -> Iterator[psycopg.Connection]:
    """Another tablet's connection, as the application role."""
    parts = urlsplit(os.environ["TEST_DATABASE_APP_URL"])
    with psycopg.connect(urlunsplit(parts._replace(path="/" + connection.settings_dict["NAME"]))) as other:
        yield other


@pytest.fixture
def trigger_off() -> Iterator[None]:
    """The database's own guard taken out, as only its owner can."""
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE exams_finding DISABLE TRIGGER tailward_freeze")
    yield
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE exams_finding ENABLE TRIGGER tailward_freeze")


def someone_waits() -> bool:
    """Also another role's connection, whose activity its own role alone may see."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_locks WHERE NOT granted")
        return cursor.fetchone()[0] > 0


def sent_while_signing(exam: Exam, house: people.People, tablet: psycopg.Connection) -> str:
    """The tablet's INSERT begins while the signature is under way: its SQL state, empty when it stood."""
    states: list[str] = []

    def send() -> None:
        try:
            tablet.execute(INSERT, [exam.pk, exam.record_id, house.technician.pk])
            tablet.commit()
            states.append("")
        except psycopg.Error as error:
            tablet.rollback()
            states.append(error.sqlstate or "?")

    rival = threading.Thread(target=send, daemon=True)
    with transaction.atomic():
        Record.objects.select_for_update().get(pk=exam.record_id)
        rival.start()
        assert until(someone_waits), states
        Record.objects.filter(pk=exam.record_id).update(
            signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
        )
    rival.join(5)
    return states[0]


def test_a_finding_sent_while_signing_waits_and_is_refused(exam, house, tablet) -> None:
    assert sent_while_signing(exam, house, tablet) == FROZEN
    assert not Finding.objects.exists()


def test_without_the_guard_it_would_stand_in_a_signed_record(exam, house, tablet, trigger_off) -> None:
    assert sent_while_signing(exam, house, tablet) == ""
    assert Finding.objects.get().record.is_signed
