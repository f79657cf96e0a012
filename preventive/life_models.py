"""What the schedule goes by besides the record: one of each stands for a patient."""

from django.db import models
from django.db.models import Q

from clinic.patients.models import Patient
from preventive.life_facts import LifeCode
from preventive.struck import StruckOut


class LifeFact(StruckOut):
    """`value`: a stage's code, whole years, or an ISO day. Another one strikes out what stood."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="life_facts")
    code = models.CharField(max_length=10, choices=[(each.value, each.value) for each in LifeCode])
    value = models.CharField(max_length=20)

    class Meta(StruckOut.Meta):
        constraints = [
            *StruckOut.Meta.constraints,
            models.CheckConstraint(
                condition=Q(code="stage", value__regex=r"^[a-z_]+$")
                | Q(code="lifespan", value__regex=r"^[1-9]\d?$")
                | Q(code__in=["acquired", "exposure", "weaned"], value__regex=r"^\d{4}-\d\d-\d\d$"),
                name="a_life_fact_of_its_kind",
            ),
            models.UniqueConstraint(
                fields=["patient", "code"], condition=Q(struck_at=None), name="a_life_fact_stands_once"
            ),
        ]
