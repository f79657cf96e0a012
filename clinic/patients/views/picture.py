"""The patient's own picture: served to those who may see the patient, set on the patient's page."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from clinic.patients import actions
from clinic.patients.queries import access_patient
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs
from clinic.platform.pictures import MOST_BYTES, NotAPicture
from clinic.platform.stored import FOR_EVER, stored_file


@require_GET
@needs(Right.SEE)
def picture(request: StaffRequest, patient_id: int) -> HttpResponse:
    """The stored bytes. An address that carries the picture's own name (`v`) may be kept by the tablet."""
    sha = access_patient(patient_id, actor=request.actor).photo_sha256
    if not sha:
        raise Http404
    lasts = FOR_EVER if request.GET.get("v") == sha[:12] else "no-cache"
    return stored_file(f"{sha[:2]}/{sha}.jpg", name=f"patient-{patient_id}.jpg", lasts=lasts)


@require_POST
@needs(Right.EDIT_PEOPLE)
def picture_set(request: StaffRequest, patient_id: int) -> HttpResponse:
    """A new picture (`picture`), or none (`remove`). A file that is none changes nothing and is told."""
    patient = access_patient(patient_id, actor=request.actor, right=Right.EDIT_PEOPLE)
    file, now = request.FILES.get("picture"), timezone.now()
    if request.POST.get("remove"):
        actions.remove_picture(actor=request.actor, now=now, patient=patient)
    elif file is None:
        messages.error(request, "No picture came with it. Choose one, or take one with the camera.")
    else:
        try:
            content = file.read(MOST_BYTES + 1)
            actions.set_picture(actor=request.actor, now=now, patient=patient, content=content)
        except NotAPicture as error:
            messages.error(request, f"{error} The picture was not changed.")
    return redirect("patient", patient.pk)
