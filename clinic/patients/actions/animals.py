"""The animal itself: who it is, its chips, its leaving. Its death: `clinic/death`."""

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypedDict, Unpack
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.callbacks.soon import reckon_soon
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
)
from clinic.patients.models import Microchip, Ownership, Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.registries import lasting_changes, tell_watchers

# what the rooms reckon call-backs from
RECKONED_FROM = frozenset(
    {"species", "sex", "neutered", "birth_date", "birth_precision", "expected_adult_kg"}
)


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
    reckon_soon(patient.pk)
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
    if changes.keys() & RECKONED_FROM:
        reckon_soon(locked.pk)
    if changes.keys() & {"sex", "neutered"}:
        for room in lasting_changes:
            room.changed(locked, actor=actor, now=now)
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
    reckon_soon(patient.pk)
    return chip


@transaction.atomic
def leave_practice(*, actor: Actor, now: datetime, patient: Patient, on: date) -> Patient:
    """Moved away or seen elsewhere from now on: no call-backs."""
    actor.require(Right.EDIT_PEOPLE)
    locked = Patient.objects.select_for_update().get(pk=patient.pk)
    locked.left_practice_on = on
    locked.save(update_fields=["left_practice_on"])
    locked.call_backs.all().delete()
    tell_watchers([patient.pk], now=now)
    return locked
