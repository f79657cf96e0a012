"""What a manager changes: who works here, and the clinic's own details."""

import secrets
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

from allauth.mfa.models import Authenticator
from django.db import IntegrityError, transaction
from django.utils.timezone import localtime

from clinic.mail.actions import queue_staff_mail
from clinic.people.actions import PeopleError, end_grants
from clinic.people.actor import Actor
from clinic.people.models import Invitation, Staff
from clinic.people.queries import token_hash
from clinic.people.rights import Right, Role
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_name

INVITATION_LASTS = timedelta(days=7)


class NeedsLicence(PeopleError):
    """A clinician signs with a licence number."""


class NeedsRole(PeopleError):
    """Everybody who works here has a role."""


class WorksHereAlready(PeopleError):
    """The address belongs to somebody who works here."""


class InvitedAlready(PeopleError):
    """An open invitation to this address exists."""


class LastManager(PeopleError):
    """Somebody must stay who may invite and change roles."""


def _check_roles(roles: list[str], licence_number: str) -> None:
    if not roles:
        raise NeedsRole("Choose at least one role.")
    if Role.CLINICIAN in roles and not licence_number.strip():
        raise NeedsLicence("A clinician signs with a licence number. Enter it, or leave that role out.")


@transaction.atomic
def invite(
    *,
    email: str,
    full_name: str,
    printed_name: str,
    roles: list[str],
    licence_number: str,
    licence_place: str,
    link_for: Callable[[str], str],
    actor: Actor,
    now: datetime,
) -> tuple[Invitation, str]:
    """Open an invitation and queue its mail; also returns what `link_for` made of the token.

    The token is kept as a hash; the link stands in the mail alone.

    Raises NeedsRole, NeedsLicence, WorksHereAlready, InvitedAlready.
    """
    actor.require(Right.MANAGE_STAFF)
    _check_roles(roles, licence_number)
    if Staff.objects.filter(email__iexact=email, is_active=True).exists():
        raise WorksHereAlready(f"Somebody with the address {email} works here already.")
    Invitation.objects.filter(
        email__iexact=email, accepted_at=None, withdrawn_at=None, expires_at__lt=now
    ).update(withdrawn_at=now)
    token = secrets.token_urlsafe(32)
    try:
        with transaction.atomic():
            invitation = Invitation.objects.create(
                email=email.strip().lower(),
                full_name=full_name,
                printed_name=printed_name or full_name,
                roles=roles,
                licence_number=licence_number,
                licence_place=licence_place,
                token_hash=token_hash(token),
                invited_by=actor.staff,
                made_at=now,
                expires_at=now + INVITATION_LASTS,
            )
    except IntegrityError as error:
        raise InvitedAlready(
            f"{email} is invited already. Withdraw that invitation to send a new one."
        ) from error
    link = link_for(token)
    queue_staff_mail(
        to_address=invitation.email,
        subject=f"Your sign-in at {clinic_name() or 'the clinic'}",
        body=_invitation_words(invitation, link),
        once=f"invitation:{invitation.pk}",
        actor=actor,
        now=now,
    )
    return invitation, link


def _invitation_words(invitation: Invitation, link: str) -> str:
    until = localtime(invitation.expires_at)
    return (
        f"Hello {invitation.full_name},\n\n"
        f"{invitation.invited_by.full_name} invites you to work with Tailward at {clinic_name()}.\n"
        f"Open this address on your own device and choose a password and a PIN:\n\n{link}\n\n"
        f"It works once, until {until:%-d %B %Y, %H:%M}. If you do not expect it, leave it be.\n"
    )


@transaction.atomic
def withdraw_invitation(*, invitation: Invitation, actor: Actor, now: datetime) -> None:
    """Its link stops working. An accepted one stays as it is."""
    actor.require(Right.MANAGE_STAFF)
    Invitation.objects.filter(pk=invitation.pk, accepted_at=None, withdrawn_at=None).update(withdrawn_at=now)


def _keep_a_manager(staff: Staff) -> None:
    """Rival changes wait for each other on the managers' rows, so two of them cannot remove the last two."""
    managers = Staff.objects.select_for_update().filter(is_active=True, roles__contains=[Role.MANAGER.value])
    if not [manager for manager in managers.order_by("pk") if manager.pk != staff.pk]:
        raise LastManager("Somebody must stay manager. Give that role to another person first.")


@transaction.atomic
def change_staff(
    *,
    staff: Staff,
    full_name: str,
    printed_name: str,
    roles: list[str],
    licence_number: str,
    licence_place: str,
    actor: Actor,
    now: datetime,
) -> None:
    """Names, licence, roles; signed letters keep theirs. Raises NeedsRole, NeedsLicence, LastManager."""
    actor.require(Right.MANAGE_STAFF)
    _check_roles(roles, licence_number)
    if Role.MANAGER in staff.role_set and Role.MANAGER not in roles:
        _keep_a_manager(staff)
    staff.full_name, staff.printed_name, staff.roles = full_name, printed_name or full_name, roles
    staff.licence_number, staff.licence_place = licence_number, licence_place
    staff.save(update_fields=["full_name", "printed_name", "roles", "licence_number", "licence_place"])


@transaction.atomic
def let_go(*, staff: Staff, on: date, actor: Actor, now: datetime) -> None:
    """Somebody left: sign-in, PIN, keys and every tablet end at once; their name stays in all records.

    Raises LastManager. Doing it twice changes nothing.
    """
    actor.require(Right.MANAGE_STAFF)
    if not staff.is_active:
        return
    if Role.MANAGER in staff.role_set:
        _keep_a_manager(staff)
    # a new password hash ends every session, also should they come back one day
    staff.set_unusable_password()
    staff.is_active, staff.left_on, staff.pin_hash = False, on, ""
    staff.save(update_fields=["password", "is_active", "left_on", "pin_hash"])
    Authenticator.objects.filter(user=staff).delete()
    end_grants(staff=staff, now=now)


@transaction.atomic
def change_details(*, details: dict[str, Any], actor: Actor, now: datetime) -> ClinicDetails:
    """Write the one row of the clinic; keys of `details` are its columns. Signed letters keep theirs."""
    actor.require(Right.MANAGE_CLINIC)
    clinic, _ = ClinicDetails.objects.update_or_create(pk=1, defaults=details)
    return clinic
