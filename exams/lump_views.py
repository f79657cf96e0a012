"""The result of a lump's sample: entered and struck out from the patient's page."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from exams import lump_actions
from exams.errors import ExamError
from exams.lump_queries import access_sample, access_sample_result, test_of


def _back(patient_id: int) -> HttpResponse:
    return redirect(f"{reverse('patient', args=[patient_id])}#panel-lumps")


@require_POST
@needs(Right.OBSERVE)
def sample_result(request: StaffRequest, patient_id: int, sample_id: UUID) -> HttpResponse:
    sample = access_sample(sample_id, patient_id=patient_id, actor=request.actor)
    try:
        lump_actions.enter_sample_result(
            sample=sample,
            words=request.POST.get("words", ""),
            test=test_of(sample, request.POST.get("test", "")),
            actor=request.actor,
            now=timezone.now(),
        )
    except ExamError as error:
        messages.error(request, str(error))
    return _back(patient_id)


@require_POST
@needs(Right.STRIKE_OWN)
def sample_result_strike(request: StaffRequest, patient_id: int, sample_result_id: int) -> HttpResponse:
    result = access_sample_result(sample_result_id, patient_id=patient_id, actor=request.actor)
    try:
        lump_actions.strike_sample_result(
            result=result, reason=request.POST.get("reason", ""), actor=request.actor, now=timezone.now()
        )
    except ExamError as error:
        messages.error(request, str(error))
    return _back(patient_id)
