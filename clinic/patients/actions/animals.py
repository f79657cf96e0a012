"""The animal itself: who it is, its chips, its death."""

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypedDict, Unpack
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.mail.actions import cancel_for_patient
from clinic.patients import microchip as chips
from clinic.patients.actions.common import first_sending
from clinic.patients.actions.searching import refresh_patients
from clinic.patients.doubles import likely_patients
from clinic.patients.errors import (
    BornAfterDeath,
    BornLater,
    ChipRefused,
    ChipTaken,
    LikelyDouble,
    NameMissing,
    WrongDeath,
)
from clinic.patients.models import Microchip, Ownership, Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right


class PatientChanges(TypedDict, total=False):
    """What of a patient may be changed; what is not named stays."""

    name: str
    species: str
    sex: str
    neutered: str
    breed: str
    birth_date: date | None
    birth_precision: str
    colour: str
    expected_adult_kg: Decimal | None
    photo_sha256: str


@transaction.atomic
def register_patient(
    *,
    actor: Actor,
    now: datetime,
    owner: Owner,
    name: str,
    species: str,
    sex: str,
    neutered: str,
    breed: str = "",
    birth_date: date | None = None,
    birth_precision: str = "",
    colour: str = "",
    microchip: str = "",
    expected_adult_kg: Decimal | None = None,
    other_owners: Iterable[Owner] = (),
    look_for_doubles: bool = False,
    once: UUID | None = None,
) -> Patient:
    """A new patient with its first owner. Raises NameMissing, BornLater, ChipRefused, ChipTaken, SentBefore.

    `look_for_doubles`: raises LikelyDouble where the owner has such an animal already.
    """
    actor.require(Right.EDIT_PEOPLE)
    first_sending(once, actor=actor, now=now)
    today = timezone.localdate(now)
    _checked(name, birth_date, today)
    found = likely_patients(owner=owner, name=name, species=species) if look_for_doubles else []
    if found:
        raise LikelyDouble(found)
    patient = Patient.objects.create(
        name=name.strip(),
        species=species,
        sex=sex,
        neutered=neutered,
        breed=breed.strip(),
        birth_date=birth_date,
        birth_precision=(birth_precision or Patient.BirthPrecision.DAY) if birth_date else "",
        colour=colour.strip(),
        expected_adult_kg=expected_adult_kg,
        made_at=now,
    )
    Ownership.objects.create(patient=patient, owner=owner, is_first=True, since=today)
    for other in other_owners:
        Ownership.objects.create(patient=patient, owner=other, since=today)
    if microchip.strip():
        add_microchip(actor=actor, now=now, patient=patient, number=microchip)
    else:
        refresh_patients([patient.pk])
    patient.refresh_from_db(fields=["search"])
    return patient


def _checked(name: str, birth: date | None, today: date) -> None:
    if not name.strip():
        raise NameMissing("name", "Give the name, or what they call it for now.")
    if birth and birth > today:
        raise BornLater(birth)


@transaction.atomic
def change_patient(
    *, actor: Actor, now: datetime, patient: Patient, **fields: Unpack[PatientChanges]
) -> Patient:
    """Change what is named in `fields`. Raises NameMissing, BornLater; BornAfterDeath."""
    actor.require(Right.EDIT_PEOPLE)
    locked = Patient.objects.select_for_update().get(pk=patient.pk)
    changes: dict[str, Any] = {**fields}
    for name, value in changes.items():
        setattr(locked, name, value.strip() if isinstance(value, str) else value)
    _checked(locked.name, locked.birth_date, timezone.localdate(now))
    if locked.birth_date and locked.deceased_on and locked.birth_date > locked.deceased_on:
        raise BornAfterDeath
    precision = locked.birth_precision or Patient.BirthPrecision.DAY
    locked.birth_precision = precision if locked.birth_date else ""
    locked.save(update_fields=[*changes, "birth_precision"])
    refresh_patients([locked.pk])
    return locked


@transaction.atomic
def add_microchip(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    number: str,
    implanted_on: date | None = None,
    place: str = "",
    once: UUID | None = None,
) -> Microchip:
    """A chip read or reported; a patient may carry several. Raises ChipRefused, ChipTaken."""
    actor.require(Right.EDIT_PEOPLE)
    first_sending(once, actor=actor, now=now)
    verdict = chips.check(number)
    if not verdict.accepted:
        raise ChipRefused(verdict.reason)
    try:
        with transaction.atomic():
            chip = Microchip.objects.create(
                patient=patient,
                number=verdict.normalised,
                kind=verdict.kind,
                implanted_on=implanted_on,
                place=place.strip(),
                entered_by=actor.staff,
                entered_at=now,
            )
    except IntegrityError:
        other = Microchip.objects.select_related("patient").filter(number=verdict.normalised).first()
        raise ChipTaken(
            chips.shown(verdict.normalised), other.patient.name if other else "another patient"
        ) from None
    refresh_patients([patient.pk])
    return chip


@transaction.atomic
def record_death(*, actor: Actor, now: datetime, patient: Patient, on: date, how: str = "died") -> Patient:
    """The animal died: what was planned ends in the same transaction, and nothing but letters goes out.

    Raises WrongDeath for a day that is not over or before the birth.
    """
    # here, not above: going home may record a death, so the two modules import each other
    from clinic.visits.actions.booking import cancel_bookings

    actor.require(Right.EDIT_PEOPLE)
    locked = Patient.objects.select_for_update().get(pk=patient.pk)
    if on > timezone.localdate(now):
        raise WrongDeath("That day has not come yet.")
    if locked.birth_date and on < locked.birth_date:
        raise WrongDeath("That is before the birth.")
    locked.deceased_on, locked.deceased_how = on, how
    locked.save(update_fields=["deceased_on", "deceased_how"])
    cancel_bookings(patient=locked, actor=actor, now=now)
    locked.call_backs.all().delete()
    cancel_for_patient(patient_id=locked.pk, why=f"{locked.name} died", now=now)
    return locked


@transaction.atomic
def leave_practice(*, actor: Actor, now: datetime, patient: Patient, on: date) -> Patient:
    """Moved away or seen elsewhere from now on: no call-backs."""
    actor.require(Right.EDIT_PEOPLE)
    locked = Patient.objects.select_for_update().get(pk=patient.pk)
    locked.left_practice_on = on
    locked.save(update_fields=["left_practice_on"])
    locked.call_backs.all().delete()
    return locked
