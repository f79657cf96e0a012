"""What was said, at the signature: everything heard is answered first, then words are forgotten or kept."""

from __future__ import annotations

from datetime import datetime
from itertools import groupby

from django.urls import reverse

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import Missing, RecordsPage, records_pages, sign_checks, sign_steps
from clinic.visits.models import Record
from exams.models import HeardItem
from exams.talk_actions import close_talk
from exams.versions import published


class HeardAnswered:
    """Nothing that was heard is left neither confirmed nor discarded."""

    name, order = "heard", 17

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        """One query."""
        rows = HeardItem.objects.filter(record=record, state=HeardItem.State.OPEN)
        stations = sorted(rows.values_list("station", flat=True))
        if not stations:
            return []
        known = published().station
        told = [
            f"{known[code].short.lower() if code in known else 'the plan'} {len(list(some))}"
            for code, some in groupby(stations)
        ]
        n = len(stations)
        sentence = f"{n} {'thing' if n == 1 else 'things'} heard and not confirmed: {', '.join(told)}."
        return [Missing("heard", sentence, f"{reverse('visit-exam', args=[record.visit_id])}#talk")]


class CloseTalk:
    """Before the record closes: what clinicians changed is learnt from, and words are forgotten."""

    name, order = "heard", 12

    def run(self, record: Record, *, actor: Actor, now: datetime) -> None:
        close_talk(record=record, now=now)


SPOKEN_PAGE = RecordsPage(
    name="spoken",
    order=6,
    title="The spoken exam",
    words="How people here say things, what was learnt from corrections, and whether words are kept.",
    right=Right.PROPOSE_WALK,
    at="spoken",
)


def register_talk() -> None:
    """Called once, with the room's other entries."""
    sign_checks.add(HeardAnswered())
    sign_steps.add(CloseTalk())
    records_pages.add(SPOKEN_PAGE)
