"""Doses of vaccine: given here, or taken over from elsewhere; struck out, ruled upon."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.care.patient_case import medicines_in_use
from clinic.patients.models import Alert, Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right, Role
from clinic.visits.actions.common import first_sending
from clinic.visits.models import Visit
from preventive import facts
from preventive.actions import stock
from preventive.actions.certificates import void_with_dose
from preventive.actions.common import answered, day_of, open_record, said, strike
from preventive.actions.dues import refresh_call_backs
from preventive.asking import INJECTED, Proposed, dose_questions
from preventive.dates import PartialDate
from preventive.due import Due
from preventive.errors import Incomplete, PatientDied, WrongPatient
from preventive.knowing import Known, history_of
from preventive.models import Dose, Lot, Precision, Product, Proof, Source
from preventive.products import VaccineFacts, vaccine_facts, vaccine_on_label
from preventive.protocol import Protocol
from preventive.rabies_people import giver_questions, giver_rule
from preventive.safety import SafetyQuestion
from preventive.schedule import due_items
from preventive.versions import keep_version, protocol_in_force
from preventive.wording import day

NO_SITE = {"IN": "IN", "PO": "PO"}


@dataclass(frozen=True, kw_only=True)
class Giving:
    """One vaccine about to be given. `route` empty: the usual one. `answers`: reason by question.

    `counted`: a clinician's ruling where the schedule would not count it.
    """

    product: Product
    lot: Lot
    site: str = ""
    route: str = ""
    answers: Mapping[str, str] | None = None
    tag_number: str = ""
    counted: bool | None = None
    counted_reason: str = ""


def give_dose(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    visit: Visit,
    product: Product,
    lot: Lot,
    site: str = "",
    route: str = "",
    well: bool | None = None,
    consent: str = "",
    answers: Mapping[str, str] | None = None,
    supervising: Staff | None = None,
    present: bool | None = None,
    given_on: date | None = None,
    tag_number: str = "",
    counted: bool | None = None,
    counted_reason: str = "",
    once: UUID | None = None,
    refresh: bool = True,
) -> Dose:
    """One vaccine; see `give_doses`."""
    giving = Giving(
        product=product,
        lot=lot,
        site=site,
        route=route,
        answers=answers,
        tag_number=tag_number,
        counted=counted,
        counted_reason=counted_reason,
    )
    (dose,) = give_doses(
        actor=actor,
        now=now,
        patient=patient,
        visit=visit,
        givings=[giving],
        well=well,
        consent=consent,
        supervising=supervising,
        present=present,
        given_on=given_on,
        once=once,
        refresh=refresh,
    )
    return dose


@transaction.atomic
def give_doses(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    visit: Visit,
    givings: Sequence[Giving],
    well: bool | None = None,
    consent: str = "",
    supervising: Staff | None = None,
    present: bool | None = None,
    given_on: date | None = None,
    once: UUID | None = None,
    refresh: bool = True,
) -> list[Dose]:
    """Vaccines given at a visit: all of them, or none.

    `well`: whether the animal is well today, None where nobody asked. `present`: whether the veterinarian who
    answers for it is in the house, None where nobody asked; what that means for rabies is local law.
    `refresh` False: batch work, which refreshes the call-backs once afterwards. Raises Refused,
    QuestionsOpen, ClinicianDecides (with their questions), Incomplete, LotUsedUp, LotRecalled, WrongPatient,
    PatientDied, NotOpen, SentBefore.
    """
    actor.require(Right.GIVE_DOSE)
    first_sending(once, actor=actor, now=now)
    record = open_record(patient, visit)
    on = day_of(now, given_on)
    protocol = protocol_in_force()
    known = history_of(patient, today=on)
    version = keep_version(protocol, now=now)
    vet = _supervising(actor, visit, supervising)
    stock.take(Counter(giving.lot for giving in givings))
    doses = []
    for giving in givings:
        label = _label(giving)
        proposed = _proposed(patient, giving, label, on, well)
        asked = (
            *dose_questions(known.animal, known.history, protocol, on, proposed),
            *_giver(actor, protocol, label, vet, present),
        )
        reasons = answered(asked, giving.answers or {}, about=giving.product.name, actor=actor)
        _ruling(giving.counted, giving.counted_reason, actor)
        dose = Dose.objects.create(
            patient=patient,
            visit=visit,
            record=record,
            product=giving.product,
            lot_in_stock=giving.lot,
            antigens=list(label.antigens),
            product_facts=snapshot(giving.product),
            lot=giving.lot.number,
            expires_on=giving.lot.expires_on,
            given_on=on,
            route=proposed.dose.route.value,
            site=proposed.dose.site,
            sequence=_sequence(known, protocol, on, label.antigens),
            given_by=actor.staff,
            supervising=vet,
            licence=" ".join(part for part in (vet.licence_number, vet.licence_place) if part) if vet else "",
            consent=consent.strip(),
            answers=[*reasons, *_supervised(actor, protocol, label, vet, present)],
            tag_number=giving.tag_number.strip(),
            protocol=version,
            counted=giving.counted,
            counted_reason=giving.counted_reason.strip(),
            counted_by=actor.staff if giving.counted is not None else None,
            entered_by=actor.staff,
            entered_at=now,
        )
        doses.append(dose)
        known = _with(known, replace(proposed.dose, id=str(dose.pk), decision=giving.counted))
    if refresh:
        refresh_call_backs(patient=patient, today=timezone.localdate(now), now=now)
    return doses


def questions_of(
    *,
    actor: Actor,
    visit: Visit,
    givings: Mapping[str, Giving],
    on: date,
    well: bool | None,
    supervising: Staff | None = None,
    present: bool | None = None,
) -> dict[str, tuple[SafetyQuestion, ...]]:
    """What giving each of these would ask, by the caller's own key; nothing is written."""
    patient = visit.patient
    known, protocol = history_of(patient, today=on), protocol_in_force()
    vet = _supervising(actor, visit, supervising)
    found = {}
    for key, giving in givings.items():
        label = _label(giving)
        try:
            proposed = _proposed(patient, giving, label, on, well)
        except Incomplete:  # said by the action itself
            continue
        found[key] = (
            *dose_questions(known.animal, known.history, protocol, on, proposed),
            *_giver(actor, protocol, label, vet, present),
        )
    return found


