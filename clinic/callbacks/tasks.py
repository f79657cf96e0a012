"""Every night, what is due is reckoned anew: a short chain of short jobs. The day's messages; printing."""

import logging
from datetime import date

from django.db import transaction
from django.utils import timezone
from procrastinate import RetryStrategy
from procrastinate.contrib.django import app
from procrastinate.exceptions import AlreadyEnqueued

from clinic.callbacks.helped_queries import count_lately
from clinic.callbacks.holding_out import note_unreachable
from clinic.callbacks.post_models import PostRun
from clinic.callbacks.posting import TASK as PRINT
from clinic.callbacks.refreshing import forget_gone, refresh_batch, refresh_patient
from clinic.callbacks.reminding import plan_batch
from clinic.callbacks.soon import QUEUE, TASK
from clinic.callbacks.totals import fold, much_is_noted, tally
from clinic.letters.tasks import RETRIES
from clinic.letters.tasks_queue import QUEUE as LETTERS
from clinic.platform.files import keep

logger = logging.getLogger(__name__)
FOLDED_EVERY = 5  # minutes


class NotReckoned(Exception):
    """Some patients' call-backs stayed as they were; the job ends as failed, so that somebody looks."""


@app.periodic(cron="7 1,5 * * *")
@app.task(queue="default", queueing_lock="refresh_call_backs")
def refresh_call_backs(timestamp: int) -> None:
    """Twice a night: a machine that was off, or a chain that broke, is caught up with before the morning."""
    forget_gone()
    _go_on(0, timezone.localdate())


@app.task(queue="default")
def refresh_call_backs_after(after: int, day: str) -> None:
    """One batch, then the next one. A chain that lasted into another day ends: that day has its own."""
    now = timezone.now()
    today = timezone.localdate(now)
    if day != today.isoformat():
        return
    batch = refresh_batch(after=after, today=today, now=now)
    if batch.last is not None:
        _go_on(batch.last, today)
    for patient_id, error in batch.failed:
        logger.error("call-backs of patient %s stay as they were", patient_id, exc_info=error)
    if batch.failed:
        raise NotReckoned(f"{len(batch.failed)} of this batch: see the log.")


def _go_on(after: int, today: date) -> None:
    """The same batch waits only once: a second chain of the day joins the first."""
    lock = f"refresh_call_backs:{today.isoformat()}:{after}"
    try:
        with transaction.atomic():
            refresh_call_backs_after.configure(queueing_lock=lock).defer(after=after, day=today.isoformat())
    except AlreadyEnqueued:
        logger.info("%s waits already", lock)


@app.task(name=TASK, queue=QUEUE, retry=RetryStrategy(max_attempts=5, exponential_wait=4))
def refresh_call_backs_of(patient_id: int) -> None:
    """One patient whose record has changed. Safe to repeat."""
    now = timezone.now()
    refresh_patient(patient_id=patient_id, today=timezone.localdate(now), now=now)


@app.periodic(cron="23 3,6-19 * * *")
@app.task(queue="default", queueing_lock="plan_reminders")
def plan_reminders(timestamp: int) -> None:
    """The day's messages; again through the day, because a machine may have been off in the night."""
    _plan_on(0, timezone.localdate())


@app.task(queue="default")
def plan_reminders_after(after: int, day: str) -> None:
    """One batch of households, then the next one."""
    now = timezone.now()
    today = timezone.localdate(now)
    if day != today.isoformat():
        return
    batch = plan_batch(after=after, today=today, now=now)
    if batch.last is not None:
        _plan_on(batch.last, today)


def _plan_on(after: int, today: date) -> None:
    lock = f"plan_reminders:{today.isoformat()}:{after}"
    try:
        with transaction.atomic():
            plan_reminders_after.configure(queueing_lock=lock).defer(after=after, day=today.isoformat())
    except AlreadyEnqueued:
        logger.info("%s waits already", lock)


@app.periodic(cron="* * * * *")
@app.task(queue="default", queueing_lock="fold_due_totals")
def fold_due_totals(timestamp: int) -> None:
    """The due list's totals: every five minutes, where much was touched within one; after midnight anew."""
    now = timezone.now()
    if now.minute % FOLDED_EVERY == 0 or much_is_noted():
        fold(now=now)


@app.periodic(cron="40 5 * * *")
@app.task(queue="default", queueing_lock="tally_overdue")
def tally_overdue(timestamp: int) -> None:
    """What is overdue this morning, for the comparison a month later; what became of those asked lately; whom
    nobody could ask."""
    now = timezone.now()
    tally(now=now)
    count_lately(now=now)
    note_unreachable(today=timezone.localdate(now), now=now)


@app.task(name=PRINT, queue=LETTERS, retry=RETRIES)
def print_post(run_id: int) -> None:
    """Render once and keep the bytes. Safe to repeat."""
    from clinic.letters.pdf import render_html

    run = PostRun.objects.get(pk=run_id)
    if run.sha256:
        return
    rendered = render_html(run.content, paper=run.paper)
    name = keep(rendered.content, ".pdf")
    sha = name.split("/")[1].removesuffix(".pdf")
    PostRun.objects.filter(pk=run.pk, sha256="").update(sha256=sha, pages=rendered.pages)
