"""What the visit itself says in a letter: who assisted."""

from dataclasses import dataclass
from datetime import date

from clinic.letters.document import Part
from clinic.letters.texts import LETTERS
from clinic.letters.wording import titled
from clinic.visits.models import Record


@dataclass(frozen=True)
class VisitInLetter:
    name: str = "visit"
    order: int = 90

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """The technician of the day."""
        technician = record.visit.technician
        if technician is None or technician == record.visit.clinician:
            return Part()
        w = LETTERS(language)
        return Part(assisted=(w("visit.assisted", name=titled(technician.printed_name, w)),))
