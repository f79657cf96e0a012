import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from asgiref.sync import async_to_sync
from django.core.management import call_command
from django.db import connection
from psycopg import sql

from clinic.management.commands.worker import FAREWELL
from clinic.platform import roles, tasks
from clinic.platform.embedded import read_access

ROOT = Path(__file__).resolve().parents[2]

pytestmark = [pytest.mark.faults, pytest.mark.django_db(transaction=True)]


def state_of(job_id: int) -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT status FROM procrastinate_jobs WHERE id = %s", [job_id])
        return cursor.fetchone()[0]


def until(condition, within: float = 30) -> bool:
    deadline = time.monotonic() + within
    while time.monotonic() < deadline:
        if condition():
            return True
        time.sleep(0.05)
    return False


def worker_heard_of(seconds_ago: int) -> int:
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO procrastinate_workers (last_heartbeat) VALUES (now() - make_interval(secs => %s))"
            " RETURNING id",
            [seconds_ago],
        )
        return cursor.fetchone()[0]


def taken_by(worker: int) -> int:
    job_id = tasks.forget_old_jobs.defer(timestamp=0)
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE procrastinate_jobs SET status = 'doing', worker_id = %s WHERE id = %s", [worker, job_id]
        )
    return job_id


@pytest.fixture
def start_worker(app_dsn):
    running = []

    def start(*options: str, **more: str) -> subprocess.Popen:
        # the role a real worker has: it must be able to do its work without owning a table
        running.append(
            subprocess.Popen(
                [sys.executable, "manage.py", "worker", *options],
                cwd=ROOT,
                env={**os.environ, "DATABASE_URL": app_dsn, **more},
            )
        )
        return running[-1]

    yield start
    for process in running:
        if process.poll() is None:
            process.kill()
            process.wait()


def test_a_dead_workers_job_goes_back_to_the_queue():
    job_id = taken_by(worker_heard_of(tasks.STALLED_AFTER_SECONDS + 5))
    async_to_sync(tasks.rescue_stalled_jobs.func)(timestamp=0)
    assert state_of(job_id) == "todo"


def test_a_living_workers_job_is_left_to_it():
    job_id = taken_by(worker_heard_of(5))
    async_to_sync(tasks.rescue_stalled_jobs.func)(timestamp=0)
    assert state_of(job_id) == "doing"


def test_health_says_whether_a_worker_answers():
    with pytest.raises(SystemExit):
        call_command("worker_alive")
    worker_heard_of(1)
    call_command("worker_alive")


def test_a_worker_does_what_is_queued_and_ends_in_order(start_worker):
    job_id = tasks.forget_old_jobs.defer(timestamp=0)
    process = start_worker()
    assert until(lambda: state_of(job_id) == "succeeded")
    process.send_signal(signal.SIGTERM)
    assert process.wait(timeout=20) == 0
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM procrastinate_workers")
        assert cursor.fetchone() == (0,)


def test_a_worker_of_letters_leaves_the_rest(start_worker):
    job_id = tasks.forget_old_jobs.defer(timestamp=0)
    start_worker("--queues", "letters")
    assert until(lambda: not raises_exit("worker_alive"))
    time.sleep(1)
    assert state_of(job_id) == "todo"


def test_a_worker_whose_database_went_away_does_not_wait_for_it_when_it_shall_end(start_worker, settings):
    """Each of its last statements would wait half a minute for a connection."""
    name = settings.DATABASES["default"]["NAME"]
    process = start_worker(WORKER_GRACE="1")
    assert until(lambda: not raises_exit("worker_alive"))
    access = read_access(Path(os.environ["TEST_CLUSTER"]))
    assert access is not None
    with access.superuser("postgres") as asked:
        asked.execute(sql.SQL("ALTER DATABASE {} ALLOW_CONNECTIONS false").format(sql.Identifier(name)))
        try:
            asked.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s AND usename = %s",
                [name, roles.APPLICATION],
            )
            process.send_signal(signal.SIGTERM)
            process.wait(timeout=1 + FAREWELL + 5)
        finally:
            asked.execute(sql.SQL("ALTER DATABASE {} ALLOW_CONNECTIONS true").format(sql.Identifier(name)))


def raises_exit(command: str) -> bool:
    try:
        call_command(command)
    except SystemExit:
        return True
    return False
