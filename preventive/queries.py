"""What is due, and what was given. `access_*` load and authorise."""

from datetime import date

from django.shortcuts import get_object_or_404

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import CallBackRow
from preventive.due import Due, Standing, grouped, paused_on, standing
from preventive.knowing import history_of
from preventive.models import Decline, Deferral, Dose, Lot, Product, Supply, TreatmentGiven
from preventive.schedule import due_items
from preventive.versions import protocol_in_force

NOTHING_DUE = frozenset({Standing.NOT_APPLICABLE, Standing.COMPLETE, Standing.HOLD})


def dues_of(patient: Patient, *, today: date, examined_on: date | None = None) -> tuple[Due, ...]:
    """Every item of the patient's species on `today`. A fixed number of queries."""
    known = history_of(patient, today=today, examined_on=examined_on)
    return due_items(known.animal, known.history, protocol_in_force(), today)


def call_back_rows(patient: Patient, *, today: date, examined_on: date | None = None) -> list[CallBackRow]:
    """One row for each group of dues that has a date; none for an animal that died or left."""
    if patient.deceased_on or patient.left_practice_on or patient.merged_into_id:
        return []
    rows = []
    for group in grouped(dues_of(patient, today=today, examined_on=examined_on)):
        due = group.first
        if due.target is None or standing(due, today) in NOTHING_DUE:
            continue
        not_before = due.pause.until if due.pause and paused_on(due.pause, today) else None
        due_on = max(due.target, not_before) if not_before else due.target
        latest = due.latest if due.latest is None or due.latest >= due_on else due_on
        rows.append(CallBackRow(due.code[:80], group.label[:160], due_on, latest))
    return rows


# --- Loading with authorisation ---------------------------------------------------------------------------


def access_dose(dose_id: int, *, patient_id: int, actor: Actor, right: Right = Right.SEE) -> Dose:
    actor.require(right)
    rows = Dose.objects.select_related("patient", "record__visit")
    return get_object_or_404(rows, pk=dose_id, patient_id=patient_id)


def access_supply(supply_id: int, *, patient_id: int, actor: Actor, right: Right = Right.SEE) -> Supply:
    actor.require(right)
    rows = Supply.objects.select_related("patient", "record__visit")
    return get_object_or_404(rows, pk=supply_id, patient_id=patient_id)


def access_treatment(
    treatment_id: int, *, patient_id: int, actor: Actor, right: Right = Right.SEE
) -> TreatmentGiven:
    actor.require(right)
    rows = TreatmentGiven.objects.select_related("patient", "record__visit")
    return get_object_or_404(rows, pk=treatment_id, patient_id=patient_id)


def access_decline(decline_id: int, *, patient_id: int, actor: Actor, right: Right = Right.SEE) -> Decline:
    actor.require(right)
    rows = Decline.objects.select_related("patient", "record__visit")
    return get_object_or_404(rows, pk=decline_id, patient_id=patient_id)


def access_deferral(deferral_id: int, *, patient_id: int, actor: Actor, right: Right = Right.SEE) -> Deferral:
    actor.require(right)
    rows = Deferral.objects.select_related("patient", "record__visit")
    return get_object_or_404(rows, pk=deferral_id, patient_id=patient_id)


def access_product(product_id: int, *, actor: Actor, kind: str, right: Right = Right.GIVE_DOSE) -> Product:
    """One that is still used."""
    actor.require(right)
    return get_object_or_404(Product, pk=product_id, kind=kind, retired_on=None)


def access_lot(lot_id: int, *, actor: Actor, right: Right = Right.GIVE_DOSE) -> Lot:
    actor.require(right)
    return get_object_or_404(Lot.objects.select_related("product"), pk=lot_id)
