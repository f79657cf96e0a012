"""5,000 reminders handed to a local mail server by two workers: `script/bench benchmarks/sending.py`.

Prints seconds beside the floor: the same mails handed to the same server by two processes that do nothing
else, a connection each. None may arrive twice. On a database of its own that ends with it.
"""

import asyncio
import os
import re
import signal
import smtplib
import socket
import subprocess
import sys
import time
from collections import Counter
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.frame import own_database

MESSAGES = int(os.environ.get("BENCH_MESSAGES", "5000"))
WORKERS, WAIT_S = 2, 1800
ROOT = Path(__file__).resolve().parents[1]
ID = re.compile(rb"^Message-ID:\s*(\S+)", re.I | re.M)


def peer(port: int, told: Path) -> None:
    """A server that takes everything, and writes the identity of each mail as a line."""
    from aiosmtpd.controller import Controller

    lines = told.open("ab", buffering=0)

    class Takes:
        async def handle_DATA(self, server, session, envelope):  # type: ignore[no-untyped-def]
            found = ID.search(envelope.content)
            lines.write((found[1] if found else b"?") + b"\n")
            return "250 OK"

    Controller(Takes(), hostname="127.0.0.1", port=port).start()
    asyncio.new_event_loop().run_forever()


def hand_over(port: int, file: Path, number: int) -> None:
    """As many mails of these bytes, a connection each, as a worker does it."""
    content = file.read_bytes()
    for _ in range(number):
        with smtplib.SMTP("127.0.0.1", port) as server:
            server.sendmail("desk@quillwater.example", ["h@example.com"], content)


def me(*arguments: object) -> "subprocess.Popen[bytes]":
    return subprocess.Popen([sys.executable, __file__, *map(str, arguments)], cwd=ROOT)


def listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def until(condition, within: float) -> bool:  # type: ignore[no-untyped-def]
    end = time.monotonic() + within
    while time.monotonic() < end:
        if condition():
            return True
        time.sleep(0.2)
    return False


def lay(number: int) -> None:
    """So many households, each with something due today, and their messages queued for now."""
    from django.utils import timezone

    from benchmarks.reminders import fill
    from clinic.callbacks.reminding import plan_batch
    from clinic.models import CallBack

    today = timezone.localdate()
    fill(number, today)
    CallBack.objects.update(due_on=today + timedelta(days=300))
    CallBack.objects.filter(key="k0").update(due_on=today)
    after, asked = 0, 0
    while True:
        now = timezone.now()
        batch = plan_batch(after=after, today=today, now=now)
        asked += batch.asked
        if batch.last is None:
            break
        after = batch.last
    assert asked == number, asked


def floor(port: int, told: Path, sample: bytes) -> float:
    file = told.with_suffix(".eml")
    file.write_bytes(sample)
    began = time.perf_counter()
    hands = [me("hand", port, file, MESSAGES // WORKERS) for _ in range(WORKERS)]
    for each in hands:
        each.wait()
    return time.perf_counter() - began


def main() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    running: list[subprocess.Popen[bytes]] = []
    with own_database(EMAIL_URL=f"smtp://127.0.0.1:{port}") as cluster:
        try:
            return measure(port, cluster.folder / "taken", running)
        finally:  # before their database ends
            for each in running:
                each.send_signal(signal.SIGTERM)
            for each in running:
                each.wait(40)


def measure(port: int, told: Path, running: "list[subprocess.Popen[bytes]]") -> int:
    """`running`: what is started here, for the caller to end."""
    from django.core.management import call_command

    from clinic.mail.transport import as_email
    from clinic.models import Message

    call_command("createcachetable", verbosity=0)
    lay(MESSAGES)
    Message.objects.update(next_try_at=None)
    _due_now()
    running.append(me("peer", port, told))
    assert until(lambda: listens(port), 20), "the mail server did not begin"
    first = Message.objects.select_related("owner").first()
    assert first is not None
    at_floor = floor(port, told, as_email(first).message().as_bytes(linesep="\r\n"))
    told.write_bytes(b"")
    began = time.perf_counter()
    running += [subprocess.Popen([sys.executable, "manage.py", "worker"], cwd=ROOT) for _ in range(WORKERS)]
    assert until(lambda: Message.objects.filter(state="sent").exists(), 120), "no worker began"
    start = time.perf_counter()
    before = Message.objects.filter(state="sent").count()
    done = until(lambda: not Message.objects.filter(state__in=["waiting", "sending"]).exists(), WAIT_S)
    seconds = time.perf_counter() - start
    taken = Counter(told.read_bytes().split())
    states = Counter(Message.objects.values_list("state", flat=True))
    print(
        f"{MESSAGES} messages, {WORKERS} workers: {dict(states)} in {seconds:.1f} s, "
        f"{MESSAGES / seconds:.0f}/s"
    )
    twice = sum(n > 1 for n in taken.values())
    print(f"({start - began:.1f} s until the first {before} had left); taken twice: {twice}")
    print(f"the floor, two processes that only hand over: {at_floor:.1f} s, {MESSAGES / at_floor:.0f}/s")
    right = done and states == {"sent": MESSAGES} and len(taken) == MESSAGES and set(taken.values()) == {1}
    return 0 if right else 1


def _due_now() -> None:
    """The jobs were queued for the sending hour."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE procrastinate_jobs SET scheduled_at = NULL WHERE task_name LIKE '%%send_message'"
        )


if __name__ == "__main__":
    if sys.argv[1:2] == ["peer"]:
        peer(int(sys.argv[2]), Path(sys.argv[3]))
    elif sys.argv[1:2] == ["hand"]:
        hand_over(int(sys.argv[2]), Path(sys.argv[3]), int(sys.argv[4]))
    else:
        raise SystemExit(main())
