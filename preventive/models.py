"""What was given against disease and parasites, what was declined or put off, and what it came from.

Doses, supplies and treatments are struck out with a reason, never changed: facts, also after signing.
"""

import pghistory
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from clinic.mail.models import Message
from clinic.patients.models import Patient
from clinic.people.models import Owner, Staff
from clinic.platform.models import DataVersion
from clinic.visits.models import Record, Visit
from preventive import dates
from preventive.calendar_models import CalendarItem as CalendarItem
from preventive.certificate_models import Certificate as Certificate
from preventive.certificate_models import CertificateFile as CertificateFile
from preventive.dates import PartialDate
from preventive.life_models import LifeFact as LifeFact
from preventive.proof_models import Proof as Proof
from preventive.protocol_models import ProtocolEdition as ProtocolEdition
from preventive.protocol_models import ProtocolProposal as ProtocolProposal
from preventive.protocol_models import ProtocolTrial as ProtocolTrial
from preventive.reaction_models import Reaction as Reaction
from preventive.reaction_models import ReactionReport as ReactionReport
from preventive.reaction_models import SiteLook as SiteLook
from preventive.reckoning_models import Reckoning as Reckoning
from preventive.struck import StruckOut as StruckOut


class ProductKind(models.TextChoices):
    VACCINE = "vaccine", "vaccine"
    PREVENTIVE = "preventive", "parasite preventive"


class Source(models.TextChoices):
    HERE = "here", "given here"
    OUTSIDE = "outside", "outside record"
    OWNER = "owner", "owner says"


class Precision(models.TextChoices):
    DAY = "day", "the day is known"
    MONTH = "month", "the month is known"
    YEAR = "year", "the year is known"


