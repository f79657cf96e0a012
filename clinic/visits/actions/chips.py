"""A microchip read at a visit: whose it is, kept with the record."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.patients import microchip as chips
from clinic.patients.models import Microchip
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending, hold_open
from clinic.visits.errors import NeedsWords
from clinic.visits.models import ChipScan, Record


@transaction.atomic
def scan_chip(
    *,
    record: Record,
    number: str,
    none_found: bool = False,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> ChipScan:
    """What the scanner read, or that it read nothing. Nothing of the patient is changed by it.

    Raises NeedsWords (no number, or one that no chip can have), NotOpen, SentBefore.
    """
    actor.require(Right.MEASURE)
    first_sending(once, actor=actor, now=now)
    held = hold_open(record)
    if none_found:
        return ChipScan.objects.create(
            record=held, number="", answer=ChipScan.Answer.NONE, by=actor.staff, at=now
        )
    if not number.strip():
        raise NeedsWords("number", "Scan the chip, or say that none was found.")
    verdict = chips.check(number)
    if not verdict.accepted:
        raise NeedsWords("number", f"“{number.strip()[:40]}”: {verdict.reason}")
    carrier = Microchip.objects.filter(number=verdict.normalised).values_list("patient_id", flat=True).first()
    answers = ChipScan.Answer
    answer = answers.NEW if carrier is None else answers.OTHER
    if carrier == held.visit.patient_id:
        answer = answers.MATCHES
    return ChipScan.objects.create(
        record=held, number=verdict.normalised, answer=answer, by=actor.staff, at=now
    )
