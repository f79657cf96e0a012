"""The letter that tells results which came after the visit; composed from what was read."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.utils import timezone

from clinic.care.letter import low_sugar
from clinic.care.letter_of_tests import standing_results, test_line, told_title, told_words, values_table
from clinic.care.models import Medicine, PlanLine, Test, TestResult
from clinic.care.patient_case import in_use_rows
from clinic.letters.calls import after_a_result, usual_now
from clinic.letters.composition import (
    Corrected,
    NoEmergencyTelephone,
    first_owner,
    has_died,
    head_of,
    in_languages,
    languages,
    signature,
    version_line,
)
from clinic.letters.document import Block, Dated, Document, Section, Sentence, Signed, Text, Tone, Walk
from clinic.letters.texts import Texts, in_the_words_of
from clinic.letters.wording import capital, ended, listed, long_day, weekday, words
from clinic.letters.wordings import clinic_words
from clinic.people.models import Owner
from clinic.platform.models import ClinicDetails
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
    """Its document, in the owner's language. `tests` come with their results, who read them, and plan lines.

    Raises NoEmergencyTelephone, Owner.DoesNotExist.
    """
    return next(iter(_told(record, telling, now, every=False).values()))


def compose_in_all(record: Record, telling: Telling, *, now: datetime) -> dict[str, Document]:
    """The same in every language that letters are written in, the owner's first. Raises the same."""
    return _told(record, telling, now, every=True)


def _told(record: Record, telling: Telling, now: datetime, *, every: bool) -> dict[str, Document]:
    clinic = clinic_details()
    if not clinic.emergency_phone.strip():
        raise NoEmergencyTelephone
    owner = first_owner(record)
    today = timezone.localdate(now)
    in_use = in_use_rows(record.visit.patient, today=today)
    with in_the_words_of(clinic_words(clinic)):
        return in_languages(
            lambda code: _composed(record, telling, clinic, owner, in_use, today, words(code)),
            [words(owner.language).language, *(languages() if every else ())],
        )


def _composed(
    record: Record,
    telling: Telling,
    clinic: ClinicDetails,
    owner: Owner,
    in_use: list[Medicine],
    today: date,
    w: Texts,
) -> Document:
    patient, dead = record.visit.patient, has_died(record)
    pet = patient.name
    taken = timezone.localtime(record.visit.arrived_at or record.opened_at).date()
    head = replace(
        head_of(record, clinic, owner, w),
        day=long_day(today, w),
        weekday=capital(weekday(today, w)),
        time="",
        seen_by="",
        reason=w(
            "test.from_visit",
            what=listed([told_title(each, w) for each in telling.tests], w),
            day=long_day(taken, w),
        ),
    )
    return Document(
        language=w.language,
        tone=Tone.QUIET if dead else _tone(telling.tests),
        head=head,
        headline=_headline(telling, pet, w),
        points=(),
        call_now=() if dead else (*low_sugar(patient, in_use, w), *usual_now(patient, today, w)),
        call_within_a_day=() if dead else after_a_result(patient, today, w),
        sections=tuple(section for section in (_to_do(telling, w), _tests(telling, w)) if section.blocks),
        next_things=() if dead else _next(telling.tests, w),
        signed=_signed(telling, w),
        paper=clinic.paper,
        large_print=owner.print_size == Owner.Print.LARGE,
        kind=RESULT,
    )


def _tone(tests: Sequence[Test]) -> Tone:
    every = [each for test in tests for each in standing_results(test)]
    return Tone.WELL if all(each.meaning in ("negative", "inside") for each in every) else Tone.LOOK


def _headline(telling: Telling, pet: str, w: Texts) -> Sentence:
    """What the clinicians who read them say, each sentence once."""
    said: dict[str, TestResult] = {}
    for test in telling.tests:
        for each in standing_results(test):
            if each.for_owner and each.read_at:
                said.setdefault(ended(each.for_owner), each)
    if not said:
        return w.sentence("headline", "test.withdrawn_short", "a struck result", pet=pet)
    first = next(iter(said.values()))
    return Sentence(
        "headline",
        " ".join(told_words(each, text, w) for text, each in said.items()),
        "the result",
        "; ".join(f"{each.test.title}: {each.value}" for each in said.values()),
        first.read_by.printed_name if first.read_by else "",
    )


def _to_do(telling: Telling, w: Texts) -> Section:
    text = telling.next_words.strip()
    said = Sentence("next-words", w.own(ended(text)), "written for this letter", text, telling.by)
    return Section("to-do", w("todo.now"), 25, (Text((said,)),) if text else ())


def _tests(telling: Telling, w: Texts) -> Section:
    blocks: list[Block] = []
    for test in telling.tests:
        if not standing_results(test):
            continue
        # of several the table has the values
        blocks.append(Walk((replace(test_line(test, w, many=1), sentences=()),)))
        if table := values_table(test, w):
            blocks.append(table)
    blocks += [
        Text(
            (
                w.sentence(
                    f"withdrawn:{each.pk}",
                    "test.withdrawn",
                    "a struck result",
                    each.value,
                    each.struck_by.printed_name if each.struck_by else "",
                    strong=True,
                    what=w.own(f"{each.test.title}, {each.analyte} {each.value} {each.unit}".rstrip()),
                    why=w.own(ended(each.struck_reason)),
                ),
            )
        )
        for each in telling.withdrawn
    ]
    return Section("tests", w("test.title"), 80, tuple(blocks))


def _next(tests: Sequence[Test], w: Texts) -> tuple[Dated, ...]:
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
            Sentence(
                f"plan:{each.pk}", w.own((each.for_owner or each.text).rstrip(".")), "the plan", each.text
            ),
        )
        for each in lines
        if each.due_on
    )


def _signed(telling: Telling, w: Texts) -> Signed:
    version = version_line(telling.again, w)
    if not telling.by or telling.at is None:
        return Signed(lines=(), version_line=version)
    return Signed(lines=(signature(telling.by, timezone.localtime(telling.at), w),), version_line=version)
