"""One message over SMTP, through Django's e-mail API."""

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.utils import timezone

from clinic.letters.document import Document
from clinic.letters.models import Letter
from clinic.letters.sheet import mail_closing
from clinic.letters.wording import long_day, words
from clinic.mail.html import html_of
from clinic.mail.models import Message
from clinic.mail.service import headers_for
from clinic.owner_page.actions import address_of
from clinic.owner_page.models import OwnerLink
from clinic.owner_page.queries import documents_of
from clinic.owner_page.texts import texts
from clinic.platform.files import read
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.platform.registries import calendar_parts
from clinic.visits import calendars

PURPOSE = "Tailward-Purpose"
CALENDAR = "next visit.ics"


def letter_file_name(letter: Letter) -> str:
    """The PDF's name, in plain letters: Pomfret 2026-03-11.pdf."""
    name = "".join(c for c in letter.patient.name if c.isalnum() or c in " -") or "patient"
    version = f"-{letter.version}" if letter.version > 1 else ""
    return f"{name} {letter.at:%Y-%m-%d}{version}.pdf"


def as_email(message: Message, link: OwnerLink | None = None) -> EmailMultiAlternatives:
    """What leaves: text and HTML of the same words, the letter's PDF or the owner's link to it.

    The same Message-ID at every attempt, so that doubles are seen. A letter carries no List-Unsubscribe: no
    list sent it.
    """
    clinic = clinic_details()
    domain = settings.DEFAULT_FROM_EMAIL.rsplit("@", 1)[-1].rstrip(">")
    headers = {"Message-ID": f"<{message.pk}@{domain}>", PURPOSE: message.purpose}
    if message.purpose != Message.Purpose.CONDOLENCE:  # that one a person wrote and sent: RFC 3834
        headers["Auto-Submitted"] = "auto-generated"
    headers |= message.headers
    headers |= headers_for(settings.MAIL_SERVICE, message.pk)
    address = address_of(link) if link else ""
    dates = _dates(message)
    carries_pdf = message.letter is not None and not (
        address and clinic.letters_carry == ClinicDetails.LettersCarry.LINK
    )
    text = _text(message, link, address, carries_pdf=carries_pdf, carries_dates=dates is not None)
    email = EmailMultiAlternatives(
        subject=message.subject,
        body=text,
        from_email=f'"{clinic.name}" <{settings.DEFAULT_FROM_EMAIL}>',
        to=[message.to_address],
        reply_to=[clinic.email],
        headers=headers,
    )
    html = message.html or html_of(text, language=_language(message), title=message.subject)
    email.attach_alternative(html, "text/html")
    if message.letter and carries_pdf:
        sha = message.letter.file.sha256
        email.attach(letter_file_name(message.letter), read(f"{sha[:2]}/{sha}.pdf"), "application/pdf")
    if dates:
        email.attach(CALENDAR, dates, "text/calendar")
    if message.calendar:
        email.attach(CALENDAR, message.calendar, "text/calendar")
    return email


def send_now(message: Message, link: OwnerLink | None = None) -> None:
    """Raises smtplib's errors and OSError."""
    as_email(message, link).send(fail_silently=False)


def _dates(message: Message) -> bytes | None:
    """The owner's calendar, with what is in it already brought up; a colleague does not come along."""
    record = message.letter.record if message.letter and message.owner_id else None
    if record is None or message.letter is None:
        return None
    now, patient = timezone.now(), message.letter.patient
    kept = [entry for part in calendar_parts for entry in part.entries(patient, now=now)]
    return calendars.of_record(record, kept)


def _language(message: Message) -> str:
    if message.language:
        return message.language
    return message.letter.language if message.letter else message.owner.language if message.owner else "en"


def _document(message: Message) -> Document:
    """Its letter, in the mail's language where it is kept in that."""
    assert message.letter is not None
    kept = documents_of(message.letter)
    return kept.get(_language(message), kept[message.letter.language])


def _text(
    message: Message, link: OwnerLink | None, address: str, *, carries_pdf: bool, carries_dates: bool
) -> str:
    """The message's own text; of a letter also what comes with it, then the clinic. A condolence is its
    clinician's text and nothing else."""
    letter = message.letter
    if letter is None or message.purpose == Message.Purpose.CONDOLENCE:
        return message.body
    says, lines = texts(_language(message)).mail, [""]
    if carries_pdf:
        lines.append(says["attached"])
    if carries_dates:
        lines.append(says["calendar"])
    if link and address:
        until = long_day(timezone.localdate(link.expires_at), words(_language(message)))
        lines += ["", says["page" if carries_pdf else "page_only"], address, says["until"].format(day=until)]
    return message.body.rstrip("\n") + "\n".join(["", *lines, "", mail_closing(_document(message))])
