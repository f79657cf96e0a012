"""Reading the local outbox: mails that were kept as files because no mail server is named."""

import email
import email.policy
import re
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from itertools import islice
from pathlib import Path

from django.conf import settings
from django.http import Http404

from clinic.mail.transport import PURPOSE
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.outbox import outbox_folder

NAME = re.compile(r"\d{8}T\d{12}-[0-9a-f]{8}\.eml")
SHOWN = 100
TO_OWNERS = frozenset({"medical", "service", "marketing"})


@dataclass(frozen=True)
class Kept:
    """One mail as kept: headers, text, names of what is attached."""

    name: str
    at: str
    to: str
    subject: str
    body: str
    attached: tuple[str, ...]


def is_local() -> bool:
    """Whether mails are kept here instead of being sent."""
    return bool(settings.EMAIL_BACKEND == "clinic.platform.outbox.OutboxBackend")


def kept_mails(actor: Actor) -> tuple[Kept, ...]:
    """Newest first, a hundred at most, those the actor may see. 404 where a mail server is named."""
    if not is_local():
        raise Http404
    files = sorted(outbox_folder().glob("*.eml"), reverse=True)
    seen = ((path, message) for path in files if _may_see(actor, message := _parsed(path)))
    return tuple(_kept(path, message) for path, message in islice(seen, SHOWN))


def _may_see(actor: Actor, message: EmailMessage) -> bool:
    """Mail to owners: everybody. A link that signs somebody in is read by whoever manages the staff; what
    bears no purpose (a new password, asked for at the door) may hold one.
    """
    return str(message[PURPOSE]) in TO_OWNERS or actor.may(Right.MANAGE_STAFF)


def _parsed(path: Path) -> EmailMessage:
    message = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
    assert isinstance(message, EmailMessage)
    return message


def _kept(path: Path, message: EmailMessage) -> Kept:
    body = message.get_body(("plain",))
    return Kept(
        name=path.name,
        at=datetime.strptime(path.name[:15], "%Y%m%dT%H%M%S").strftime("%-d %b, %H:%M:%S"),  # noqa: DTZ007
        to=str(message["To"]),
        subject=str(message["Subject"]),
        body=body.get_content() if body else "",
        attached=tuple(part.get_filename() or "" for part in message.iter_attachments()),
    )


def attachment(actor: Actor, name: str, number: int) -> tuple[str, bytes]:
    """One attached file's name and bytes. 404 for anything that is not there, or not for the actor."""
    path = outbox_folder() / name
    if not is_local() or not NAME.fullmatch(name) or not path.is_file():
        raise Http404
    message = _parsed(path)
    parts = list(message.iter_attachments())
    if number >= len(parts) or not _may_see(actor, message):
        raise Http404
    content = parts[number].get_payload(decode=True)
    assert isinstance(content, bytes)
    return parts[number].get_filename() or "file", content
