"""The mailbox to which mails come back, read over IMAP (RFC 3501): reports are noted, all else stays."""

import imaplib
import ssl
from datetime import datetime
from typing import Any
from urllib.parse import unquote, urlsplit

from clinic.mail.bounces import note_report
from clinic.mail.reports import report_of

TIMEOUT = 30  # s


def read_bounces(url: str, *, now: datetime) -> int:
    """Note what came back since; returns how many of our mails did. Raises OSError, imaplib.IMAP4.error.

    A report is marked as read only when it was noted: what breaks off is read again, and noting twice changes
    nothing. Mails of people stay unread.
    """
    where = urlsplit(url)
    assert where.hostname
    box: imaplib.IMAP4
    if where.scheme == "imaps":
        box = imaplib.IMAP4_SSL(
            where.hostname,
            where.port or 993,
            ssl_context=ssl.create_default_context(),  # without one it believes any certificate
            timeout=TIMEOUT,
        )
    else:
        box = imaplib.IMAP4(where.hostname, where.port or 143, timeout=TIMEOUT)
    with box:
        box.login(unquote(where.username or ""), unquote(where.password or ""))
        _checked(box.select(unquote(where.path.strip("/")) or "INBOX"))
        noted = 0
        for number in _checked(box.uid("SEARCH", "UNSEEN"))[0].split():
            fetched = _checked(box.uid("FETCH", number.decode(), "(BODY.PEEK[])"))
            raw: bytes = next((each[1] for each in fetched if isinstance(each, tuple)), b"")
            report = report_of(raw)
            if report is None:
                continue
            noted += note_report(report, now=now)
            box.uid("STORE", number.decode(), "+FLAGS", r"(\Seen)")
    return noted


def _checked(answer: tuple[str, Any]) -> list[Any]:
    status, data = answer
    if status != "OK":
        raise imaplib.IMAP4.error(data)
    return [each for each in data if each is not None]
