"""Preventives that go home or are given here, and what is done once."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.care.patient_case import medicines_in_use
from clinic.patients.models import Measurement, Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from clinic.visits.models import Visit
from preventive.actions import stock
from preventive.actions.common import answered, day_of, open_record, strike
from preventive.actions.doses import snapshot
from preventive.actions.dues import refresh_call_backs
from preventive.dates import Span, Unit
from preventive.errors import Incomplete, PatientDied, WrongPatient
from preventive.knowing import Known, history_of
from preventive.models import Lot, Product, Reaction, Source, Supply, TreatmentGiven
from preventive.outgrowing import outgrown
from preventive.products import PreventiveFacts, preventive_facts, preventive_on_label
from preventive.protocol import Protocol
from preventive.reactions import signs_words
from preventive.safety import SafetyQuestion, rule_question, safety_questions
from preventive.versions import keep_version, protocol_in_force
from preventive.wording import day

MOST_DOSES = 24
GROWN_AT = Span(1, Unit.YEAR)
WEIGHTS_READ = 8


@transaction.atomic
def record_supply(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    visit: Visit | None,
    product: Product,
    lot: Lot | None = None,
    band: str = "",
    count: int = 1,
    first_on: date | None = None,
    source: str = Source.HERE,
    answers: Mapping[str, str] | None = None,
    once: UUID | None = None,
    refresh: bool = True,
) -> Supply:
    """`count` doses of one size go home, the first on `first_on` (today where not named).

    `band` empty: the size that the last weight asks for. `lot`: the box it is taken from; None where nobody
    keeps lots of it, and then a recall cannot find it. What the owner says they have (`source` owner) is
    history and asks nothing. Raises Refused, QuestionsOpen, ClinicianDecides, Incomplete, LotUsedUp,
    LotRecalled, WrongPatient, PatientDied, NotOpen, SentBefore.
    """
    here = source == Source.HERE
    actor.require(Right.GIVE_DOSE if here else Right.TAKE_HISTORY)
    first_sending(once, actor=actor, now=now)
    record = open_record(patient, visit)
    today = timezone.localdate(now)
    if product.kind != "preventive":
        raise WrongPatient(f"{product.name} is no parasite preventive.")
    if not 1 <= count <= MOST_DOSES:
        raise Incomplete("count", f"How many: 1 to {MOST_DOSES}.")
    label = preventive_facts(product.facts)
    protocol = protocol_in_force()
    known = history_of(patient, today=today)
    size = band or size_for(label, known.animal.weight_kg)
    if label.bands and label.band(size) is None:
        raise Incomplete(
            "band", "Which size? None of the label’s fits the last weight." if not band else "Which size?"
        )
    reasons = []
    if lot is not None:
        _fits(lot, product, size)
        stock.take({lot: count})
    if here:
        going = Going(size, count, first_on or today, lot)
        asked = supply_questions(patient, known, protocol, product, going, today)
        reasons = answered(asked, answers or {}, about=product.name, actor=actor)
    supply = Supply.objects.create(
        patient=patient,
        visit=visit,
        record=record,
        product=product,
        product_facts=snapshot(product),
        lot_in_stock=lot,
        lot=lot.number if lot else "",
        expires_on=lot.expires_on if lot else None,
        product_name=product.name,
        form=label.form,
        band=size,
        protects=list(label.protects),
        ingredients=list(label.ingredients),
        count=count,
        first_on=first_on or today,
        interval=str(label.interval),
        source=source,
        answers=reasons,
        protocol=keep_version(protocol, now=now),
        entered_by=actor.staff,
        entered_at=now,
    )
    if refresh:
        refresh_call_backs(patient=patient, today=today, now=now)
    return supply


def size_for(label: PreventiveFacts, weight_kg: float | None) -> str:
    """The label's size for this weight; empty where none fits or no weight is known."""
    band = label.band_for(weight_kg)
    return band.name if band else ""


def _fits(lot: Lot, product: Product, size: str) -> None:
    if lot.product_id != product.pk:
        raise WrongPatient(f"Lot {lot.number} is not a lot of {product.name}.")
    if lot.band and lot.band != size:
        raise Incomplete(
            "lot", f"Lot {lot.number} holds the size {lot.band}: choose that size, or another lot."
        )


@dataclass(frozen=True)
class Going:
    """What is about to go home: the label's size, how many, the day of the first, from which box."""

    size: str
    count: int
    first_on: date
    lot: Lot | None = None


def supply_questions(
    patient: Patient, known: Known, protocol: Protocol, product: Product, going: Going, on: date
) -> tuple[SafetyQuestion, ...]:
    """What handing this out would ask; nothing is written."""
    label = preventive_facts(product.facts)
    band = label.band(going.size)
    proposed = preventive_on_label(product.name, tuple(product.species), label, band)
    in_use = tuple(name.lower() for each in medicines_in_use(patient, today=on) for name in each.ingredients)
    asked = safety_questions(known.animal, proposed, known.history, protocol, on, in_use=in_use)
    asked = (*asked, *_lot_questions(protocol, label, going, on))
    return (*asked, *_outgrows(patient, known, protocol, label, going), *_reacted_to(patient, label))


