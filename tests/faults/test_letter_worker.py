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
from tests import letters

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


def stays_one(mail: MailServer) -> None:
    time.sleep(1.5)
    assert len(mail.taken) == 1


def sign(case: letters.Case) -> None:
    with transaction.atomic():
        case.sign(now=timezone.now())


def test_a_letter_signed_while_no_worker_lives_arrives_once_when_one_does(mail, start_worker):
    mail.open()
    sign(letters.sore_ear())
    start_worker()
    assert until(lambda: mail.taken)
    stays_one(mail)
    assert sent_to(mail) == [["henrike@example.com"]]
    assert until(lambda: Message.objects.get().state == "sent")


def test_a_worker_killed_between_signing_and_sending_delays_the_letter_and_does_not_double_it(
    mail, start_worker
):
    """The server is away when the worker that rendered dies; both are back later."""
    worker = start_worker()
    sign(letters.sore_ear())
    assert until(lambda: Message.objects.filter(attempts=1, state="waiting").exists())
    worker.send_signal(signal.SIGKILL)
    worker.wait()
    forget_workers()
    Message.objects.update(next_try_at=timezone.now())
    with connection.cursor() as cursor:  # its minute has passed
        cursor.execute("UPDATE procrastinate_jobs SET scheduled_at = now() WHERE status = 'todo'")
    mail.open()
    start_worker()
    assert until(lambda: mail.taken)
    stays_one(mail)


def test_a_worker_killed_in_mid_send_leaves_it_unknown_and_does_not_send_it_again(mail, start_worker):
    mail.slow = 3
    mail.open()
    worker = start_worker()
    sign(letters.sore_ear())
    assert until(lambda: mail.begun)
    worker.send_signal(signal.SIGKILL)
    worker.wait()
    assert Message.objects.get().state == "sending"
    Message.objects.update(state_since=timezone.now() - timedelta(minutes=6))
    forget_workers()
    start_worker()
    rescue(now=timezone.now())
    assert Message.objects.get().state == "unknown"
    time.sleep(mail.slow)
    assert len(mail.begun) == 1


def test_a_dead_mail_server_delays_and_drops_nothing(mail, start_worker):
    start_worker()
    sign(letters.sore_ear())
    assert until(lambda: Message.objects.filter(attempts=1, state="waiting").exists())
    message = Message.objects.get()
    assert "no connection" in message.state_why
    assert message.next_try_at > message.state_since
    mail.open()
    Message.objects.update(next_try_at=timezone.now())
    with connection.cursor() as cursor:  # its minute has passed
        cursor.execute("UPDATE procrastinate_jobs SET scheduled_at = now() WHERE status = 'todo'")
    assert until(lambda: mail.taken)
    stays_one(mail)


def test_a_signature_rolled_back_sends_nothing_and_the_next_one_s_mail_leaves_within_seconds(
    mail, start_worker
):
    """Measured with a warm worker, from the signature to the last byte taken."""
    mail.open()
    start_worker()
    case = letters.sore_ear()
    with transaction.atomic():
        case.sign(now=timezone.now())
        transaction.set_rollback(True)
    time.sleep(1.5)
    assert not Message.objects.exists()
    assert not Record.objects.get(pk=case.record.pk).is_signed
    assert not mail.taken
    began = time.monotonic()
    sign(letters.Case(case.people, case.patient, Visit.objects.get(pk=case.visit.pk)))
    assert until(lambda: mail.taken)
    took = mail.taken[0][0] - began
    warnings.warn(f"from signing to the mail: {took:.2f} s", stacklevel=1)
    assert took < SECONDS_TO_MAIL
    stays_one(mail)
    assert b"application/pdf" in mail.taken[0][1].content
