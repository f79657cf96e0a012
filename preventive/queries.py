"""What is due, and what was given. `access_*` load and authorise."""

from datetime import date
from typing import Any

from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right, Role
from clinic.platform.asked import once
from clinic.platform.registries import CallBackRow
from clinic.visits.models import Record, Visit
from preventive.call_backs import reckon, sites_of
from preventive.codes import RESULT_KINDS
from preventive.due import Action, Due, DueGroup, Standing, grouped, standing
from preventive.knowing import Known, history_of
from preventive.models import (
    Decline,
    Deferral,
    Dose,
    Hold,
    Lot,
    Product,
    Reaction,
    Supply,
    TreatmentGiven,
)
from preventive.protocol import Protocol
from preventive.schedule import due_items
from preventive.versions import protocol_in_force


def dues_of(patient: Patient, *, today: date, examined_on: date | None = None) -> tuple[Due, ...]:
    """Every item of the patient's species on `today`. A fixed number of queries."""
    known = history_of(patient, today=today, examined_on=examined_on)
    return due_items(known.animal, known.history, protocol_in_force(), today)


def call_back_rows(patient: Patient, *, today: date) -> list[CallBackRow]:
    """What the patient is to be called back for; nothing for an animal that died or left."""
    return list(reckon([patient], today=today)[patient.pk].rows)


def site_call_backs(patient: Patient) -> list[CallBackRow]:
    """The next look at every lump at the place of an injection."""
    return sites_of([patient.pk], protocol_in_force()).get(patient.pk, [])


ENDED = frozenset({Visit.Outcome.DIED, Visit.Outcome.EUTHANISED})
_SAID_AT_THE_VISIT = frozenset({Standing.DUE, Standing.OVERDUE})
# the check-up is what happens at the visit, and a clinician plans a dental cleaning
_NOT_ASKED = frozenset({"visit", "dental"})


def examined_on(visit: Visit, *, today: date) -> date | None:
    """The day of the full examination that this visit is; None for other kinds of visit."""
    return today if visit.kind == Visit.Kind.FULL and visit.outcome not in ENDED else None


@once
def known_at(visit: Visit, *, today: date) -> Known:
    """The patient as known at this visit, its full examination counted."""
    return history_of(visit.patient, today=today, examined_on=examined_on(visit, today=today))


def groups_at(known: Known, protocol: Protocol, *, today: date) -> tuple[DueGroup, ...]:
    """What is due and what comes, grouped, at a visit."""
    return grouped(due_items(known.animal, known.history, protocol, today))


@once
def _begun(record: Record) -> frozenset[str]:
    supplies = Supply.objects.filter(record=record, struck_at=None).values_list("protects", flat=True)
    tests = record.tests.values_list("kind", flat=True)
    return frozenset(f"protects:{one}" for protects in supplies for one in protects) | {
        RESULT_KINDS.get(kind, "") for kind in tests
    }


def unanswered(
    record: Record, groups: tuple[DueGroup, ...], protocol: Protocol, *, today: date
) -> tuple[DueGroup, ...]:
    """Due today, and neither done, begun, declined nor put off at this visit. Two queries."""
    begun = _begun(record)
    return tuple(
        group
        for group in groups
        if group.first.kind not in _NOT_ASKED
        # an open question about the way of life is intake's, and nothing is due before it is answered
        and group.first.then is not Action.ASK
        and standing(group.first, today) in _SAID_AT_THE_VISIT
        and not begun & answered_by(group.first, protocol)
    )


def answered_by(due: Due, protocol: Protocol) -> frozenset[str]:
    """What, recorded at the visit, answers an item though its date stands: a supply, a test taken."""
    rules = protocol.rules
    if due.code in rules.prevention:
        return frozenset({f"protects:{rules.prevention[due.code].protects}"})
    if due.code in rules.deworming:
        return frozenset({f"protects:{rules.deworming[due.code].protects}"})
    if due.code in rules.heartworm:
        return frozenset(rules.heartworm[due.code].results)
    if due.code in rules.retrovirus:
        return frozenset({rules.retrovirus[due.code].result})
    return frozenset(rules.tests[due.code].results) if due.code in rules.tests else frozenset()


def antigens_of(due: Due, protocol: Protocol) -> frozenset[str]:
    """What a dose must be against to count for an item; empty for what is no vaccine."""
    if due.kind != "vaccine":
        return frozenset()
    if due.code == "rabies":
        return frozenset({protocol.rules.rabies.antigen})
    named = due.code.partition(":")[2]
    return frozenset({named}) if named else frozenset(protocol.rules.vaccines[due.group].antigens)


