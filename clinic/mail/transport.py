"""One message over SMTP, through Django's e-mail API."""

from django.conf import settings
from django.core.mail import EmailMessage

from clinic.letters.models import Letter
from clinic.mail.models import Message
from clinic.platform.files import read
from clinic.platform.queries import clinic_details
from clinic.visits import calendars

PURPOSE = "Tailward-Purpose"
CALENDAR = "next visit.ics"


def letter_file_name(letter: Letter) -> str:
    """The PDF's name, in plain letters: Pomfret 2026-03-11.pdf."""
    name = "".join(c for c in letter.patient.name if c.isalnum() or c in " -") or "patient"
    version = f"-{letter.version}" if letter.version > 1 else ""
    return f"{name} {letter.at:%Y-%m-%d}{version}.pdf"


def as_email(message: Message) -> EmailMessage:
    """What leaves: text body, the letter's PDF; the same Message-ID at every attempt, so doubles are seen."""
    clinic = clinic_details()
    domain = settings.DEFAULT_FROM_EMAIL.rsplit("@", 1)[-1].rstrip(">")
    headers = {"Message-ID": f"<{message.pk}@{domain}>", PURPOSE: message.purpose}
    if message.purpose != Message.Purpose.CONDOLENCE:  # that one a person wrote and sent: RFC 3834
        headers["Auto-Submitted"] = "auto-generated"
    email = EmailMessage(
        subject=message.subject,
        body=message.body,
        from_email=f'"{clinic.name}" <{settings.DEFAULT_FROM_EMAIL}>',
        to=[message.to_address],
        reply_to=[clinic.email],
        headers=headers,
    )
    if message.letter:
        sha = message.letter.file.sha256
        email.attach(letter_file_name(message.letter), read(f"{sha[:2]}/{sha}.pdf"), "application/pdf")
        record = message.letter.record
        dates = calendars.of_record(record) if record else None
        if dates:
            email.attach(CALENDAR, dates, "text/calendar")
    if message.calendar:
        email.attach(CALENDAR, message.calendar, "text/calendar")
    return email


def send_now(message: Message) -> None:
    """Raises smtplib's errors and OSError."""
    as_email(message).send(fail_silently=False)
