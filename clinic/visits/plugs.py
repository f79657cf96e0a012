"""What the visit's own pages plug into the registries: their two steps, and the checks before signing."""

from collections.abc import Mapping
from typing import Any

from django.urls import reverse

from clinic.patients.models import Measurement
from clinic.platform.counting import how_many
from clinic.platform.registries import StepState, intake_panels, sign_checks, visit_steps, wrong_patient_parts
from clinic.visits.checks import HeadsUpsAnswered, KindChosen, Taken
from clinic.visits.chips import ChipAtIntake
from clinic.visits.models import HeadsUp, Visit
from clinic.visits.movables import Flags, Values


class Intake:
    name, order, title = "intake", 10, "Intake"

    def url(self, visit: Visit) -> str:
        return reverse("visit-intake", args=[visit.pk])

    def asks(self, visit: Visit) -> Mapping[str, Any]:
        return {"measured": how_many(Measurement.objects.filter(visit=visit, struck_at=None))}

    def state(self, visit: Visit, told: Mapping[str, Any]) -> StepState:
        measured = told["measured"]
        if measured and visit.owners_words:
            return StepState("normal", f"{measured} measured")
        if measured or visit.owners_words:
            return StepState("begun", f"{measured} measured" if measured else "asked why")
        return StepState("new", "not begun")


class Signature:
    name, order, title = "sign", 60, "Letter & signature"

    def url(self, visit: Visit) -> str:
        return reverse("visit-sign", args=[visit.pk])

    def asks(self, visit: Visit) -> Mapping[str, Any]:
        return {"waiting": how_many(HeadsUp.objects.filter(record=visit.record, answer=""))}

    def state(self, visit: Visit, told: Mapping[str, Any]) -> StepState:
        if visit.record.is_signed:
            return StepState("normal", "signed")
        waiting = told["waiting"]
        if waiting:
            return StepState("flag", f"{waiting} heads-up{'' if waiting == 1 else 's'}")
        return StepState("new", "not signed")


def register() -> None:
    """Called once, when the app is ready."""
    visit_steps.add(Intake())
    visit_steps.add(Signature())
    sign_checks.add(
        Taken(
            Measurement.Kind.WEIGHT, "no_weight_reason", "No weight was taken today, and no reason says why."
        )
    )
    sign_checks.add(
        Taken(Measurement.Kind.BCS, "no_bcs_reason", "No body condition was taken, and no reason says why.")
    )
    sign_checks.add(KindChosen())
    sign_checks.add(HeadsUpsAnswered())
    intake_panels.add(ChipAtIntake())
    wrong_patient_parts.add(Values())
    wrong_patient_parts.add(Flags())
