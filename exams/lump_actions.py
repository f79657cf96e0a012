"""Lumps: numbered for life at their place, measured once an exam."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import Max

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import hold_open
from clinic.visits.models import Record
from exams.lumps import size
from exams.models import Lump, LumpMeasure


@transaction.atomic
def record_lump(
    *,
    patient: Patient,
    drawing: str,
    x: float,
    y: float,
    region: str,
    side: str = "",
    depth: str = "",
    first_seen: date | None = None,
    actor: Actor,
    now: datetime,
) -> Lump:
    """A new lump with the patient's next number. x and y: parts of the drawing's width and height, 0 to 1."""
    actor.require(Right.OBSERVE)
    held = Patient.objects.select_for_update(no_key=True).get(pk=patient.pk)  # two tablets, two numbers
    last = Lump.objects.filter(patient=held).aggregate(Max("number"))["number__max"] or 0
    return Lump.objects.create(
        patient=held,
        number=last + 1,
        drawing=drawing,
        x=x,
        y=y,
        region=region,
        side=side,
        depth=depth,
        first_seen=first_seen or now.date(),
        by=actor.staff,
        made_at=now,
    )


@transaction.atomic
def measure_lump(
    *,
    lump: Lump,
    record: Record,
    axes_mm: Sequence[float],
    method: str = "caliper",
    description: dict[str, Any] | None = None,
    actor: Actor,
    now: datetime,
) -> LumpMeasure:
    """Its size today, longest axis first; measured again in the same exam, the newer stands.

    Raises LumpError for a size that cannot be, NotOpen for a signed record.
    """
    actor.require(Right.OBSERVE)
    told = size(*axes_mm, method=method)
    hold_open(record)
    measure, _made = LumpMeasure.objects.update_or_create(
        lump=lump,
        record=record,
        defaults={
            "length_mm": told.length_mm,
            "width_mm": told.width_mm,
            "height_mm": told.height_mm or None,
            "method": told.method,
            "description": description or {},
            "by": actor.staff,
            "at": now,
        },
    )
    return measure
