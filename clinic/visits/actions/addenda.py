"""What is added after signing."""

from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.letters.actions import next_version
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending, words
from clinic.visits.errors import NeedsWords, NotSignedYet
from clinic.visits.models import Addendum, Record


@transaction.atomic
def add_addendum(
    *,
    record: Record,
    text: str,
    corrects: str = "",
    happened_at: datetime | None = None,
    for_owner: bool = False,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Addendum:
    """Append to a signed record. `for_owner` makes the letter's next version, in the same transaction.

    Raises NotSignedYet, NeedsWords, SentBefore; NotAllowed for a colleague's record without that right.
    """
    actor.require(amend_right(record, actor))
    first_sending(once, actor=actor, now=now)
    if not record.is_signed:
        raise NotSignedYet
    if happened_at and happened_at > now:
        raise NeedsWords("happened_at", "This lies in the future.")
    addendum = Addendum.objects.create(
        record=record,
        text=words(text, field="text", sentence="Say what is to be added."),
        corrects=corrects.strip(),
        for_owner=for_owner,
        by=actor.staff,
        happened_at=happened_at or now,
        entered_at=now,
    )
    if for_owner:
        why = f"It corrects: {addendum.corrects}." if addendum.corrects else "Something was added."
        next_version(record=record, why=why, actor=actor, now=now)
    return addendum


def amend_right(record: Record, actor: Actor) -> Right:
    """Which right an addendum of this person to this record needs."""
    visit = record.visit
    own = {record.signed_by_id, visit.clinician_id, visit.technician_id}
    return Right.AMEND_OWN if actor.staff.pk in own else Right.AMEND_ANY
