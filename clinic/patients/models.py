"""The patient and its lasting facts, and everything measured on it."""

import pghistory
from django.contrib.postgres.indexes import GinIndex, OpClass
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Upper

from clinic.people.models import Owner, Staff


class Species(models.TextChoices):
    DOG = "dog", "dog"
    CAT = "cat", "cat"


class Sex(models.TextChoices):
    FEMALE = "female", "female"
    MALE = "male", "male"
    UNKNOWN = "unknown", "not known"


class Neutered(models.TextChoices):
    YES = "yes", "neutered"
    NO = "no", "intact"
    UNKNOWN = "unknown", "not known"


@pghistory.track()
class Patient(models.Model):
    """The animal. There is no default species: ranges of one are wrong for the other."""

    class BirthPrecision(models.TextChoices):
        DAY = "day", "the day is known"
        MONTH = "month", "the month is known"
        YEAR = "year", "the year is known"
        ESTIMATE = "estimate", "an estimate"

    name = models.CharField(max_length=120)
    species = models.CharField(max_length=3, choices=Species.choices)
    breed = models.CharField(max_length=120, blank=True)
    sex = models.CharField(max_length=8, choices=Sex.choices)
    neutered = models.CharField(max_length=8, choices=Neutered.choices)
    birth_date = models.DateField(null=True, blank=True)
    birth_precision = models.CharField(max_length=10, choices=BirthPrecision.choices, blank=True)
    expected_adult_kg = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    colour = models.CharField(max_length=120, blank=True)
    photo_sha256 = models.CharField(max_length=64, blank=True)
    deceased_on = models.DateField(null=True, blank=True)
    deceased_how = models.CharField(
        max_length=12, blank=True, choices=[("died", "died"), ("euthanised", "euthanised")]
    )
    left_practice_on = models.DateField(null=True, blank=True)
    search = models.TextField(blank=True, editable=False)
    merged_into = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="merged"
    )
    owners: "models.ManyToManyField[Owner, Ownership]" = models.ManyToManyField(
        Owner, through="Ownership", related_name="patients"
    )
    made_at = models.DateTimeField()

    class Meta:
        indexes = [
            GinIndex(OpClass(Upper("search"), name="gin_trgm_ops"), name="patient_search_trgm"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(birth_date=None, birth_precision="")
                | (Q(birth_date__isnull=False) & ~Q(birth_precision="")),
                name="birth_date_says_how_sure",
            ),
            models.CheckConstraint(
                condition=Q(deceased_on=None) | Q(birth_date=None) | Q(deceased_on__gte=F("birth_date")),
                name="born_before_death",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_neutered(self) -> bool | None:
        return {"yes": True, "no": False}.get(self.neutered)


@pghistory.track()
class Ownership(models.Model):
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="ownerships")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="ownerships")
    is_first = models.BooleanField(default=False, help_text="the one who is written to")
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-is_first", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["patient"], condition=Q(is_first=True, until=None), name="one_first_owner"
            ),
            models.UniqueConstraint(
                fields=["patient", "owner"], condition=Q(until=None), name="an_owner_stands_once"
            ),
        ]


@pghistory.track()
class Microchip(models.Model):
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="microchips")
    number = models.CharField(max_length=15, unique=True, help_text="text: leading zeros matter (ISO 11784)")
    kind = models.CharField(max_length=20)
    implanted_on = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=120, blank=True)
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()


@pghistory.track()
class Alert(models.Model):
    """What everybody must see first. Handling notes are for staff and never print on a letter."""

    class Kind(models.TextChoices):
        ALLERGY = "allergy", "allergy"
        ALERT = "alert", "alert"
        HANDLING = "handling", "handling"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="alerts")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    text = models.CharField(max_length=200)
    ingredient = models.CharField(max_length=120, blank=True, help_text="for an allergy: to what")
    since = models.DateField(null=True, blank=True)
    until = models.DateField(null=True, blank=True)
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()


class ConditionCode(models.TextChoices):
    """Closed list: each code changes what other rooms propose or ask."""

    SEIZURES = "seizures", "seizures"
    INSULIN_DIABETES = "insulin_diabetes", "diabetes on insulin"
    KIDNEY_DISEASE = "kidney_disease", "kidney disease"
    LIVER_DISEASE = "liver_disease", "liver disease"
    PANCREATITIS = "pancreatitis", "disease of the pancreas"
    URINARY_STONES = "urinary_stones", "urinary stones"
    HEART_DISEASE = "heart_disease", "heart disease"
    PREGNANT = "pregnant", "pregnant"
    NURSING = "nursing", "nursing"
    IMMUNOSUPPRESSED = "immunosuppressed", "on immunosuppressants"
    NOT_EATING = "not_eating", "not eating"
    VOMITING = "vomiting", "vomiting"
    UNEXPLAINED_WEIGHT_LOSS = "unexplained_weight_loss", "weight loss not explained yet"
    THERAPEUTIC_DIET = "therapeutic_diet", "on a therapeutic diet"
    STARVATION = "starvation", "starved"
    PREDISPOSED_OBESE = "obese_prone", "gains weight easily"
    FELV_POSITIVE = "felv_positive", "FeLV positive"
    FIV_POSITIVE = "fiv_positive", "FIV positive"
    ABCB1_CARRIER = "abcb1", "ABCB1 (MDR1) variant"


