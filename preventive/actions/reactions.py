"""A reaction is recorded, holds what it was after, is reported, and is struck out at most."""

from collections.abc import Sequence
from datetime import date, datetime, time
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.patients.models import Alert, Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from clinic.visits.models import Visit
from preventive.actions.common import day_of, said, strike
from preventive.actions.dues import refresh_call_backs
from preventive.errors import Incomplete, WrongPatient
from preventive.models import Dose, Hold, Reaction, ReactionReport, SiteLook, Supply
from preventive.reaction_models import Outcome, Severity
from preventive.reactions import SIGNS, alert_text, signs_words
from preventive.wording import day


@transaction.atomic
def record_reaction(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    visit: Visit | None,
    doses: Sequence[Dose],
    supplies: Sequence[Supply],
    began_on: date,
    signs: Sequence[str],
    severity: str,
    outcome: str,
    told_by: str,
    began_at: time | None = None,
    words: str = "",
    treatment: str = "",
    once: UUID | None = None,
) -> Reaction:
    """What was seen after a dose. Its antigens are held at once; a clinician releases them.

    Everybody sees an alert from then on. Raises Incomplete, WrongPatient, SentBefore.
    """
    actor.require(Right.TAKE_HISTORY)
    first_sending(once, actor=actor, now=now)
    _told_enough(doses, supplies, signs, words)
    if severity not in Severity.values or outcome not in Outcome.values:
        raise Incomplete("severity", "How severe was it, and how did it end?")
    day_of(now, began_on)
    own = {patient.pk, *Patient.objects.filter(merged_into=patient).values_list("pk", flat=True)}
    if {*(each.patient_id for each in doses), *(each.patient_id for each in supplies)} - own:
        raise WrongPatient("This was given to another animal.")
    if any(began_on < each.given_on for each in doses) or any(began_on < each.first_on for each in supplies):
        raise Incomplete("began_on", "It began before that was given: another day, or another product.")
    told = signs_words(signs, words)
    reaction = Reaction.objects.create(
        patient=patient,
        visit=visit,
        began_on=began_on,
        began_at=began_at,
        signs=list(signs),
        words=words.strip(),
        severity=severity,
        treatment=treatment.strip(),
        outcome=outcome,
        told_by=said(told_by, field="told_by", sentence="Who saw it?"),
        alert=_alert(patient, doses, supplies, began_on, told, actor, now),
        entered_by=actor.staff,
        entered_at=now,
    )
    reaction.doses.set(doses)
    reaction.supplies.set(supplies)
    _hold(reaction, doses, told, actor, now)
    refresh_call_backs(patient=patient, today=timezone.localdate(now), now=now)
    return reaction


def _told_enough(doses: Sequence[Dose], supplies: Sequence[Supply], signs: Sequence[str], words: str) -> None:
    if not doses and not supplies:
        raise Incomplete("given", "After what? Tick everything that was given.")
    if not signs or any(code not in SIGNS for code in signs):
        raise Incomplete("signs", "What was seen? Tick at least one.")
    if set(signs) == {"other"} and not words.strip():
        raise Incomplete("words", "What was seen, in words?")


def _alert(
    patient: Patient,
    doses: Sequence[Dose],
    supplies: Sequence[Supply],
    on: date,
    told: str,
    actor: Actor,
    now: datetime,
) -> Alert | None:
    """Written by the house, so that the giving of doses and every banner know of it."""
    if patient.deceased_on:
        return None
    names = [each.product_facts.get("name") or ", ".join(each.antigens) for each in doses]
    names += [each.product_name for each in supplies]
    return Alert.objects.create(
        patient=patient,
        kind=Alert.Kind.ALLERGY,
        text=alert_text(names, told, on, vaccine=bool(doses)),
        since=on,
        entered_by=actor.staff,
        entered_at=now,
    )


