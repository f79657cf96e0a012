"""Hand-over of a tablet, the PIN, and coming in by invitation.

A wrong PIN must stay counted, so what counts tries owns a transaction of its own and refuses to run
inside another one.
"""

import uuid
from datetime import datetime
from uuid import UUID

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.utils.timezone import localtime

from clinic.people.addresses import confirm_address
from clinic.people.models import Grant, Invitation, Staff, Tablet
from clinic.people.pins import LOCKED_FOR, TRIES, weakness
from clinic.people.queries import signed_in_on, token_hash


class PeopleError(Exception):
    """What was asked cannot be done; the text is a sentence for the person who asked."""


class WeakPin(PeopleError):
    """The chosen PIN may not be used."""


class WrongSecret(PeopleError):
    """Not the PIN. `left`: tries before it locks; 0 when it just locked."""

    def __init__(self, name: str, left: int) -> None:
        self.left = left
        tries = "one try" if left == 1 else f"{left} tries"
        super().__init__(
            f"That is not the PIN of {name}. {tries.capitalize()} left, then the password is asked."
            if left
            else f"The PIN of {name} is locked for a quarter of an hour. Sign in with the password instead."
        )


class PinLocked(PeopleError):
    """Too many wrong tries; only a full sign-in helps before the time is up."""


class NotOnTablet(PeopleError):
    """The person has no full sign-in on this tablet today."""


class NoPin(PeopleError):
    """The person has no PIN yet."""


class InvitationOver(PeopleError):
    """The invitation was used, withdrawn, or is too old."""


# --- secrets ----------------------------------------------------------------------------------------------


PIN, PASSWORD = "pin", "password"


def _try_secret(staff_id: int, secret: str, *, now: datetime, kinds: frozenset[str]) -> int:
    """Tries left after this one, -1 when the secret is right.

    The row's lock makes rival guesses wait for each other, so none of them is uncounted.
    """
    with transaction.atomic(durable=True):
        staff = Staff.objects.select_for_update().get(pk=staff_id)
        if staff.pin_locked_until and staff.pin_locked_until > now:
            raise PinLocked(
                f"The PIN of {staff.full_name} is locked until {localtime(staff.pin_locked_until):%H:%M}."
                " Sign in with the password instead."
            )
        if not staff.is_active:
            raise NotOnTablet(f"{staff.full_name} does not work here any more.")
        right = PIN in kinds and bool(staff.pin_hash) and check_password(secret, staff.pin_hash)
        if not right and PASSWORD in kinds:
            right = staff.check_password(secret)
        failures = 0 if right else staff.pin_failures + 1
        locks = failures >= TRIES
        staff.pin_failures = 0 if locks else failures
        staff.pin_locked_until = now + LOCKED_FOR if locks else None
        staff.save(update_fields=["pin_failures", "pin_locked_until"])
        return -1 if right else TRIES - failures


def confirm_presence(staff: Staff, secret: str, now: datetime) -> bool:
    """Whether the secret is this person's PIN or password: asked again where somebody signs.

    Counts towards the same lock as the hand-over. Raises PinLocked while it is locked. Must not be called
    inside a transaction: a wrong try stays counted whatever the caller does next.
    """
    return staff.is_active and _try_secret(staff.pk, secret, now=now, kinds=frozenset({PIN, PASSWORD})) < 0


def confirm_password(staff: Staff, password: str, now: datetime) -> bool:
    """As `confirm_presence`, but only the password will do: before a PIN is changed."""
    return staff.is_active and _try_secret(staff.pk, password, now=now, kinds=frozenset({PASSWORD})) < 0


@transaction.atomic
def set_pin(*, staff: Staff, pin: str, now: datetime) -> None:
    """Choose or change one's own PIN; lifts a lock, so ask for the password first. Raises WeakPin."""
    wrong = weakness(pin)
    if wrong:
        raise WeakPin(wrong)
    staff.pin_hash = make_password(pin)
    staff.pin_failures, staff.pin_locked_until = 0, None
    staff.save(update_fields=["pin_hash", "pin_failures", "pin_locked_until"])


@transaction.atomic
def choose_units(*, staff: Staff, weight: str, temperature: str, food: str) -> None:
    """In which units somebody types and reads; empty: the clinic's."""
    locked = Staff.objects.select_for_update().get(pk=staff.pk)
    locked.weight_unit, locked.temperature_unit, locked.food_unit = weight, temperature, food
    locked.save(update_fields=["weight_unit", "temperature_unit", "food_unit"])


# --- the tablet -------------------------------------------------------------------------------------------


@transaction.atomic
def open_tablet(*, staff: Staff, known_as: UUID | None, now: datetime) -> Grant:
    """Somebody signed in, a new session begins: on this tablet they are the first and only one at work.

    `known_as`: the tablet's id where this browser was used before, so that what it still holds keeps its
    people. Whoever was signed in on it under an older session has to sign in again.
    """
    tablet, _ = Tablet.objects.select_for_update().get_or_create(
        pk=known_as or uuid.uuid4(), defaults={"seen_at": now}
    )
    Grant.objects.filter(tablet=tablet.pk, ended_at=None).update(ended_at=now)
    return _put_to_work(tablet, staff, Grant.How.SIGN_IN, now=now)


