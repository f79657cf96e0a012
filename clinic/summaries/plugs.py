"""What summaries plug in: a panel of the patient's page."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import patient_panels
from clinic.summaries.queries import summaries_of


@dataclass(frozen=True)
class SummaryRow:
    """`small`: what for, when and by whom; `consent`: whether the owner agreed."""

    to_whom: str
    small: str
    url: str
    pdf_url: str
    consent: str


class Summaries:
    name, order, title = "summaries", 42, "Summaries for colleagues"
    template, column = "clinic/summaries/panel.html", "main"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        rows = tuple(
            SummaryRow(
                to_whom=each.to_whom,
                small=f"{each.get_purpose_display().capitalize()}, "
                f"{timezone.localtime(each.at):%-d %B %Y, %H:%M}, {each.by.full_name}",
                url=reverse("summary", args=[each.pk]),
                pdf_url=reverse("summary-pdf", args=[each.pk]) if each.has_file else "",  # type: ignore[attr-defined]
                consent="" if each.consent_id else f"without consent: {each.get_without_display()}",
            )
            for each in summaries_of(patient)
        )
        return {"rows": rows, "patient_id": patient.pk, "may": actor.may(Right.SIGN)}


def register() -> None:
    """Called once, when the app is ready."""
    patient_panels.add(Summaries())
