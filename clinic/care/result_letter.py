"""The letter that tells results which came after the visit; composed from what was read."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils import timezone

from clinic.care.letter_of_tests import standing_results, test_line, values_table
from clinic.care.models import PlanLine, Test, TestResult
from clinic.letters.calls import usual_now, usual_within_a_day
from clinic.letters.composition import (
    Corrected,
    NoEmergencyTelephone,
    first_owner,
    has_died,
    head_of,
)
from clinic.letters.document import Block, Dated, Document, Section, Sentence, Signed, Text, Tone, Walk
from clinic.letters.wording import clock, ended, listed, long_day, weekday, words
from clinic.people.models import Owner
from clinic.platform.queries import clinic_details
from clinic.visits.models import Record

RESULT = "result"


@dataclass(frozen=True)
class Telling:
    """What a clinician tells: the tests, what happens next in their words, and who releases it (empty: not
    yet). `withdrawn`: results that an earlier version told and that were struck out since."""

    tests: tuple[Test, ...]
    next_words: str = ""
    by: str = ""
    at: datetime | None = None
    again: Corrected | None = None
    withdrawn: tuple[TestResult, ...] = ()


def compose_result_letter(record: Record, telling: Telling, *, now: datetime) -> Document:
    """Its document. `tests` come with their results, who read them and their plan lines.

    Raises NoEmergencyTelephone, Owner.DoesNotExist.
    """
    clinic = clinic_details()
    if not clinic.emergency_phone.strip():
        raise NoEmergencyTelephone
    owner = first_owner(record)
    today = timezone.localdate(now)
    w = words(owner.language)
    pet, dead = record.visit.patient.name, has_died(record)
    taken = timezone.localtime(record.visit.arrived_at or record.opened_at).date()
    head = replace(
        head_of(record, clinic, owner, today),
        day=long_day(today, w),
        weekday=weekday(today, w),
        time="",
        seen_by="",
        reason=f"{listed([each.title for each in telling.tests])}: from the visit of {long_day(taken, w)}.",
    )
    return Document(
        language=w.language,
        tone=Tone.QUIET if dead else _tone(telling.tests),
        head=head,
        headline=_headline(telling, pet),
        points=(),
        call_now=() if dead else usual_now(pet),
        call_within_a_day=() if dead else usual_within_a_day(pet),
        sections=tuple(section for section in (_to_do(telling), _tests(telling)) if section.blocks),
        next_things=() if dead else _next(telling.tests),
        signed=_signed(telling),
        paper=clinic.paper,
        large_print=owner.print_size == Owner.Print.LARGE,
        kind=RESULT,
    )


def _tone(tests: Sequence[Test]) -> Tone:
    every = [each for test in tests for each in standing_results(test)]
    return Tone.WELL if all(each.meaning in ("negative", "inside") for each in every) else Tone.LOOK


def _headline(telling: Telling, pet: str) -> Sentence:
    """What the clinicians who read them say, each sentence once."""
    said: dict[str, TestResult] = {}
    for test in telling.tests:
        for each in standing_results(test):
            if each.for_owner and each.read_at:
                said.setdefault(ended(each.for_owner), each)
    if not said:
        return Sentence("headline", f"A test result of {pet} is withdrawn: see below.", "a struck result")
    first = next(iter(said.values()))
    return Sentence(
        "headline",
        " ".join(said),
        "the result",
        "; ".join(f"{each.test.title}: {each.value}" for each in said.values()),
        first.read_by.printed_name if first.read_by else "",
    )


def _to_do(telling: Telling) -> Section:
    text = telling.next_words.strip()
    blocks = (Text((Sentence("next-words", ended(text), "written for this letter", text, telling.by),)),)
    return Section("to-do", "What now", 25, blocks if text else ())


def _tests(telling: Telling) -> Section:
    blocks: list[Block] = []
    for test in telling.tests:
        if not standing_results(test):
            continue
        blocks.append(Walk((replace(test_line(test), sentences=()),)))
        if table := values_table(test):
            blocks.append(table)
    blocks += [
        Text(
            (
                Sentence(
                    f"withdrawn:{each.pk}",
                    f"We told you: {each.test.title}, {each.analyte} {each.value} {each.unit}".rstrip()
                    + f". That was wrong: {ended(each.struck_reason)}",
                    "a struck result",
                    each.value,
                    each.struck_by.printed_name if each.struck_by else "",
                    strong=True,
                ),
            )
        )
        for each in telling.withdrawn
    ]
    return Section("tests", "Tests", 80, tuple(blocks))


def _next(tests: Sequence[Test]) -> tuple[Dated, ...]:
    """What else is agreed about the same problems, on days to come."""
    problems = {each.plan_line.problem_id for each in tests if each.plan_line and each.plan_line.problem_id}
    own = [each.plan_line_id for each in tests]
    lines = (
        PlanLine.objects.filter(problem__in=problems, due_on__gte=timezone.localdate())
        .exclude(pk__in=[each for each in own if each])
        .exclude(standing__in=[PlanLine.Standing.DONE, PlanLine.Standing.DECLINED])
        .exclude(progress__standing__in=[PlanLine.Standing.DONE, PlanLine.Standing.DECLINED])
        .order_by("due_on", "pk")
    )
    return tuple(
        Dated(
            each.due_on,
            Sentence(f"plan:{each.pk}", (each.for_owner or each.text).rstrip("."), "a plan line", each.text),
        )
        for each in lines
        if each.due_on
    )


def _signed(telling: Telling) -> Signed:
    version = ""
    if telling.again:
        day = long_day(telling.again.on)
        version = words("en").corrected_copy.format(day=day, why=telling.again.why)
    if not telling.by or telling.at is None:
        return Signed(lines=(), version_line=version)
    at = timezone.localtime(telling.at)
    text = f"{telling.by}, {long_day(at.date())}, {clock(at.time())}."
    return Signed(lines=(Sentence("signed:by", text, "the signature", by=telling.by),), version_line=version)
