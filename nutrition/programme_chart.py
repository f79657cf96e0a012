"""The chart of a programme, for its page and for the letter."""

from collections.abc import Sequence
from datetime import date

from django.utils import timezone

from clinic.letters.texts import Texts
from clinic.patients.models import Measurement, Patient
from nutrition.factors import Factors
from nutrition.ideal_weight import methods
from nutrition.letter_texts import ENGLISH
from nutrition.programme import Course, Programme, expected
from nutrition.reasons import Refused
from nutrition.running import day_after
from nutrition.weeks_chart import HEIGHT, Chart, weeks_chart

Scores = tuple[tuple[date, float], ...]


def scores_of(patient: Patient, programme: Programme, day: date) -> Scores:
    """The body condition from the programme's start until that day. One query."""
    return scores_since(patient, programme.start_on, day)


def scores_since(patient: Patient, first: date, last: date) -> Scores:
    """(day, body condition of nine), oldest first, the last score of each day. One query."""
    rows = Measurement.objects.filter(
        patient=patient,
        kind=Measurement.Kind.BCS,
        struck_at=None,
        value__isnull=False,
        measured_at__lt=day_after(last),
    ).order_by("measured_at", "pk")
    scores = {timezone.localdate(row.measured_at): float(row.value or 0) for row in rows}
    return tuple((on, score) for on, score in scores.items() if on >= first)


def ideal_of(
    programme: Programme, scores: Sequence[tuple[date, float]], factors: Factors
) -> tuple[float, float] | None:
    """From the least to the most that the methods say of its first day; None without a score of that day."""
    if not scores or scores[0][0] != programme.start_on:
        return None
    try:
        found = methods(weight_kg=programme.start_kg, bcs=scores[0][1], factors=factors)
    except Refused:
        return None
    return min(each.weight_kg for each in found), max(each.weight_kg for each in found)


def programme_chart(
    name: str,
    programme: Programme,
    gone: Course,
    scores: Scores,
    unit: str,
    factors: Factors,
    t: Texts = ENGLISH,
    height: int = HEIGHT,
) -> Chart:
    """`unit` kg or lb is what is read, in the language of `t`; `height` as in `weeks_chart`."""
    return weeks_chart(
        name=name,
        weighed=programme.weighed,
        band=expected(programme, factors),
        target_kg=programme.target_kg,
        doubtful=gone.doubtful,
        scores=scores,
        ideal_kg=ideal_of(programme, scores, factors),
        unit=unit,
        t=t,
        height=height,
    )
