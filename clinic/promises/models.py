"""Contacts outside a visit, frozen at once; every step of a promise. Rows are only ever added."""

from django.db import models
from django.db.models import F, Q

from clinic.care.models import PlanLine, Problem, Test
from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff


class Contact(models.Model):
    """A call, a mail, advice, an estimate, a consent, a referral: what was said, when, and when written.

    RCVS 13.1: advice given, follow-up, phone notes, estimates, consents given or withheld and referral advice
    belong in the record. Texas 22 TAC 573.52: what was not written at the time notes both times. A correction
    is a further contact that names the one it corrects.
    """

    class Kind(models.TextChoices):
        CALL = "call", "telephone call"
        MAIL = "mail", "mail or message"
        ADVICE = "advice", "advice"
        ESTIMATE = "estimate", "estimate"
        CONSENT = "consent", "consent given"
        WITHHELD = "withheld", "consent withheld"
        REFERRAL = "referral", "referral"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="contacts")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    owner = models.ForeignKey(Owner, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    with_whom = models.CharField(max_length=160, help_text="name as it was then, or a colleague's practice")
    text = models.TextField(help_text="what was said, factual")
    problem = models.ForeignKey(
        Problem, null=True, blank=True, on_delete=models.PROTECT, related_name="contacts"
    )
    test = models.ForeignKey(Test, null=True, blank=True, on_delete=models.PROTECT, related_name="contacts")
    plan_line = models.ForeignKey(
        PlanLine, null=True, blank=True, on_delete=models.PROTECT, related_name="contacts"
    )
    owner_told = models.BooleanField(default=False, help_text="the owner knows the result or the news")
    corrects = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrections"
    )
    again_on = models.DateField(null=True, blank=True, help_text="day by which somebody gets back to them")
    again_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    happened_at = models.DateTimeField()
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["-happened_at", "-pk"]
        indexes = [models.Index(fields=["patient", "-happened_at"])]
        constraints = [
            models.CheckConstraint(condition=~Q(text=""), name="a_contact_says_something"),
            models.CheckConstraint(condition=~Q(with_whom=""), name="a_contact_names_whom"),
            models.CheckConstraint(
                condition=Q(happened_at__lte=F("entered_at")), name="a_contact_happened_before_it_was_entered"
            ),
            models.CheckConstraint(
                condition=Q(again_on=None, again_by=None) | Q(again_on__isnull=False, again_by__isnull=False),
                name="getting_back_has_a_day_and_a_person",
            ),
        ]


class PromiseStep(models.Model):
    """What became of a promise: handed to a colleague, moved to another day, or closed by what happened.

    A promise is named by its source and that source's key. `number` counts its steps from 1: two tablets that
    saw the same state cannot both write the next one.
    """

    class What(models.TextChoices):
        HANDED = "handed", "handed on"
        MOVED = "moved", "moved to another day"
        CLOSED = "closed", "closed"

    class Outcome(models.TextChoices):
        DONE = "done", "done"
        COULD_NOT = "could-not", "could not be done"
        NOT_NEEDED = "not-needed", "no longer needed"

    source = models.CharField(max_length=20)
    key = models.CharField(max_length=40)
    number = models.PositiveSmallIntegerField()
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="promise_steps")
    what = models.CharField(max_length=8, choices=What.choices)
    outcome = models.CharField(max_length=12, choices=Outcome.choices, blank=True)
    words = models.CharField(max_length=280)
    answerable_was = models.ForeignKey(Staff, null=True, on_delete=models.PROTECT, related_name="+")
    answerable = models.ForeignKey(Staff, null=True, on_delete=models.PROTECT, related_name="+")
    due_was = models.DateField()
    due_on = models.DateField()
    contact = models.ForeignKey(
        Contact, null=True, blank=True, on_delete=models.PROTECT, related_name="closed_promises"
    )
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["source", "key", "number"]
        indexes = [models.Index(fields=["due_on"]), models.Index(fields=["patient"])]
        constraints = [
            models.UniqueConstraint(fields=["source", "key", "number"], name="a_promise_step_once"),
            models.UniqueConstraint(
                fields=["source", "key"], condition=Q(what="closed"), name="a_promise_closes_once"
            ),
            models.CheckConstraint(condition=~Q(words=""), name="a_promise_step_says_why"),
            models.CheckConstraint(
                condition=(Q(what="closed") & ~Q(outcome="")) | (~Q(what="closed") & Q(outcome="")),
                name="a_promise_closes_by_what_happened",
            ),
        ]
