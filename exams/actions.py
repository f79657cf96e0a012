"""Every change of an exam. Operations come in batches; each keeps its answer for when it comes again."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from clinic.patients.actions import add_lasting_fact
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import hold_open
from clinic.visits.models import Record
from exams.absence_actions import absence_words
from exams.applying import Batch
from exams.errors import NoSuchLine, RecordSigned
from exams.lines import LIMB_LINE
from exams.models import Exam, Finding
from exams.queries import Standing, standing, standing_held, unbegun
from exams.readings import KIND_OF
from exams.rows import animal_of
from exams.state import ExamState, Outcome, outcome_to_json
from exams.versions import lines_of, version_row

UNKNOWN = "Whoever tapped this is not known on this tablet: sign in again."
SIGNED = "The record is signed. What you know now goes into an addendum."


@transaction.atomic
def begin_exam(*, record: Record, actor: Actor, now: datetime, shown: str = "") -> Exam:
    """The record's exam, begun when it is the first time: the walk's version and the animal stay with it.

    `shown`: the walk that the page of the first tap was drawn with.

    Raises RecordSigned.
    """
    actor.require(Right.MEASURE)
    found = Exam.objects.filter(record=record).first()
    if found:
        return found
    held = (
        Record.objects.select_for_update(no_key=True, of=("self",))
        .select_related("visit__patient")
        .get(pk=record.pk)
    )
    if held.is_signed:
        raise RecordSigned
    found = Exam.objects.filter(record=held).first()  # somebody else may have begun it while we waited
    if found:
        return found
    exam = unbegun(held, today=now.date())
    exam.walk = version_row(now=now, shown=shown)
    exam.begun_by, exam.begun_at = actor.staff, now
    exam.save()
    return exam


@transaction.atomic
def apply_operations(
    *,
    exam: Exam,
    operations: Sequence[Mapping[str, Any]],
    actor: Actor | None = None,
    by_grant: Mapping[str, Actor] | None = None,
    now: datetime,
) -> list[dict[str, Any]]:
    """Each operation's answer, in order, after all of them were applied in one transaction.

    An operation: key, target, what, payload, made_at, walk_version, follows, observed_by, and `grant`, by
    which `by_grant` says whose it is; without `by_grant` all are the actor's. An answer is `outcome_to_json`
    of `exams.state.Outcome`. Nothing raises for a single operation: what cannot be applied is refused with a
    code and a sentence; `signed`, `grant` and `bad-operation` are not kept, so they may be sent again.
    """
    held = standing_held(record_id=exam.record_id, keys=_keys(operations), today=now.date())
    return _applied(held, operations, actor=actor, by_grant=by_grant, now=now).answers


@dataclass(frozen=True)
class Taken:
    """The answers to a batch, in its order, and how the exam stands after it.

    `before`, `pulse_before`: how it stood before the batch; None where that would not tell what changed.
    """

    answers: list[dict[str, Any]]
    standing: Standing
    before: ExamState | None = None
    pulse_before: str = ""


@transaction.atomic
def take_operations(
    *,
    visit_id: int,
    operations: Sequence[Mapping[str, Any]],
    by_grant: Mapping[str, Actor],
    now: datetime,
) -> Taken:
    """What a tablet sent, each credited to the holder of its grant; the first of them begins the exam.

    See `apply_operations` for the answers. Nobody known: every operation is refused with `grant`.
    Raises Http404 for a visit without a record.
    """
    keys = _keys(operations)
    held = standing_held(visit_id=visit_id, keys=keys, today=now.date())
    record = held.exam.record
    if held.exam._state.adding:
        beginner = next((a for a in by_grant.values() if a.may(Right.MEASURE)), None)
        if beginner is None or record.is_signed:
            code, words = ("signed", SIGNED) if record.is_signed else ("grant", UNKNOWN)
            return Taken([outcome_to_json(_refused(each, code, words)) for each in operations], held)
        shown = next((v for o in operations if isinstance(v := o.get("walk_version"), str)), "")
        begin_exam(record=record, actor=beginner, now=now, shown=shown)
        held = standing_held(visit_id=visit_id, keys=keys, today=now.date())
    return _applied(held, operations, actor=None, by_grant=by_grant, now=now)


def _applied(
    held: Standing,
    operations: Sequence[Mapping[str, Any]],
    *,
    actor: Actor | None,
    by_grant: Mapping[str, Actor] | None,
    now: datetime,
) -> Taken:
    """The batch applied and written, its record being held."""
    record = held.exam.record
    if record.is_signed:
        return Taken([outcome_to_json(_after_signing(each, held)) for each in operations], held)
    batch, pulse = Batch(held, actor=actor, by_grant=by_grant, now=now), held.pulse
    answers = [outcome_to_json(batch.take(each)) for each in operations]
    batch.save()
    if batch.reached_further:
        return Taken(answers, standing_held(record_id=record.pk, keys=(), today=now.date()))
    return Taken(answers, batch.after, held.state, pulse)


@transaction.atomic
def note_absence(
    *, record: Record, line: str, whole_limb: bool = False, why: str, actor: Actor, now: datetime
) -> Exam:
    """There is none of this, for good: a lasting fact of the patient, in this exam from now on.

    Raises RecordSigned, NoSuchLine.
    """
    actor.require(Right.ASSESS)
    exam = begin_exam(record=record, actor=actor, now=now)
    held = hold_open(record)
    exam = Exam.objects.get(pk=exam.pk)
    lines = lines_of(exam.walk_id, animal_of(exam.animal))
    if line not in lines or not lines[line].applies or not why.strip():
        raise NoSuchLine(line)
    what = absence_at(line, whole_limb=whole_limb)
    add_lasting_fact(
        patient=held.visit.patient,
        structure=what,
        words=absence_words(lines, line, what),
        why=why.strip(),
        actor=actor,
        now=now,
    )
    return Exam.objects.get(pk=exam.pk)  # told of it by `OpenExamsKnow`


@transaction.atomic
def confirm_and_keep(*, exam: Exam, record: Record, actor: Actor, now: datetime) -> Standing:
    """What a signature does to its exam, the record held: how the exam stands after it.

    Other people's grades become the signer's too; stations that an exam of chosen stations did not open are
    answered together with one reason; values of measurements are kept with the exam, so that what is struck
    out later changes nothing that was signed.
    """
    actor.require(Right.SIGN)
    exam.record = record
    batch = Batch(standing(exam), actor=actor, by_grant=None, now=now)
    state = batch.state
    for key in [k for k, a in state.answers.items() if any(f.unconfirmed for f in a.findings)]:
        batch.take(batch.own(key, "confirm", {}))
    if state.kind != Exam.Kind.FULL:
        reason = "urgent-visit" if state.kind == Exam.Kind.EMERGENCY else "not-part"
        batch.take(batch.own("exam", "station_rest_not_examined", {"reason": reason, "all": True}))
    batch.save()
    kept = Finding.objects.filter(exam=exam, status=Finding.Status.MEASURED, line__in=KIND_OF)
    kept.exclude(line__in=batch.state.answers).delete()  # their values were struck out meanwhile
    batch.keep_readings()
    return batch.after


def absence_at(line: str, *, whole_limb: bool) -> str:
    """How a lasting fact names what is gone: a tooth, a whole limb, or this one line."""
    structure, _, side = line.partition("|")
    limb = next((k for k, at in LIMB_LINE.items() if at == (structure.partition(".")[0], side)), "")
    if whole_limb and limb:
        return f"limb:{limb}"
    return f"tooth:{side}" if structure == "MTH.teeth" else f"line:{line}"


def _keys(operations: Sequence[Mapping[str, Any]]) -> set[str]:
    """The operations named: those that came, and those to be taken back."""
    named: set[str] = set()
    for each in operations:
        payload = each.get("payload")
        back = payload.get("operation") if isinstance(payload, Mapping) else None
        named |= {k for k in (each.get("key"), back) if isinstance(k, str) and _is_uuid(k)}
    return named


def _is_uuid(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True


def _after_signing(each: Mapping[str, Any], held: Standing) -> Outcome:
    """What was answered before the signature is answered the same; nothing else is taken."""
    first = held.state.outcomes.get(str(each.get("key", "")))
    return dataclasses.replace(first, repeated=True) if first else _refused(each, "signed", SIGNED)


def _refused(each: Mapping[str, Any], code: str, words: str) -> Outcome:
    named = [str(each.get(n, "")) for n in ("key", "target", "what")]
    return Outcome(named[0], named[1], named[2], "refused", code, words)
