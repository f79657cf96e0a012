"""What the visit itself says in a letter: when the patient comes again, and who assisted."""

from dataclasses import dataclass
from datetime import date

from clinic.letters.document import Dated, Part, Sentence
from clinic.letters.texts import LETTERS, Texts
from clinic.letters.wording import clock
from clinic.visits.models import NextVisit, Record


@dataclass(frozen=True)
class VisitInLetter:
    name: str = "visit"
    order: int = 90

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """Next visits planned at this one, and the technician of the day."""
        planned = record.next_visits.filter(state=NextVisit.State.PLANNED)
        technician = record.visit.technician
        w = LETTERS(language)
        assisted: tuple[str, ...] = ()
        if technician and technician != record.visit.clinician:
            assisted = (w("visit.assisted", name=technician.printed_name),)
        return Part(next_things=tuple(_dated(each, w) for each in planned), assisted=assisted)


def _dated(each: NextVisit, w: Texts) -> Dated:
    return Dated(
        on=each.on,
        what=Sentence(
            f"next-visit:{each.pk}", w.own(each.reason.rstrip(".")), "the next visit", each.get_kind_display()
        ),
        exact=not each.week_of,
        time=clock(each.at, w) if each.at else "",
    )