def snapshot(product: Product) -> dict[str, Any]:
    """The label as it is on this day, for the dose to keep."""
    return {
        "code": product.code,
        "name": product.name,
        "maker": product.maker,
        "species": list(product.species),
        "facts": product.facts,
    }


def _label(giving: Giving) -> VaccineFacts:
    if giving.product.kind != "vaccine":
        raise WrongPatient(f"{giving.product.name} is no vaccine.")
    if giving.lot.product_id != giving.product.pk:
        raise WrongPatient(f"Lot {giving.lot.number} is not a lot of {giving.product.name}.")
    return vaccine_facts(giving.product.facts)


def _proposed(patient: Patient, giving: Giving, label: VaccineFacts, on: date, well: bool | None) -> Proposed:
    route = facts.Route(giving.route) if giving.route else label.routes[0]
    site = NO_SITE.get(route.value, giving.site)
    if route in INJECTED and not site:
        raise Incomplete("site", f"{giving.product.name}: where was it given?")
    dose = facts.Dose(
        id="proposed",
        antigens=label.antigens,
        given=PartialDate(on),
        product=vaccine_on_label(giving.product.name, tuple(giving.product.species), label),
        route=route,
        site=site,
        lot=giving.lot.number,
        lot_expires_on=giving.lot.expires_on,
        decision=giving.counted,
    )
    return Proposed(
        dose=dose,
        routes=label.routes,
        well=well,
        reactions=_reactions(patient, on),
        in_use=tuple(n.lower() for each in medicines_in_use(patient, today=on) for n in each.ingredients),
    )


def _reactions(patient: Patient, on: date) -> tuple[str, ...]:
    """Recorded allergies that speak of a vaccine."""
    told = Alert.objects.filter(patient=patient, kind=Alert.Kind.ALLERGY, text__icontains="vaccin")
    return tuple(each.text for each in told if each.until is None or each.until >= on)


def _supervising(actor: Actor, visit: Visit, supervising: Staff | None) -> Staff | None:
    """Who answers for it: the one named, a clinician who gives it, or the visit's clinician."""
    if supervising is not None:
        if Role.CLINICIAN not in supervising.role_set:
            raise Incomplete("supervising", f"{supervising.full_name} is no veterinarian: choose one.")
        return supervising
    return actor.staff if Role.CLINICIAN in actor.staff.role_set else visit.clinician


def _giver(
    actor: Actor, protocol: Protocol, label: VaccineFacts, vet: Staff | None, present: bool | None
) -> tuple[SafetyQuestion, ...]:
    return tuple(
        giver_questions(
            protocol,
            label.antigens,
            by_veterinarian=Role.CLINICIAN in actor.staff.role_set,
            has_supervisor=vet is not None,
            present=present,
        )
    )


def _supervised(
    actor: Actor, protocol: Protocol, label: VaccineFacts, vet: Staff | None, present: bool | None
) -> list[dict[str, Any]]:
    """That a veterinarian was in the house while somebody else gave rabies vaccine, as it was told."""
    rule = giver_rule(protocol)
    by_vet = Role.CLINICIAN in actor.staff.role_set
    if (
        rule is None
        or vet is None
        or by_vet
        or not present
        or protocol.rules.rabies.antigen not in label.antigens
    ):
        return []
    return [
        {
            "code": "rabies_premises",
            "question": rule.text,
            "source": rule.source,
            "certainty": rule.certainty.value,
            "reason": f"{vet.printed_name} was in the house",
            "by": actor.staff.full_name,
        }
    ]


