"""A death recorded, taken back, and what becomes of the body. Each is one transaction."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.callbacks.soon import reckon_soon
from clinic.death.errors import DiedBefore, NotDead, PromisesOpen, Unfit
from clinic.death.facts import ASLEEP, HERE, NOT_SEEN, Facts, check
from clinic.death.models import BodyDecision, Death
from clinic.death.sources import BODY, KNOWS, key_of
from clinic.mail.actions import hold_condolences
from clinic.patients.models import Measurement, Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.platform.registries import endings
from clinic.promises import actions as promises
from clinic.promises.fold import Promise
from clinic.promises.models import PromiseStep
from clinic.promises.queries import find_promise, open_promises
from clinic.visits.actions.arrivals import HERE as IN_THE_HOUSE
from clinic.visits.actions.common import first_sending
from clinic.visits.actions.places import end_of_life
from clinic.visits.models import Visit

Answers = Mapping[tuple[str, str], Staff | None]


def died_on(patient: Patient, facts: Facts) -> str:
    """The event that ends things, in words."""
    return f"{patient.name} died on {facts.on:%-d %B %Y}"


@transaction.atomic
def record_death(
    *,
    patient: Patient,
    facts: Facts,
    promised: Answers | None = None,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Death:
    """The patient died: nothing leaves by itself any more, and what was planned ends, in this transaction.

    What we saw is a clinician's to say; what the owner tells may be noted by everybody, because reminders
    stop at once (common practice). `promised`: for each open promise None (closed by the death) or the
    clinician who answers for it from now on. Raises DiedBefore, Unfit, PromisesOpen, SentBefore.
    """
    how = Death.How(facts.how)
    actor.require(Right.CERTIFY_DEATH if how in HERE else Right.EDIT_PEOPLE)
    locked = Patient.objects.select_for_update(no_key=True).get(pk=patient.pk)
    first_sending(once, actor=actor, now=now)
    if earlier := locked.deaths.filter(struck_at=None).first():
        raise DiedBefore(locked.name, earlier.died_on)
    check(facts, patient=locked, chips=locked.microchips.count(), now=now, today=timezone.localdate(now))
    weight = weight_of_day(locked, facts)
    if how in HERE and weight is None and not facts.no_weight_reason.strip():
        raise Unfit("no_weight_reason", "It was not weighed that day: weigh it, or say why not.")
    asleep = how in ASLEEP
    locked.deceased_on, locked.deceased_how = facts.on, "euthanised" if asleep else "died"
    locked.save(update_fields=["deceased_on", "deceased_how"])
    visit = Visit.objects.filter(patient=locked, place__in=IN_THE_HOUSE).first()
    if visit:
        outcome = Visit.Outcome.EUTHANISED if asleep else Visit.Outcome.DIED
        visit = end_of_life(visit=visit, outcome=outcome, actor=actor, now=now)
    why = died_on(locked, facts)
    ended = _end_all(locked, facts, why, actor, now)
    _answer(locked, promised, why, actor, now)
    death = Death.objects.create(
        patient=locked,
        visit=visit,
        how=how,
        died_on=facts.on,
        died_at=facts.at,
        certified_by=facts.certified_by if how in HERE else None,
        told_by="" if how in HERE else facts.told_by.strip(),
        **(_consent(facts) if how == Death.How.EUTHANISED else {}),
        weight=weight,
        no_weight_reason="" if weight else facts.no_weight_reason.strip() or NOT_SEEN,
        identity=facts.identity or Death.Identity.NOT_SEEN,
        owner_knows=facts.owner_knows,
        words=facts.words.strip(),
        ended=ended,
        by=actor.staff,
        entered_at=now,
    )
    _body(death, facts.body, facts.body_by, facts.body_words, actor, now)
    return death


def weight_of_day(patient: Patient, facts: Facts) -> Measurement | None:
    """As measured on the day of the death, the last one."""
    return (
        patient.measurements.filter(
            kind=Measurement.Kind.WEIGHT, struck_at=None, value__isnull=False, measured_at__date=facts.on
        )
        .order_by("-measured_at", "-pk")
        .first()
    )


def _consent(facts: Facts) -> dict[str, Any]:
    given = facts.consent
    assert given
    person = given.how == Death.ConsentHow.PERSON
    telephone = given.how == Death.ConsentHow.TELEPHONE
    return {
        "consent_by": given.given_by.strip(),
        "consent_as": given.given_as,
        "consent_how": given.how,
        "consent_at": given.at,
        "consent_taken_by": given.taken_by,
        "consent_witness": given.witness.strip() if person else "",
        "consent_second": given.second if telephone else None,
    }


def _end_all(patient: Patient, facts: Facts, why: str, actor: Actor, now: datetime) -> list[dict[str, Any]]:
    told = [
        (ending.title, ending.end(patient, why=why, on=facts.on, actor=actor, now=now)) for ending in endings
    ]
    return [{"title": title, "lines": lines} for title, lines in told if lines]


def _answer(patient: Patient, promised: Answers | None, why: str, actor: Actor, now: datetime) -> None:
    """Each open promise by the event that closes it, or with a clinician. Raises PromisesOpen."""
    standing = open_promises(patient=patient)
    answers = promised or {}
    if missing := [each.what for each in standing if each.name not in answers]:
        raise PromisesOpen(missing)
    for each in standing:
        _settle(each, answers[each.name], why, actor, now)


def _settle(promise: Promise, to: Staff | None, why: str, actor: Actor, now: datetime) -> None:
    if to is None:
        promises.close(
            promise=promise, outcome=PromiseStep.Outcome.NOT_NEEDED, words=why, actor=actor, now=now
        )
    elif to.pk != promise.who_id:
        promises.hand_on(promise=promise, to=to, words=f"{why}; please see to this", actor=actor, now=now)


def _body(death: Death, what: str, said_by: str, words: str, actor: Actor, now: datetime) -> BodyDecision:
    return BodyDecision.objects.create(
        death=death,
        what=BodyDecision.What(what),
        said_by=said_by.strip(),
        words=words.strip(),
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def decide_body(
    *,
    death: Death,
    what: str,
    said_by: str,
    words: str = "",
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> BodyDecision:
    """What is to be done with the body, and whose wish that is; closes the promise to ask.

    Raises Unfit, SentBefore.
    """
    actor.require(Right.NOTE_CONTACT)
    first_sending(once, actor=actor, now=now)
    Patient.objects.select_for_update(no_key=True).get(pk=death.patient_id)
    if not said_by.strip():
        raise Unfit("said_by", "Say whose wish it is.")
    if BodyDecision.What(what) == BodyDecision.What.UNDECIDED:
        raise Unfit("what", "Choose what was decided.")
    promise = find_promise("death", key_of(BODY, death.pk), actor=actor)
    made = _body(death, what, said_by, words, actor, now)
    if promise and made.what != BodyDecision.What.EXAMINE:
        promises.close(
            promise=promise,
            outcome=PromiseStep.Outcome.DONE,
            words=f"{made.get_what_display()}, said {made.said_by}"[:280],
            actor=actor,
            now=now,
        )
    return made


@transaction.atomic
def take_back(*, death: Death, why: str, once: UUID | None = None, actor: Actor, now: datetime) -> Patient:
    """Entered wrongly: the patient lives. Nothing that ended comes back, and nothing is sent, by itself.

    Raises Unfit, NotDead, SentBefore.
    """
    actor.require(Right.CERTIFY_DEATH)
    why = " ".join(why.split())
    if not why:
        raise Unfit("why", "Say why the death is taken back.")
    locked = Patient.objects.select_for_update(no_key=True).get(pk=death.patient_id)
    first_sending(once, actor=actor, now=now)
    for kind in (BODY, KNOWS):
        if promise := find_promise("death", key_of(kind, death.pk), actor=actor):
            promises.close(
                promise=promise,
                outcome=PromiseStep.Outcome.NOT_NEEDED,
                words=f"the death was entered wrongly: {why}"[:280],
                actor=actor,
                now=now,
            )
    struck = Death.objects.filter(pk=death.pk, struck_at=None).update(
        struck_at=now, struck_by=actor.staff, struck_reason=why[:200]
    )
    if not struck:
        raise NotDead(locked.name)
    locked.deceased_on, locked.deceased_how = None, ""
    locked.save(update_fields=["deceased_on", "deceased_how"])
    if death.visit_id:
        Visit.objects.filter(pk=death.visit_id).update(outcome="")
    hold_condolences(patient=locked, now=now)
    reckon_soon(locked.pk)
    return locked
