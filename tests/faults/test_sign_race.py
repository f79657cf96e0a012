"""A row sent while another connection signs ends inside the signature, or refused; never beside it.

Each race is also run with its guard taken out, to show that it would go wrong.
"""

import os
import threading
import time
from collections.abc import Callable, Iterator
from urllib.parse import urlsplit, urlunsplit

import psycopg
import pytest
from django.db import connection, connections, transaction
from django.db.models import QuerySet

from clinic.models import HeadsUp, Record
from clinic.platform.registries import sign_checks, sign_steps
from clinic.visits import actions
from clinic.visits.errors import NotReady
from clinic.visits.seal import seal
from tests import people

pytestmark = pytest.mark.django_db(transaction=True)
FROZEN = "23T01"
INSERT = """
INSERT INTO clinic_headsup (id, record_id, station, side, words, by_id, at, answer, answer_reason)
VALUES (gen_random_uuid(), %s, '', '', 'seen from the doorway', %s, now(), '', '')
"""


@pytest.fixture(autouse=True)
def only_own_plugs(monkeypatch: pytest.MonkeyPatch) -> None:
    own = {name: entry for name, entry in sign_checks._entries.items() if name == "heads-up"}
    monkeypatch.setattr(sign_checks, "_entries", own)
    monkeypatch.setattr(sign_steps, "_entries", {})


@pytest.fixture
def house() -> people.People:
    return people.people()


@pytest.fixture
def record(house: people.People) -> Record:
    return people.visit_here(clinician=house.clinician).record


@pytest.fixture
def vet(house: people.People) -> dict:
    return {"actor": house.actor("clinician"), "now": people.NOW}


@pytest.fixture
def tablet() -> Iterator[psycopg.Connection]:
    """Another tablet's connection, as the application role."""
    parts = urlsplit(os.environ["TEST_DATABASE_APP_URL"])
    url = urlunsplit(parts._replace(path="/" + connection.settings_dict["NAME"]))
    with psycopg.connect(url) as other:
        yield other


@pytest.fixture
def trigger_off() -> Iterator[None]:
    """The database's own guard taken out, as only its owner can."""
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE clinic_headsup DISABLE TRIGGER tailward_freeze")
    yield
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE clinic_headsup ENABLE TRIGGER tailward_freeze")


@pytest.fixture
def lock_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """Signing reads the record without holding it."""
    monkeypatch.setattr(QuerySet, "select_for_update", lambda self, **_how: self.all())


class Meanwhile(threading.Thread):
    """Does something on a connection of its own; keeps what it raised."""

    def __init__(self, does: Callable[[], object]) -> None:
        super().__init__(daemon=True)
        self.raised: Exception | None = None
        self._does = does

    def run(self) -> None:
        try:
            self._does()
        except Exception as error:  # noqa: BLE001 - whatever a rival got is looked at
            self.raised = error
        finally:
            connections.close_all()


def someone_waits_for_a_lock() -> bool:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity"
            " WHERE wait_event_type = 'Lock' AND datname = current_database()"
        )
        return cursor.fetchone()[0] > 0


def until(true: Callable[[], bool], seconds: float = 5) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.01)
    return False


def is_signed_without_it(record: Record) -> bool:
    """The anomaly: a row stands in a signed record and its seal does not know it."""
    record.refresh_from_db()
    return record.is_signed and record.heads_ups.exists() and seal(record) != record.seal


def sent_during_the_signature(record: Record, vet: dict, tablet: psycopg.Connection) -> Exception | None:
    """Send a row when everything was checked and sealed but nothing is committed; what the tablet got."""

    def send() -> None:
        tablet.execute(INSERT, [record.pk, vet["actor"].staff.pk])
        tablet.commit()

    sender = Meanwhile(send)
    with transaction.atomic():
        actions.sign(record=record, **vet)
        sender.start()
        until(someone_waits_for_a_lock)
    sender.join(10)
    assert not sender.is_alive()
    return sender.raised


def test_a_row_sent_during_the_signature_is_refused(record, vet, tablet) -> None:
    refused = sent_during_the_signature(record, vet, tablet)
    assert isinstance(refused, psycopg.Error)
    assert refused.sqlstate == FROZEN
    assert not is_signed_without_it(record)


def test_without_the_trigger_it_would_slip_in_beside_the_signature(record, vet, tablet, trigger_off) -> None:
    assert sent_during_the_signature(record, vet, tablet) is None
    assert is_signed_without_it(record)


def signed_during_a_sending(record: Record, vet: dict, tablet: psycopg.Connection) -> Exception | None:
    """Sign while a row was sent and not committed; what the clinician got."""
    tablet.execute(INSERT, [record.pk, vet["actor"].staff.pk])
    signer = Meanwhile(lambda: actions.sign(record=record, **vet))
    signer.start()
    assert until(someone_waits_for_a_lock)
    tablet.commit()
    signer.join(10)
    assert not signer.is_alive()
    return signer.raised


def test_a_row_on_its_way_is_waited_for_and_seen(record, vet, tablet) -> None:
    refused = signed_during_a_sending(record, vet, tablet)
    assert isinstance(refused, NotReady)
    assert [each.code.split(":")[0] for each in refused.missing] == ["heads-up"]
    assert not is_signed_without_it(record)


def test_without_the_lock_it_would_be_signed_unseen(record, vet, tablet, lock_off) -> None:
    assert signed_during_a_sending(record, vet, tablet) is None
    assert is_signed_without_it(record)


def test_two_clinicians_signing_at_once_sign_once(record, vet, house) -> None:
    both = [
        Meanwhile(lambda who=who: actions.sign(record=record, actor=house.actor(who), now=people.NOW))
        for who in ("clinician", "colleague")
    ]
    for each in both:
        each.start()
    for each in both:
        each.join(10)
    assert sorted(type(each.raised).__name__ for each in both) == ["AlreadySigned", "NoneType"]


def test_many_senders_and_one_signature_leave_no_row_beside_it(record, vet, long_run) -> None:
    """Each sender answers its own row, so that nothing but time decides who is inside."""

    def send() -> None:
        for _row in range(40 if long_run else 8):
            HeadsUp.objects.create(
                record=record, station="", words="w", by=vet["actor"].staff, at=people.NOW, answer="looked"
            )

    senders = [Meanwhile(send) for _tablet in range(4)]
    for each in senders:
        each.start()
    time.sleep(0.02)
    actions.sign(record=record, **vet)
    for each in senders:
        each.join(20)
        assert each.raised is None or getattr(each.raised.__cause__, "sqlstate", "") == FROZEN
    record.refresh_from_db()
    assert seal(record) == record.seal
