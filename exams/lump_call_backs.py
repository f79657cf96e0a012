"""Lumps that somebody should look at again, as call-backs; and what owners read of them."""

import re
from datetime import date

from clinic.letters.texts import SOURCE
from clinic.patients.models import Patient
from clinic.platform.registries import CallBackRow
from exams.lump_places import Place
from exams.lump_rows import day_of, lumps_of, place_of
from exams.lump_today import GONE, MEASURED, MERGED
from exams.lumps import look_again
from exams.models import Lump
from exams.owner_texts import ROOM

NAME = "Lump: measure again"
SEEN = (MEASURED, GONE, MERGED)
NUMBERED = re.compile(rf"{NAME}, no\. (\d+)")


class LumpsAgain:
    """Every lump that is there, as the newest signed exam says, and of which no sample was taken."""

    name, order = "lump", 30

    def rows(self, patient: Patient, *, today: date) -> list[CallBackRow]:
        if not Lump.objects.filter(patient=patient, withdrawn=False, merged_into=None).exists():
            return []
        return [row for lump in lumps_of(patient) if (row := _row(lump)) is not None]


def _row(lump: Lump) -> CallBackRow | None:
    said = [each for each in lump.measures.all() if each.record.signed_at and each.said in SEEN]
    if not said or said[-1].said != MEASURED or lump.samples.all():
        return None
    due_on = look_again(day_of(said[-1].record))
    return CallBackRow(f"lump:{lump.pk}", label(lump.number, place_of(lump)), due_on, nature="agreed")


def label(number: int, place: Place) -> str:
    """Lump: measure again, no. 2, left flank."""
    return f"{NAME}, no. {number}, {place.words}"[:160]


class LumpWords:
    name, order = "lumps", 20

    def say(self, label: str, language: str) -> str:
        """Empty for whatever is no lump; the place stays among the staff's words."""
        found = NUMBERED.match(label)
        if not found or language == SOURCE:
            return ""
        texts = ROOM(language)
        return texts("lump.measure_again", n=found[1]) if "lump.measure_again" in texts else ""
