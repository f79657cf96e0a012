"""Somebody begins to work here: their sign-in, and the address they sign in with."""

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.db import transaction

from clinic.people.actions import PeopleError, WeakPin
from clinic.people.addresses import confirm_address
from clinic.people.models import Staff
from clinic.people.pins import weakness
from clinic.people.rights import Role
from clinic.platform.models import ClinicDetails


class ManagerStands(PeopleError):
    """Somebody manages this practice already and invites everybody else."""


@transaction.atomic
def take_on(
    *,
    email: str,
    full_name: str,
    roles: Sequence[str],
    password: str,
    pin: str = "",
    printed_name: str = "",
    licence_number: str = "",
    licence_place: str = "",
) -> Staff:
    """Somebody works here from now on, without an invitation: only while nobody is there who could invite.

    Raises WeakPin.
    """
    wrong = weakness(pin) if pin else ""
    if wrong:
        raise WeakPin(wrong)
    staff = Staff.objects.create_user(
        email,
        password,
        full_name=full_name,
        printed_name=printed_name or full_name,
        roles=list(roles),
        licence_number=licence_number,
        licence_place=licence_place,
        pin_hash=make_password(pin) if pin else "",
    )
    confirm_address(staff)
    return staff


@transaction.atomic
def first_manager(
    *, email: str, full_name: str, password: str, clinic: dict[str, str], now: datetime
) -> Staff:
    """Begin a practice: its details and the person who invites everybody else.

    `clinic`: columns of ClinicDetails; those of a practice that stands already are left as they are. Raises
    ManagerStands, and Django's ValidationError for a password that is too easy.
    """
    # the lock lets two of these run one after the other, so that only the first finds nobody
    standing = Staff.objects.select_for_update().filter(is_active=True, roles__contains=[Role.MANAGER.value])
    if standing.exists():
        raise ManagerStands("Somebody manages this practice already: they invite everybody else.")
    validate_password(password, Staff(email=email, full_name=full_name))
    if not ClinicDetails.objects.exists():
        ClinicDetails.objects.create(pk=1, **clinic)
    return take_on(email=email, full_name=full_name, roles=[Role.MANAGER.value], password=password)
