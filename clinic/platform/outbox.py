"""The local outbox: when no mail server is named, each mail is kept as a file instead of being sent."""

import os
import uuid
from collections.abc import Sequence
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.utils import timezone


def outbox_folder() -> Path:
    """Folder of the kept mails, `<time>-<random>.eml`: their names sort by time (UTC)."""
    return Path(settings.OUTBOX_DIR)


class OutboxBackend(BaseEmailBackend):
    """Writes each mail, whole, to the outbox's folder."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Number of mails kept. Raises OSError when the folder cannot be written, as a dead server would."""
        folder = outbox_folder()
        folder.mkdir(parents=True, exist_ok=True)
        for message in email_messages:
            name = f"{timezone.now():%Y%m%dT%H%M%S%f}-{uuid.uuid4().hex[:8]}.eml"
            part = folder / (name + ".part")
            handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "wb") as stream:
                stream.write(message.message().as_bytes())
            part.rename(folder / name)
        return len(email_messages)