def _lot_questions(
    protocol: Protocol, label: PreventiveFacts, going: Going, on: date
) -> tuple[SafetyQuestion, ...]:
    """A box that has ended, or ends before its last dose is given."""
    if going.lot is None:
        return ()
    if going.lot.expires_on < on:
        return (rule_question(protocol, "lot_ended"),)
    last = protocol.calendar.due(going.first_on, label.interval.times(going.count - 1))
    return (rule_question(protocol, "lot_ends_first"),) if last > going.lot.expires_on else ()


def _outgrows(
    patient: Patient, known: Known, protocol: Protocol, label: PreventiveFacts, going: Going
) -> tuple[SafetyQuestion, ...]:
    """A young animal that will be too heavy for the size before the last dose."""
    birth, band = known.animal.birth, label.band(going.size)
    if band is None or birth is None:
        return ()
    if going.first_on >= protocol.calendar.due(birth.youngest(going.first_on), GROWN_AT):
        return ()
    weighed = Measurement.objects.filter(
        patient=patient, kind="weight", struck_at=None, value__isnull=False
    ).order_by("-measured_at")[:WEIGHTS_READ]
    adult = patient.expected_adult_kg
    found = outgrown(
        [(timezone.localdate(each.measured_at), float(each.value)) for each in weighed if each.value],
        max_kg=band.max_kg,
        first_on=going.first_on,
        interval=label.interval,
        count=going.count,
        cal=protocol.calendar,
        adult_kg=float(adult) if adult is not None else None,
    )
    if found is None:
        return ()
    most = found.number - 1
    text = (
        f"Growing {found.week_kg:.2g} kg a week: about {found.weight_kg:.3g} kg on {day(found.on)}, "
        f"the day of dose {found.number}, and this size ends at {band.max_kg:g} kg. "
        + (f"Hand out {most} at most?" if most else "Take the next size, or weigh again?")
    )
    return (SafetyQuestion("outgrows", "ask", text, "label; common practice", "C"),)


def _reacted_to(patient: Patient, label: PreventiveFacts) -> tuple[SafetyQuestion, ...]:
    """A reaction on record after anything with one of these ingredients."""
    before = Reaction.objects.filter(
        patient=patient, struck_at=None, supplies__ingredients__overlap=list(label.ingredients)
    )
    found = before.order_by("-began_on").first()
    if found is None:
        return ()
    told = signs_words(found.signs, found.words)
    text = f"After the same ingredient: {told}, on {day(found.began_on)}. Hand it out all the same?"
    return (SafetyQuestion("reaction", "warn", text, "the record; common practice", "ours"),)


@transaction.atomic
def strike_supply(
    *, actor: Actor, now: datetime, supply: Supply, reason: str, once: UUID | None = None
) -> None:
    """A supply entered by mistake, or brought back. Raises StruckAlready, Incomplete, SentBefore."""
    first_sending(once, actor=actor, now=now)
    what = f"{supply.product_name}, {supply.count} from {day(supply.first_on)}"
    strike(supply, what=what, reason=reason, actor=actor, now=now)
    if supply.lot_in_stock is not None:
        stock.put_back(supply.lot_in_stock, supply.count)
    refresh_call_backs(patient=supply.patient, today=timezone.localdate(now), now=now)


@transaction.atomic
def record_treatment(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    visit: Visit | None,
    kind: str,
    on: date | None = None,
    words: str = "",
    source: str = Source.HERE,
    once: UUID | None = None,
    refresh: bool = True,
) -> TreatmentGiven:
    """Something done once: `deworming` or `dental`. Raises Incomplete, WrongPatient, PatientDied, NotOpen."""
    actor.require(Right.GIVE_DOSE if source == Source.HERE else Right.TAKE_HISTORY)
    first_sending(once, actor=actor, now=now)
    if patient.deceased_on is not None:
        raise PatientDied(patient.name)
    if kind not in TreatmentGiven.Kind.values:
        raise Incomplete("kind", "What was done?")
    given = TreatmentGiven.objects.create(
        patient=patient,
        visit=visit,
        record=open_record(patient, visit),
        kind=kind,
        on=day_of(now, on),
        words=words.strip(),
        source=source,
        entered_by=actor.staff,
        entered_at=now,
    )
    if refresh:
        refresh_call_backs(patient=patient, today=timezone.localdate(now), now=now)
    return given


@transaction.atomic
def strike_treatment(
    *, actor: Actor, now: datetime, treatment: TreatmentGiven, reason: str, once: UUID | None = None
) -> None:
    """Entered by mistake. Raises StruckAlready, Incomplete, SentBefore."""
    first_sending(once, actor=actor, now=now)
    what = f"{treatment.get_kind_display().capitalize()}, {day(treatment.on)}"
    strike(treatment, what=what, reason=reason, actor=actor, now=now)
    refresh_call_backs(patient=treatment.patient, today=timezone.localdate(now), now=now)
