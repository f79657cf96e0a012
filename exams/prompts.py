"""What a station asks to be looked at again; it never stands in the way. Plain JSON for the page.

Sources: sex and neuter status confirmed at each visit until two agreed: common practice. The microchip read
at the visit: AHRQ PSNet 2023, copy-and-paste cases. A rate taken while held is repeated later in the visit:
heart rate of healthy cats by telemetry, J Feline Med Surg 2005 (187 while held, 132 at home).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.urls import reverse

from clinic.patients.models import Measurement
from clinic.patients.units import plain
from clinic.patients.vitals import State
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.chips import chip_prompt
from clinic.visits.models import Visit
from exams.models import Finding
from exams.queries import Standing
from exams.readings import LINE_OF
from exams.sex_guards import CONFIRMED_AT, MISMATCH, NEUTER_LINE, status_words

K = Measurement.Kind
RAISED_BY_FEAR = (K.HEART_RATE, K.PULSE_RATE, K.RESPIRATORY_RATE, K.TEMPERATURE, K.BLOOD_PRESSURE)
UPSET = {State.EXCITED: "while excited", State.HELD: "while held", State.PANTING: "while panting"}
STATES = {
    State.CALM: "calm, awake",
    State.ASLEEP: "asleep",
    State.EXCITED: "excited",
    State.HELD: "held",
    State.PANTING: "panting",
    State.PURRING: "purring",
    State.SEDATED: "sedated",
}


def prompts_json(visit: Visit, standing: Standing, *, actor: Actor) -> dict[str, Any]:
    """What the page is told once: the chip, and how often the sex was confirmed. Three queries."""
    animal = standing.lines.animal
    edits = actor.may(Right.EDIT_PEOPLE)
    return {
        "chip": {
            "words": chip_prompt(visit.patient, visit.record),
            "url": f"{reverse('visit-intake', args=[visit.pk])}#panel-chip",
        },
        "sex": {
            "line": NEUTER_LINE,
            "code": MISMATCH,
            "kept_as": status_words(animal),
            "confirmed": _confirmed(visit, standing),
            "needed": CONFIRMED_AT,
            "url": reverse("patient-edit", args=[visit.patient_id]) if edits else "",
        },
        "states": [[str(state), words] for state, words in STATES.items()],
        "asks_state": [LINE_OF[kind] for kind in RAISED_BY_FEAR],
    }


def _confirmed(visit: Visit, standing: Standing) -> int:
    """Signed visits that found what the record says now; what they confirmed of another sex is no
    confirmation. One query."""
    animal = standing.lines.animal
    rows = Finding.objects.filter(
        record__visit__patient=visit.patient_id,
        record__signed_at__isnull=False,
        line=NEUTER_LINE,
        status="normal",
        exam__animal__sex=animal.sex,
        exam__animal__neutered=animal.neutered,
    )
    return rows.count() if animal.sex and animal.neutered is not None else 0


def repeat_later(rows: Iterable[Measurement]) -> list[dict[str, str]]:
    """Values that fear may have raised, in the order of measuring: high, and taken of an upset animal or of
    one of which nobody said how it was. The newest of each kind counts. No query."""
    newest = {row.kind: row for row in rows if row.kind in RAISED_BY_FEAR}
    return [
        {"line": LINE_OF[row.kind], "words": words}
        for row in newest.values()
        if row.flag == Measurement.Flag.HIGH and (words := _why(row))
    ]


def _why(row: Measurement) -> str:
    value = f"{row.get_kind_display()} {plain(row.typed) if row.typed is not None else row.category}".strip()
    if row.state in UPSET:
        how = UPSET[State(row.state)]
        return f"{value} was taken {how}: fear raises it. Repeat it later in the visit, calm."
    if not row.state:
        return f"{value} is high, and nobody said how the animal was: fear raises it. Repeat it later, calm."
    return ""
