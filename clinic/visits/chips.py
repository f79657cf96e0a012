"""The prompt to scan the microchip at each visit: this is the patient whose record is open.

Source: the guard against a wrong patient's record (AHRQ PSNet 2023, copy-and-paste cases). It asks and never
stands in the way: an emergency is not kept waiting for a scanner.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import uuid4

from django.urls import reverse
from django.utils import timezone

from clinic.patients.doubles import chip_holder
from clinic.patients.microchip import shown
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import ChipScan, Record, Visit

Answer = ChipScan.Answer
SHAPES = {Answer.MATCHES: "normal", Answer.OTHER: "danger", Answer.NEW: "abnormal", Answer.NONE: "unseen"}


@dataclass(frozen=True)
class ScanRow:
    """One scan in words. `url`, `verb`: what to do about it, where anything is to do."""

    shape: str
    words: str
    by: str
    url: str = ""
    verb: str = ""


def chip_prompt(patient: Patient, record: Record) -> str:
    """What to ask for; empty once a chip was read, or looked for, at this visit. Two queries."""
    if record.chip_scans.exists():
        return ""
    numbers = [shown(chip.number) for chip in patient.microchips.order_by("pk")]
    if not numbers:
        return f"No microchip is on record for {patient.name}: scan for one."
    return f"Microchip {' and '.join(numbers)} is on record and was not scanned at this visit: scan it."


class ChipAtIntake:
    name, order = "chip", 5
    title, template = "Microchip", "clinic/visits/chip.html"

    def context(self, visit: Visit, *, actor: Actor, today: date) -> dict[str, Any]:
        """Plain values for the template."""
        rows = visit.record.chip_scans.select_related("by")
        return {
            "prompt": chip_prompt(visit.patient, visit.record),
            "scans": [_row(scan, visit) for scan in rows],
            "url": reverse("intake-chip", args=[visit.pk]),
            "once": uuid4(),
            "may": actor.may(Right.MEASURE) and not visit.record.is_signed,
        }


def _row(scan: ChipScan, visit: Visit) -> ScanRow:
    by = f"{scan.by.full_name}, {timezone.localtime(scan.at):%H:%M}"
    shape = SHAPES[Answer(scan.answer)]
    name, number = visit.patient.name, shown(scan.number)
    if scan.answer == Answer.NONE:
        return ScanRow(shape, "No chip found.", by)
    if scan.answer == Answer.MATCHES:
        return ScanRow(shape, f"{number} was read: it is {name}’s.", by)
    if scan.answer == Answer.NEW:
        url = reverse("patient-facts", args=[visit.patient_id])
        return ScanRow(shape, f"{number} was read: it is on no record.", by, url, "Add it")
    holder = chip_holder(scan.number)
    whose = f"it is {holder.name}’s" if holder else "it was another patient’s"
    url = reverse("wrong-patient", args=[visit.pk])
    return ScanRow(shape, f"{number} was read: {whose}. Is this {name}?", by, url, "Wrong patient?")
