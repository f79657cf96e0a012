"""One batch of operations inside one transaction: the core decides, this keeps what it decided."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right, Role
from clinic.platform import one_statement
from clinic.visits import models as visits
from clinic.visits.actions import set_kind
from clinic.visits.actions.urgency import urgency_noted
from exams import lump_rows, measuring
from exams.consciousness import log_json
from exams.guards import Refusal
from exams.lump_today import lumps_to_json
from exams.models import Exam, Finding, Operation
from exams.operations import BadOperation, apply, operation_from_json, version_of
from exams.operations import Operation as Op
from exams.queries import Standing
from exams.readings import KIND_OF, LINE_OF
from exams.rows import FROM_CORE, finding_of, undo_json
from exams.state import ExamState, HeadsUp, Outcome, outcome_to_json
from exams.talk_applying import RIGHTS as TALK_RIGHTS
from exams.talk_applying import Talk
from exams.taps import lines_of
from exams.versions import is_taken

RIGHTS: Mapping[str, Right] = {
    "measure": Right.MEASURE,
    "pin_heads_up": Right.PIN_HEADS_UP,
    "answer_heads_up": Right.ANSWER_HEADS_UP,
    "set_kind": Right.ASSESS,
    "confirm": Right.GRADE,
    **TALK_RIGHTS,
}
MEASURES_TOO = frozenset({"take_back", "clear"})
# whatever else an operation does reaches beyond the exam's own rows, and how things stand is read anew
WITHIN_THE_EXAM = frozenset(
    {
        *("set_normal", "set_abnormal", "set_in_part", "set_not_examined", "confirm", "note", "set_awake"),
        *("take_back", "clear", "station_all_normal", "station_rest_not_examined"),
        *TALK_RIGHTS,
    }
)


# columns of the exam that a batch writes
WRITTEN = (
    "notes",
    "versions",
    "kind",
    "kind_reason",
    "stations",
    "awake",
    "awake_log",
    "lumps",
    "revision",
    "talk_changes",
    "talk_agreed",
)


@dataclass(frozen=True)
class Kept:
    """One answered operation, to be written."""

    op: Op
    actor: Actor
    outcome: Outcome
    undo: dict[str, Any]


class Batch:
    """Takes operations one after the other; `save` writes all they did. Its record is held by the caller."""

    def __init__(
        self, standing: Standing, *, actor: Actor | None, by_grant: Mapping[str, Actor] | None, now: datetime
    ) -> None:
        self.before = standing
        self.state: ExamState = standing.state
        self.measured = {row.kind: row for row in standing.measured}
        self.now = now
        self.talk = Talk(standing, now=now)
        self._actor, self._by_grant = actor, by_grant
        self._kept: list[Kept] = []
        self._measurements: dict[str, int] = {}
        self._here: dict[str, str] = {}

    @property
    def exam(self) -> Exam:
        return self.before.exam

    @property
    def accepted(self) -> bool:
        return any(kept.outcome.accepted for kept in self._kept)

    @property
    def after(self) -> Standing:
        """How the exam stands now, as far as its own rows say it; see `reached_further`."""
        names = {str(kept.actor.staff.pk): kept.actor.staff.full_name for kept in self._kept}
        return dataclasses.replace(
            self.before,
            state=self.state,
            measured=tuple(self.measured.values()),
            last=self.before.last + len(self._kept),
            names={**self.before.names, **names, **self._here},
        )

    @property
    def reached_further(self) -> bool:
        """Whether the batch changed more than the exam's own rows."""
        done = {kept.op.what for kept in self._kept if kept.outcome.accepted}
        heads_ups, measured = self.before.state.heads_ups, {row.kind: row for row in self.before.measured}
        return not (
            done <= WITHIN_THE_EXAM and self.state.heads_ups == heads_ups and self.measured == measured
        )

    def take(self, data: Mapping[str, Any]) -> Outcome:
        """The answer to one operation as posted."""
        try:
            actor = self._person(data)
            op = _read(data, actor)
        except Refusal as refusal:
            return _unread(data, refusal)
        if op.key in self.state.outcomes:
            return dataclasses.replace(self.state.outcomes[op.key], repeated=True)
        outcome = self._apply(op, actor)
        undo = undo_json(self.state.undo[op.key]) if op.key in self.state.undo else {}
        if op.key in self._measurements:
            undo["measurement"] = self._measurements[op.key]
        self._kept.append(Kept(op, actor, outcome, undo))
        return outcome

    def own(self, target: str, what: str, payload: dict[str, Any]) -> dict[str, Any]:
        """An operation of the house itself, as a tablet would send it, after whatever stands."""
        return {
            "key": str(uuid4()),
            "target": target,
            "what": what,
            "payload": payload,
            "made_at": self.now.isoformat(),
            "walk_version": self.before.walk.sha256,
            "follows": version_of(self.state, self.before.lines, target),
        }

    def keep_readings(self) -> None:
        """Write what measurements say on their lines as rows of the exam."""
        kept = set(Finding.objects.filter(exam=self.exam).values_list("line", flat=True))
        lines = [LINE_OF[kind] for kind in self.measured if LINE_OF[kind] in self.state.answers]
        Finding.objects.filter(exam=self.exam, line__in=[k for k in lines if k in kept]).delete()
        Finding.objects.bulk_create(finding_of(self.exam, k, self.state.answers[k]) for k in lines)

    def _person(self, data: Mapping[str, Any]) -> Actor:
        """Whose operation it is: nothing is ever credited to anybody but the holder of its grant."""
        if self._by_grant is None:
            if self._actor is None:
                raise Refusal("grant", "nobody is named for this")
            return self._actor
        found = self._by_grant.get(str(data.get("grant", "")))
        if found is None:
            raise Refusal("grant", "Whoever tapped this is not known on this tablet: sign in again.")
        return found

    def _apply(self, op: Op, actor: Actor) -> Outcome:
        try:
            _check_right(op, actor)
            _check_reason(op)
            self._check_observer(op)
            if op.what in TALK_RIGHTS:
                return self._remember(self.talk.take(op, actor), op, actor)
            self.talk.check(op)
            self.state = lump_rows.knowing(self.state, op, self.exam.record)
            after, outcome = apply(self.state, self._on_this_walk(op), self.before.walk, self.before.lines)
            if outcome.accepted:
                after = self._measure(op, actor, after)
        except Refusal as refusal:
            outcome = Outcome(op.key, op.target, op.what, "refused", refusal.code, refusal.words)
            return self._remember(outcome, op, actor)
        self.state = after
        if outcome.accepted:
            self.talk.tapped(op, outcome, actor)
        return outcome

    def _remember(self, outcome: Outcome, op: Op, actor: Actor) -> Outcome:
        """An answer that changed no line, or that is only about what was said."""
        self.state = dataclasses.replace(self.state, outcomes={**self.state.outcomes, op.key: outcome})
        if outcome.accepted:
            self.talk.tapped(op, outcome, actor)
        return outcome

    def _on_this_walk(self, op: Op) -> Op:
        """A page of an earlier release or edition: the lines and codes that this walk has are taken."""
        ours = self.before.walk.sha256
        if op.walk_version == ours or not is_taken(op.walk_version, now=self.now):
            return op
        return dataclasses.replace(op, walk_version=ours)

    def _check_observer(self, op: Op) -> None:
        """Who saw it is somebody who works here."""
        if not op.observed_by or op.observed_by in self._here:
            return
        found = staff_named(op.observed_by)
        if found is None:
            raise Refusal("bad-payload", "whoever saw it does not work here")
        self._here[op.observed_by] = found.full_name

    def _measure(self, op: Op, actor: Actor, after: ExamState) -> ExamState:
        """A typed value becomes a measurement; taking it back strikes it out."""
        if op.what == "measure":
            line = self.before.lines[op.target].stored_at[0]
            row = measuring.measure(self.before, op, line=line, actor=actor, now=self.now)
            self._measurements[op.key] = row.pk
            self.measured[row.kind] = row
            answers = dict(after.answers)
            answers[line] = measuring.answer(row, answers[line], self.before)
            return dataclasses.replace(after, answers=answers)
        if op.what in ("take_back", "clear"):
            for row in self._measured_there(op):
                measuring.strike(row, actor=actor, now=self.now)
                del self.measured[row.kind]
        return after

    def _measured_there(self, op: Op) -> list[Any]:
        """The values that the operation takes away: those typed here, not those of the intake."""
        lines = lines_of(self.before.lines, op.target)
        kinds = [KIND_OF[k] for line in lines for k in line.stored_at if k in KIND_OF]
        return [
            self.measured[k] for k in kinds if k in self.measured and measuring.typed_here(self.measured[k])
        ]

    # ---- Writing

    def save(self) -> None:
        """Operations, findings, the exam: one statement for however many taps; heads-ups one each."""
        if not self._kept:
            return
        first = self.before.last + 1
        parts = [one_statement.insert([self._row(kept, first + i) for i, kept in enumerate(self._kept)])]
        if self.accepted:
            self._save_heads_ups()
            self._save_kind()
            self.talk.save(self.state)
            lump_rows.save_lumps(self.before.state, self.state, self.exam.record, now=self.now)
            parts += [*self._findings(), self._exam()]
            parts += urgency_noted(record=self.exam.record, urgency=self.after.urgency)
        one_statement.execute(parts)

    def _row(self, kept: Kept, number: int) -> Operation:
        op = kept.op
        return Operation(
            key=UUID(op.key),
            exam=self.exam,
            record_id=self.exam.record_id,
            number=number,
            target=op.target,
            what=op.what,
            payload=self.talk.logged(op),
            person=kept.actor.staff,
            grant=kept.actor.grant_id,
            role=op.role,
            observed_by_id=int(op.observed_by) if op.observed_by else None,
            made_at=op.made_at,
            received_at=self.now,
            walk_version=op.walk_version,
            follows=op.follows,
            outcome=outcome_to_json(kept.outcome),
            undo=kept.undo,
        )

    def _findings(self) -> Iterable[one_statement.Part]:
        changed = {k for kept in self._kept if kept.outcome.accepted for k in kept.outcome.changed}
        gone = [k for k in changed if k not in self.state.answers]
        if gone:
            yield one_statement.delete(Finding.objects.filter(exam=self.exam, line__in=gone))
        rows = [finding_of(self.exam, k, self.state.answers[k]) for k in sorted(changed - set(gone))]
        if rows:
            yield one_statement.insert_or_replace(rows, unique=["exam", "line"])

    def _save_heads_ups(self) -> None:
        for key, told in self.state.heads_ups.items():
            if told != self.before.state.heads_ups.get(key):
                self._save_heads_up(UUID(key), told, new=key not in self.before.state.heads_ups)

    def _save_heads_up(self, key: UUID, told: HeadsUp, *, new: bool) -> None:
        answer = {
            "answer": FROM_CORE[told.answer],
            "answer_reason": told.answer_words,
            "answered_by_id": int(told.answered_by) if told.answered_by else None,
            "answered_at": self.now if told.answer else None,
        }
        if new:
            by = {"by_id": int(told.person), "at": self.now}
            pinned = {"station": told.station, "side": told.side, "words": told.words}
            visits.HeadsUp.objects.create(pk=key, record_id=self.exam.record_id, **pinned, **by, **answer)
        else:
            visits.HeadsUp.objects.filter(pk=key).update(**answer)

    def _exam(self) -> one_statement.Part:
        exam = self.exam
        exam.notes, exam.versions = dict(self.state.notes), dict(self.state.versions)
        exam.kind, exam.kind_reason = self.state.kind, self.state.kind_reason
        exam.stations, exam.awake = list(self.state.stations), self.state.awake
        exam.awake_log = log_json(self.state.awake_log)
        exam.lumps = lumps_to_json(self.state.lumps)
        exam.revision += 1
        values = {name: getattr(exam, name) for name in WRITTEN}
        return one_statement.update(Exam.objects.filter(pk=exam.pk), values)

    def _save_kind(self) -> None:
        chosen = [k for k in self._kept if k.outcome.accepted and k.op.what == "set_kind"]
        if chosen:
            set_kind(
                visit=self.exam.record.visit,
                kind=self.state.kind,
                reason=self.state.kind_reason,
                actor=chosen[-1].actor,
                now=self.now,
            )


