"""What the guards must know of a patient, gathered in a fixed number of questions to the database."""

from datetime import date, timedelta

from django.db.models import Q
from django.utils import timezone

from clinic.care.catalogue import find_several
from clinic.care.guards import WASHED_OUT_DAYS, Case, InUse, Kinds
from clinic.care.kinds import plain
from clinic.care.models import Medicine, MedicineStop
from clinic.care.sources import all_facts
from clinic.patients.ages import completed_months
from clinic.patients.models import Alert, Condition, Measurement, Patient
from clinic.platform.asked import once
from clinic.visits.models import GivenAtHome, Record

GROWN_MONTHS = 12  # common practice; giant breeds grow longer
LONG_TERM_DAYS = 365  # a medicine without a last day counts as in use for a year

EAR_DRUM = "ear-drum-seen-whole"


def case_of(record: Record, kinds: Kinds, *, today: date) -> Case:
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
        in_use=(*medicines_in_use(patient, today=today), *_given_at_home(record, kinds)),
        lately=medicines_lately(patient, today=today),
        drum_seen_whole=all_facts(record).get(EAR_DRUM, {}),
    )


def in_use_rows(patient: Patient, *, today: date) -> list[Medicine]:
    """What was directed and is not over: by its last day, or within a year without one, and not stopped."""
    begun = today - timedelta(LONG_TERM_DAYS)
    return list(
        Medicine.objects.filter(record__visit__patient=patient)
        .filter(
            Q(last_on__gte=today)
            | Q(last_on=None, at__date__gte=begun) & ~Q(how=Medicine.How.GIVEN)
            | Q(how=Medicine.How.GIVEN, at__date=today)
        )
        .exclude(stop__on__lte=today)
        .select_related("prescriber", "record__visit", "problem", "stop")
        .order_by("pk")
    )


@once
def medicines_before(record: Record) -> tuple[list[Medicine], list[MedicineStop]]:
    """What earlier records directed and is still in use on the day of this one; what was stopped meanwhile.

    As it was when this record was signed, also for a copy that is made later. Two queries.
    """
    until = record.signed_at or timezone.now()
    patient = record.visit.patient
    in_use = [
        each
        for each in in_use_rows(patient, today=timezone.localdate(until))
        if each.record_id != record.pk and each.at < record.opened_at and each.how != Medicine.How.GIVEN
    ]
    stops = MedicineStop.objects.filter(
        medicine__record__visit__patient=patient, at__gte=record.opened_at, at__lte=until
    )
    return in_use, list(stops.select_related("medicine", "by").order_by("at", "pk"))


def medicines_in_use(patient: Patient, *, today: date) -> tuple[InUse, ...]:
    """`in_use_rows` as the guards see them."""
    return tuple(
        InUse(each.name, tuple(each.ingredients), f"{each.get_how_display()} {_when_and_who(each)}")
        for each in in_use_rows(patient, today=today)
    )


def medicines_lately(patient: Patient, *, today: date) -> tuple[InUse, ...]:
    """What ended in the last days, by its last day, by being stopped, or given here once."""
    since = today - timedelta(WASHED_OUT_DAYS)
    rows = Medicine.objects.filter(
        Q(last_on__lt=today, last_on__gte=since)
        | Q(stop__on__lte=today, stop__on__gte=since)
        | Q(how=Medicine.How.GIVEN, last_on=None, at__date__lt=today, at__date__gte=since),
        record__visit__patient=patient,
    ).select_related("stop")
    return tuple(
        InUse(each.name, tuple(each.ingredients), ended=_ended(each)) for each in rows.order_by("pk")
    )


def _ended(each: Medicine) -> date:
    stop: MedicineStop | None = getattr(each, "stop", None)
    days = [day for day in (each.last_on, stop.on if stop else None) if day]
    return min(days, default=timezone.localdate(each.at))


def _when_and_who(each: Medicine) -> str:
    return f"on {timezone.localtime(each.at):%-d %B %Y} by {each.prescriber.full_name}"


def _given_at_home(record: Record, kinds: Kinds) -> tuple[InUse, ...]:
    """What the owner gives: its name is all that is known, so the name stands for the ingredient too.

    Two queries.
    """
    names = list(GivenAtHome.objects.filter(record=record).order_by("pk").values_list("name", flat=True))
    listed = find_several(names) if names else {}

    def ingredients(name: str) -> tuple[str, ...]:
        if plain(name) in listed:
            return listed[plain(name)].ingredients
        words = name.casefold()
        return (name, *(each for each in kinds.of if each in words))

    return tuple(InUse(name, ingredients(name), "given at home") for name in names)


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
