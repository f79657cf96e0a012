"""The signature: everything is looked at once more with the record held, then the database closes it."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.letters.spelling import spelled, variant_of
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.platform.models import ClinicDetails
from clinic.platform.registries import Missing, sign_checks, sign_steps
from clinic.visits.actions.common import first_sending
from clinic.visits.errors import AlreadySigned, NotReady
from clinic.visits.models import Record
from clinic.visits.seal import seal


@transaction.atomic
def sign(*, record: Record, once: UUID | None = None, actor: Actor, now: datetime) -> Record:
    """Check, run every sign step, seal, and close the record: one transaction.

    The record is held FOR UPDATE from the first check to the commit. The freezing trigger takes it FOR SHARE,
    so a row that comes meanwhile waits and is then refused; a row that came before is waited for and seen.
    Raises NotReady with everything that is missing, AlreadySigned, SentBefore.
    """
    actor.require(Right.SIGN)
    first_sending(once, actor=actor, now=now)
    held = Record.objects.select_for_update(of=("self",)).select_related("visit__patient").get(pk=record.pk)
    if held.is_signed:
        raise AlreadySigned(held.signed_name)
    if missing := [each for each in missing_of(held, actor=actor) if each.blocks]:
        raise NotReady(missing)
    for step in sign_steps:
        step.run(held, actor=actor, now=now)
    held.seal = seal(held)
    held.signed_at, held.signed_by, held.signed_name = now, actor.staff, name_as_signed(actor.staff)
    held.save(update_fields=["seal", "signed_at", "signed_by", "signed_name"])
    return held


def missing_of(record: Record, *, actor: Actor) -> list[Missing]:
    """Everything that stands between the record and its signature, or is counted before it."""
    return [each for check in sign_checks for each in check.missing(record, actor=actor)]


def name_as_signed(staff: Staff) -> str:
    """Printed name, licence and where it was given, as they stand under the letter."""
    licence = " ".join(part for part in (staff.licence_number, staff.licence_place) if part)
    if not licence:
        return staff.printed_name
    country = ClinicDetails.objects.filter(pk=1).values_list("country", flat=True).first() or ""
    return f"{staff.printed_name}, {spelled('licence', variant_of(country))} {licence}"