def _read(data: Mapping[str, Any], actor: Actor) -> Op:
    plain = {k: v for k, v in data.items() if k != "grant"}
    try:
        op = operation_from_json(plain, person=str(actor.staff.pk), role=role_of(actor))
        UUID(op.key)
        made_at = datetime.fromisoformat(op.made_at)
    except (BadOperation, ValueError) as error:
        raise Refusal("bad-operation", f"this is not an operation: {error}") from error
    if made_at.tzinfo is None or len(op.made_at) > 40 or len(op.target) > 80:
        raise Refusal(
            "bad-operation", "this is not an operation: made_at needs its offset, target is too long"
        )
    return dataclasses.replace(op, key=str(UUID(op.key)))


def _unread(data: Mapping[str, Any], refusal: Refusal) -> Outcome:
    named = [str(data.get(n, "")) if isinstance(data, Mapping) else "" for n in ("key", "target", "what")]
    return Outcome(named[0], named[1], named[2], "refused", refusal.code, refusal.words)


def role_of(actor: Actor) -> str:
    """The widest role in which this person records."""
    order = (Role.CLINICIAN, Role.TECHNICIAN, Role.ASSISTANT)
    return next((role.value for role in order if role in actor.roles), "")


def _check_right(op: Op, actor: Actor) -> None:
    right = RIGHTS.get(op.what, Right.OBSERVE)
    if op.what in MEASURES_TOO and op.target in KIND_OF:
        right = Right.MEASURE
    if not actor.may(right):
        raise Refusal("role", f"This needs the right “{right.value}”.")


def _check_reason(op: Op) -> None:
    """The clinic's own rules beside the core's: *not today*, and leaving the full walk, say why."""
    if op.what == "answer_heads_up" and op.payload.get("answer") == "not-today" and not _says(op, "words"):
        raise Refusal("reason", "Say why not today.")
    if op.what == "set_kind" and op.payload.get("kind") != "full" and not _says(op, "reason"):
        raise Refusal("reason", "Say why this is not a full walk.")


def _says(op: Op, name: str) -> bool:
    words = op.payload.get(name, "")
    return isinstance(words, str) and bool(words.strip())


def staff_named(number: str) -> Staff | None:
    """Somebody who works here, by the number that the page knows them by."""
    return Staff.objects.filter(pk=int(number), is_active=True).first() if number.isdigit() else None
