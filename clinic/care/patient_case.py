"""What the guards must know of a patient, gathered in a fixed number of questions to the database."""

from datetime import date, timedelta

from django.db.models import Q
from django.utils import timezone

from clinic.care.catalogue import catalogue
from clinic.care.guards import Case, InUse
from clinic.care.models import Medicine
from clinic.care.sources import all_facts
from clinic.patients.ages import completed_months
from clinic.patients.models import Alert, Condition, Measurement, Patient
from clinic.visits.models import GivenAtHome, Record

GROWN_MONTHS = 12  # common practice; giant breeds grow longer
LONG_TERM_DAYS = 365  # a medicine without a last day counts as in use for a year

EAR_DRUM = "ear-drum-seen-whole"


def case_of(record: Record, *, today: date) -> Case:
    """The patient of this record as the guards see it. `today` is the clinic's date."""
    patient = record.visit.patient
    standing = Q(until=None) | Q(until__gte=today)
    allergies = Alert.objects.filter(standing, patient=patient, kind=Alert.Kind.ALLERGY)
    conditions = Condition.objects.filter(standing, patient=patient)
    return Case(
        name=patient.name,
        species=patient.species,
        today=today,
        allergies=tuple(allergies.order_by("pk").values_list("text", flat=True)),
        conditions=frozenset(conditions.values_list("code", flat=True)),
        weighed_on=_weighed_on(patient),
        growing=_growing(patient, today),
        in_use=(*medicines_in_use(patient, today=today), *_given_at_home(record)),
        drum_seen_whole=all_facts(record).get(EAR_DRUM, {}),
    )


def medicines_in_use(patient: Patient, *, today: date) -> tuple[InUse, ...]:
    """What was directed and is not over: by its last day, or within a year without one."""
    begun = today - timedelta(LONG_TERM_DAYS)
    rows = (
        Medicine.objects.filter(record__visit__patient=patient)
        .filter(
            Q(last_on__gte=today)
            | Q(last_on=None, at__date__gte=begun) & ~Q(how=Medicine.How.GIVEN)
            | Q(how=Medicine.How.GIVEN, at__date=today)
        )
        .select_related("prescriber")
        .order_by("pk")
    )
    return tuple(
        InUse(each.name, tuple(each.ingredients), f"{each.get_how_display()} {_when_and_who(each)}")
        for each in rows
    )


def _when_and_who(each: Medicine) -> str:
    return f"on {timezone.localtime(each.at):%-d %B %Y} by {each.prescriber.full_name}"


def _given_at_home(record: Record) -> tuple[InUse, ...]:
    """What the owner gives: its name is all that is known, so the name stands for the ingredient too."""
    return tuple(
        InUse(each.name, tuple(_names(each.name)), "given at home")
        for each in GivenAtHome.objects.filter(record=record).order_by("pk")
    )


def _names(name: str) -> list[str]:
    listed = catalogue().find(name)
    if listed:
        return list(listed.ingredients)
    words = name.casefold()
    return [name, *(each for each in catalogue().kinds.of if each in words)]


def _weighed_on(patient: Patient) -> date | None:
    newest = (
        Measurement.objects.filter(
            patient=patient, kind=Measurement.Kind.WEIGHT, struck_at=None, value__isnull=False
        )
        .order_by("-measured_at")
        .first()
    )
    return timezone.localdate(newest.measured_at) if newest else None


def _growing(patient: Patient, today: date) -> bool:
    return patient.birth_date is not None and completed_months(patient.birth_date, today) < GROWN_MONTHS
