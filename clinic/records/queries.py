"""Questions of the Records pages, answered with plain values."""

from dataclasses import dataclass
from datetime import date, datetime

from django.http import Http404
from django.urls import reverse

from clinic.people.actor import Actor
from clinic.people.models import Invitation, Staff
from clinic.people.queries import roles_in_words
from clinic.people.rights import Right
from clinic.platform.models import ClinicDetails
from clinic.platform.registries import records_pages


@dataclass(frozen=True)
class StaffRow:
    name: str
    url: str
    email: str
    roles: str
    licence: str
    left_on: date | None
    has_pin: bool


@dataclass(frozen=True)
class InvitationRow:
    name: str
    email: str
    roles: str
    by: str
    expires_at: datetime
    over: bool
    withdraw_url: str


@dataclass(frozen=True)
class RecordsLink:
    title: str
    words: str
    url: str


def staff_rows() -> list[StaffRow]:
    """Everybody, those who left at the end. One query."""
    return [
        StaffRow(
            name=staff.full_name,
            url=reverse("staff-person", args=[staff.pk]),
            email=staff.email,
            roles=roles_in_words(staff),
            licence=" ".join(part for part in (staff.licence_number, staff.licence_place) if part),
            left_on=staff.left_on,
            has_pin=bool(staff.pin_hash),
        )
        for staff in Staff.objects.order_by("-is_active", "full_name", "pk")
    ]


def invitation_rows(*, now: datetime) -> list[InvitationRow]:
    """Invitations nobody accepted yet, newest first. One query."""
    open_ones = Invitation.objects.filter(accepted_at=None, withdrawn_at=None).select_related("invited_by")
    return [
        InvitationRow(
            name=invitation.full_name,
            email=invitation.email,
            roles=", ".join(invitation.roles),
            by=invitation.invited_by.full_name,
            expires_at=invitation.expires_at,
            over=invitation.expires_at < now,
            withdraw_url=reverse("invitation-withdraw", args=[invitation.pk]),
        )
        for invitation in open_ones.order_by("-made_at")
    ]


def records_links(actor: Actor) -> list[RecordsLink]:
    """The Records pages this person may open; upper rooms add theirs."""
    ours = []
    if actor.may(Right.MANAGE_STAFF):
        words = "Who works here, their roles and licences; invitations; somebody who left."
        ours.append(RecordsLink("Staff", words, reverse("staff")))
    if actor.may(Right.MANAGE_CLINIC):
        words = "Name and address on every letter, the emergency telephone, paper, units, whose rules apply."
        ours.append(RecordsLink("Clinic and letterhead", words, reverse("clinic-details")))
    theirs = [
        RecordsLink(page.title, page.words, page.url()) for page in records_pages if actor.may(page.right)
    ]
    return ours + theirs


def access_staff(staff_id: int) -> Staff:
    """A person by id, also one who left; 404 when there is none."""
    staff = Staff.objects.filter(pk=staff_id).first()
    if staff is None:
        raise Http404
    return staff


def access_open_invitation(invitation_id: int) -> Invitation:
    """404 when it is accepted, withdrawn or unknown."""
    invitation = Invitation.objects.filter(pk=invitation_id, accepted_at=None, withdrawn_at=None).first()
    if invitation is None:
        raise Http404
    return invitation


def details_or_none() -> ClinicDetails | None:
    return ClinicDetails.objects.filter(pk=1).first()
