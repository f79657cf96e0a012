"""Reads the facts of one patient for a summary, in a fixed number of queries for clinic's own parts."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Prefetch, Q
from django.utils import timezone

from clinic.care.in_use import medicines_of
from clinic.care.models import Assessment, Problem, Test, TestResult
from clinic.care.patient_case import in_use_rows
from clinic.patients.facts import both_weights, sex_in_words
from clinic.patients.forms import GONE_PARTS
from clinic.patients.microchip import shown as chip_shown
from clinic.patients.models import Alert, DietEntry, Measurement, Patient
from clinic.platform.addresses import town
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.platform.registries import summary_parts
from clinic.promises.queries import open_promises, owners_of
from clinic.summaries.facts import (
    Animal,
    Asked,
    Awaited,
    Directed,
    Eaten,
    Facts,
    GivenByOwner,
    Keeper,
    Lasting,
    OpenMatter,
    OurClinic,
    Result,
    Tested,
    Thought,
    Told,
    Weighing,
)
from clinic.visits.models import NextVisit

MOST_WEIGHINGS = 15
MOST_TESTS = 20
# What somebody is rung back about may be the owner's own business, not the patient's record.
NOT_FOR_A_COLLEAGUE = frozenset({"contact"})
SURE = frozenset({Patient.BirthPrecision.DAY, Patient.BirthPrecision.MONTH})


def gather(patient: Patient, *, asked: Asked, signer: str, today: date) -> Facts:
    """Everything that a summary of this patient says today."""
    details = clinic_details()
    weighings = _weighings(patient, details.weight_unit)
    tests = _tests(patient)
    resulted = [each for each in tests if each.standing]  # type: ignore[attr-defined]  # prefetched
    return Facts(
        clinic=_clinic(details),
        animal=_animal(patient),
        keepers=_keepers(patient),
        asked=asked,
        problems=_problems(patient),
        lasting=_lasting(patient, today),
        medicines=_medicines(patient, today),
        at_home=tuple(
            GivenByOwner(row.name, f"{row.small}.") for row in medicines_of(patient, today=today).at_home
        ),
        weighings=tuple(weighings[:MOST_WEIGHINGS]),
        older_weights=max(len(weighings) - MOST_WEIGHINGS, 0),
        tests=tuple(_tested(each) for each in resulted[:MOST_TESTS]),
        older_tests=max(len(resulted) - MOST_TESTS, 0),
        diet=_diet(patient),
        awaited=(*_awaited(patient), *_without_result(tests)),
        rooms=tuple(
            Told(each.name, each.title, each.order, each.blocks(patient, today=today))
            for each in summary_parts
        ),
        signer=signer,
        today=today,
    )


def _clinic(clinic: ClinicDetails) -> OurClinic:
    place = town(clinic)
    lines = (f"{clinic.street}, {place}",)
    return OurClinic(clinic.name, lines, clinic.phone, clinic.email, clinic.paper)


def _animal(patient: Patient) -> Animal:
    left = ""
    if patient.deceased_on:
        left = f"{patient.get_deceased_how_display() or 'died'} on {_day(patient.deceased_on)}"
    elif patient.left_practice_on:
        left = f"left this practice on {_day(patient.left_practice_on)}"
    return Animal(
        name=patient.name,
        species=patient.get_species_display(),
        breed=patient.breed,
        sex=sex_in_words(patient),
        born=_born(patient),
        colour=patient.colour,
        chips=tuple(chip_shown(row.number) for row in patient.microchips.order_by("pk")),
        left=left,
    )


def _born(patient: Patient) -> str:
    """9 January 2018; January 2018; about 2018, an estimate."""
    if patient.birth_date is None:
        return ""
    if patient.birth_precision == Patient.BirthPrecision.DAY:
        return _day(patient.birth_date)
    if patient.birth_precision in SURE:
        return f"{patient.birth_date:%B %Y}"
    return f"about {patient.birth_date:%Y}, {patient.get_birth_precision_display()}"


def _keepers(patient: Patient) -> tuple[Keeper, ...]:
    """The first owner and the others, with the telephone they are reached at first."""
    return tuple(
        Keeper(owner.name, next((phone.number for phone in owner.phones.all()), ""))
        for owner in owners_of(patient)
    )


def _problems(patient: Patient) -> tuple[OpenMatter, ...]:
    problems = list(Problem.objects.filter(patient=patient, closed_at=None))
    said: dict[int, list[Assessment]] = defaultdict(list)
    rows = Assessment.objects.filter(problem__in=problems).select_related("by", "record")
    for row in rows.order_by("-record__opened_at", "rank", "pk"):
        if not said[row.problem_id] or said[row.problem_id][0].record_id == row.record_id:
            said[row.problem_id].append(row)
    return tuple(
        OpenMatter(each.title, _local(each.opened_at), tuple(_thought(row) for row in said.get(each.pk, ())))
        for each in problems
    )


def _thought(row: Assessment) -> Thought:
    return Thought(
        text=row.text,
        certainty=row.get_certainty_display(),
        course=row.get_course_display(),
        on=_local(row.at),
        by=row.by.printed_name,
        signed=row.record.is_signed,
    )


def _lasting(patient: Patient, today: date) -> tuple[Lasting, ...]:
    """Notes on handling are for our own staff and never leave the house."""
    stands = Q(until=None) | Q(until__gt=today)
    alerts = patient.alerts.filter(stands).exclude(kind=Alert.Kind.HANDLING).order_by("kind", "pk")
    found = [
        Lasting(
            each.get_kind_display(),
            f"{each.text} ({each.ingredient})" if each.ingredient else each.text,
            each.since,
            allergy=each.kind == Alert.Kind.ALLERGY,
        )
        for each in alerts
    ]
    found += [
        Lasting(
            "condition",
            f"{each.get_code_display()}{f': {each.note}' if each.note else ''}",
            each.since,
        )
        for each in patient.conditions.filter(stands).order_by("since", "pk")
    ]
    words = dict(GONE_PARTS)
    found += [
        Lasting("part that is gone", f"no {each.words or words.get(each.structure, each.why)}", each.since)
        for each in patient.lasting_facts.filter(struck_at=None).order_by("pk")
    ]
    return tuple(found)


def _medicines(patient: Patient, today: date) -> tuple[Directed, ...]:
    found = []
    for each in in_use_rows(patient, today=today):
        contents = ", ".join(part for part in (" and ".join(each.ingredients), each.strength) if part)
        found.append(
            Directed(
                name=f"{each.name} ({contents})" if contents else each.name,
                directions=each.directions,
                reason=each.reason,
                on=_local(each.at),
                by=each.prescriber.printed_name,
                until=each.last_on,
                signed=each.record.visit.record.is_signed,
            )
        )
    return tuple(found)


def _weighings(patient: Patient, unit: str) -> list[Weighing]:
    """The newest day first; of several values of one kind on a day the last one. `unit` comes first."""
    kinds = Measurement.Kind
    rows = patient.measurements.filter(
        kind__in=(kinds.WEIGHT, kinds.BCS, kinds.MCS), struck_at=None
    ).order_by("measured_at", "pk")
    days: dict[date, dict[str, str]] = defaultdict(dict)
    for row in rows:
        days[_local(row.measured_at)][row.kind] = _measured(row, unit)
    return [
        Weighing(on, said.get(kinds.WEIGHT, ""), said.get(kinds.BCS, ""), said.get(kinds.MCS, ""))
        for on, said in sorted(days.items(), reverse=True)
    ]


def _measured(row: Measurement, unit: str) -> str:
    if row.value is None:
        return row.category.replace("-", " ")
    if row.kind == Measurement.Kind.WEIGHT:
        where = "" if row.setting == "clinic" else f", at {row.setting}"
        return f"{both_weights(row.value, unit)}{where}"
    return f"{row.value.normalize():f} of 9"


def _tests(patient: Patient) -> list[Test]:
    standing = TestResult.objects.filter(struck_at=None).order_by("pk")
    rows = Test.objects.filter(patient=patient).select_related("ordered_by", "plan_line__answerable")
    return list(
        rows.prefetch_related(Prefetch("results", standing, "standing")).order_by("-ordered_at", "-pk")
    )


def _tested(each: Test) -> Tested:
    results: list[TestResult] = each.standing  # type: ignore[attr-defined]  # prefetched
    return Tested(
        title=each.title,
        on=_local(each.taken_at or each.ordered_at),
        results=tuple(
            Result(
                what=row.analyte or each.title,
                value=row.value,
                unit=row.unit,
                interval=row.interval,
                meaning=row.meaning,
                read=row.read_at is not None or each.in_house,
            )
            for row in results
        ),
    )


def _diet(patient: Patient) -> tuple[Eaten, ...]:
    rows = DietEntry.objects.filter(patient=patient, until=None).order_by("part", "pk")
    return tuple(
        Eaten(each.get_part_display(), each.food, _amount(each.amount, each.unit), each.since)
        for each in rows
    )


def _amount(amount: Decimal | None, unit: str) -> str:
    return f"{amount.normalize():f} {unit}".strip() if amount is not None else "not told"


def _awaited(patient: Patient) -> Iterable[Awaited]:
    for promise in open_promises(patient=patient):
        if promise.source not in NOT_FOR_A_COLLEAGUE:
            yield Awaited(promise.what, promise.due_on, promise.who)
    planned = NextVisit.objects.filter(patient=patient, state=NextVisit.State.PLANNED)
    for plan in planned.select_related("by"):
        week = "in the week of this day: " if plan.week_of else ""
        yield Awaited(f"visit here, {week}{plan.reason}", plan.on, plan.by.printed_name)


def _without_result(tests: list[Test]) -> Iterable[Awaited]:
    """Also one that nobody promised a day for: a colleague must not order it twice."""
    for each in tests:
        if not each.standing:  # type: ignore[attr-defined]  # prefetched
            on = _day(_local(each.taken_at or each.ordered_at))
            yield Awaited(
                f"result of {each.title}, {'taken' if each.taken_at else 'ordered'} {on}",
                each.plan_line.due_on if each.plan_line else None,
                each.ordered_by.printed_name,
            )


def _local(at: datetime) -> date:
    return timezone.localdate(at)


def _day(on: date) -> str:
    return f"{on:%-d %B %Y}"
