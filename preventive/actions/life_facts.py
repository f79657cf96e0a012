"""What the schedule goes by besides the record: noted, noted anew, taken back."""

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from preventive.actions.common import open_record
from preventive.actions.dues import refresh_call_backs
from preventive.errors import Incomplete
from preventive.facts import Species
from preventive.knowing import birth_of
from preventive.life_facts import checked
from preventive.models import LifeFact
from preventive.queries import mine
from preventive.versions import protocol_in_force


@transaction.atomic
def note_life_facts(
    *, actor: Actor, now: datetime, patient: Patient, told: Mapping[str, str], once: UUID | None = None
) -> None:
    """`told`: by code what was typed; empty takes back what stands. What is as it was stays untouched.

    Raises Incomplete, PatientDied, SentBefore.
    """
    actor.require(Right.TAKE_HISTORY)
    first_sending(once, actor=actor, now=now)
    open_record(patient, None)
    Patient.objects.select_for_update(no_key=True).get(pk=patient.pk)
    today = timezone.localdate(now)
    standing = LifeFact.objects.filter(mine(patient), struck_at=None)
    before = dict(standing.order_by("entered_at", "pk").values_list("code", "value"))
    birth, rules, species = birth_of(patient), protocol_in_force().rules, Species(patient.species)
    for code, typed in told.items():
        value = typed.strip()
        if value:
            try:
                value = checked(
                    code,
                    value,
                    rules=rules,
                    species=species,
                    born_on=birth.oldest if birth else None,
                    on=today,
                )
            except ValueError as error:
                raise Incomplete(code, str(error)) from error
        if value == before.get(code, ""):
            continue
        standing.filter(code=code).update(
            struck_at=now, struck_by=actor.staff, struck_reason="Noted anew." if value else "Taken back."
        )
        if value:
            LifeFact.objects.create(
                patient=patient, code=code, value=value, entered_by=actor.staff, entered_at=now
            )
    refresh_call_backs(patient=patient, today=today, now=now)
