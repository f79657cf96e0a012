"""What samples of lumps showed. All else that is done to a lump is a tap of the exam (`exams.lump_taps`)."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.care.models import Test
from clinic.people.actor import Actor
from clinic.people.rights import Right
from exams.errors import ExamError
from exams.models import LumpResult, LumpSample


class NoResult(ExamError):
    """Nothing was written, and the test has no result either."""

    def __init__(self) -> None:
        super().__init__("Write what the sample showed, as it was reported, or choose a test with a result.")


class OtherPatient(ExamError):
    """The test is another patient's."""

    def __init__(self) -> None:
        super().__init__("That test is another patient's.")


class NoReason(ExamError):
    def __init__(self) -> None:
        super().__init__("Say why it is struck out.")


class StruckBefore(ExamError):
    def __init__(self) -> None:
        super().__init__("It is struck out already.")


@transaction.atomic
def enter_sample_result(
    *, sample: LumpSample, words: str, test: Test | None = None, actor: Actor, now: datetime
) -> LumpResult:
    """As reported; without words, what the named test's results say. Raises NoResult, OtherPatient.

    Whoever may record results of tests may: it is entered as an observation.
    """
    actor.require(Right.OBSERVE)
    if test is not None and test.patient_id != sample.lump.patient_id:
        raise OtherPatient
    said = words.strip()
    if not said and test is not None:
        rows = test.results.filter(struck_at=None).order_by("resulted_at", "pk")
        said = "; ".join(f"{row.value} {row.unit}".strip() for row in rows)
    if not said:
        raise NoResult
    return LumpResult.objects.create(
        sample=sample, test=test, words=said, entered_by=actor.staff, entered_at=now
    )


@transaction.atomic
def strike_sample_result(*, result: LumpResult, reason: str, actor: Actor, now: datetime) -> None:
    """Its author strikes it out, or a clinician. Raises NoReason, StruckBefore."""
    own = result.entered_by_id == actor.staff.pk
    actor.require(Right.STRIKE_OWN if own else Right.STRIKE_ANY)
    if not reason.strip():
        raise NoReason
    changed = LumpResult.objects.filter(pk=result.pk, struck_at=None).update(
        struck_at=now, struck_by=actor.staff, struck_reason=reason.strip()[:200]
    )
    if not changed:
        raise StruckBefore
