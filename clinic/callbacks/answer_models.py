"""What owners answer to a reminder, on the page that its link opens."""

from django.db import models
from django.db.models import Q

from clinic.mail.models import Message
from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff


class Answer(models.Model):
    """One answer about one thing, or about an animal as a whole. It counts until staff take it back.

    Nothing of the record changes by it: a person books, enters, and notes a death.
    """

    class Kind(models.TextChoices):
        BOOK = "book", "asks for a day"
        ELSEWHERE = "elsewhere", "done elsewhere, as they say"
        DIED = "died", "has died, as they say"
        MOVED = "moved", "moved away, as they say"
        GIVEN_AWAY = "given-away", "lives with somebody else, as they say"

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="answers")
    message = models.ForeignKey(
        Message, on_delete=models.PROTECT, related_name="answers", help_text="the reminder they answered"
    )
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="answers")
    source = models.CharField(max_length=20, blank=True, help_text="empty: the animal as a whole")
    key = models.CharField(max_length=80, blank=True)
    label = models.CharField(max_length=160, blank=True)
    due_on = models.DateField(null=True, blank=True)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    words = models.CharField(max_length=280, blank=True)
    done_on = models.DateField(null=True, blank=True)
    proof = models.CharField(max_length=80, blank=True, help_text="the kept file's name")
    at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    settled_how = models.CharField(max_length=160, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
        indexes = [
            models.Index(fields=["patient"], condition=Q(undone_at=None), name="answer_that_counts"),
            models.Index(
                fields=["at"], condition=Q(undone_at=None, settled_at=None), name="answer_that_waits"
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["message", "patient", "source", "key"],
                condition=Q(undone_at=None),
                name="a_thing_is_answered_once",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=["book", "elsewhere"], due_on__isnull=False) & ~Q(source="") & ~Q(key="")
                | Q(kind__in=["died", "moved", "given-away"], source="", key="", due_on=None),
                name="an_answer_is_of_a_thing_or_an_animal",
            ),
            models.CheckConstraint(
                condition=~Q(kind="elsewhere") | Q(done_on__isnull=False), name="done_elsewhere_has_a_day"
            ),
            models.CheckConstraint(
                condition=Q(undone_at=None, undone_by=None)
                | Q(undone_at__isnull=False, undone_by__isnull=False),
                name="an_answer_is_taken_back_by_somebody",
            ),
        ]


OF_ANIMALS = (Answer.Kind.DIED, Answer.Kind.MOVED, Answer.Kind.GIVEN_AWAY)