def _ruling(counted: bool | None, reason: str, actor: Actor) -> None:
    if counted is not None:
        actor.require(Right.ASSESS)
        said(reason, field="counted_reason", sentence="Say why it counts, or why not.")


def _sequence(known: Known, protocol: Protocol, on: date, antigens: tuple[str, ...]) -> str:
    """Where these doses stand: initial 2, booster; several words where the antigens differ."""
    dues = due_items(known.animal, known.history, protocol, on)
    words = [str(due.sequence) for due in dues if due.sequence and _is_for(due, antigens, protocol)]
    return ", ".join(dict.fromkeys(words))[:60]


def _is_for(due: Due, antigens: tuple[str, ...], protocol: Protocol) -> bool:
    if due.code == "rabies":
        return protocol.rules.rabies.antigen in antigens
    rule = protocol.rules.vaccines.get(due.group)
    named = due.code.partition(":")[2]
    return rule is not None and (named in antigens if named else bool(set(rule.antigens) & set(antigens)))


def _with(known: Known, dose: facts.Dose) -> Known:
    return replace(known, history=replace(known.history, doses=(*known.history.doses, dose)))


@transaction.atomic
def record_outside_dose(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    antigens: Sequence[str],
    given_on: date,
    precision: str = Precision.DAY,
    source: str = Source.OUTSIDE,
    product_name: str = "",
    maker: str = "",
    kind: str = "",
    licensed_months: int | None = None,
    route: str = "",
    lot: str = "",
    expires_on: date | None = None,
    proof: bool = False,
    proof_words: str = "",
    proof_file: Proof | None = None,
    visit: Visit | None = None,
    once: UUID | None = None,
    refresh: bool = True,
) -> Dose:
    """A dose given elsewhere, from its record (`proof`) or from the owner's word.

    `precision`: day, month or year, with `given_on` any day inside it. `kind`: live, inactivated, recombinant
    or unknown. Raises Incomplete, WrongPatient, PatientDied, SentBefore.
    """
    actor.require(Right.TAKE_HISTORY)
    first_sending(once, actor=actor, now=now)
    if patient.deceased_on is not None:
        raise PatientDied(patient.name)
    if visit is not None and visit.patient_id != patient.pk:
        raise WrongPatient
    day_of(now, given_on)
    rules = protocol_in_force().rules
    unknown = [antigen for antigen in antigens if antigen not in rules.antigens]
    if not antigens or unknown:
        raise Incomplete("antigens", f"Not known: {', '.join(unknown)}." if unknown else "Against what?")
    label: dict[str, Any] = {}
    if product_name or kind or licensed_months:
        named: dict[str, Any] = {
            "antigens": list(antigens),
            "type": kind or "unknown",
            "routes": [route] if route else [],
        }
        if licensed_months:
            named["licensed_months"] = licensed_months
        label = {"code": "", "name": product_name, "maker": maker, "species": [], "facts": named}
    dose = Dose.objects.create(
        patient=patient,
        visit=visit,
        antigens=list(antigens),
        product_facts=label,
        lot=lot.strip(),
        expires_on=expires_on,
        given_on=given_on,
        precision=precision,
        route=route,
        source=source,
        proof=proof,
        proof_words=proof_words.strip(),
        proof_file=proof_file,
        entered_by=actor.staff,
        entered_at=now,
    )
    if refresh:
        refresh_call_backs(patient=patient, today=timezone.localdate(now), now=now)
    return dose


@transaction.atomic
def rule_on_dose(
    *, actor: Actor, now: datetime, dose: Dose, counted: bool, reason: str, once: UUID | None = None
) -> Dose:
    """A clinician decides whether a doubtful dose counts. What the law forbids stays uncounted.

    Raises Incomplete, SentBefore.
    """
    actor.require(Right.ASSESS)
    first_sending(once, actor=actor, now=now)
    dose.counted, dose.counted_by = counted, actor.staff
    dose.counted_reason = said(reason, field="reason", sentence="Say why it counts, or why not.")
    dose.save(update_fields=["counted", "counted_by", "counted_reason"])
    refresh_call_backs(patient=dose.patient, today=timezone.localdate(now), now=now)
    return dose


@transaction.atomic
def strike_dose(*, actor: Actor, now: datetime, dose: Dose, reason: str, once: UUID | None = None) -> None:
    """A dose entered by mistake. Raises StruckAlready, Incomplete, SentBefore."""
    first_sending(once, actor=actor, now=now)
    name = dose.product_facts.get("name") or ", ".join(dose.antigens)
    strike(dose, what=f"Vaccine {name}, {day(dose.given_on)}", reason=reason, actor=actor, now=now)
    void_with_dose(dose, reason=reason, actor=actor, now=now)
    if dose.lot_in_stock is not None:
        stock.put_back(dose.lot_in_stock)
    refresh_call_backs(patient=dose.patient, today=timezone.localdate(now), now=now)
