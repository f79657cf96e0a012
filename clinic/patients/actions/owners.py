"""Owners: how they are reached, and whose patients are theirs."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, TypedDict, Unpack
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.patients.actions.common import first_sending
from clinic.patients.actions.searching import refresh_patients, refresh_patients_of
from clinic.patients.doubles import likely_owners
from clinic.patients.errors import LikelyDouble, NameMissing, OwnerNeeded
from clinic.patients.models import Ownership, Patient
from clinic.patients.searchtext import searchable
from clinic.people.actor import Actor
from clinic.people.models import Owner, Phone
from clinic.people.phones import normalise
from clinic.people.rights import Right
from clinic.platform.registries import tell_watchers

PhoneNumbers = Sequence[tuple[str, str]]  # label, number as given


class OwnerChanges(TypedDict, total=False):
    """What of an owner may be changed; what is not named stays."""

    given_name: str
    family_name: str
    email: str
    street: str
    city: str
    region: str
    postal_code: str
    country: str
    language: str
    letters_by: str
    print_size: str
    desk_note: str


@transaction.atomic
def register_owner(
    *,
    actor: Actor,
    now: datetime,
    given_name: str,
    family_name: str,
    phones: PhoneNumbers = (),
    email: str = "",
    street: str = "",
    city: str = "",
    region: str = "",
    postal_code: str = "",
    country: str = "",
    language: str = "en",
    letters_by: str = "email",
    print_size: str = "usual",
    desk_note: str = "",
    look_for_doubles: bool = False,
    once: UUID | None = None,
) -> Owner:
    """A new owner with their telephones. Raises NotAPhone, NameMissing, SentBefore.

    `look_for_doubles`: raises LikelyDouble where somebody with these digits, this address or nearly this name
    stands here.
    """
    actor.require(Right.EDIT_PEOPLE)
    first_sending(once, actor=actor, now=now)
    _named(family_name)
    email = email.strip()
    if look_for_doubles:
        found = likely_owners(given_name=given_name, family_name=family_name, phones=phones, email=email)
        if found:
            raise LikelyDouble(found)
    owner = Owner.objects.create(
        given_name=given_name.strip(),
        family_name=family_name.strip(),
        email=email,
        email_state=Owner.EmailState.UNTRIED if email else Owner.EmailState.NONE,
        street=street.strip(),
        city=city.strip(),
        region=region.strip(),
        postal_code=postal_code.strip(),
        country=country,
        language=language,
        letters_by=letters_by if email else Owner.LettersBy.PAPER,
        print_size=print_size,
        desk_note=desk_note.strip(),
        made_at=now,
    )
    _put_phones(owner, phones)
    _write_search(owner)
    return owner


def _named(family_name: str) -> None:
    if not family_name.strip():
        raise NameMissing("family_name", "Give the family name, or the one name they go by.")


def _write_search(owner: Owner) -> None:
    digits = list(owner.phones.values_list("digits", flat=True))
    owner.search = searchable((owner.given_name, owner.family_name), digits)
    owner.save(update_fields=["search"])


def _put_phones(owner: Owner, phones: PhoneNumbers) -> None:
    for rank, (label, number) in enumerate(phones):
        read = normalise(number)
        Phone.objects.create(
            owner=owner, label=label.strip(), number=number.strip(), digits=read.digits, rank=rank
        )


@transaction.atomic
def change_owner(
    *,
    actor: Actor,
    now: datetime,
    owner: Owner,
    phones: PhoneNumbers | None = None,
    **fields: Unpack[OwnerChanges],
) -> Owner:
    """Change what is named in `fields`; a new address counts as not tried yet.

    Raises NotAPhone, NameMissing.
    """
    actor.require(Right.EDIT_PEOPLE)
    locked = Owner.objects.select_for_update().get(pk=owner.pk)
    earlier = locked.email
    changes: dict[str, Any] = {name: str(value).strip() for name, value in fields.items()}
    for name, value in changes.items():
        setattr(locked, name, value)
    _named(locked.family_name)
    if locked.email != earlier:
        locked.email_state = Owner.EmailState.UNTRIED if locked.email else Owner.EmailState.NONE
    if not locked.email:
        locked.letters_by = Owner.LettersBy.PAPER
    locked.save(update_fields=[*changes, "email_state", "letters_by"])
    if phones is not None:
        _replace_phones(locked, phones)
    _write_search(locked)
    refresh_patients_of(locked)
    return locked


def _replace_phones(owner: Owner, phones: PhoneNumbers) -> None:
    wanted = [(label.strip(), number.strip()) for label, number in phones]
    if [(phone.label, phone.number) for phone in owner.phones.all()] == wanted:
        return
    owner.phones.all().delete()
    _put_phones(owner, wanted)


@transaction.atomic
def add_co_owner(*, actor: Actor, now: datetime, patient: Patient, owner: Owner) -> Ownership:
    """Another owner beside the first; one who stands there already stays as they are."""
    actor.require(Right.EDIT_PEOPLE)
    made, _ = Ownership.objects.get_or_create(
        patient=patient, owner=owner, until=None, defaults={"since": timezone.localdate(now)}
    )
    refresh_patients([patient.pk])
    return made


@transaction.atomic
def make_first_owner(*, actor: Actor, now: datetime, patient: Patient, owner: Owner) -> None:
    """The one who is written to, from now on."""
    actor.require(Right.EDIT_PEOPLE)
    Patient.objects.select_for_update().get(pk=patient.pk)
    standing = Ownership.objects.filter(patient=patient, until=None)
    standing.filter(is_first=True).exclude(owner=owner).update(is_first=False)
    if not standing.filter(owner=owner).update(is_first=True):
        Ownership.objects.create(patient=patient, owner=owner, is_first=True, since=timezone.localdate(now))
        refresh_patients([patient.pk])
    tell_watchers([patient.pk], now=now)


@transaction.atomic
def end_ownership(*, actor: Actor, now: datetime, patient: Patient, owner: Owner) -> None:
    """They are the owner no more. Raises OwnerNeeded for the last one."""
    actor.require(Right.EDIT_PEOPLE)
    Patient.objects.select_for_update().get(pk=patient.pk)
    standing = Ownership.objects.filter(patient=patient, until=None)
    others = standing.exclude(owner=owner)
    if not others.exists():
        raise OwnerNeeded
    was_first = standing.filter(owner=owner, is_first=True).exists()
    standing.filter(owner=owner).update(until=timezone.localdate(now), is_first=False)
    if was_first:
        others.filter(pk=others.order_by("pk").values("pk")[:1]).update(is_first=True)
    refresh_patients([patient.pk])
    tell_watchers([patient.pk], now=now)