def _hold(reaction: Reaction, doses: Sequence[Dose], told: str, actor: Actor, now: datetime) -> None:
    """The antigens of the suspected doses stop until a clinician releases them; one held stays so."""
    if reaction.patient.deceased_on:
        return
    reason = f"Reaction of {day(reaction.began_on)}: {told}. A veterinarian reviews it."
    for antigen in dict.fromkeys(code for dose in doses for code in dose.antigens):
        Hold.objects.get_or_create(
            patient=reaction.patient,
            code=antigen,
            released_on=None,
            defaults={
                "reaction": reaction,
                "on": timezone.localdate(now),
                "reason": reason if len(reason) <= 200 else reason[:199] + "…",
                "by": actor.staff,
                "at": now,
            },
        )


@transaction.atomic
def follow_reaction(
    *,
    actor: Actor,
    now: datetime,
    reaction: Reaction,
    outcome: str,
    treatment: str,
    once: UUID | None = None,
) -> None:
    """How it went on. Raises Incomplete, SentBefore."""
    actor.require(Right.TAKE_HISTORY)
    first_sending(once, actor=actor, now=now)
    if outcome not in Outcome.values:
        raise Incomplete("outcome", "How did it end?")
    Reaction.objects.filter(pk=reaction.pk, struck_at=None).update(
        outcome=outcome, treatment=treatment.strip() or reaction.treatment
    )


@transaction.atomic
def report_reaction(
    *,
    actor: Actor,
    now: datetime,
    reaction: Reaction,
    to: str,
    reference: str = "",
    on: date | None = None,
    once: UUID | None = None,
) -> ReactionReport:
    """It was reported. Raises Incomplete, SentBefore."""
    actor.require(Right.GIVE_DOSE)
    first_sending(once, actor=actor, now=now)
    return ReactionReport.objects.create(
        reaction=reaction,
        to=said(to, field="to", sentence="To whom was it reported?"),
        on=day_of(now, on),
        reference=reference.strip(),
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def strike_reaction(
    *, actor: Actor, now: datetime, reaction: Reaction, reason: str, once: UUID | None = None
) -> None:
    """Entered by mistake: what it held goes on, and its alert ends. Raises StruckAlready, Incomplete."""
    first_sending(once, actor=actor, now=now)
    today = timezone.localdate(now)
    strike(reaction, what=f"Reaction of {day(reaction.began_on)}", reason=reason, actor=actor, now=now)
    Hold.objects.filter(reaction=reaction, released_on=None).update(
        released_on=today,
        released_by=actor.staff,
        released_reason=f"The reaction was struck out: {reason.strip()}"[:200],
    )
    if reaction.alert_id:
        Alert.objects.filter(pk=reaction.alert_id, until=None).update(until=today)
    refresh_call_backs(patient=reaction.patient, today=today, now=now)


@transaction.atomic
def look_at_site(
    *,
    actor: Actor,
    now: datetime,
    dose: Dose,
    there: bool,
    largest_mm: int | None = None,
    growing: bool | None = None,
    on: date | None = None,
    once: UUID | None = None,
) -> SiteLook:
    """A lump at the place of an injection, or none any more. Raises Incomplete, WrongPatient, SentBefore."""
    actor.require(Right.OBSERVE)
    first_sending(once, actor=actor, now=now)
    seen_on = day_of(now, on)
    if dose.site in {"", "IN", "PO"}:
        raise WrongPatient("This dose was not injected at a place.")
    if seen_on < dose.given_on:
        raise Incomplete("on", "That was before the injection.")
    if there and largest_mm is None:
        raise Incomplete("largest_mm", "How large, in millimetres, at its longest?")
    look = SiteLook.objects.create(
        dose=dose,
        on=seen_on,
        there=there,
        largest_mm=largest_mm if there else None,
        growing=growing if there else None,
        entered_by=actor.staff,
        entered_at=now,
    )
    refresh_call_backs(patient=dose.patient, today=timezone.localdate(now), now=now)
    return look
