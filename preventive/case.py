"""One animal on one day under one protocol, and how a plan becomes a due."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from preventive.dates import Calendar, Span, day_after, day_words, days_before
from preventive.due import (
    DUE_SOON_DAYS,
    Action,
    Change,
    Due,
    Pause,
    Sequence,
    Standing,
    Step,
    Uncounted,
    paused_on,
)
from preventive.facts import Animal, Decline, Deferral, History, OwnDate
from preventive.protocol import Protocol
from preventive.rules import Applies, Cited, Note, Rules


@dataclass(frozen=True)
class Case:
    """What every rule needs: the animal, its history, the protocol and the day it is asked for."""

    animal: Animal
    history: History
    protocol: Protocol
    on: date

    @property
    def rules(self) -> Rules:
        return self.protocol.rules

    @property
    def cal(self) -> Calendar:
        return self.protocol.calendar

    @cached_property
    def youngest_birth(self) -> date | None:
        """The latest possible birth date: never after the day asked for, nor after a recorded event."""
        birth = self.animal.birth
        if birth is None:
            return None
        events = [day for day in self._events() if day >= birth.oldest]
        return birth.youngest(min([self.on, *events]))

    @cached_property
    def oldest_birth(self) -> date | None:
        return self.animal.birth.oldest if self.animal.birth else None

    def _events(self) -> Iterable[date]:
        yield from (dose.given.latest for dose in self.history.doses)
        yield from (test.on for test in self.history.tests)
        yield from self.history.exams
        animal = self.animal
        yield from filter(None, (animal.acquired_on, animal.last_exposure_on, animal.weaned_on))

    def old_enough_on(self, age: Span) -> date | None:
        """The first day the animal is surely that old (minimum ages roll up)."""
        if self.youngest_birth is None:
            return None
        day = self._gates.get(age)
        if day is None:
            day = self._gates[age] = self.cal.gate(self.youngest_birth, age)
        return day

    @cached_property
    def _gates(self) -> dict[Span, date]:
        """Ages already reckoned: every dose of every antigen asks for the same few."""
        return {}

    def is_old_enough(self, age: Span, day: date) -> bool:
        """Whether the animal is surely that old on a day; never where its birth is not known."""
        ready = self.old_enough_on(age)
        return ready is not None and day >= ready

    def turns(self, age: Span) -> date | None:
        """The day an age limit is reached (due dates clamp down)."""
        return self.cal.due(self.youngest_birth, age) if self.youngest_birth else None


def because(cited: Cited, text: str) -> Step:
    return Step(text, cited.source, cited.certainty.value)


def note_steps(notes: Iterable[Note]) -> tuple[Step, ...]:
    return tuple(because(note, note.text) for note in notes)


@dataclass(frozen=True, slots=True)
class Item:
    """What an item is called and where it belongs."""

    code: str
    label: str
    group: str
    group_label: str
    kind: str
    category: str = ""
    antigen: str = ""

    @property
    def names(self) -> frozenset[str]:
        """The codes under which it can be declined, deferred or held."""
        return frozenset({self.code, self.group, self.antigen} - {""})


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The dates of the next thing to do, before pauses and the day itself are looked at.

    ``until``: days from which the plan is another one though nobody did anything; not worth telling.
    """

    then: Action
    earliest: date | None = None
    target: date | None = None
    latest: date | None = None
    legal: date | None = None
    product_due: date | None = None
    valid_from: date | None = None
    last_on: date | None = None
    sequence: Sequence | None = None
    why: tuple[Step, ...] = ()
    notes: tuple[Step, ...] = ()
    changes: tuple[Change, ...] = ()
    needs: tuple[Step, ...] = ()
    until: tuple[date, ...] = ()
    applies: bool = True


def nothing_due(why: tuple[Step, ...], last_on: date | None = None) -> Plan:
    return Plan(then=Action.NONE, why=why, last_on=last_on)


def ask_birth() -> Plan:
    step = Step("The birth date is not known: enter it or an estimate.", "ours", "ours")
    return Plan(then=Action.ASK, why=(step,))


