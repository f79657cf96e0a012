"""What is entered by somebody and never changed afterwards: a mistake is struck out with a reason."""

from django.db import models
from django.db.models import Q

from clinic.people.models import Staff


class StruckOut(models.Model):
    """Entered by somebody, and struck out with a reason at most."""

    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(struck_at=None, struck_by=None, struck_reason="")
                | (Q(struck_at__isnull=False, struck_by__isnull=False) & ~Q(struck_reason="")),
                name="%(class)s_struck_with_a_reason",
            )
        ]
