"""Rows of a patient as plain values, named by their table."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Model

from clinic.patients.models import Patient


def rows_of(patient: Patient, ways: Mapping[type[Model], str]) -> list[dict[str, Any]]:
    """`ways`: from each model's row to the patient. `row` of each says which model it is of."""
    return [
        {"row": model._meta.model_name, **row}
        for model, way in ways.items()
        for row in model._default_manager.filter(**{way: patient.pk}).order_by("pk").distinct().values()
    ]
