"""Owners: how they are reached, and whose patients are theirs."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from clinic.patients.errors import OwnerNeeded
from clinic.patients.models import Ownership, Patient
from clinic.patients.searchtext import joined
from clinic.people.actor import Actor
from clinic.people.models import Owner, Phone
from clinic.people.phones import normalise
from clinic.people.rights import Right

PhoneNumbers = Sequence[tuple[str, str]]  # label, number as given


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
) -> Owner:
    """A new owner with their telephones. Raises NotAPhone."""
    actor.require(Right.EDIT_PEOPLE)
    email = email.strip()
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
        search=joined((given_name, family_name)),
        made_at=now,
    )
    _put_phones(owner, phones)
    return owner


def _put_phones(owner: Owner, phones: PhoneNumbers) -> None:
    for rank, (label, number) in enumerate(phones):
        read = normalise(number)
        Phone.objects.create(
            owner=owner, label=label.strip(), number=number.strip(), digits=read.digits, rank=rank
        )


@transaction.atomic
def change_owner(
    *, actor: Actor, now: datetime, owner: Owner, phones: PhoneNumbers | None = None, **fields: str
) -> Owner:
    """Change what is named in `fields`; a new address counts as not tried yet. Raises NotAPhone."""
    actor.require(Right.EDIT_PEOPLE)
    locked = Owner.objects.select_for_update().get(pk=owner.pk)
    earlier = locked.email
    for name, value in fields.items():
        setattr(locked, name, value.strip())
    if locked.email != earlier:
        locked.email_state = Owner.EmailState.UNTRIED if locked.email else Owner.EmailState.NONE
    if not locked.email:
        locked.letters_by = Owner.LettersBy.PAPER
    locked.search = joined((locked.given_name, locked.family_name))
    locked.save()
    if phones is not None:
        _replace_phones(locked, phones)
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
