"""A form may be sent twice; what it asks for happens once."""

from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from clinic.people.models import Staff
from clinic.platform.models import SentOnce


def spend(token: UUID, *, by: Staff, now: datetime) -> bool:
    """Take the token inside the caller's transaction. False when it was spent before.

    A rival transaction holding the same token is waited for: the unique index decides.
    """
    try:
        with transaction.atomic():
            SentOnce.objects.create(token=token, by=by, at=now)
    except IntegrityError:
        return False
    return True
