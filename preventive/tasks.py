"""In a worker: dues every night and after a change of the protocol, trials of one, certificates' PDFs."""

import logging
from datetime import date, datetime

from django.utils import timezone
from procrastinate import RetryStrategy
from procrastinate.contrib.django import app

from clinic.platform.files import keep
from preventive.actions.dues import refresh_many, refresh_stale
from preventive.actions.trying import go_on
from preventive.call_backs import stale
from preventive.certificate_sheet import certificate_html
from preventive.models import Certificate, CertificateFile
from preventive.tasks_queue import CERTIFICATE_TASK, LETTERS, QUEUE, TASK, TRIAL_TASK, queue_all_dues
from preventive.versions import protocol_in_force

logger = logging.getLogger(__name__)
AT_ONCE = 200  # a second or two of work
RETRIES = RetryStrategy(max_attempts=5, exponential_wait=4)


class NotReckoned(Exception):
    """Some patients' dues stayed as they were; the job ends as failed, so that somebody looks."""


@app.task(name=TASK, queue=QUEUE, retry=RETRIES)
def refresh_dues(after: int = 0) -> None:
    """Some hundred patients whose answer no longer holds, then a job for the next. Safe to repeat.

    It goes on where it was left, because a patient that was reckoned does not wait any more; two of these
    chains share the work.
    """
    now = timezone.now()
    today = timezone.localdate(now)
    try:
        done = refresh_stale(today=today, now=now, after=after, size=AT_ONCE)
        broken: list[int] = []
    except Exception:  # noqa: BLE001 - one record of the batch: it is named, and the others do not wait
        done, broken = _one_by_one(after, today, now)
    if len(done) == AT_ONCE:
        queue_all_dues(after=done[-1])
    if broken:
        raise NotReckoned(f"{len(broken)} of this batch, see the log: {broken}")


def _one_by_one(after: int, today: date, now: datetime) -> tuple[list[int], list[int]]:
    waiting = stale(protocol_in_force(), today=today).filter(pk__gt=after)
    ids, broken = list(waiting.values_list("pk", flat=True)[:AT_ONCE]), []
    for patient_id in ids:
        try:
            refresh_many(ids=[patient_id], today=today, now=now)
        except Exception:
            logger.exception("the dues of patient %s stay as they were", patient_id)
            broken.append(patient_id)
    return ids, broken


@app.periodic(cron="41 2,4 * * *")
@app.task(queue=QUEUE, queueing_lock="refresh_dues_nightly")
def refresh_dues_nightly(timestamp: int) -> None:
    """What changes by the day alone: birthdays, ends of pauses, answers that no longer hold."""
    queue_all_dues()


@app.task(name=TRIAL_TASK, queue=QUEUE, retry=RETRIES)
def try_proposal(trial_id: int, last: int) -> None:
    """Some hundred animals more, then a job for the next. Safe to repeat."""
    go_on(trial_id=trial_id, last=last, now=timezone.now())


@app.task(name=CERTIFICATE_TASK, queue=LETTERS, retry=RETRIES)
def render_certificate(certificate_id: int) -> None:
    """Render once and keep the bytes. Safe to repeat."""
    from clinic.letters.pdf import render_html

    certificate = Certificate.objects.select_related("replaces", "protocol").get(pk=certificate_id)
    if hasattr(certificate, "file"):
        return
    made = render_html(certificate_html(certificate), paper=certificate.paper)
    name = keep(made.content, ".pdf")
    CertificateFile.objects.get_or_create(
        certificate=certificate,
        defaults={
            "sha256": name.rpartition("/")[2].removesuffix(".pdf"),
            "size": len(made.content),
            "pages": made.pages,
            "rendered_at": timezone.now(),
        },
    )
