"""The animal itself: who it is, its chips, its death."""

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.mail.actions import cancel_for_patient
from clinic.patients import microchip as chips
from clinic.patients.errors import BornLater, ChipRefused, ChipTaken, WrongDeath
from clinic.patients.models import Microchip, Ownership, Patient
from clinic.patients.searchtext import joined
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.visits.models import NextVisit, Visit


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
) -> Patient:
    """A new patient with its first owner. Raises BornLater, ChipRefused, ChipTaken."""
    actor.require(Right.EDIT_PEOPLE)
    today = timezone.localdate(now)
    _born_by(birth_date, today)
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
        search=joined((name, breed)),
        made_at=now,
    )
    Ownership.objects.create(patient=patient, owner=owner, is_first=True, since=today)
    for other in other_owners:
        Ownership.objects.create(patient=patient, owner=other, since=today)
    if microchip.strip():
        add_microchip(actor=actor, now=now, patient=patient, number=microchip)
    return patient


def _born_by(birth: date | None, today: date) -> None:
    if birth and birth > today:
        raise BornLater(birth)


@transaction.atomic
def change_patient(*, actor: Actor, now: datetime, patient: Patient, **fields: Any) -> Patient:
    """Change what is named in `fields`. Raises BornLater."""
    actor.require(Right.EDIT_PEOPLE)
    locked = Patient.objects.select_for_update().get(pk=patient.pk)
    for name, value in fields.items():
        setattr(locked, name, value.strip() if isinstance(value, str) else value)
    _born_by(locked.birth_date, timezone.localdate(now))
    if not locked.birth_date:
        locked.birth_precision = ""
    locked.search = joined((locked.name, locked.breed))
    locked.save()
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
) -> Microchip:
    """A chip read or reported; a patient may carry several. Raises ChipRefused, ChipTaken."""
    actor.require(Right.EDIT_PEOPLE)
    verdict = chips.check(number)
    if not verdict.accepted:
        raise ChipRefused(verdict.reason)
    try:
        with transaction.atomic():
            return Microchip.objects.create(
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


@transaction.atomic
def record_death(*, actor: Actor, now: datetime, patient: Patient, on: date, how: str = "died") -> Patient:
    """The animal died: what was planned ends in the same transaction, and nothing but letters goes out.

    Raises WrongDeath for a day that is not over or before the birth.
    """
    actor.require(Right.EDIT_PEOPLE)
    locked = Patient.objects.select_for_update().get(pk=patient.pk)
    if on > timezone.localdate(now):
        raise WrongDeath("That day has not come yet.")
    if locked.birth_date and on < locked.birth_date:
        raise WrongDeath("That is before the birth.")
    locked.deceased_on, locked.deceased_how = on, how
    locked.save(update_fields=["deceased_on", "deceased_how"])
    NextVisit.objects.filter(patient=locked, state=NextVisit.State.PLANNED).update(
        state=NextVisit.State.CANCELLED
    )
    Visit.objects.filter(patient=locked, place=Visit.Place.EXPECTED).update(
        place=Visit.Place.CANCELLED, place_since=now
    )
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
