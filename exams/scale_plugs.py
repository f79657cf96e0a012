"""The scales of body and muscle condition beside the intake's gauges: words, picture and source."""

from __future__ import annotations

from datetime import date
from typing import Any

from clinic.people.actor import Actor
from clinic.visits.models import Visit
from exams.scale_sheets import DRAWN, sheet_json
from exams.versions import published

AT_INTAKE = ("bcs-9", "mcs-4")


class ScalesAtIntake:
    name, order = "scales", 90
    title, template = "How condition is scored", "exams/panel_scales.html"

    def context(self, visit: Visit, *, actor: Actor, today: date) -> dict[str, Any]:
        """Plain values for the template; no query."""
        walk, species = published(), visit.patient.species
        sheets = []
        for key in AT_INTAKE:
            drawing = f"clinic/drawings/bcs-{species}.svg" if key in DRAWN else ""
            sheets.append({"key": key, "drawing": drawing, **sheet_json(walk.scale[key], species)})
        return {"sheets": sheets}
