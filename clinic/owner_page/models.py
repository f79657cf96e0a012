"""The links by which owners reach their own pages."""

import uuid
from datetime import datetime

from django.db import models
from django.db.models import F, Q

from clinic.letters.models import Letter
from clinic.mail.models import Message
from clinic.people.models import Owner, Staff


class OwnerLink(models.Model):
    """What one secret address opens, for whom, and until when. The database lets it be revoked, once.

    It opens the letter; without one, what the message says to a household.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    token_hash = models.CharField(max_length=64, unique=True)
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="links")
    letter = models.ForeignKey(Letter, null=True, blank=True, on_delete=models.PROTECT, related_name="links")
    message = models.ForeignKey(
        Message,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="links",
        help_text="the mail that carries it; none: it was made to be handed over",
    )
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-made_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(letter__isnull=False) | Q(message__isnull=False), name="a_link_opens_something"
            ),
            models.CheckConstraint(
                condition=Q(revoked_at=None, revoked_by=None)
                | Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="a_link_is_revoked_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at")), name="a_link_ends_after_it_began"
            ),
            models.CheckConstraint(
                condition=Q(("token_hash__regex", "^[0-9a-f]{64}$")), name="a_link_keeps_only_a_hash"
            ),
        ]

    def stands(self, now: datetime) -> bool:
        """Whether it opens anything at `now` (aware)."""
        return self.revoked_at is None and now < self.expires_at
