"""The patient's picture as pages show it: the photograph, or a drawing of the species."""

from dataclasses import dataclass

from django.urls import reverse

from clinic.patients.models import Patient


@dataclass(frozen=True)
class Portrait:
    """For `components/portrait.html`. `url` is empty where no picture was taken."""

    url: str
    species: str
    name: str


def portrait(patient: Patient) -> Portrait:
    """The address changes with the picture, so that a tablet may keep what it has."""
    sha = patient.photo_sha256
    url = f"{reverse('patient-picture', args=[patient.pk])}?v={sha[:12]}" if sha else ""
    return Portrait(url, patient.get_species_display(), patient.name)
