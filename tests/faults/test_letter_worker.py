"""From the signature to the mail, with a real worker and a real mail server: delayed at worst, never lost."""

import asyncio
import os
import signal
import socket
import subprocess
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from django.db import connection, transaction
from django.utils import timezone

from clinic.mail.actions import rescue
from clinic.models import Message, Record, Visit
from clinic.platform import tasks
from clinic.platform.registries import sign_checks
from tests import letters, people

ROOT = Path(__file__).resolve().parents[2]
SECONDS_TO_MAIL = 5.0

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def nothing_else_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sign_checks, "_entries", {})


@dataclass
class MailServer:
    """Keeps what it takes, with when it took it. It can be away, and be told to be slow."""

    port: int
    taken: list[tuple[float, Envelope]] = field(default_factory=list)
    slow: float = 0
    begun: list[float] = field(default_factory=list)
    controller: Controller | None = None

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        self.begun.append(time.monotonic())
        if self.slow:
            await asyncio.sleep(self.slow)
        self.taken.append((time.monotonic(), envelope))
        return "250 OK"

    def open(self) -> None:
        self.controller = Controller(self, hostname="127.0.0.1", port=self.port)
        self.controller.start()

    def close(self) -> None:
        if self.controller:
            self.controller.stop()
            self.controller = None


@pytest.fixture
def mail() -> Iterator[MailServer]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        server = MailServer(free.getsockname()[1])
    yield server
    server.close()


@pytest.fixture
def start_worker(app_dsn: str, mail: MailServer, settings) -> Iterator[Callable[[], subprocess.Popen]]:
    """A worker as the practice runs it, in the application's role; its files are this test's."""
    running: list[subprocess.Popen] = []
    environment = {
        **os.environ,
        "DATABASE_URL": app_dsn,
        "EMAIL_URL": f"smtp://127.0.0.1:{mail.port}",
        "VAR_DIR": str(Path(settings.MEDIA_ROOT).parent),
    }

    def start() -> subprocess.Popen:
        running.append(subprocess.Popen([sys.executable, "manage.py", "worker"], cwd=ROOT, env=environment))
        assert until(lambda: beats(running[-1]), within=120), "the worker did not begin"
        return running[-1]

    yield start
    for process in running:
        if process.poll() is None:
            process.kill()
            process.wait()


def beats(process: subprocess.Popen) -> bool:
    """Both of the worker's queues have said that they live."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM procrastinate_workers WHERE last_heartbeat > now() - interval '20 seconds'"
        )
        return process.poll() is None and cursor.fetchone()[0] >= 2


def forget_workers() -> None:
    """The killed one's heartbeats, as if its half minute had passed."""
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE procrastinate_workers SET last_heartbeat = now() - make_interval(secs => %s)",
            [tasks.STALLED_AFTER_SECONDS + 5],
        )


def until(condition: Callable[[], object], within: float = 30) -> bool:
    deadline = time.monotonic() + within
    while time.monotonic() < deadline:
        if condition():
            return True
        time.sleep(0.02)
    return False


def sent_to(mail: MailServer) -> list[list[str]]:
    return [envelope.rcpt_tos for _, envelope in mail.taken]


def nothing_waits() -> bool:
    """Whoever had something to do has done it: no job is due, or at work."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM procrastinate_jobs WHERE status = 'doing'"
            " OR status = 'todo' AND (scheduled_at IS NULL OR scheduled_at <= now())"
        )
        return cursor.fetchone()[0] == 0


def stays(count: int, mail: MailServer) -> None:
    """As many were begun, none more once the worker has nothing left to do, and all are noted as sent."""
    assert until(lambda: Message.objects.filter(state="sent").count() == count)
    a_minute_passes()
    assert until(nothing_waits)
    assert len(mail.begun) == len(mail.taken) == count
    assert Message.objects.count() == count


def a_minute_passes() -> None:
    """What was put off for a minute is due."""
    Message.objects.filter(state="waiting").update(next_try_at=timezone.now())
    with connection.cursor() as cursor:
        cursor.execute("UPDATE procrastinate_jobs SET scheduled_at = now() WHERE status = 'todo'")


def killed(worker: subprocess.Popen) -> None:
    """As if its half minute had passed as well: what it was at is given back to the queue."""
    worker.send_signal(signal.SIGKILL)
    worker.wait()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM procrastinate_workers")
        cursor.execute(
            "UPDATE procrastinate_jobs SET status = 'todo', scheduled_at = now(), worker_id = NULL"
            " WHERE status = 'doing'"
        )


def another(case: letters.Case) -> letters.Case:
    """The same animal's next visit."""
    Visit.objects.filter(pk=case.visit.pk).update(place="gone-home")
    return letters.Case(
        case.people, case.patient, people.visit_here(case.patient, clinician=case.people.clinician)
    )


def again(case: letters.Case) -> letters.Case:
    """The same visit as the database has it, after what was taken back."""
    return letters.Case(case.people, case.patient, Visit.objects.get(pk=case.visit.pk))


def sign(case: letters.Case) -> None:
    with transaction.atomic():
        case.sign(now=timezone.now())


def test_neither_a_dead_mail_server_nor_a_killed_worker_drops_a_letter_or_doubles_it(mail, start_worker):
    """Signed while no worker lives and the server is away; the worker that rendered dies; both are back
    later. Then with that worker, warm: a signature rolled back, and the time from the next to the mail."""
    first = letters.sore_ear()
    sign(first)
    worker = start_worker()
    assert until(lambda: Message.objects.filter(attempts=1, state="waiting").exists())
    message = Message.objects.get()
    assert "no connection" in message.state_why
    assert message.next_try_at > message.state_since
    killed(worker)
    mail.open()
    a_minute_passes()
    start_worker()
    assert until(lambda: mail.taken)
    stays(1, mail)
    assert sent_to(mail) == [["henrike@example.com"]]

    case = another(first)
    with transaction.atomic():
        case.sign(now=timezone.now())
        transaction.set_rollback(True)
    stays(1, mail)
    assert not Record.objects.get(pk=case.record.pk).is_signed

    began = time.monotonic()
    sign(again(case))
    assert until(lambda: len(mail.taken) == 2)
    took = mail.taken[1][0] - began
    warnings.warn(f"from signing to the mail: {took:.2f} s", stacklevel=1)
    assert took < SECONDS_TO_MAIL
    assert b"application/pdf" in mail.taken[1][1].content
    stays(2, mail)


def test_a_worker_killed_in_mid_send_leaves_it_unknown_and_does_not_send_it_again(mail, start_worker):
    mail.slow = 2
    mail.open()
    worker = start_worker()
    sign(letters.sore_ear())
    assert until(lambda: mail.begun)
    killed(worker)
    assert Message.objects.get().state == "sending"
    Message.objects.update(state_since=timezone.now() - timedelta(minutes=6))
    start_worker()
    rescue(now=timezone.now())
    assert Message.objects.get().state == "unknown"
    a_minute_passes()
    assert until(nothing_waits)
    assert len(mail.begun) == 1
