"""The death of a patient, and what is to be done with its body. Struck out with a reason, never erased."""

from django.db import models
from django.db.models import F, Q

from clinic.patients.models import Measurement, Patient
from clinic.people.models import Staff
from clinic.visits.models import Visit


class Death(models.Model):
    """One death, by whoever saw it or was told.

    Event time and time of entry (Texas 22 TAC 573.52), consent for euthanasia and how it was given (AVMA,
    Owner Consent; RCVS 13.1), identity (common practice), the weight of the day or why there is none (Texas
    22 TAC 573.52). Which facts a euthanasia needs beyond these is common practice and local law.
    """

    class How(models.TextChoices):
        DIED_HERE = "died-here", "died here"
        EUTHANISED = "euthanised", "was euthanised by us"
        DIED_HOME = "died-home", "died at home"
        DIED_ELSEWHERE = "died-elsewhere", "died elsewhere, as we were told"
        EUTHANISED_ELSEWHERE = "euthanised-elsewhere", "was euthanised elsewhere, as we were told"

    class ConsentAs(models.TextChoices):
        OWNER = "owner", "the owner"
        FOR_OWNER = "for-owner", "acts for the owner"
        AUTHORITY = "authority", "an authority, where no owner can be found"

    class ConsentHow(models.TextChoices):
        PAPER = "paper", "signed paper"
        PERSON = "person", "in person, before a witness"
        TELEPHONE = "telephone", "by telephone, a colleague listening"

    class Identity(models.TextChoices):
        CHIP = "chip", "chip read, it is this patient’s"
        OWNER = "owner", "named by the owner, who was there"
        STAFF = "staff", "known to two of us"
        NOT_SEEN = "not-seen", "not seen by us"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="deaths")
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="deaths")
    how = models.CharField(max_length=24, choices=How.choices)
    died_on = models.DateField(help_text="the clinic's date")
    died_at = models.DateTimeField(null=True, blank=True, help_text="where the hour is known")
    certified_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    told_by = models.CharField(
        max_length=120, blank=True, help_text="whose word it is, when we did not see it"
    )
    consent_by = models.CharField(max_length=120, blank=True, help_text="name of who consented")
    consent_as = models.CharField(max_length=12, choices=ConsentAs.choices, blank=True)
    consent_how = models.CharField(max_length=12, choices=ConsentHow.choices, blank=True)
    consent_at = models.DateTimeField(null=True, blank=True)
    consent_taken_by = models.ForeignKey(
        Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    consent_witness = models.CharField(max_length=120, blank=True, help_text="name, for a consent in person")
    consent_second = models.ForeignKey(
        Staff,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="the colleague who listened, for a consent by telephone",
    )
    weight = models.ForeignKey(Measurement, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    no_weight_reason = models.CharField(max_length=200, blank=True)
    identity = models.CharField(max_length=12, choices=Identity.choices)
    owner_knows = models.BooleanField()
    words = models.TextField(blank=True, help_text="what happened, factual")
    ended = models.JSONField(default=list, help_text="what ended with it: [{title, lines}], as it was then")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    struck_at = models.DateTimeField(null=True, blank=True, help_text="entered wrongly")
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["entered_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["patient"], condition=Q(struck_at=None), name="a_patient_dies_once"
            ),
            models.CheckConstraint(
                condition=~Q(how="euthanised")
                | (
                    ~Q(consent_by="")
                    & ~Q(consent_as="")
                    & ~Q(consent_how="")
                    & Q(consent_at__isnull=False, consent_taken_by__isnull=False, died_at__isnull=False)
                ),
                name="no_euthanasia_without_consent",
            ),
            models.CheckConstraint(
                condition=Q(how="euthanised")
                | Q(
                    consent_by="",
                    consent_as="",
                    consent_how="",
                    consent_at=None,
                    consent_taken_by=None,
                    consent_witness="",
                    consent_second=None,
                ),
                name="consent_is_for_a_euthanasia",
            ),
            models.CheckConstraint(
                condition=~Q(consent_how="person") | ~Q(consent_witness=""),
                name="a_consent_in_person_has_a_witness",
            ),
            models.CheckConstraint(
                condition=~Q(consent_how="telephone")
                | (Q(consent_second__isnull=False) & ~Q(consent_second=F("consent_taken_by"))),
                name="a_consent_by_telephone_is_heard_by_two",
            ),
            models.CheckConstraint(
                condition=Q(consent_at=None) | Q(consent_at__lte=F("died_at")),
                name="consent_comes_before_the_death",
            ),
            models.CheckConstraint(
                condition=Q(died_at=None) | Q(died_at__lte=F("entered_at")),
                name="a_death_happened_before_it_was_entered",
            ),
            models.CheckConstraint(
                condition=(Q(how__in=["died-here", "euthanised"]) & Q(certified_by__isnull=False))
                | (~Q(how__in=["died-here", "euthanised"]) & ~Q(told_by="")),
                name="a_death_is_certified_or_told",
            ),
            models.CheckConstraint(
                condition=~Q(how__in=["died-here", "euthanised"]) | ~Q(identity="not-seen"),
                name="who_died_here_was_looked_at",
            ),
            models.CheckConstraint(
                condition=Q(weight__isnull=False, no_weight_reason="")
                | (Q(weight=None) & ~Q(no_weight_reason="")),
                name="a_weight_or_why_none",
            ),
            models.CheckConstraint(
                condition=Q(struck_at=None, struck_by=None, struck_reason="")
                | (Q(struck_at__isnull=False, struck_by__isnull=False) & ~Q(struck_reason="")),
                name="a_death_is_taken_back_with_a_reason",
            ),
        ]


class BodyDecision(models.Model):
    """What is to be done with the body, by whose word; the newest counts. Rows are only added.

    The list is common practice; what is allowed where is local law.
    """

    class What(models.TextChoices):
        OWNER = "owner", "the owner takes or keeps it"
        PRIVATE = "private", "cremation alone, the ashes come back"
        COMMUNAL = "communal", "cremation with others"
        BURIAL = "burial", "burial by a service"
        EXAMINE = "examine", "examination after death first"
        UNDECIDED = "undecided", "not decided yet"

    death = models.ForeignKey(Death, on_delete=models.PROTECT, related_name="body_decisions")
    what = models.CharField(max_length=12, choices=What.choices)
    said_by = models.CharField(max_length=120, blank=True, help_text="whose wish it is")
    words = models.CharField(max_length=200, blank=True, help_text="which service, what comes back")
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["death", "-at"])]
