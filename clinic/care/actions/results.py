"""What a test showed: entered as reported, read by a clinician, struck out, put right; also after signing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.callbacks.soon import reckon_soon
from clinic.care.actions.common import said
from clinic.care.actions.result_letters import tell_again
from clinic.care.errors import MeaningDiffers, OwnerSentenceMissing, ResultStruck, TextMissing
from clinic.care.models import Test, TestResult
from clinic.care.readings import interval, place, reading
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from clinic.visits.models import Record

RECKONED = frozenset({"inside", "low", "high"})


@dataclass(frozen=True)
class Value:
    """One line of a report. `meaning` empty: as the value lies to the laboratory's interval."""

    value: str
    analyte: str = ""
    unit: str = ""
    interval: str = ""
    meaning: str = ""
    for_owner: str = ""
    row: str = ""

    def field(self, name: str) -> str:
        """The field of a form that this row came from."""
        return f"{name}{self.row}"


def moment_of(day: date, now: datetime) -> datetime:
    """A day that a report names, as a moment that is not later than `now`: noon, or now."""
    noon = timezone.make_aware(datetime.combine(day, time(12)))
    return min(noon, now)


@transaction.atomic
def enter_results(
    *,
    actor: Actor,
    now: datetime,
    test: Test,
    values: Sequence[Value],
    for_owner: str = "",
    resulted_at: datetime | None = None,
    corrects: TestResult | None = None,
    once: UUID | None = None,
) -> list[TestResult]:
    """The values of one report. Read at once where a clinician enters them with a sentence for the owner.

    Nothing is converted: value, unit and interval stay as reported. Raises TextMissing, MeaningDiffers,
    SentBefore.
    """
    actor.require(Right.OBSERVE)
    if not values:
        raise TextMissing("value", "Write the result as it was reported.")
    if resulted_at and timezone.localdate(resulted_at) < timezone.localdate(test.ordered_at):
        raise TextMissing("resulted_on", "That day lies before the test was ordered.")
    first_sending(once, actor=actor, now=now)
    return [
        _enter(test, each, for_owner.strip() or each.for_owner.strip(), resulted_at, corrects, actor, now)
        for each in values
    ]


def _enter(
    test: Test,
    told: Value,
    for_owner: str,
    resulted_at: datetime | None,
    corrects: TestResult | None,
    actor: Actor,
    now: datetime,
) -> TestResult:
    value = said(told.value, field=told.field("value"), sentence="Write the result as it was reported.")
    number, usual = reading(value), interval(told.interval)
    reads = actor.may(Right.ASSESS) and bool(for_owner)
    reckon_soon(test.patient_id)
    return TestResult.objects.create(
        test=test,
        analyte=told.analyte.strip(),
        value=value,
        number=number.number if number else None,
        relation=number.relation if number else "",
        unit=told.unit.strip(),
        interval=told.interval.strip(),
        low=usual.low if usual else None,
        high=usual.high if usual else None,
        meaning=_meaning(told, place(number, usual)),
        for_owner=for_owner,
        corrects=corrects,
        resulted_at=resulted_at or now,
        entered_by=actor.staff,
        read_by=actor.staff if reads else None,
        read_at=now if reads else None,
    )


def _meaning(told: Value, reckoned: str) -> str:
    if not told.meaning:
        if not reckoned:
            raise TextMissing(told.field("meaning"), "Say whether it is as usual.")
        return reckoned
    if reckoned and told.meaning in RECKONED and told.meaning != reckoned:
        raise MeaningDiffers(told.field("meaning"), told.value.strip(), told.interval.strip(), reckoned)
    return told.meaning


def enter_result(
    *,
    actor: Actor,
    now: datetime,
    test: Test,
    value: str,
    meaning: str = "",
    analyte: str = "",
    unit: str = "",
    interval: str = "",
    for_owner: str = "",
    resulted_at: datetime | None = None,
    once: UUID | None = None,
) -> TestResult:
    """One value. Raises as `enter_results`."""
    told = Value(value=value, analyte=analyte, unit=unit, interval=interval, meaning=meaning)
    return enter_results(
        test=test,
        values=[told],
        for_owner=for_owner,
        resulted_at=resulted_at,
        once=once,
        actor=actor,
        now=now,
    )[0]


@transaction.atomic
def read_result(*, actor: Actor, now: datetime, result: TestResult, for_owner: str) -> bool:
    """A clinician has read it and says what it means for the owner. False when it was read already.

    Raises OwnerSentenceMissing.
    """
    actor.require(Right.ASSESS)
    if not for_owner.strip():
        raise OwnerSentenceMissing
    unread = TestResult.objects.filter(pk=result.pk, read_at=None, struck_at=None)
    return unread.update(read_by=actor.staff, read_at=now, for_owner=for_owner.strip()) == 1


@transaction.atomic
def read_results(*, actor: Actor, now: datetime, test: Test, for_owner: str) -> int:
    """All of a test that nobody has read, with one sentence; how many. Raises OwnerSentenceMissing."""
    actor.require(Right.ASSESS)
    if not for_owner.strip():
        raise OwnerSentenceMissing
    unread = TestResult.objects.filter(test=test, read_at=None, struck_at=None)
    return unread.update(read_by=actor.staff, read_at=now, for_owner=for_owner.strip())


@transaction.atomic
def strike_result(
    *,
    actor: Actor,
    now: datetime,
    result: TestResult,
    reason: str,
    instead: Value | None = None,
    once: UUID | None = None,
) -> TestResult | None:
    """Strike one out, with a reason; `instead` takes its place. What the owner was told is told anew.

    Maryland COMAR 15.14.01.10: a wrong record is amended with date and initials, and stays readable. A value
    that a letter told is a clinician's to strike: the letter's next version goes out. Raises TextMissing,
    ResultStruck, MeaningDiffers, SentBefore.
    """
    own = result.entered_by_id == actor.staff.pk
    actor.require(Right.STRIKE_OWN if own else Right.STRIKE_ANY)
    reason = said(reason, field="reason", sentence="Say why it is struck out.")
    first_sending(once, actor=actor, now=now)
    record = Record.objects.select_for_update(of=("self",)).get(pk=result.test.record_id)
    struck = TestResult.objects.filter(pk=result.pk, struck_at=None).update(
        struck_at=now, struck_by=actor.staff, struck_reason=reason
    )
    if not struck:
        raise ResultStruck
    reckon_soon(result.test.patient_id)
    new = None
    if instead is not None:
        sentence = instead.for_owner.strip()
        new = _enter(result.test, instead, sentence, result.resulted_at, result, actor, now)
    tell_again(record=record, result=result, reason=reason, actor=actor, now=now)
    return new
