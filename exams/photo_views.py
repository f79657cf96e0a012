"""Photographs: what the exam page's script sends and asks, the stored bytes, and two dates side by side."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic.people.middleware import LOCKED
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.pictures import MOST_BYTES, NotAPicture
from clinic.platform.stored import FOR_EVER, stored_file
from clinic.visits.queries import access_patient
from exams import photo_actions, photo_pages, photos, queries
from exams.errors import ExamError, PhotoRefused
from exams.models import ExamPhoto
from exams.views import for_script

UNKNOWN = "Whoever took this photograph is not known on this tablet: sign in again."


@for_script
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def visit_photos(request: StaffRequest, visit_id: int) -> HttpResponse:
    """GET: the patient's photographs, as the exam page knows them. POST: take one in; see `_take`."""
    if request.method == "POST":
        return _take(request, visit_id)
    if request.locked:
        return _locked()
    visit = queries.access_exam_visit(visit_id, actor=request.actor)
    rows = photos.photos_of(visit.patient)
    return JsonResponse({"changes": photos.changes_of(visit_id), "photos": _json(rows)})


def _take(request: StaffRequest, visit_id: int) -> HttpResponse:
    """One photograph: `photo` (a file), key, target, taken_at, grant, note, observed_by.

    200 accepted, also when the key came before. 422 refused, with a reason and a sentence: only `grant` may
    be sent again as it is. It is credited to the holder of its grant, whoever works here by now.
    """
    if not request.locked and not request.actor.may(Right.MEASURE):
        raise PermissionDenied(Right.MEASURE.value)
    file, key = request.FILES.get("photo"), _uuid(request.POST.get("key", ""))
    if file is None or key is None:
        return JsonResponse({"reason": "not-a-photograph"}, status=HTTPStatus.BAD_REQUEST)
    now, grant = timezone.now(), request.POST.get("grant", "")
    actor = queries.actors_of(request.session, [grant], at_work=request.at_work, now=now).get(grant)
    if actor is None:
        return _refusal("grant", UNKNOWN)
    visit = queries.access_exam_visit(visit_id, actor=actor)
    try:
        kept = photo_actions.add_photo(
            record=visit.record,
            key=key,
            target=request.POST.get("target", ""),
            taken_at=request.POST.get("taken_at", ""),
            content=file.read(MOST_BYTES + 1),
            note=request.POST.get("note", ""),
            observed_by=request.POST.get("observed_by", ""),
            actor=actor,
            now=now,
        )
    except (ExamError, NotAPicture) as error:
        return _refusal(_code(error), str(error))
    if request.locked:  # it is taken in, and nobody is shown anything
        return JsonResponse({"result": "accepted", "key": str(key)})
    return _accepted(photos.access_photo(kept.pk, actor=actor))


@for_script
@never_cache
@require_POST
def photo_strike(request: StaffRequest, visit_id: int, photo_id: UUID) -> HttpResponse:
    """Strike it out, with `reason`. 422 with a sentence when that cannot be."""
    if request.locked:
        return _locked()
    found = photos.access_photo_here(photo_id, visit_id=visit_id, actor=request.actor, right=Right.MEASURE)
    try:
        photo_actions.strike_photo(
            photo=found, reason=request.POST.get("reason", ""), actor=request.actor, now=timezone.now()
        )
    except ExamError as error:
        return _refusal(_code(error), str(error))
    return JsonResponse({"result": "accepted", "key": str(photo_id)})


@for_script
@never_cache
@require_POST
def photo_describe(request: StaffRequest, visit_id: int, photo_id: UUID) -> HttpResponse:
    """What it shows (`note`), and whether it goes into the letter (`letter`: 1 or nothing)."""
    if request.locked:
        return _locked()
    found = photos.access_photo_here(photo_id, visit_id=visit_id, actor=request.actor, right=Right.MEASURE)
    letter = request.POST.get("letter")
    try:
        kept = photo_actions.describe_photo(
            photo=found,
            note=request.POST.get("note"),
            in_letter=None if letter is None else letter == "1",
            actor=request.actor,
            now=timezone.now(),
        )
    except ExamError as error:
        return _refusal(_code(error), str(error))
    return _accepted(photos.access_photo(kept.pk, actor=request.actor))


@require_GET
@needs(Right.SEE)
def photo(request: StaffRequest, photo_id: UUID) -> HttpResponse:
    """The stored bytes. They never change, so the tablet may keep them: for itself alone."""
    return _bytes(photos.access_photo(photo_id, actor=request.actor), small=False)


@require_GET
@needs(Right.SEE)
def photo_small(request: StaffRequest, photo_id: UUID) -> HttpResponse:
    return _bytes(photos.access_photo(photo_id, actor=request.actor), small=True)


@require_GET
@needs(Right.SEE)
def patient_photos(request: StaffRequest, patient_id: int) -> HttpResponse:
    """Every photograph of a patient, by place, the newest first."""
    patient = access_patient(patient_id, actor=request.actor)
    return render(request, "exams/photos.html", {"page": photo_pages.all_of(patient)})


@require_GET
@needs(Right.SEE)
def patient_photo(request: StaffRequest, patient_id: int, photo_id: UUID) -> HttpResponse:
    """One photograph in large; `?beside=` puts another one of the same patient next to it."""
    patient = access_patient(patient_id, actor=request.actor)
    left = photos.access_photo_of(photo_id, patient=patient)
    beside = _uuid(request.GET.get("beside", ""))
    right = photos.access_photo_of(beside, patient=patient) if beside else None
    return render(request, "exams/photo.html", {"page": photo_pages.beside(patient, left, right)})


def _bytes(found: ExamPhoto, *, small: bool) -> HttpResponse:
    sha = found.small_sha256 if small else found.sha256
    name = f"photograph-{found.pk}{'-small' if small else ''}.jpg"
    return stored_file(f"{sha[:2]}/{sha}.jpg", name=name, lasts=FOR_EVER)


def _json(rows: list[ExamPhoto]) -> list[dict[str, Any]]:
    return [photos.photo_json(row) for row in rows]


def _accepted(kept: ExamPhoto) -> JsonResponse:
    return JsonResponse({"result": "accepted", "key": str(kept.pk), "photo": photos.photo_json(kept)})


def _refusal(code: str, words: str) -> JsonResponse:
    refused = {"result": "refused", "reason": code, "words": words}
    return JsonResponse(refused, status=HTTPStatus.UNPROCESSABLE_ENTITY)


def _code(error: ExamError | NotAPicture) -> str:
    return error.code if isinstance(error, (PhotoRefused, NotAPicture)) else "signed"


def _locked() -> JsonResponse:
    return JsonResponse({"reason": "locked"}, status=HTTPStatus.UNAUTHORIZED, headers={LOCKED: "1"})


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
