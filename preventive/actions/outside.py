"""Doses given elsewhere, several from one paper, and the paper itself: all of them recorded, or none."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from pathlib import PurePath
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.files import read
from clinic.platform.papers import TYPES
from clinic.visits.actions.common import first_sending
from clinic.visits.models import Visit
from preventive.actions.doses import record_outside_dose
from preventive.actions.dues import refresh_call_backs
from preventive.errors import Incomplete, RowRefused
from preventive.models import Dose, Proof, Source


@dataclass(frozen=True, kw_only=True)
class OutsideDose:
    """One line of the paper. `given_on`: any day inside what is known; `licensed_months`: the label's."""

    antigens: tuple[str, ...]
    given_on: date
    precision: str
    product_name: str = ""
    lot: str = ""
    licensed_months: int | None = None


@transaction.atomic
def record_outside_doses(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    doses: Sequence[OutsideDose],
    source: str,
    proof_words: str = "",
    stored: str = "",
    visit: Visit | None = None,
    once: UUID | None = None,
) -> list[Dose]:
    """`stored`: the paper's name among the kept files, empty where there is none.

    The owner's word is no proof, whatever paper lies beside it. Raises Incomplete, RowRefused (by the row's
    place), WrongPatient, PatientDied, SentBefore.
    """
    actor.require(Right.TAKE_HISTORY)
    first_sending(once, actor=actor, now=now)
    if not doses:
        raise Incomplete("what-0", "Which dose? Fill in a row.")
    paper = keep_proof(actor=actor, now=now, patient=patient, stored=stored) if stored else None
    proven = source == Source.OUTSIDE and bool(proof_words.strip() or paper)
    made = []
    for place, each in enumerate(doses):
        try:
            dose = record_outside_dose(
                actor=actor,
                now=now,
                patient=patient,
                source=source,
                proof=proven,
                proof_words=proof_words,
                proof_file=paper,
                visit=visit,
                refresh=False,
                **asdict(each),
            )
        except Incomplete as error:
            raise RowRefused(place, error) from error
        made.append(dose)
    refresh_call_backs(patient=patient, today=timezone.localdate(now), now=now)
    return made


def keep_proof(*, actor: Actor, now: datetime, patient: Patient, stored: str) -> Proof:
    """The row of a paper that is kept already; the same paper once a patient."""
    content, name = read(stored), PurePath(stored)
    proof, _ = Proof.objects.get_or_create(
        patient=patient,
        sha256=name.stem,
        defaults={
            "media_type": TYPES[name.suffix],
            "size": len(content),
            "by": actor.staff,
            "at": now,
        },
    )
    return proof
