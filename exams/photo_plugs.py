"""What photographs plug into the patient's page and the practice's export."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.urls import reverse

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.platform.registries import exports, patient_panels
from exams.photos import PANEL, every_photo_of, names_of, photo_of, photos_of, taken_words


class NewestPhotos:
    """On the patient's page: the newest photographs, and the way to all."""

    name, order = "photos", 40
    template, column, title = "exams/panel_photos.html", "main", "Photographs"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        """Two queries."""
        rows, names = photos_of(patient, limit=PANEL), names_of(patient)
        return {
            "photos": [photo_of(row, names) for row in rows],
            "url": reverse("patient-photos", args=[patient.pk]),
        }


class ExportPhotos:
    """Every photograph of a patient, struck out ones too, by the name of its file."""

    name, order = "photographs", 35

    def rows(self, patient: Patient) -> list[dict[str, Any]]:
        names = names_of(patient)
        return [
            {
                "on": row.record.opened_at.date().isoformat(),
                "at": taken_words(row),
                "place": names.words(row.target),
                "note": row.note,
                "by": row.by.full_name,
                "file": f"{row.sha256}.jpg",
                "struck_out": row.struck_reason,
            }
            for row in every_photo_of(patient)
        ]


def register() -> None:
    """Called once, when the app is ready."""
    patient_panels.add(NewestPhotos())
    exports.add(ExportPhotos())
