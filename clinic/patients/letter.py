"""Weight and condition in a letter: the number, how it changed, and two pictures."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from clinic.letters.document import Block, Figure, Figures, Part, Section, Sentence, Text
from clinic.letters.figures import Measured, condition_figure, curve_figure
from clinic.letters.wording import EN
from clinic.patients.facts import both_weights
from clinic.patients.models import Measurement
from clinic.visits.models import Record

MUSCLE = {
    "normal": "The muscles are normal.",
    "mild": "There is a little muscle loss.",
    "moderate": "There is clear muscle loss.",
    "severe": "There is severe muscle loss.",
}
SAME_PERCENT = Decimal(1)


@dataclass(frozen=True)
class WeightInLetter:
    name: str = "weight"
    order: int = 50

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """Said only from what was measured at this visit."""
        visit = record.visit
        taken = {
            each.kind: each
            for each in visit.measurements.filter(struck_at=None)
            .select_related("observed_by")
            .order_by("measured_at")
        }
        weight, bcs, mcs = taken.get("weight"), taken.get("bcs"), taken.get("mcs")
        if weight is None and bcs is None:
            return Part(sections=_not_weighed(record))
        earlier = list(
            visit.patient.measurements.filter(kind="weight", struck_at=None, value__isnull=False)
            .exclude(visit=visit)
            .filter(measured_at__lt=weight.measured_at if weight else visit.made_at)
            .order_by("measured_at")
        )
        sentences = [
            *_weight(weight, earlier),
            *_condition(bcs, visit.patient.species),
            *_muscle(mcs),
        ]
        blocks: list[Block] = [Text(tuple(sentences))]
        figures = tuple(
            figure
            for figure in (_curve(weight, earlier), _bodies(bcs, visit.patient.species, visit.patient.name))
            if figure
        )
        if figures:
            blocks.append(Figures(figures))
        return Part(sections=(Section("weight", "Weight", 50, tuple(blocks)),))


def _not_weighed(record: Record) -> tuple[Section, ...]:
    if not record.no_weight_reason:
        return ()
    text = f"Not weighed today: {record.no_weight_reason.rstrip('.')}."
    return (Section("weight", "Weight", 50, (Text((Sentence("weight", text, "the record", text),)),)),)


def _weight(weight: Measurement | None, earlier: list[Measurement]) -> list[Sentence]:
    if weight is None or weight.value is None:
        return []
    by = weight.observed_by.printed_name
    said = [
        Sentence(
            "weight",
            f"{both_weights(weight.value)}.",
            "the weight",
            f"{weight.typed} {weight.unit}",
            by,
            True,
        )
    ]
    last = earlier[-1] if earlier else None
    if last and last.value:
        said.append(
            Sentence(
                "weight:change", _change(weight.value, last), "two weights", f"{last.value} kg before", by
            )
        )
    return said


def _change(now_kg: Decimal, last: Measurement) -> str:
    assert last.value is not None
    on = timezone.localdate(last.measured_at)
    when = f"{EN.months[on.month - 1]} {on.year}"
    change = now_kg - last.value
    if abs(change) / last.value * 100 < SAME_PERCENT:
        return f"The same as in {when}."
    direction = "more" if change > 0 else "less"
    return f"{abs(change).normalize():f} kg {direction} than in {when}."


def _condition(bcs: Measurement | None, species: str) -> list[Sentence]:
    if bcs is None or bcs.value is None:
        return []
    score = bcs.value.normalize()
    low, high = (4, 5) if species == "dog" else (5, 5)
    word = (
        "too thin"
        if score < low - 1
        else "lean"
        if score < low
        else "just right"
        if score <= high
        else "overweight"
    )
    text = f"Body condition {score:f} of 9: {word}."
    return [
        Sentence(
            "bcs", text, "the body condition score", f"{score:f} of 9", bcs.observed_by.printed_name, True
        )
    ]


def _muscle(mcs: Measurement | None) -> list[Sentence]:
    if mcs is None or mcs.category not in MUSCLE:
        return []
    return [
        Sentence(
            "mcs",
            MUSCLE[mcs.category],
            "the muscle condition score",
            mcs.category,
            mcs.observed_by.printed_name,
        )
    ]


def _curve(weight: Measurement | None, earlier: list[Measurement]) -> Figure | None:
    if weight is None or weight.value is None:
        return None
    points = [
        Measured(timezone.localdate(each.measured_at), float(each.value))
        for each in (*earlier, weight)
        if each.value
    ]
    return curve_figure(points, today=timezone.localdate(weight.measured_at))


def _bodies(bcs: Measurement | None, species: str, name: str) -> Figure | None:
    if bcs is None or bcs.value is None:
        return None
    return condition_figure(float(bcs.value), species, name)
