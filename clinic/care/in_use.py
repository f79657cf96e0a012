"""The medicines of a patient as plain values: in use now, what the owner gives, what ended."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from clinic.care.amounts import given_in_a_dose, in_words
from clinic.care.days import day_of
from clinic.care.directions import Directions
from clinic.care.models import Medicine
from clinic.care.patient_case import in_use_rows
from clinic.patients.facts import newest_weight
from clinic.patients.models import Measurement, Patient
from clinic.patients.units import weight_in
from clinic.visits.models import GivenAtHome

MANY = 40


@dataclass(frozen=True)
class InUseRow:
    """`amount`: mg/kg by the newest weight, where it can be reckoned; `stopped`: when and why."""

    id: int
    visit_id: int
    title: str
    directions: str
    small: str
    amount: str
    stopped: str
    label: bool


@dataclass(frozen=True)
class HomeRow:
    name: str
    small: str


@dataclass(frozen=True)
class MedicinesOfPatient:
    now: tuple[InUseRow, ...]
    at_home: tuple[HomeRow, ...]
    over: tuple[InUseRow, ...]


def medicines_of(patient: Patient, *, today: date, unit: str = "kg") -> MedicinesOfPatient:
    """Four queries, whatever their number. `unit` (kg or lb) is what its reader weighs in."""
    now = in_use_rows(patient, today=today)
    weight = newest_weight(patient)
    over = (
        Medicine.objects.filter(record__visit__patient=patient)
        .exclude(pk__in=[each.pk for each in now])
        .select_related("prescriber", "record__visit", "problem", "stop", "stop__by")
        .order_by("-at", "-pk")[:MANY]
    )
    return MedicinesOfPatient(
        now=tuple(_row(each, weight, unit) for each in now),
        at_home=_at_home(patient),
        over=tuple(_row(each, None, unit) for each in over),
    )


def amount_words(each: Medicine | Directions, weight: Measurement | None, unit: str = "kg") -> str:
    """carprofen 25 mg, 2 mg/kg by 12.5 kg of 11 March 2026; empty where it cannot be reckoned."""
    kg = float(weight.value) if weight and weight.value else None
    told = given_in_a_dose(
        strength=each.strength,
        dose=each.dose,
        ingredients=each.ingredients,
        weight_kg=kg,
    )
    if not told:
        return ""
    by = ""
    if kg and weight:
        by = f" by {weight_in(Decimal(str(kg)), unit)} of {day_of(weight.measured_at)}"
    return f"One dose: {in_words(told)}{by}"


def _row(each: Medicine, weight: Measurement | None, unit: str) -> InUseRow:
    contents = ", ".join(part for part in (" and ".join(each.ingredients), each.strength) if part)
    until = f", until {each.last_on.day} {each.last_on:%B %Y}" if each.last_on else ""
    stop = getattr(each, "stop", None)
    return InUseRow(
        id=each.pk,
        visit_id=each.record.visit_id,
        title=f"{each.name} ({contents})" if contents else each.name,
        directions=each.directions,
        small=f"{each.get_how_display()} for {each.reason}, {day_of(each.at)}, "
        f"{each.prescriber.full_name}{until}",
        amount=amount_words(each, weight, unit) if weight else "",
        stopped=f"stopped {stop.on.day} {stop.on:%B %Y}, {stop.by.full_name}: {stop.why}"
        f"{'; the owner knows' if stop.owner_told else '; the owner was not told yet'}"
        if stop
        else "",
        label=each.how == Medicine.How.DISPENSED,
    )


def _at_home(patient: Patient) -> tuple[HomeRow, ...]:
    """What the owner said at the newest visit at which they were asked."""
    rows = list(
        GivenAtHome.objects.filter(record__visit__patient=patient)
        .select_related("record", "entered_by")
        .order_by("-record__opened_at", "pk")[:MANY]
    )
    newest = rows[0].record_id if rows else None
    return tuple(
        HomeRow(
            each.name,
            "; ".join(
                part
                for part in (
                    each.how_much,
                    each.last_given and f"last given {each.last_given}",
                    f"the owner’s word, {day_of(each.entered_at)}",
                )
                if part
            ),
        )
        for each in rows
        if each.record_id == newest
    )