@pghistory.track()
class Condition(models.Model):
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="conditions")
    code = models.CharField(max_length=30, choices=ConditionCode.choices)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    ended_why = models.CharField(max_length=200, blank=True)
    ended_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "code"], condition=Q(until=None), name="a_condition_stands_once"
            )
        ]


@pghistory.track()
class LastingFact(models.Model):
    """A part that is gone for good: its structures are *not applicable* from then on."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="lasting_facts")
    structure = models.CharField(max_length=60, help_text="line key, or a station with its side")
    words = models.CharField(max_length=120, blank=True, help_text="the part as people name it")
    why = models.CharField(max_length=120)
    since = models.DateField(null=True, blank=True)
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    struck_at = models.DateTimeField(null=True, blank=True, help_text="it was a mistake: the part is there")
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "structure"], condition=Q(struck_at=None), name="a_lasting_fact_once"
            ),
            models.CheckConstraint(
                condition=Q(struck_at=None, struck_by=None)
                | (Q(struck_at__isnull=False, struck_by__isnull=False) & ~Q(struck_reason="")),
                name="a_lasting_fact_is_struck_with_a_reason",
            ),
        ]


class Measurement(models.Model):
    """One dated observation: as typed, with its unit and the canonical value; struck out, never erased."""

    class Kind(models.TextChoices):
        WEIGHT = "weight", "weight"
        TEMPERATURE = "temperature", "temperature"
        HEART_RATE = "heart-rate", "heart rate"
        PULSE_RATE = "pulse-rate", "pulse rate"
        RESPIRATORY_RATE = "respiratory-rate", "breaths"
        CAPILLARY_REFILL = "capillary-refill", "capillary refill"
        BLOOD_PRESSURE = "blood-pressure", "systolic blood pressure"
        BCS = "bcs", "body condition"
        MCS = "mcs", "muscle condition"
        PAIN = "pain", "pain"
        STT_LEFT = "stt-left", "tear test, left"
        STT_RIGHT = "stt-right", "tear test, right"
        IOP_LEFT = "iop-left", "eye pressure, left"
        IOP_RIGHT = "iop-right", "eye pressure, right"

    class Flag(models.TextChoices):
        INSIDE = "inside", "inside"
        LOW = "low", "low"
        HIGH = "high", "high"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="measurements")
    visit = models.ForeignKey(
        "clinic.Visit", null=True, blank=True, on_delete=models.PROTECT, related_name="measurements"
    )
    kind = models.CharField(max_length=20, choices=Kind.choices)
    typed = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    value = models.DecimalField(
        max_digits=12, decimal_places=6, null=True, blank=True, help_text="canonical unit"
    )
    category = models.CharField(max_length=30, blank=True, help_text="a word instead of, or beside, a number")
    setting = models.CharField(max_length=20, default="clinic")
    state = models.CharField(max_length=20, blank=True)
    method = models.CharField(max_length=60, blank=True)
    details = models.JSONField(
        default=dict, blank=True, help_text="cuff, site, device, scale, counted seconds"
    )
    flag = models.CharField(max_length=8, choices=Flag.choices, blank=True)
    finding_code = models.CharField(max_length=8, blank=True, help_text="suggested by the limits")
    urgency = models.CharField(max_length=1, blank=True)
    looked_twice = models.BooleanField(default=False, help_text="rare, and confirmed")
    measured_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    observed_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_by = models.ForeignKey(Staff, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["patient", "kind", "-measured_at"]),
            models.Index(fields=["visit", "kind"]),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(value__isnull=False, typed__isnull=False) | ~Q(category=""),
                name="something_was_measured",
            ),
            models.CheckConstraint(
                condition=Q(struck_at=None, struck_by=None, struck_reason="")
                | (Q(struck_at__isnull=False, struck_by__isnull=False) & ~Q(struck_reason="")),
                name="struck_with_a_reason",
            ),
        ]


class DietEntry(models.Model):
    """What the animal really eats, as told or weighed; the newest visit's entries are the current diet."""

    class Part(models.TextChoices):
        MEAL = "meal", "meals"
        TREAT = "treat", "treats"
        OTHER = "other", "from the table, and from others"

    class How(models.TextChoices):
        TOLD = "told", "as told"
        SCOOP = "scoop", "scoop weighed"
        WEIGHED = "weighed", "all weighed"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="diet_entries")
    visit = models.ForeignKey(
        "clinic.Visit", null=True, blank=True, on_delete=models.PROTECT, related_name="diet_entries"
    )
    part = models.CharField(max_length=6, choices=Part.choices)
    food = models.CharField(max_length=160)
    food_code = models.CharField(max_length=60, blank=True, help_text="from the catalogue, where known")
    amount = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    unit = models.CharField(max_length=20, blank=True)
    kcal_a_day = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    how = models.CharField(max_length=8, choices=How.choices, default=How.TOLD)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["patient", "until"])]


@pghistory.track()
class LifestyleAnswer(models.Model):
    """An answer about the animal's life that a schedule or a food rule reads; reviewed by a date."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="lifestyle")
    code = models.CharField(max_length=30)
    answer = models.CharField(max_length=30, help_text="yes, no, or a coded word")
    review_on = models.DateField()
    answered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["patient", "code"], name="a_lifestyle_answer_once")]
