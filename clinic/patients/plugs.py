"""What the patients' own subject plugs into the registries."""

from datetime import date
from typing import Any

from clinic.patients.actions.measuring import struck_after_signing
from clinic.patients.gauges import measure_panel
from clinic.patients.letter import WeightInLetter
from clinic.people.actor import Actor
from clinic.platform.registries import intake_panels, letter_parts
from clinic.visits.actions.struck import tell_of_struck_value
from clinic.visits.models import Visit


class Measured:
    """The measurements at intake."""

    name, order, title = "measured", 10, "Measured"
    template = "clinic/patients/measure_form.html"

    def context(self, visit: Visit, *, actor: Actor, today: date) -> dict[str, Any]:
        panel = measure_panel(visit.patient, visit, actor=actor, today=today)
        return {**vars(panel), "more_used": panel.more_used}


def register() -> None:
    """Called once, when the app is ready."""
    struck_after_signing.append(tell_of_struck_value)
    letter_parts.add(WeightInLetter())
    intake_panels.add(Measured())
