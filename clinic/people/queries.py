"""Questions about who works here, and who works on a tablet."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any
from uuid import UUID

from django.http import Http404

from clinic.people.actor import Actor
from clinic.people.models import Grant, Invitation, Staff, Tablet
from clinic.people.pins import LOCK_AFTER, WORKING_DAY

TABLET = "tablet"  # the session's key: which tablet this is
CREDITED_FOR = timedelta(days=30)  # how long a page of an earlier release may still send what it holds


@dataclass(frozen=True)
class AtWork:
    """Who works on a tablet now. `locked`: nobody may until a PIN or a sign-in; `actor` is the last one."""

    tablet_id: UUID | None = None
    actor: Actor | None = None
    locked: bool = True
    seen_at: datetime | None = None


@dataclass(frozen=True)
class OnTablet:
    """One of the people who signed in fully on a tablet today."""

    staff_id: int
    name: str
    roles: str
    since: datetime
    working: bool
    has_pin: bool


def tablet_id_of(session: Mapping[str, Any]) -> UUID | None:
    kept = session.get(TABLET)
    return UUID(kept) if kept else None


def at_work(session: Mapping[str, Any], *, now: datetime) -> AtWork:
    """Who works on the session's tablet. One query."""
    tablet_id = tablet_id_of(session)
    if tablet_id is None:
        return AtWork()
    tablet = Tablet.objects.select_related("working__staff").filter(pk=tablet_id).first()
    if tablet is None:
        return AtWork()
    grant = tablet.working
    if grant is None or not _is_live(grant, now=now):
        return AtWork(tablet_id=tablet.pk, seen_at=tablet.seen_at)
    return AtWork(
        tablet_id=tablet.pk,
        actor=Actor.of(grant.staff, grant_id=grant.pk, by_pin=grant.how == Grant.How.PIN),
        locked=tablet.locked_at is not None or now - tablet.seen_at >= LOCK_AFTER,
        seen_at=tablet.seen_at,
    )


def _is_live(grant: Grant, *, now: datetime) -> bool:
    return grant.ended_at is None and grant.staff.is_active and now - grant.made_at < WORKING_DAY


def people_on_tablet(tablet_id: UUID | None, *, now: datetime) -> list[OnTablet]:
    """Those who signed in fully on this tablet today and still work here, by name. Two queries."""
    if tablet_id is None:
        return []
    working = Tablet.objects.filter(pk=tablet_id).values_list("working__staff_id", flat=True).first()
    grants = (
        Grant.objects.filter(
            tablet=tablet_id,
            how=Grant.How.SIGN_IN,
            ended_at=None,
            made_at__gt=now - WORKING_DAY,
            staff__is_active=True,
        )
        .select_related("staff")
        .order_by("staff__full_name", "staff_id", "made_at")
    )
    newest = {grant.staff_id: grant for grant in grants}
    return [
        OnTablet(
            staff_id=grant.staff_id,
            name=grant.staff.full_name,
            roles=roles_in_words(grant.staff),
            since=grant.made_at,
            working=grant.staff_id == working,
            has_pin=bool(grant.staff.pin_hash),
        )
        for grant in newest.values()
    ]


@dataclass(frozen=True)
class SignedIn:
    """One tablet a person is signed in on."""

    since: datetime
    here: bool


def signed_in_places(staff: Staff, *, here: UUID | None, now: datetime) -> list[SignedIn]:
    """Every tablet where this person's full sign-in is still good, newest first. One query."""
    grants = Grant.objects.filter(
        staff=staff, how=Grant.How.SIGN_IN, ended_at=None, made_at__gt=now - WORKING_DAY
    ).order_by("-made_at")
    return [SignedIn(since=grant.made_at, here=grant.tablet == here) for grant in grants]


def roles_in_words(staff: Staff) -> str:
    return ", ".join(staff.roles)


def signed_in_on(tablet_id: UUID | None, staff_id: int, *, now: datetime) -> Grant | None:
    """The full sign-in of one person that is still good on this tablet."""
    if tablet_id is None:
        return None
    return (
        Grant.objects.filter(
            tablet=tablet_id,
            staff_id=staff_id,
            how=Grant.How.SIGN_IN,
            ended_at=None,
            made_at__gt=now - WORKING_DAY,
            staff__is_active=True,
        )
        .order_by("-made_at")
        .first()
    )


def grant_staff(
    session: Mapping[str, Any], grant_id: UUID | str | None, *, now: datetime | None = None
) -> Staff | None:
    """The person an operation is credited to: whoever held this grant on this tablet.

    An ended grant still counts, because what was tapped before a hand-over may arrive long after it. None:
    no such grant, another tablet's, a person who left, or (with `now`) one older than 30 days.
    """
    tablet_id = tablet_id_of(session)
    try:
        wanted = UUID(str(grant_id))
    except ValueError:
        return None
    if tablet_id is None:
        return None
    grants = Grant.objects.select_related("staff").filter(pk=wanted, tablet=tablet_id, staff__is_active=True)
    if now is not None:
        grants = grants.filter(made_at__gt=now - CREDITED_FOR)
    grant = grants.first()
    return grant.staff if grant else None


def access_person_on_tablet(tablet_id: UUID | None, staff_id: int, *, now: datetime) -> Staff:
    """Somebody who signed in fully on this tablet today; 404 for everybody else."""
    grant = signed_in_on(tablet_id, staff_id, now=now)
    if grant is None:
        raise Http404
    return Staff.objects.get(pk=grant.staff_id)


def access_invitation(token: str, *, now: datetime) -> Invitation | None:
    """The invitation that this link still opens; None when it was used, withdrawn, or is too old."""
    return Invitation.objects.filter(
        token_hash=token_hash(token), accepted_at=None, withdrawn_at=None, expires_at__gte=now
    ).first()


def token_hash(token: str) -> str:
    """What is kept of an invitation's link."""
    return sha256(token.encode()).hexdigest()