def kinds_taken(record: Record) -> set[str]:
    """Kinds of the tests taken at this visit."""
    return set(record.tests.values_list("kind", flat=True))


def mine(patient: Patient) -> Q:
    """Rows of the patient, and of those merged into it."""
    return Q(patient=patient) | Q(patient__merged_into=patient)


# --- Loading with authorisation ---------------------------------------------------------------------------


def dose_sent(number: str, *, patient: Patient) -> Dose | None:
    """One of the patient's that was not struck out, by its number as it was sent."""
    rows = Dose.objects.filter(mine(patient), struck_at=None, pk=int(number) if number.isdigit() else 0)
    return rows.select_related("patient__merged_into", "supervising", "given_by").first()


def access_reaction(reaction_id: int, *, patient_id: int, actor: Actor, right: Right) -> Reaction:
    """One that was not struck out."""
    actor.require(right)
    rows = Reaction.objects.select_related("patient")
    return get_object_or_404(rows, pk=reaction_id, patient_id=patient_id, struck_at=None)


def access_hold(hold_id: int, *, patient_id: int, actor: Actor, right: Right = Right.ASSESS) -> Hold:
    actor.require(right)
    return get_object_or_404(Hold.objects.select_related("patient"), pk=hold_id, patient_id=patient_id)


def access_product(product_id: int, *, actor: Actor, kind: str, right: Right = Right.GIVE_DOSE) -> Product:
    """One that is still used."""
    actor.require(right)
    return get_object_or_404(Product, pk=product_id, kind=kind, retired_on=None)


def access_listed(product_id: int, *, actor: Actor) -> Product:
    """Any product of the list, also one that is no longer used."""
    actor.require(Right.KEEP_MEDICINES)
    return get_object_or_404(Product, pk=product_id)


def access_lot(lot_id: int, *, actor: Actor, right: Right = Right.GIVE_DOSE) -> Lot:
    """One of a product that is still used."""
    actor.require(right)
    rows = Lot.objects.select_related("product").filter(product__retired_on=None)
    return get_object_or_404(rows, pk=lot_id)


def access_lot_on_shelf(lot_id: int, *, actor: Actor) -> Lot:
    """Any lot, also of a product that is no longer used."""
    actor.require(Right.SEE)
    return get_object_or_404(Lot.objects.select_related("product"), pk=lot_id)


def veterinarians() -> QuerySet[Staff]:
    """Who may answer for a dose: those who work here and are clinicians, by name."""
    return Staff.objects.filter(is_active=True, roles__contains=[Role.CLINICIAN.value]).order_by("full_name")


def access_veterinarian(staff_id: int, *, actor: Actor) -> Staff:
    actor.require(Right.GIVE_DOSE)
    return get_object_or_404(veterinarians(), pk=staff_id)


def access_taken_from(lot_id: int, key: str, *, actor: Actor) -> Dose | Supply:
    """What one animal had from a lot. `key`: dose:12, supply:3."""
    actor.require(Right.NOTE_CONTACT)
    sort, _, number = key.partition(":")
    if sort not in {"dose", "supply"} or not number.isdigit():
        raise Http404
    found = {"pk": int(number), "lot_in_stock": lot_id, "struck_at": None}
    if sort == "dose":
        return get_object_or_404(Dose.objects.select_related("patient"), **found)
    return get_object_or_404(Supply.objects.select_related("patient"), **found)


Strikable = Dose | Supply | TreatmentGiven | Decline | Deferral
STRIKABLE: dict[str, type[Strikable]] = {
    "dose": Dose,
    "supply": Supply,
    "treatmentgiven": TreatmentGiven,
    "decline": Decline,
    "deferral": Deferral,
}


def access_recorded(key: str, *, patient: Patient, actor: Actor) -> Strikable:
    """Something recorded for a patient, to be struck out. `key`: its sort and number, dose:12."""
    actor.require(Right.STRIKE_OWN)
    sort, _, number = key.partition(":")
    if sort not in STRIKABLE or not number.isdigit():
        raise Http404
    model: Any = STRIKABLE[sort]
    rows = model.objects.filter(mine(patient)).select_related("patient", "record__visit")
    found: Strikable = get_object_or_404(rows, pk=int(number))
    return found