def due_from(
    case: Case,
    item: Item,
    plan: Plan,
    *,
    uncounted: tuple[Uncounted, ...] = (),
    pause: Pause | None = None,
) -> Due:
    """Finish a plan: pauses, what to do today, and until when the answer holds."""
    plan = with_own_date(case, item, plan)
    pause = recorded_pause(case, item, plan.last_on) or pause
    return Due(
        code=item.code,
        label=item.label,
        group=item.group,
        group_label=item.group_label,
        kind=item.kind,
        category=item.category,
        applies=plan.applies,
        earliest=plan.earliest,
        target=plan.target,
        latest=plan.latest,
        legal=plan.legal,
        product_due=plan.product_due,
        valid_from=plan.valid_from,
        last_on=plan.last_on,
        action=_action_today(case, plan, pause),
        then=plan.then,
        sequence=plan.sequence,
        why=plan.why,
        notes=plan.notes,
        changes=plan.changes,
        needs=plan.needs,
        uncounted=uncounted,
        pause=pause,
        recheck_on=_recheck_on(case, plan, pause),
    )


def _action_today(case: Case, plan: Plan, pause: Pause | None) -> Action:
    if plan.then is Action.NONE:  # also what is not for this animal
        return Action.NONE
    if paused_on(pause, case.on) is not None:
        return Action.WAIT
    opens = _opens_on(plan)
    return Action.WAIT if opens is not None and case.on < opens else plan.then


def _opens_on(plan: Plan) -> date | None:
    """The first day the thing may sensibly be done."""
    if plan.earliest is not None:
        return plan.earliest
    return days_before(plan.target, DUE_SOON_DAYS) if plan.target else None


def _recheck_on(case: Case, plan: Plan, pause: Pause | None) -> date | None:
    days: list[date | None] = [*_turning_days(plan)]
    days += [_opens_on(plan), pause.until if pause else None]
    birth = case.animal.birth
    if birth is not None and birth.day.latest > case.on:
        days.append(day_after(case.on))
    return min((day for day in days if day is not None and day > case.on), default=None)


def _turning_days(plan: Plan) -> tuple[date, ...]:
    """Days on which the plan itself becomes another one."""
    return (*plan.until, *(change.on for change in plan.changes if change.on is not None))


def recorded_pause(case: Case, item: Item, last_on: date | None) -> Pause | None:
    """A hold, else a refusal, else a deferral that holds on the day; a later dose ends a refusal."""
    for hold in case.history.holds:
        open_still = hold.released_on is None or hold.released_on > case.on
        if hold.code in item.names and hold.on <= case.on and open_still:
            return Pause(Standing.HOLD, hold.on, hold.released_on, hold.reason)
    if not case.history.declines and not case.history.deferrals:
        return None
    declined = _running(case, item, case.history.declines, last_on)
    if declined is not None:
        return Pause(Standing.DECLINED, declined.on, declined.until, declined.reason)
    deferred = _running(case, item, case.history.deferrals, last_on)
    if deferred is not None:
        return Pause(Standing.DEFERRED, deferred.on, deferred.until, deferred.reason)
    return None


def _running(
    case: Case, item: Item, entries: Iterable[Decline | Deferral], last_on: date | None
) -> Decline | Deferral | None:
    running = [
        entry
        for entry in entries
        if entry.code in item.names
        and entry.on <= case.on < entry.until
        and (last_on is None or last_on < entry.on)
    ]
    return max(running, key=lambda entry: (entry.until, entry.on, entry.reason), default=None)


OWN_DATE = "a clinician’s own date"


