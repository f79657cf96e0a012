"""What the house itself keeps: the clinic's details, versions of its data, forms sent once."""

from django.db import models
from django.db.models import Q

from clinic.people.models import Staff


class ClinicDetails(models.Model):
    """One installation is one practice, one jurisdiction, one time zone: one row."""

    class LettersCarry(models.TextChoices):
        PDF = "pdf", "the PDF, and a link where owners have pages"
        LINK = "link", "only the link to the owner’s page, where owners have pages"

    name = models.CharField(max_length=160)
    street = models.CharField(max_length=200)
    city = models.CharField(max_length=120)
    region = models.CharField(max_length=120, blank=True)
    postal_code = models.CharField(max_length=20, blank=True)
    country = models.CharField(max_length=2)
    phone = models.CharField(max_length=40)
    emergency_name = models.CharField(max_length=160, help_text="who answers out of hours")
    emergency_phone = models.CharField(max_length=40)
    email = models.EmailField()
    paper = models.CharField(max_length=6, choices=[("A4", "A4"), ("letter", "US Letter")], default="A4")
    letters_carry = models.CharField(
        max_length=4, choices=LettersCarry.choices, default=LettersCarry.PDF, help_text="in an owner's mail"
    )
    jurisdiction = models.CharField(max_length=30, default="nasphv", help_text="whose rabies rules apply")
    weight_unit = models.CharField(max_length=2, choices=[("kg", "kg"), ("lb", "lb")], default="kg")
    temperature_unit = models.CharField(max_length=1, choices=[("C", "°C"), ("F", "°F")], default="C")
    food_unit = models.CharField(max_length=2, choices=[("g", "g"), ("oz", "oz")], default="g")
    energy_rule = models.CharField(max_length=20, default="rer-multiples")
    settings = models.JSONField(default=dict, blank=True, help_text="chosen options by name")
    demo_laid_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="one_clinic")]


class DataVersion(models.Model):
    """The walk, a protocol, factors, a wording: composed, immutable, found by its SHA-256."""

    class Kind(models.TextChoices):
        WALK = "walk", "walk"
        PROTOCOL = "protocol", "protocol"
        FACTORS = "factors", "factors"
        WORDING = "wording", "wording"

    kind = models.CharField(max_length=10, choices=Kind.choices)
    sha256 = models.CharField(max_length=64, unique=True)
    body = models.JSONField()
    composed_at = models.DateTimeField()
    approved_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["kind", "-composed_at"])]


class SentOnce(models.Model):
    """A form's one-time token: the second sending of the same form meets this row."""

    token = models.UUIDField(primary_key=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")


class Knock(models.Model):
    """How often one network address asked for something, and asked in vain, since one moment. No address
    stands in it: `who` is a keyed hash that changes every day, and rows go after an hour."""

    what = models.CharField(max_length=20, default="owner-page")
    who = models.CharField(max_length=64)
    since = models.DateTimeField()
    asked = models.PositiveIntegerField(default=0)
    in_vain = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["what", "who", "since"], name="one_count_an_address_and_while")
        ]
        indexes = [models.Index(fields=["since"])]