@transaction.atomic
def add_person(*, tablet_id: UUID, staff: Staff, now: datetime) -> Grant:
    """One more person signed in fully on this tablet, second factor and all: they work now."""
    tablet, _ = Tablet.objects.select_for_update().get_or_create(pk=tablet_id, defaults={"seen_at": now})
    Grant.objects.filter(tablet=tablet.pk, staff=staff, ended_at=None).update(ended_at=now)
    Staff.objects.filter(pk=staff.pk).update(pin_failures=0, pin_locked_until=None)
    return _put_to_work(tablet, staff, Grant.How.SIGN_IN, now=now)


def _put_to_work(tablet: Tablet, staff: Staff, how: Grant.How, *, now: datetime) -> Grant:
    grant = Grant.objects.create(staff=staff, tablet=tablet.pk, how=how, made_at=now)
    tablet.working, tablet.seen_at, tablet.locked_at = grant, now, None
    tablet.save(update_fields=["working", "seen_at", "locked_at"])
    return grant


def hand_over(*, tablet_id: UUID, staff: Staff, pin: str, now: datetime) -> Grant:
    """Somebody who signed in fully on this tablet today takes it by PIN; a PIN gives no manager's rights.

    Raises NotOnTablet, NoPin, PinLocked, WrongSecret. The page underneath is not touched by any of them.
    """
    if signed_in_on(tablet_id, staff.pk, now=now) is None:
        raise NotOnTablet(f"{staff.full_name} has not signed in on this tablet today.")
    if not staff.pin_hash:
        raise NoPin(f"{staff.full_name} has no PIN yet: sign in with the password, then choose one.")
    left = _try_secret(staff.pk, pin, now=now, kinds=frozenset({PIN}))
    if left >= 0:
        raise WrongSecret(staff.full_name, left)
    with transaction.atomic():
        tablet = Tablet.objects.select_for_update().get(pk=tablet_id)
        # asked again under the lock: a sign-out may have come between
        if signed_in_on(tablet_id, staff.pk, now=now) is None:
            raise NotOnTablet(f"{staff.full_name} has not signed in on this tablet today.")
        return _put_to_work(tablet, staff, Grant.How.PIN, now=now)


def lock_tablet(*, tablet_id: UUID, now: datetime) -> None:
    """Nobody works on it until a PIN or a sign-in. Nobody is signed out."""
    Tablet.objects.filter(pk=tablet_id, locked_at=None).update(locked_at=now)


def touch_tablet(*, tablet_id: UUID, now: datetime) -> None:
    """Somebody touched it. A locked tablet stays locked, and time never runs backwards."""
    Tablet.objects.filter(pk=tablet_id, locked_at=None, seen_at__lt=now).update(seen_at=now)


@transaction.atomic
def close_tablet(*, tablet_id: UUID, now: datetime) -> None:
    """Sign-out: everybody on this tablet has to sign in again."""
    Tablet.objects.filter(pk=tablet_id).update(working=None, locked_at=now)
    Grant.objects.filter(tablet=tablet_id, ended_at=None).update(ended_at=now)


def end_grants(*, staff: Staff, now: datetime) -> None:
    """End one person's work on every tablet."""
    Grant.objects.filter(staff=staff, ended_at=None).update(ended_at=now)


# --- coming in --------------------------------------------------------------------------------------------


@transaction.atomic
def accept_invitation(*, token: str, password: str, pin: str, now: datetime) -> Staff:
    """The invited person chose a password and a PIN: now they work here.

    Somebody who worked here before gets their old row back, with their name in old records. Raises
    InvitationOver, WeakPin. The link counts once, also when it is sent twice at the same moment.
    """
    wrong = weakness(pin)
    if wrong:
        raise WeakPin(wrong)
    invitation = Invitation.objects.select_for_update().filter(token_hash=token_hash(token)).first()
    if invitation is None or invitation.accepted_at or invitation.withdrawn_at or invitation.expires_at < now:
        raise InvitationOver("This invitation was used, withdrawn, or is too old. Ask for a new one.")
    staff = Staff.objects.select_for_update().filter(email__iexact=invitation.email).first()
    if staff and staff.is_active:
        raise InvitationOver("Somebody with this e-mail address works here already. Sign in instead.")
    staff = staff or Staff(email=invitation.email.lower())
    staff.full_name = invitation.full_name
    staff.printed_name = invitation.printed_name or invitation.full_name
    staff.roles = invitation.roles
    staff.licence_number, staff.licence_place = invitation.licence_number, invitation.licence_place
    staff.is_active, staff.left_on = True, None
    staff.set_password(password)
    staff.pin_hash = make_password(pin)
    staff.pin_failures, staff.pin_locked_until = 0, None
    staff.save()
    confirm_address(staff)
    invitation.accepted_at = now
    invitation.save(update_fields=["accepted_at"])
    return staff