def with_own_date(case: Case, item: Item, plan: Plan) -> Plan:
    """The plan with the clinician's date as its target; what is to be done and how often stays as it was.

    Never before the shortest interval or age allows, so no series is done sooner; never after the legal
    date. The date is spent once the thing was done on its day or later, or at all since it was set; done on
    the day it was set, it stands, as the next date is often set right after.
    """
    own = _own_date(case, item, plan)
    if own is None or not plan.applies:
        return plan
    origin = f"{OWN_DATE}, by {own.by}, {day_words(own.on)}"
    if plan.target is None:
        words = (
            f"The clinician’s own date, {day_words(own.day)}, changes nothing: no date is due by the rules."
        )
        return replace(plan, why=(*plan.why, Step(f"{words} {own.reason}", origin, "clinic")))
    steps = [Step(f"Due on {day_words(own.day)} by the clinician: {own.reason}", origin, "clinic")]
    target = own.day
    if plan.legal is not None and target > plan.legal:
        target = plan.legal
        steps.append(_derived(f"The law goes first: no later than {day_words(target)}."))
    if plan.earliest is not None and target < plan.earliest:
        target = plan.earliest
        steps.append(_derived(f"It may not be done before {day_words(target)}."))
    if target > (plan.latest or plan.target):
        steps.append(
            _derived(f"That is after {day_words(plan.latest or plan.target)}, the last day by the rules.")
        )
    else:
        steps.append(_derived(f"By the rules it would be {day_words(plan.target)}."))
    latest = plan.latest if plan.latest is not None and target <= plan.latest else None
    return replace(plan, target=target, latest=latest, why=(*plan.why, *steps))


def _derived(text: str) -> Step:
    return Step(text, "the rules before", "derived")


def _own_date(case: Case, item: Item, plan: Plan) -> OwnDate | None:
    last = plan.last_on
    running = [
        own
        for own in case.history.own_dates
        if own.code in item.names
        and own.on <= case.on
        and (last is None or (last <= own.on and last < own.day))
    ]
    return max(running, key=lambda own: (own.on, own.day, own.reason), default=None)


def with_lifestyle(case: Case, plan: Plan, applies: Applies, *, first_booster: bool = False) -> Plan:
    """Hide the plan where the item is not for this animal, or turn it into a question."""
    if not applies.any_of:
        return plan
    young_until = case.turns(applies.until_age) if applies.until_age else None
    if young_until is not None and case.on <= young_until:
        return replace(plan, changes=(*plan.changes, _ages_out(young_until)))
    if applies.first_booster and first_booster:
        return plan
    says = case.animal.says_any(applies.any_of)
    if says is True:
        return _with_review(case, plan, applies)
    if says is None:
        return _lifestyle_question(case, plan, applies)
    why = because(applies, "By the lifestyle answers this animal does not need it.")
    whys, until = (*plan.why, why), _turning_days(plan)
    return Plan(
        then=Action.NONE, applies=False, why=whys, notes=plan.notes, last_on=plan.last_on, until=until
    )


def _ages_out(birthday: date) -> Change:
    return Change(f"After {day_words(birthday)} it depends on the lifestyle.", day_after(birthday))


def _lifestyle_question(case: Case, plan: Plan, applies: Applies) -> Plan:
    open_codes = [code for code in applies.any_of if case.animal.says(code) is None]
    needs = tuple(because(applies, case.rules.lifestyle.get(code, code)) for code in open_codes)
    whys, until = (*plan.why, *needs), _turning_days(plan)
    return Plan(then=Action.ASK, needs=needs, why=whys, notes=plan.notes, last_on=plan.last_on, until=until)


def _with_review(case: Case, plan: Plan, applies: Applies) -> Plan:
    """A yes older than the review time is still used, and asked again."""
    answers = [case.animal.answer(code) for code in applies.any_of if case.animal.says(code)]
    days = [answer.answered_on for answer in answers if answer is not None and answer.answered_on]
    if not days:
        return plan
    review = case.rules.review
    ask_on = case.cal.due(max(days), review.after)
    change = Change("The lifestyle answer is due to be asked again.", ask_on)
    if case.on < ask_on:
        return replace(plan, changes=(*plan.changes, change))
    return replace(plan, needs=(*plan.needs, because(review, "Ask about the lifestyle again.")))
