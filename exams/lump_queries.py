"""Samples of lumps and their results, loaded and authorised."""

from __future__ import annotations

from uuid import UUID

from django.shortcuts import get_object_or_404

from clinic.care.models import Test
from clinic.people.actor import Actor
from clinic.people.rights import Right
from exams.models import LumpResult, LumpSample


def access_sample(sample_id: UUID, *, patient_id: int, actor: Actor) -> LumpSample:
    """A sample of this patient's."""
    actor.require(Right.SEE)
    rows = LumpSample.objects.filter(lump__patient=patient_id).select_related("lump")
    return get_object_or_404(rows, pk=sample_id)


def access_sample_result(result_id: int, *, patient_id: int, actor: Actor) -> LumpResult:
    """A result of one of this patient's samples."""
    actor.require(Right.SEE)
    rows = LumpResult.objects.filter(sample__lump__patient=patient_id).select_related("sample__lump")
    return get_object_or_404(rows, pk=result_id)


def test_of(sample: LumpSample, number: str) -> Test | None:
    """The patient's test of this number; none was chosen: None."""
    if not number.isdigit():
        return None
    return get_object_or_404(Test, pk=int(number), patient=sample.lump.patient_id)
