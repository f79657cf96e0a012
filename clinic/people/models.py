"""The people: staff who work here and sign, owners who are written to."""

import uuid
from typing import Any, ClassVar

import pghistory
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.postgres.fields import ArrayField
from django.contrib.postgres.indexes import GinIndex, OpClass
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower, Upper

from clinic.people.rights import Role


class StaffManager(BaseUserManager["Staff"]):
    def create_user(self, email: str, password: str | None = None, **fields: Any) -> "Staff":
        staff = self.model(email=email.strip().lower(), **fields)
        staff.set_password(password)
        staff.save(using=self._db)
        return staff

    def get_by_natural_key(self, email: str | None) -> "Staff":
        return self.get(email__iexact=email)


@pghistory.track(exclude=["password", "pin_hash", "last_login", "pin_failures", "pin_locked_until"])
class Staff(AbstractBaseUser):
    """Somebody who works here. One who left loses sign-in, never their name in records.

    A unit left empty is the clinic's own.
    """

    email = models.EmailField(unique=True)
    full_name = models.CharField(max_length=200)
    printed_name = models.CharField(max_length=200, help_text="as it stands under a letter")
    roles = ArrayField(models.CharField(max_length=20, choices=[(r.value, r.value) for r in Role]))
    licence_number = models.CharField(max_length=60, blank=True)
    licence_place = models.CharField(max_length=100, blank=True)
    pin_hash = models.CharField(max_length=200, blank=True)
    pin_failures = models.PositiveSmallIntegerField(default=0)
    pin_locked_until = models.DateTimeField(null=True, blank=True)
    station_order = ArrayField(models.CharField(max_length=8), default=list, blank=True)
    weight_unit = models.CharField(max_length=2, blank=True, choices=[("kg", "kg"), ("lb", "lb")])
    temperature_unit = models.CharField(max_length=1, blank=True, choices=[("C", "°C"), ("F", "°F")])
    food_unit = models.CharField(max_length=2, blank=True, choices=[("g", "g"), ("oz", "oz")])
    is_active = models.BooleanField(default=True)
    left_on = models.DateField(null=True, blank=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS = ["full_name"]

    objects: ClassVar[StaffManager] = StaffManager()

    class Meta:
        verbose_name_plural = "staff"
        constraints = [
            models.UniqueConstraint(Lower("email"), name="staff_email_once"),
            models.CheckConstraint(
                condition=~Q(roles__contains=[Role.CLINICIAN.value]) | ~Q(licence_number=""),
                name="clinician_has_licence",
            ),
            models.CheckConstraint(condition=Q(roles__len__gte=1), name="staff_has_a_role"),
        ]

    def __str__(self) -> str:
        return self.full_name

    def get_full_name(self) -> str:
        return self.full_name

    def get_short_name(self) -> str:
        return self.full_name

    @property
    def role_set(self) -> frozenset[Role]:
        return frozenset(Role(role) for role in self.roles)


class Grant(models.Model):
    """One person at work on one tablet: every operation carries it and is credited to that person."""

    class How(models.TextChoices):
        SIGN_IN = "sign-in"
        PIN = "pin"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    staff = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="grants")
    tablet = models.UUIDField(help_text="the tablet's session, by a key of its own")
    how = models.CharField(max_length=10, choices=How.choices)
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["tablet", "staff"])]


class Tablet(models.Model):
    """One browser the house works on, and whose grant is in hand there.

    A row, not a session's key: two requests at once save a session over each other, and a hand-over
    must not be undone by a page that was still loading.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    working = models.ForeignKey(Grant, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    seen_at = models.DateTimeField(help_text="last touched")
    locked_at = models.DateTimeField(null=True, blank=True)


class Invitation(models.Model):
    """The only way in: a manager invites, the invited person chooses a password."""

    email = models.EmailField()
    full_name = models.CharField(max_length=200)
    printed_name = models.CharField(max_length=200, blank=True)
    roles = ArrayField(models.CharField(max_length=20, choices=[(r.value, r.value) for r in Role]))
    licence_number = models.CharField(max_length=60, blank=True)
    licence_place = models.CharField(max_length=100, blank=True)
    token_hash = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                Lower("email"),
                condition=Q(accepted_at=None, withdrawn_at=None),
                name="one_open_invitation_an_address",
            )
        ]


@pghistory.track()
class Owner(models.Model):
    """The person answerable for a patient and reached by mail. Owners have no account."""

    class EmailState(models.TextChoices):
        NONE = "none", "no e-mail"
        UNTRIED = "untried", "not tried yet"
        WORKS = "works", "works"
        BOUNCED = "bounced", "came back"

    class LettersBy(models.TextChoices):
        EMAIL = "email", "by e-mail"
        PAPER = "paper", "on paper"
        BOTH = "both", "by e-mail and on paper"

    class Print(models.TextChoices):
        USUAL = "usual", "12 point"
        LARGE = "large", "16 point"

    given_name = models.CharField(max_length=120, blank=True)
    family_name = models.CharField(max_length=120)
    street = models.CharField(max_length=200, blank=True)
    city = models.CharField(max_length=120, blank=True)
    region = models.CharField(max_length=120, blank=True)
    postal_code = models.CharField(max_length=20, blank=True)
    country = models.CharField(max_length=2, blank=True, help_text="ISO 3166-1, two letters")
    email = models.EmailField(blank=True)
    email_state = models.CharField(max_length=10, choices=EmailState.choices, default=EmailState.NONE)
    language = models.CharField(max_length=8, default="en")
    letters_by = models.CharField(max_length=8, choices=LettersBy.choices, default=LettersBy.EMAIL)
    print_size = models.CharField(max_length=8, choices=Print.choices, default=Print.USUAL)
    # Never in clinical fields nor on a letter (RCVS Supporting Guidance 13.3).
    desk_note = models.TextField(blank=True, help_text="for the front desk only")
    search = models.TextField(blank=True, editable=False)
    merged_into = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="merged"
    )
    made_at = models.DateTimeField()

    class Meta:
        indexes = [
            GinIndex(OpClass(Upper("search"), name="gin_trgm_ops"), name="owner_search_trgm"),
            models.Index(Lower("family_name"), Lower("given_name"), name="owner_name"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(email="", email_state="none") | (~Q(email="") & ~Q(email_state="none")),
                name="owner_email_state_fits",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def name(self) -> str:
        return f"{self.given_name} {self.family_name}".strip()


@pghistory.track()
class Phone(models.Model):
    owner = models.ForeignKey(Owner, on_delete=models.CASCADE, related_name="phones")
    label = models.CharField(max_length=40, blank=True)
    number = models.CharField(max_length=40, help_text="as given")
    digits = models.CharField(max_length=20, editable=False)
    rank = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["rank", "pk"]
        indexes = [GinIndex(OpClass("digits", name="gin_trgm_ops"), name="phone_digits_trgm")]
