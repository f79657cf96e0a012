"""Reminders that were printed for the post."""

from django.db import models
from django.db.models import Q

from clinic.people.models import Staff


class PostRun(models.Model):
    """The letters of one printing, one a household, as one PDF; what they say is kept as it was."""

    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    households = models.PositiveIntegerField()
    content = models.TextField(help_text="the letters as HTML for the sheet of paper")
    paper = models.CharField(max_length=6)
    sha256 = models.CharField(max_length=64, blank=True, help_text="of the PDF, once it is made")
    pages = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(sha256="", pages=0) | (~Q(sha256="") & Q(pages__gt=0)),
                name="printed_post_has_pages",
            )
        ]
