"""Telling an owner of results after the visit: a letter of its own; its next version when one was wrong."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.care.actions.common import said
from clinic.care.errors import NothingToTell, NotRead, OwnerSentenceMissing, StillOpen
from clinic.care.models import PlanLine, PlanProgress, ResultInLetter, Test, TestResult
from clinic.care.queries import tests_with_results, untold_results
from clinic.care.result_letter import Telling, compose_in_all
from clinic.letters.actions import freeze_result_letter
from clinic.letters.composition import Corrected
from clinic.letters.document import from_json, sentences
from clinic.letters.models import Letter
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.addenda import add_addendum
from clinic.visits.actions.common import first_sending
from clinic.visits.actions.signing import name_as_signed
from clinic.visits.models import Record

SETTLED = (PlanLine.Standing.DONE, PlanLine.Standing.DECLINED)


@transaction.atomic
def release_result_letter(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    next_words: str = "",
    once: UUID | None = None,
) -> Letter:
    """Every result of a signed record that was read and not told yet, as one letter.

    Maryland COMAR 15.14.13.13: a veterinarian releases a letter. It fulfils the plan lines of its tests.
    Raises NothingToTell, NotRead, StillOpen, NoEmergencyTelephone, SentBefore.
    """
    actor.require(Right.SIGN)
    first_sending(once, actor=actor, now=now)
    held = Record.objects.select_for_update(of=("self",)).select_related("visit__patient").get(pk=record.pk)
    if not held.is_signed:
        raise StillOpen
    results = untold_results(held)
    if not results:
        raise NothingToTell
    if unread := next((each for each in results if each.read_at is None), None):
        raise NotRead(unread.test.title)
    last = Letter.objects.filter(record=held, kind=Letter.Kind.RESULT).order_by("-number").first()
    told = tests_with_results(sorted({each.test_id for each in results}))
    telling = Telling(tuple(told), next_words.strip(), name_as_signed(actor.staff), now)
    letter = freeze_result_letter(
        record=held,
        told=compose_in_all(held, telling, now=now),
        number=last.number + 1 if last else 1,
        actor=actor,
        now=now,
    )
    _note(letter, told)
    for test in told:
        _done(test, letter, actor, now)
    return letter


def _note(letter: Letter, tests: Sequence[Test]) -> None:
    ResultInLetter.objects.bulk_create(
        ResultInLetter(letter=letter, result=result)
        for test in tests
        for result in test.results.all()
        if result.struck_at is None
    )


def _done(test: Test, letter: Letter, actor: Actor, now: datetime) -> None:
    """The promise to tell the owner is kept."""
    line = test.plan_line
    if line is None or line.standing in SETTLED or line.progress.filter(standing__in=SETTLED).exists():
        return
    note = f"owner told by a result letter, {timezone.localtime(letter.at):%-d %B %Y}"
    PlanProgress.objects.create(line=line, standing=PlanLine.Standing.DONE, note=note, by=actor.staff, at=now)


def tell_again(*, record: Record, result: TestResult, reason: str, actor: Actor, now: datetime) -> None:
    """In the transaction that struck `result` out: every letter that told it gets its next version.

    Raises OwnerSentenceMissing when what takes its place has no sentence for the owner; NotAllowed.
    """
    numbers = set(ResultInLetter.objects.filter(result=result).values_list("letter__number", flat=True))
    in_visit = stood_in_visits_letter(record, result)
    if not numbers and not in_visit:
        return
    actor.require(Right.SIGN)
    instead = TestResult.objects.filter(corrects=result).first()
    if instead is not None and instead.read_at is None:
        raise OwnerSentenceMissing
    what = f"{result.test.title}: {result.analyte} {result.value}".replace(":  ", ": ")
    if in_visit:
        add_addendum(
            record=record,
            text=f"{what}, struck out: {reason}",
            corrects=result.test.title[:120],
            for_owner=True,
            actor=actor,
            now=now,
        )
    for number in sorted(numbers):
        _next_version(record, number, result, reason, actor, now)


def _next_version(
    record: Record, number: int, result: TestResult, reason: str, actor: Actor, now: datetime
) -> None:
    before = (
        Letter.objects.filter(record=record, kind=Letter.Kind.RESULT, number=number)
        .order_by("-version")
        .first()
    )
    assert before is not None
    tests = tests_with_results(
        sorted({each.result.test_id for each in before.results_told.select_related("result")})
    )
    words = next(
        (each.recorded for each in sentences(from_json(before.content)) if each.key == "next-words"), ""
    )
    why = f"{result.test.title} was put right: {said(reason, field='reason', sentence='')}"
    result.refresh_from_db()
    telling = Telling(
        tuple(tests),
        words,
        name_as_signed(actor.staff),
        now,
        again=Corrected(why=why, on=timezone.localdate(now)),
        withdrawn=(result,),
    )
    letter = freeze_result_letter(
        record=record,
        told=compose_in_all(record, telling, now=now),
        number=number,
        why_again=why,
        actor=actor,
        now=now,
    )
    _note(letter, tests)


def stood_in_visits_letter(record: Record, result: TestResult) -> bool:
    """Whether the newest letter of the visit printed the value."""
    letter = Letter.objects.filter(record=record, kind=Letter.Kind.VISIT).order_by("-version").first()
    if letter is None:
        return False
    key = f"test:{result.test_id}"
    return any(
        each.key.startswith(key) and result.value in each.recorded
        for each in sentences(from_json(letter.content))
        if each.key == key or each.key.startswith(f"{key}:")
    )
