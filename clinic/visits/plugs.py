"""What the visit's own pages plug into the registries: their two steps, and the checks before signing."""

from django.urls import reverse

from clinic.patients.models import Measurement
from clinic.platform.registries import StepState, intake_panels, sign_checks, visit_steps, wrong_patient_parts
from clinic.visits.checks import HeadsUpsAnswered, KindChosen, Taken
from clinic.visits.chips import ChipAtIntake
from clinic.visits.models import Visit
from clinic.visits.movables import Flags, Values


class Intake:
    name, order, title = "intake", 10, "Intake"

    def url(self, visit: Visit) -> str:
        return reverse("visit-intake", args=[visit.pk])

    def state(self, visit: Visit) -> StepState:
        measured = visit.measurements.filter(struck_at=None).count()
        if measured and visit.owners_words:
            return StepState("normal", f"{measured} measured")
        if measured or visit.owners_words:
            return StepState("begun", f"{measured} measured" if measured else "asked why")
        return StepState("new", "not begun")


class Signature:
    name, order, title = "sign", 60, "Letter & signature"

    def url(self, visit: Visit) -> str:
        return reverse("visit-sign", args=[visit.pk])

    def state(self, visit: Visit) -> StepState:
        if visit.record.is_signed:
            return StepState("normal", "signed")
        waiting = visit.record.heads_ups.filter(answer="").count()
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
