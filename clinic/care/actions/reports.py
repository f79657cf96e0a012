"""The laboratory's own report beside a test: kept as it came, struck out when it was the wrong one."""

from datetime import datetime
from pathlib import PurePath
from uuid import UUID

from django.db import transaction

from clinic.care.actions.common import said
from clinic.care.errors import NotAReport
from clinic.care.models import ResultFile, Test
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.papers import NotAPaper, paper
from clinic.visits.actions.common import first_sending


@transaction.atomic
def add_report(*, actor: Actor, now: datetime, test: Test, content: bytes, name: str) -> ResultFile:
    """A PDF, byte for byte, or a picture, written anew without what its camera added. The same file once.

    Raises NotAReport.
    """
    actor.require(Right.OBSERVE)
    try:
        sent = paper(content)
    except NotAPaper as error:
        raise NotAReport(f"{error} A report is a PDF or a picture.") from error
    stored = sent.keep()
    made, _ = ResultFile.objects.get_or_create(
        test=test,
        sha256=PurePath(stored).stem,
        struck_at=None,
        defaults={
            "suffix": sent.suffix,
            "name": _name(name, sent.suffix),
            "size": len(sent.content),
            "by": actor.staff,
            "at": now,
        },
    )
    return made


@transaction.atomic
def strike_report(
    *, actor: Actor, now: datetime, report: ResultFile, reason: str, once: UUID | None = None
) -> bool:
    """Out of sight with a reason; the file stays in the record. False when it was struck out already.

    Raises TextMissing, SentBefore.
    """
    actor.require(Right.STRIKE_OWN if report.by_id == actor.staff.pk else Right.STRIKE_ANY)
    reason = said(reason, field="reason", sentence="Say why it is struck out.")
    first_sending(once, actor=actor, now=now)
    standing = ResultFile.objects.filter(pk=report.pk, struck_at=None)
    return standing.update(struck_at=now, struck_by=actor.staff, struck_reason=reason) == 1


def _name(name: str, suffix: str) -> str:
    """As it was called, without folders and without what a heading could be broken with."""
    plain = "".join(each for each in PurePath(name.replace("\\", "/")).name if each.isprintable())
    stem = PurePath(plain).stem[:140] or "report"
    return f"{stem}{suffix}"
