"""A proposal tried on every living animal: the first ones at once, the others in the worker."""

from dataclasses import asdict, dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from preventive.call_backs import living
from preventive.errors import DecidedAlready
from preventive.knowing import histories_of
from preventive.models import ProtocolProposal, ProtocolTrial
from preventive.proposals import with_proposal
from preventive.protocol import Protocol, ProtocolError
from preventive.tasks_queue import queue_trial
from preventive.trial import Moved, tried
from preventive.versions import composed, place_and_choices

AT_ONCE = 200  # some tenths of a second: a small practice has its answer with the page
SHOWN = 40


@dataclass(frozen=True)
class TrialRow:
    patient_id: int
    patient: str
    item: str
    how: str
    before: str
    after: str


def both_protocols(proposal: ProtocolProposal) -> tuple[Protocol, Protocol | None]:
    """Today's, and the one with the proposed answer, None where that no longer fits the others. One query."""
    choices = place_and_choices()
    before = composed(choices)
    try:
        return before, composed(with_proposal(choices, proposal))
    except ProtocolError:
        return before, None


@transaction.atomic
def try_again(*, actor: Actor, now: datetime, proposal: ProtocolProposal) -> ProtocolTrial | None:
    """Anew, as of today; None as for `begin_trial`. Raises DecidedAlready."""
    actor.require(Right.SEE_RECORDS)
    if proposal.state != ProtocolProposal.State.OPEN:
        raise DecidedAlready
    return begin_trial(proposal=proposal, now=now)


def begin_trial(*, proposal: ProtocolProposal, now: datetime, at_once: int = AT_ONCE) -> ProtocolTrial | None:
    """In the caller's transaction; None where the proposal no longer fits the protocol's other values."""
    before, after = both_protocols(proposal)
    if after is None:
        return None
    trial = ProtocolTrial.objects.create(
        proposal=proposal,
        before=before.sha256,
        after=after.sha256,
        on=timezone.localdate(now),
        of=living().count(),
        began_at=now,
    )
    return go_on(trial_id=trial.pk, last=0, now=now, size=at_once)


@transaction.atomic
def go_on(*, trial_id: int, last: int, now: datetime, size: int = AT_ONCE) -> ProtocolTrial:
    """The next animals behind `last`, and a job for those behind them. The same step twice counts once.

    A trial whose protocols are no longer those of today ends where it is: its answer would be of no use.
    """
    trial = ProtocolTrial.objects.select_for_update(of=("self",)).select_related("proposal").get(pk=trial_id)
    if trial.last != last or trial.ended_at:
        return trial
    before, after = both_protocols(trial.proposal)
    patients = list(living().filter(pk__gt=last).order_by("pk")[:size])
    if after is None or (before.sha256, after.sha256) != (trial.before, trial.after):
        patients = []
    else:
        _add(trial, patients, before, after)
    if len(patients) < size:
        trial.ended_at = now
    else:
        trial.last = patients[-1].pk
        queue_trial(trial.pk, trial.last)
    trial.save()
    return trial


def _add(trial: ProtocolTrial, patients: list[Patient], before: Protocol, after: Protocol) -> None:
    known = histories_of(patients, today=trial.on)
    trial.tried += len(patients)
    for patient in patients:
        one = known[patient.pk]
        moved = tried(one.animal, one.history, before, after, trial.on)
        trial.touched += bool(moved)
        for each in moved:
            trial.counts[each.how] = trial.counts.get(each.how, 0) + 1
            trial.rows.setdefault(each.how, []).append(asdict(_row(patient, each)))
    for how, rows in trial.rows.items():
        trial.rows[how] = sorted(rows, key=lambda row: (row["patient"], row["item"]))[:SHOWN]


def _row(patient: Patient, moved: Moved) -> TrialRow:
    return TrialRow(patient.pk, patient.name, moved.label, moved.how, moved.before, moved.after)
