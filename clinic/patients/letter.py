"""Weight and condition in a letter: the number, how it changed, and two pictures."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from clinic.letters.document import Block, Figure, Figures, Part, Section, Sentence, Text
from clinic.letters.figures import Measured, condition_figure, curve_figure
from clinic.letters.texts import LETTERS, Texts
from clinic.letters.wording import long_day, month_and_year
from clinic.patients.facts import both_weights
from clinic.patients.models import Measurement
from clinic.patients.units import Unit, from_canonical, weight_in
from clinic.platform.asked import once
from clinic.platform.measures import units_for_owners
from clinic.visits.models import Record, Visit

MUSCLE = ("normal", "mild", "moderate", "severe")
OBESE = 8
SAME_PERCENT = Decimal(1)


@dataclass(frozen=True)
class WeightInLetter:
    name: str = "weight"
    order: int = 50

    def part(self, record: Record, *, language: str, today: date) -> Part:
        """Said only from what was measured at this visit."""
        visit, w, unit = record.visit, LETTERS(language), units_for_owners().weight
        taken = {each.kind: each for each in _taken(visit)}
        weight, bcs, mcs = taken.get("weight"), taken.get("bcs"), taken.get("mcs")
        if weight is None and bcs is None:
            return Part(sections=_not_weighed(record, w))
        earlier = _weighed_before(visit, weight.measured_at if weight else visit.made_at)
        sentences = [
            *_weight(weight, earlier, unit, w),
            *_condition(bcs, visit.patient.species, w),
            *_muscle(mcs, w),
        ]
        figures = tuple(
            figure
            for figure in (
                _curve(weight, earlier, unit, w),
                _bodies(bcs, visit.patient.species, visit.patient.name, w),
            )
            if figure
        )
        said = tuple(sentences)
        blocks: tuple[Block, ...] = (
            (Figures(figures, sentences=said),)  # one drawing: beside the words
            if len(figures) == 1
            else (Text(said), *((Figures(figures),) if figures else ()))
        )
        return Part(sections=(Section("weight", w("weight.title"), 50, blocks),))


@once
def _taken(visit: Visit) -> list[Measurement]:
    rows = visit.measurements.filter(struck_at=None)
    return list(rows.select_related("observed_by").order_by("measured_at"))


@once
def _weighed_before(visit: Visit, at: datetime) -> list[Measurement]:
    rows = visit.patient.measurements.filter(kind="weight", struck_at=None, value__isnull=False)
    return list(rows.exclude(visit=visit).filter(measured_at__lt=at).order_by("measured_at"))


def _not_weighed(record: Record, w: Texts) -> tuple[Section, ...]:
    why = record.no_weight_reason.rstrip(".")
    if not why:
        return ()
    said = w.sentence("weight", "weight.not_weighed", "the record", why, reason=w.own(why))
    return (Section("weight", w("weight.title"), 50, (Text((said,)),)),)


def _weight(weight: Measurement | None, earlier: list[Measurement], unit: str, w: Texts) -> list[Sentence]:
    if weight is None or weight.value is None:
        return []
    by, typed = weight.observed_by.printed_name, f"{weight.typed} {weight.unit}"
    both = both_weights(weight.value, unit)
    said = [w.sentence("weight", "weight.now", "the weight", typed, by, strong=True, both=both)]
    last = earlier[-1] if earlier else None
    if last and last.value:
        said.append(_change(weight, last, by, unit, w))
    return said


def _change(now: Measurement, last: Measurement, by: str, unit: str, w: Texts) -> Sentence:
    assert now.value is not None
    assert last.value is not None
    change = now.value - last.value
    same = abs(change) / last.value * 100 < SAME_PERCENT
    key = "weight.same" if same else "weight.more" if change > 0 else "weight.less"
    day, today = timezone.localdate(last.measured_at), timezone.localdate(now.measured_at)
    values = {"month": month_and_year(day, w)}
    if (day.year, day.month) == (today.year, today.month):  # the month alone would be the one in hand
        key, values = f"{key}_on", {"day": long_day(day, w)}
    if not same:
        values["amount"] = weight_in(abs(change), unit)
    return w.sentence("weight:change", key, "two weights", f"{last.value} kg before", by, **values)


def _condition(bcs: Measurement | None, species: str, w: Texts) -> list[Sentence]:
    if bcs is None or bcs.value is None:
        return []
    score = bcs.value.normalize()
    low, high = (4, 5) if species == "dog" else (5, 5)
    word = _condition_word(score, low, high)
    said = {"score": f"{score:f}", "word": w(f"weight.{word}")}
    by, recorded = bcs.observed_by.printed_name, f"{score:f} of 9"
    return [
        w.sentence("bcs", "weight.condition", "the body condition score", recorded, by, strong=True, **said)
    ]


def _condition_word(score: Decimal, low: int, high: int) -> str:
    """One point beside the ideal is a little; 8 and 9 are what charts call obese."""
    if score < low:
        return "lean" if score >= low - 1 else "too_thin"
    if score <= high:
        return "just_right"
    return "a_little_over" if score <= high + 1 else "overweight" if score < OBESE else "much_over"


def _muscle(mcs: Measurement | None, w: Texts) -> list[Sentence]:
    if mcs is None or mcs.category not in MUSCLE:
        return []
    key, by = f"muscle.{mcs.category}", mcs.observed_by.printed_name
    return [w.sentence("mcs", key, "the muscle condition score", mcs.category, by)]


def _curve(weight: Measurement | None, earlier: list[Measurement], unit: str, w: Texts) -> Figure | None:
    if weight is None or weight.value is None:
        return None
    points = [
        Measured(
            timezone.localdate(each.measured_at), round(float(from_canonical(each.value, Unit(unit))), 2)
        )
        for each in (*earlier, weight)
        if each.value
    ]
    return curve_figure(points, today=timezone.localdate(weight.measured_at), unit=unit, w=w)


def _bodies(bcs: Measurement | None, species: str, name: str, w: Texts) -> Figure | None:
    if bcs is None or bcs.value is None:
        return None
    return condition_figure(float(bcs.value), species, name, w)
