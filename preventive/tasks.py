"""Dues reckoned anew in a worker, every night and after a change of the protocol; certificates' PDFs."""

from django.db import transaction
from django.utils import timezone
from procrastinate import RetryStrategy
from procrastinate.contrib.django import app

from clinic.patients.models import Patient
from clinic.platform.files import keep
from preventive.actions.dues import refresh_call_backs
from preventive.certificate_sheet import certificate_html
from preventive.models import Certificate, CertificateFile
from preventive.tasks_queue import CERTIFICATE_TASK, LETTERS, QUEUE, TASK, queue_all_dues

AT_ONCE = 100
RETRIES = RetryStrategy(max_attempts=5, exponential_wait=4)


@app.task(name=TASK, queue=QUEUE, retry=RETRIES)
def refresh_dues(after: int = 0) -> None:
    """A hundred patients, then a job for the next hundred. Safe to repeat: it writes what the record says."""
    now = timezone.now()
    rows = Patient.objects.filter(pk__gt=after, merged_into=None).order_by("pk")[:AT_ONCE]
    patients = list(rows)
    for patient in patients:
        refresh_call_backs(patient=patient, today=timezone.localdate(now), now=now)
    if len(patients) == AT_ONCE:
        with transaction.atomic():
            queue_all_dues(after=patients[-1].pk)


@app.periodic(cron="41 2 * * *")
@app.task(queue=QUEUE, queueing_lock="refresh_dues_nightly")
def refresh_dues_nightly(timestamp: int) -> None:
    """What changes by the day alone: birthdays, ends of pauses, answers that no longer hold."""
    queue_all_dues()


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
