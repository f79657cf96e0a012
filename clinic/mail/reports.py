"""What a mail server writes back when it could not deliver: a delivery status notification (RFC 3464).

Pure.
"""

from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import Message
from typing import Any
from uuid import UUID

LASTING = "5"  # the class of a status that stays (RFC 3463)


@dataclass(frozen=True)
class Report:
    """Our message came back. `lasting`: the address does not work; else it was tried in vain for long."""

    message_id: UUID
    lasting: bool
    why: str


def report_of(raw: bytes) -> Report | None:
    """None for any other mail, for "delayed" and "delivered", and for what names no message of ours."""
    mail = message_from_bytes(raw, policy=policy.default)
    if mail.get_content_type() != "multipart/report":
        return None
    failed, ours = None, None
    for part in mail.walk():
        kind = part.get_content_type()
        if kind == "message/delivery-status":
            failed = failed or _failed(part)
        elif kind == "message/rfc822":
            inner: Any = part.get_payload()
            ours = ours or number_of(inner[0].get("Message-ID", "") if isinstance(inner, list) else "")
        elif kind == "text/rfc822-headers":
            told: Any = part.get_payload(decode=True)
            headers = message_from_bytes(told or b"", policy=policy.default)
            ours = ours or number_of(headers.get("Message-ID", ""))
    if failed is None or ours is None:
        return None
    status = str(failed.get("Status", "")).strip()
    said = str(failed.get("Diagnostic-Code", "")).partition(";")[2].strip()
    return Report(ours, status.startswith(LASTING), " ".join(f"{status} {said}".split())[:280])


def _failed(part: Message) -> Message | None:
    """The fields of the first recipient whom it did not reach."""
    groups: Any = part.get_payload()
    if not isinstance(groups, list):
        return None
    return next((each for each in groups if str(each.get("Action", "")).strip().lower() == "failed"), None)


def number_of(message_id: str) -> UUID | None:
    """Of our own Message-ID, <number@domain>, or of the number alone."""
    try:
        return UUID(str(message_id).strip().strip("<>").partition("@")[0])
    except ValueError:
        return None
