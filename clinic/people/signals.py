"""Sign-in tells us by Django's own signals only, whichever way it went: password, passkey, second factor."""

from typing import Any
from uuid import UUID

from allauth.account.signals import password_changed, password_reset
from django.contrib.auth.signals import user_logged_in, user_logged_out
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone

from clinic.people.actions import close_tablet, end_grants, open_tablet
from clinic.people.middleware import COOKIE
from clinic.people.models import Staff
from clinic.people.queries import TABLET, tablet_id_of


@receiver(user_logged_in)
def begin_work(sender: Any, request: HttpRequest, user: Staff, **kwargs: Any) -> None:
    kept = request.get_signed_cookie(COOKIE, default=None)
    grant = open_tablet(staff=user, known_as=UUID(kept) if kept else None, now=timezone.now())
    request.session[TABLET] = str(grant.tablet)


@receiver([password_changed, password_reset])
def end_old_work(sender: Any, request: HttpRequest, user: Staff, **kwargs: Any) -> None:
    """Whoever knew the old password is on no tablet any more."""
    end_grants(staff=user, now=timezone.now())


@receiver(user_logged_out)
def end_work(sender: Any, request: HttpRequest, user: Staff | None, **kwargs: Any) -> None:
    tablet_id = tablet_id_of(request.session)
    if tablet_id:
        close_tablet(tablet_id=tablet_id, now=timezone.now())
