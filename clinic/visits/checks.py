"""What this room itself asks before a signature: weight, body condition, answered heads-ups."""

from django.urls import reverse

from clinic.patients.models import Measurement
from clinic.people.actor import Actor
from clinic.platform.registries import Missing, heads_up_places
from clinic.visits.models import HeadsUp, Record, Visit

HEADS_UP = "heads-up"


class Taken:
    """A measurement that every visit in the house has, or a reason why not."""

    order = 10

    def __init__(self, kind: Measurement.Kind, reason_field: str, sentence: str) -> None:
        self.name = str(kind)
        self._kind, self._reason, self._sentence = kind, reason_field, sentence

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        if record.visit.kind == Visit.Kind.TELEPHONE or getattr(record, self._reason):
            return []
        if Measurement.objects.filter(visit=record.visit_id, kind=self._kind, struck_at=None).exists():
            return []
        return [Missing(self.name, self._sentence, _sign_url(record, self.name))]


class KindChosen:
    """Leaving the full walk is a clinician's choice: a booking alone does not make it."""

    name, order = "kind", 5
    asked = (Visit.Kind.FOCUSED, Visit.Kind.EMERGENCY, Visit.Kind.TECHNICIAN)

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        visit = record.visit
        if visit.kind not in self.asked or visit.kind_reason:
            return []
        sentence = f"Booked as {visit.get_kind_display()}; no clinician has said yet why not the full walk."
        return [Missing(self.name, sentence, reverse("visit-kind", args=[visit.pk]))]


class HeadsUpsAnswered:
    """Each heads-up has a clinician's answer."""

    name = HEADS_UP
    order = 20

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        titles = {place.name: place.title for place in heads_up_places}
        waiting = HeadsUp.objects.filter(record=record, answer="").select_related("by")
        return [
            Missing(
                code=f"{HEADS_UP}:{each.pk}",
                sentence=f"Heads-up{_where(each, titles)}: “{each.words}” {each.by.full_name}",
                url=_sign_url(record, f"{HEADS_UP}-{each.pk}"),
            )
            for each in waiting
        ]


def _where(each: HeadsUp, titles: dict[str, str]) -> str:
    where = ", ".join(part for part in (titles.get(each.station, each.station), each.side) if part)
    return f", {where}" if where else ""


def _sign_url(record: Record, anchor: str) -> str:
    return f"{reverse('visit-sign', args=[record.visit_id])}#{anchor}"
