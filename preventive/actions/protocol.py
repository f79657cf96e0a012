"""Asking for another answer to a question of the protocol, and deciding on it."""

from dataclasses import asdict
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from preventive.actions.common import said
from preventive.actions.trying import begin_trial
from preventive.errors import DecidedAlready, Incomplete, NotTried
from preventive.models import ProtocolEdition, ProtocolProposal
from preventive.own_values import checked, own_value, typed_value
from preventive.proposals import proposal_words, with_proposal
from preventive.protocol import Protocol, ProtocolError
from preventive.tasks_queue import queue_all_dues
from preventive.versions import Choices, composed, keep_version, place_and_choices, protocol_in_force

State = ProtocolProposal.State


@transaction.atomic
def propose_setting(
    *, actor: Actor, now: datetime, setting: str, option: str, why: str, once: UUID | None = None
) -> ProtocolProposal:
    """Ask for one question to be answered otherwise. Raises Incomplete, SentBefore."""
    actor.require(Right.SEE_RECORDS)
    first_sending(once, actor=actor, now=now)
    question = next((each for each in protocol_in_force().settings if each.code == setting), None)
    if question is None or option not in {each.code for each in question.options}:
        raise Incomplete("option", "Choose one of the answers.")
    if option == question.chosen:
        raise Incomplete("option", "That is the answer already.")
    why = said(why, field="why", sentence="Say why: the clinician who approves reads it.")
    made = ProtocolProposal(setting=setting, option=option, why=why, by=actor.staff, at=now)
    _compose(with_proposal(place_and_choices(), made), field="option")
    made.save()
    begin_trial(proposal=made, now=now)
    return made


@transaction.atomic
def propose_value(
    *,
    actor: Actor,
    now: datetime,
    path: str,
    number: str,
    unit: str,
    why: str,
    once: UUID | None = None,
) -> ProtocolProposal:
    """Ask for one value of the clinic's own; an empty number takes the clinic's own back.

    Raises Incomplete: no such value, nothing that can be read, what contradicts another value; SentBefore.
    """
    actor.require(Right.SEE_RECORDS)
    first_sending(once, actor=actor, now=now)
    choices = place_and_choices()
    why = said(why, field="why", sentence="Say why: the clinician who approves reads it.")
    text = _asked_value(choices, path, number, unit)
    proposal = ProtocolProposal(path=path, value=text, why=why, by=actor.staff, at=now)
    _compose(with_proposal(choices, proposal), field="number")
    proposal.save()
    begin_trial(proposal=proposal, now=now)
    return proposal


def _asked_value(choices: Choices, path: str, number: str, unit: str) -> str | None:
    """As the files write it; None takes the clinic's own back, also one that lost its place."""
    value = own_value(composed(choices), path)
    if value is None:
        if path in {each.path for each in choices.lost} and not number.strip():
            return None
        raise Incomplete("number", "This value is not one that a clinic sets.")
    text = None
    if number.strip():
        try:
            text = typed_value(value, number, unit, most=_published(choices, path))
        except ValueError as error:
            raise Incomplete("number", str(error)) from error
    if text is None and not value.own:
        raise Incomplete("number", "How long?")
    if text == value.now:
        raise Incomplete("number", "That is the value already.")
    return text


def _published(choices: Choices, path: str) -> str:
    """The value without the clinic's own."""
    others = tuple(each for each in choices.values if each.path != path)
    value = own_value(composed(choices._replace(values=others)), path)
    return value.now if value else ""


def _compose(choices: Choices, *, field: str) -> Protocol:
    """Raises Incomplete where the values do not agree with each other, or an own one lost its place."""
    try:
        return checked(composed(choices))
    except ProtocolError as error:
        raise Incomplete(field, f"It does not fit the protocol’s other values: {error}.") from error


@transaction.atomic
def approve_proposal(*, actor: Actor, now: datetime, proposal: ProtocolProposal) -> ProtocolEdition:
    """The next edition: composed, kept by its SHA-256, in force at once; a worker reckons every due anew.

    What was recorded keeps the version it was recorded under. Raises DecidedAlready, Incomplete, NotTried.
    """
    actor.require(Right.APPROVE_PROTOCOL)
    held = _held(proposal)
    choices = place_and_choices()
    before, after = composed(choices), with_proposal(choices, held)
    protocol = _compose(after, field="option")
    tried = held.trials.filter(before=before.sha256, after=protocol.sha256, ended_at__isnull=False)
    if not tried.exists():
        raise NotTried
    newest = ProtocolEdition.objects.order_by("-number").first()
    edition = ProtocolEdition.objects.create(
        number=newest.number + 1 if newest else 1,
        version=keep_version(protocol, now=now, approved_by=actor.staff.pk),
        settings=after.settings,
        values=[asdict(each) for each in after.kept],
        words=proposal_words(held, before),
        proposal=held,
        by=actor.staff,
        at=now,
    )
    _decide(held, State.APPROVED, "", actor, now)
    queue_all_dues()
    for waiting in ProtocolProposal.objects.filter(state=State.OPEN).order_by("pk"):
        begin_trial(proposal=waiting, now=now)
    return edition


@transaction.atomic
def decline_proposal(*, actor: Actor, now: datetime, proposal: ProtocolProposal, why: str = "") -> None:
    """It stays as it is. Whoever asked takes it back; anybody else who says no is a clinician, with a reason.

    Raises DecidedAlready, Incomplete.
    """
    mine = proposal.by_id == actor.staff.pk
    actor.require(Right.SEE_RECORDS if mine else Right.APPROVE_PROTOCOL)
    why = why.strip() if mine else said(why, field="why", sentence="Say why not.")
    _decide(_held(proposal), State.WITHDRAWN if mine else State.DECLINED, why, actor, now)


def _held(proposal: ProtocolProposal) -> ProtocolProposal:
    """Still open. Whoever decides holds every open one, so that editions come one after the other."""
    rows = ProtocolProposal.objects.select_for_update().filter(state=State.OPEN).order_by("pk")
    waiting = {row.pk: row for row in rows}
    if proposal.pk not in waiting:
        raise DecidedAlready
    return waiting[proposal.pk]


def _decide(held: ProtocolProposal, state: str, why: str, actor: Actor, now: datetime) -> None:
    held.state, held.decided_why, held.decided_by, held.decided_at = state, why, actor.staff, now
    held.save(update_fields=["state", "decided_why", "decided_by", "decided_at"])