@pghistory.track()
class Product(models.Model):
    """A vaccine or a preventive as its label describes it. `facts`: see `preventive.products`."""

    code = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=10, choices=ProductKind.choices)
    name = models.CharField(max_length=120)
    maker = models.CharField(max_length=120)
    species = ArrayField(models.CharField(max_length=3), help_text="species on the label")
    facts = models.JSONField()
    retired_on = models.DateField(null=True, blank=True, help_text="no longer used from that day")

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Lot(models.Model):
    """A lot in the clinic's refrigerator, or of preventives on its shelf, in one size of the label (`band`).

    `on_hand`: doses left by the count; None where nobody counted.
    """

    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="lots")
    number = models.CharField(max_length=40)
    band = models.CharField(max_length=60, blank=True, help_text="a preventive’s size, as on the label")
    expires_on = models.DateField()
    received_on = models.DateField()
    on_hand = models.PositiveIntegerField(null=True, blank=True)
    recalled_on = models.DateField(null=True, blank=True)
    recall_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["expires_on", "number"]
        constraints = [
            models.UniqueConstraint(fields=["product", "number", "band"], name="a_lot_once"),
            models.CheckConstraint(
                condition=Q(recalled_on=None, recall_reason="")
                | (Q(recalled_on__isnull=False) & ~Q(recall_reason="")),
                name="a_recall_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.number


class LotStep(models.Model):
    """What was done to a lot besides giving from it; only added. `left`: on hand afterwards."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "came in"
        COUNTED = "counted", "counted"
        THROWN = "thrown", "thrown away"
        RECALLED = "recalled", "recalled"
        LIFTED = "lifted", "recall lifted"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    left = models.PositiveIntegerField(null=True, blank=True)
    words = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]


class Dose(StruckOut):
    """One dose of vaccine. `product_facts`: the label as it was on that day.

    `counted`: a veterinarian's ruling where the rules leave it to one; None where nobody ruled. It may be
    made later; everything else of the row only by striking it out and entering it again.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="doses")
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="doses")
    record = models.ForeignKey(Record, null=True, blank=True, on_delete=models.PROTECT, related_name="doses")
    product = models.ForeignKey(
        Product, null=True, blank=True, on_delete=models.PROTECT, related_name="doses"
    )
    lot_in_stock = models.ForeignKey(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="doses"
    )
    antigens = ArrayField(models.CharField(max_length=20))
    product_facts = models.JSONField(default=dict, blank=True)
    lot = models.CharField(max_length=40, blank=True)
    expires_on = models.DateField(null=True, blank=True, help_text="of the lot")
    given_on = models.DateField()
    precision = models.CharField(max_length=5, choices=Precision.choices, default=Precision.DAY)
    route = models.CharField(max_length=8, blank=True, help_text="SC, IM, IN, PO")
    site = models.CharField(max_length=20, blank=True, help_text="code of the protocol's sites")
    sequence = models.CharField(max_length=60, blank=True, help_text="in words: initial 2, booster")
    given_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    supervising = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    licence = models.CharField(max_length=120, blank=True, help_text="of the supervising veterinarian")
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.HERE)
    proof = models.BooleanField(default=True, help_text="a record or certificate was seen")
    proof_words = models.CharField(max_length=200, blank=True)
    proof_file = models.ForeignKey(
        Proof, null=True, blank=True, on_delete=models.PROTECT, related_name="doses"
    )
    consent = models.CharField(max_length=200, blank=True, help_text="who agreed, and how")
    answers = models.JSONField(default=list, blank=True, help_text="questions asked, and the reason given")
    tag_number = models.CharField(max_length=40, blank=True, help_text="rabies tag")
    protocol = models.ForeignKey(
        DataVersion, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    counted = models.BooleanField(null=True, blank=True)
    counted_reason = models.CharField(max_length=200, blank=True)
    counted_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta(StruckOut.Meta):
        ordering = ["given_on", "pk"]
        indexes = [models.Index(fields=["patient", "given_on"]), models.Index(fields=["lot"])]
        constraints = [
            *StruckOut.Meta.constraints,
            models.CheckConstraint(condition=~Q(antigens=[]), name="a_dose_has_an_antigen"),
            models.CheckConstraint(
                condition=~Q(source="here") | Q(visit__isnull=False, given_by__isnull=False, precision="day"),
                name="a_dose_here_has_visit_and_giver",
            ),
            models.CheckConstraint(
                condition=Q(counted=None, counted_by=None, counted_reason="")
                | (Q(counted__isnull=False, counted_by__isnull=False) & ~Q(counted_reason="")),
                name="a_ruling_has_a_reason",
            ),
        ]

    @property
    def when(self) -> str:
        """As exactly as it is known: 12 May 2024, May 2024, 2024."""
        return PartialDate(self.given_on, dates.Precision(self.precision)).words


class Supply(StruckOut):
    """What preventive went home or was given: `count` doses, one interval apart, from `first_on`."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="supplies")
    visit = models.ForeignKey(Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="supplies")
    record = models.ForeignKey(
        Record, null=True, blank=True, on_delete=models.PROTECT, related_name="supplies"
    )
    product = models.ForeignKey(
        Product, null=True, blank=True, on_delete=models.PROTECT, related_name="supplies"
    )
    product_facts = models.JSONField(default=dict, blank=True)
    lot_in_stock = models.ForeignKey(
        Lot, null=True, blank=True, on_delete=models.PROTECT, related_name="supplies"
    )
    lot = models.CharField(max_length=40, blank=True)
    expires_on = models.DateField(null=True, blank=True, help_text="of the lot")
    product_name = models.CharField(max_length=120)
    form = models.CharField(max_length=30, help_text="chew, spot-on, tablet")
    band = models.CharField(max_length=60, blank=True, help_text="the label's weight band")
    protects = ArrayField(models.CharField(max_length=30))
    ingredients = ArrayField(models.CharField(max_length=80), default=list, blank=True)
    count = models.PositiveSmallIntegerField()
    first_on = models.DateField()
    interval = models.CharField(max_length=10, help_text="by the label: 1 mo, 30 d, 12 wk")
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.HERE)
    answers = models.JSONField(default=list, blank=True, help_text="questions asked, and the reason given")
    protocol = models.ForeignKey(
        DataVersion, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta(StruckOut.Meta):
        ordering = ["first_on", "pk"]
        indexes = [models.Index(fields=["patient", "first_on"])]
        constraints = [
            *StruckOut.Meta.constraints,
            models.CheckConstraint(condition=Q(count__gte=1), name="a_supply_has_a_dose"),
        ]


class TreatmentGiven(StruckOut):
    """Something done once: a deworming, a dental cleaning."""

    class Kind(models.TextChoices):
        DEWORMING = "deworming", "deworming"
        DENTAL = "dental", "dental cleaning"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="treatments_given")
    visit = models.ForeignKey(
        Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="treatments_given"
    )
    record = models.ForeignKey(
        Record, null=True, blank=True, on_delete=models.PROTECT, related_name="treatments_given"
    )
    kind = models.CharField(max_length=12, choices=Kind.choices)
    on = models.DateField()
    words = models.CharField(max_length=200, blank=True, help_text="with what")
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.HERE)

    class Meta(StruckOut.Meta):
        ordering = ["on", "pk"]


class PutOff(StruckOut):
    """An item that is not done for now; `code`: the item, its group or an antigen."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="%(class)ss")
    visit = models.ForeignKey(
        Visit, null=True, blank=True, on_delete=models.PROTECT, related_name="%(class)ss"
    )
    record = models.ForeignKey(
        Record, null=True, blank=True, on_delete=models.PROTECT, related_name="%(class)ss"
    )
    code = models.CharField(max_length=60)
    on = models.DateField()
    until = models.DateField()
    reason = models.CharField(max_length=200)

    class Meta(StruckOut.Meta):
        abstract = True
        constraints = [
            *StruckOut.Meta.constraints,
            models.CheckConstraint(condition=Q(until__gt=models.F("on")), name="%(class)s_ends_later"),
            models.CheckConstraint(condition=~Q(reason=""), name="%(class)s_says_why"),
        ]


class Decline(PutOff):
    """The owner said no; offered again on `until`. It is not overdue meanwhile."""

    explained_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    risks_explained = models.CharField(max_length=300, blank=True)
    signed_by_owner = models.BooleanField(default=False, help_text="the owner signed that they decline")


class Deferral(PutOff):
    """Put off for a reason of medicine or of the day until a date."""


class OwnDate(StruckOut):
    """A clinician's own due date for one item, in place of the rules'; withdrawn by striking it."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="own_dates")
    code = models.CharField(max_length=60)
    day = models.DateField()
    on = models.DateField(help_text="the clinic's day on which it was set")
    reason = models.CharField(max_length=200)

    class Meta(StruckOut.Meta):
        constraints = [
            *StruckOut.Meta.constraints,
            models.CheckConstraint(condition=~Q(reason=""), name="own_date_says_why"),
            models.CheckConstraint(condition=Q(day__gte=models.F("on")), name="own_date_lies_ahead"),
            models.UniqueConstraint(
                fields=["patient", "code"], condition=Q(struck_at=None), name="an_own_date_stands_once"
            ),
        ]


class Hold(models.Model):
    """Stopped, e.g. after an adverse event, until a clinician releases it."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="holds")
    reaction = models.ForeignKey(
        Reaction, null=True, blank=True, on_delete=models.PROTECT, related_name="holds"
    )
    code = models.CharField(max_length=60)
    on = models.DateField()
    reason = models.CharField(max_length=200)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    released_on = models.DateField(null=True, blank=True)
    released_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    released_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(released_on=None, released_by=None, released_reason="")
                | (Q(released_on__isnull=False, released_by__isnull=False) & ~Q(released_reason="")),
                name="released_by_somebody",
            ),
            models.UniqueConstraint(
                fields=["patient", "code"], condition=Q(released_on=None), name="a_hold_stands_once"
            ),
        ]


class RecallTold(models.Model):
    """That the owner of an animal that had a recalled lot was told; once for each dose and each supply."""

    dose = models.OneToOneField(
        Dose, null=True, blank=True, on_delete=models.PROTECT, related_name="recall_told"
    )
    supply = models.OneToOneField(
        Supply, null=True, blank=True, on_delete=models.PROTECT, related_name="recall_told"
    )
    how = models.CharField(max_length=200)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(dose__isnull=False, supply=None) | Q(dose=None, supply__isnull=False),
                name="told_of_a_dose_or_a_supply",
            )
        ]


class RecallLetter(models.Model):
    """That a household was written to about one recall of a lot, by mail; only added.

    `recalled_on`: which recall, where a lot was recalled, let go and recalled again.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="letters")
    recalled_on = models.DateField()
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="recall_letters")
    message = models.OneToOneField(Message, on_delete=models.PROTECT, related_name="recall_letter")
    words = models.TextField(help_text="what the clinician said in it")
    doses = models.ManyToManyField(Dose, related_name="recall_letters", blank=True)
    supplies = models.ManyToManyField(Supply, related_name="recall_letters", blank=True)
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["lot", "recalled_on", "owner"], name="one_letter_a_household_and_recall"
            )
        ]
