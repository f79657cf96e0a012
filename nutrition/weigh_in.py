"""The page of a patient's weigh-ins as plain values: where its programme stands, and what follows."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from urllib.parse import urlencode

from django.urls import reverse

from clinic.patients.ages import completed_months
from clinic.patients.curve import Curve, Point, curve
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.measures import units_of
from clinic.visits.models import Visit
from nutrition.amounts import in_unit, weight, weight_number
from nutrition.explain import shown
from nutrition.factors import CERTAINTY_SAYS, Factors, Sentence, species_of
from nutrition.forms import again
from nutrition.growing import HOW_SAYS, Growing, growing
from nutrition.growth import is_growing
from nutrition.models import ExpectedGrownWeight, Plan
from nutrition.programme import Course, Programme, State, course, expected_on
from nutrition.programme_chart import programme_chart, scores_of, scores_since
from nutrition.running import Weighed, programme_of, weights_until
from nutrition.versions import composed

SHAPES: dict[State, tuple[str, str]] = {
    "reached": ("normal", "normal"),
    "on_course": ("normal", "normal"),
    "too_few": ("new", "look"),
    "slow": ("abnormal", "look"),
    "fast": ("abnormal", "look"),
    "plateau": ("abnormal", "look"),
    "gaining": ("abnormal", "look"),
    "too_fast": ("danger", "danger"),
}
"""Shape and tone of the notice."""
WORDS: dict[State, str] = {
    "reached": "At the target",
    "on_course": "On course",
    "too_few": "Just begun",
    "slow": "Slow",
    "fast": "Fast for a cat",
    "plateau": "Standing still",
    "gaining": "Gaining",
    "too_fast": "Too fast",
}


@dataclass(frozen=True)
class Said:
    text: str
    source: str


@dataclass(frozen=True)
class Row:
    label: str
    text: str
    source: str = ""


@dataclass(frozen=True)
class WeighedRow:
    when: str
    kg: str
    expected: str
    score: str
    doubtful: bool


@dataclass(frozen=True)
class ProgrammeShown:
    shape: str
    tone: str
    word: str
    says: tuple[Said, ...]
    rows: tuple[Row, ...]
    doubtful: tuple[str, ...]
    late: str
    svg: str
    weighed: tuple[WeighedRow, ...]
    change_url: str
    change_words: str


@dataclass(frozen=True)
class GrownRow:
    when: str
    kg: str
    percent: str
    score: str


@dataclass(frozen=True)
class GrowthShown:
    says: tuple[Said, ...]
    rows: tuple[Row, ...]
    standstill: bool
    picture: Curve | None
    weighed: tuple[GrownRow, ...]
    may_set: bool


@dataclass(frozen=True)
class WeighInPage:
    patient_id: int
    name: str
    programme: ProgrammeShown | None
    growth: GrowthShown | None
    last: str
    unit: str
    may_weigh: bool


def weigh_in_page(patient: Patient, *, actor: Actor, today: date) -> WeighInPage:
    """Reads only; a fixed number of queries."""
    factors, weighed = composed(), weights_until(patient, today)
    programme, unit = programme_of(patient, weighed), units_of(actor).weight
    found = None
    if programme is not None:
        found = _programme(patient, programme, actor, today, unit, factors)
    last = f"{weight(weighed[-1][1], unit)} on {weighed[-1][0]:%-d %B %Y}" if weighed else ""
    return WeighInPage(
        patient_id=patient.pk,
        name=patient.name,
        programme=found,
        growth=None if found else _growth(patient, weighed, actor, today, unit, factors),
        last=last,
        unit=unit,
        may_weigh=actor.may(Right.MEASURE) and patient.deceased_on is None,
    )


def _programme(
    patient: Patient, programme: Programme, actor: Actor, today: date, unit: str, factors: Factors
) -> ProgrammeShown:
    gone, scores = course(programme, today, factors), scores_of(patient, programme, today)
    shape, tone = SHAPES[gone.state]
    chart = programme_chart(patient.name, programme, gone, scores, unit, factors)
    change_url, change_words = _change(patient, gone, actor)
    return ProgrammeShown(
        shape=shape,
        tone=tone,
        word=WORDS[gone.state],
        says=tuple(_said(each) for each in (gone.says, *gone.also)),
        rows=tuple(_rows(programme, gone, unit, factors)),
        doubtful=tuple(f"{each:%-d %B}" for each in gone.doubtful),
        late=f"{gone.days_since + int(factors.value('programme.late_days'))} days" if gone.is_late else "",
        svg=chart.svg,
        weighed=tuple(_weighed(programme, gone, dict(scores), unit, factors)),
        change_url=change_url,
        change_words=change_words,
    )


def _growth(
    patient: Patient, weighed: Weighed, actor: Actor, today: date, unit: str, factors: Factors
) -> GrowthShown | None:
    """Of an animal that still grows by its age; None for the others."""
    grown_kg = float(patient.expected_adult_kg) if patient.expected_adult_kg else None
    birth, species = patient.birth_date, species_of(patient.species)
    months = completed_months(birth, today) if birth and birth <= today else None
    if not is_growing(species, months, grown_kg, factors):
        return None
    note = ExpectedGrownWeight.objects.filter(patient=patient).order_by("-at", "-pk").first()
    # the patient's own page may have changed the number since
    matches = note is not None and grown_kg is not None and abs(note.kg - grown_kg) < 0.01
    noted = note if matches else None
    found = growing(species, weighed, grown_kg, factors)
    scores = dict(scores_since(patient, found.weighed[0].on if found.weighed else today, today))
    points = [Point(row.on, float(weight_number(row.kg, unit)), scores.get(row.on)) for row in found.weighed]
    ground = tuple(None if kg is None else round(in_unit(kg, unit), 1) for kg in _ground(grown_kg, noted))
    picture = curve(points, unit=unit, usual=(ground[0], ground[1]))
    return GrowthShown(
        says=tuple(_said(each) for each in found.says),
        rows=tuple(_growth_rows(found, grown_kg, noted, unit)),
        standstill=found.gain_kg_a_week is not None and found.gain_kg_a_week <= 0,
        picture=picture and replace(picture, alt=picture.alt.replace("Usual there", "Grown weight expected")),
        weighed=tuple(
            GrownRow(
                f"{row.on:%-d %B %Y}",
                weight_number(row.kg, unit),
                f"{row.percent:.0f} %" if row.percent else "",
                f"{scores[row.on]:g}" if row.on in scores else "–",
            )
            for row in reversed(found.weighed)
        ),
        may_set=actor.may(Right.TAKE_HISTORY) and patient.deceased_on is None,
    )


def _ground(grown_kg: float | None, note: ExpectedGrownWeight | None) -> tuple[float | None, float | None]:
    """An estimate is drawn with its ends; one number begins the ground."""
    if note is not None and note.low_kg < note.high_kg:
        return note.low_kg, note.high_kg
    return grown_kg, None


def _growth_rows(
    found: Growing, grown_kg: float | None, note: ExpectedGrownWeight | None, unit: str
) -> list[Row]:
    rows = [Row("Grown weight", "not known: ask, or estimate it beside", "")]
    if grown_kg is not None:
        span = ""
        if note and note.low_kg < note.high_kg:
            span = f", {weight_number(note.low_kg, unit)} to {weight_number(note.high_kg, unit)}"
        how = HOW_SAYS[note.how] if note else "as it stands on the patient"  # type: ignore[index]
        rows = [Row("Grown weight", f"about {weight(grown_kg, unit)}{span}", how)]
    last = found.weighed[-1] if found.weighed else None
    if last is not None and last.percent is not None:
        rows.append(Row("Reached", f"{last.percent:.0f} % of it"))
    if found.gain_kg_a_week is not None:
        gain = f"{found.gain_kg_a_week * 1000:,.0f} g"
        if unit == "lb":
            gain = f"{in_unit(found.gain_kg_a_week, unit):.1f} lb"
        text = f"{gain} a week ({found.gain_percent:.1f} %)"
        rows.append(Row("Gains", text, "between the last two weigh-ins"))
    if found.review_on is not None:
        rows.append(Row("Look again", f"{found.review_on:%-d %B %Y}"))
    return rows


def _said(sentence: Sentence) -> Said:
    source = sentence.source or CERTAINTY_SAYS[sentence.certainty]
    unsure = sentence.certainty == "C" and "to be checked" not in source
    return Said(sentence.says, f"{source} ({CERTAINTY_SAYS['C']})" if unsure else source)


def _rows(programme: Programme, gone: Course, unit: str, factors: Factors) -> list[Row]:
    start = f"{weight(programme.start_kg, unit)} on {programme.start_on:%-d %B %Y}"
    rows = [
        Row("Began", f"{start}; the plan gives {programme.energy_kcal:,.0f} kcal a day"),
        Row(
            "Target", f"{weight(programme.target_kg, unit)}; {in_unit(gone.to_go_kg, unit):.1f} {unit} to go"
        ),
        Row("So far", f"{_more_or_less(gone.lost_kg, unit)} ({abs(gone.lost_percent):.1f} %)"),
    ]
    if gone.percent_a_week is not None:
        rows.append(Row("Pace", _pace(gone), "slope between all pairs of days; the band holds 9 times of 10"))
    if gone.state != "reached":
        rows.append(Row("At the target", _when(gone), "if it goes on so; no promise"))
    if gone.adjustment is not None and gone.adjustment.direction != "keep":
        step = gone.adjustment
        what = "Feed less" if step.direction == "less" else "Feed more"
        text = f"{step.low_kcal:,.0f} to {step.high_kcal:,.0f} kcal a day; now {programme.energy_kcal:,.0f}"
        if gone.held_by_floor:
            text += "; it ends at the floor"
        rows.append(Row(what, text, f"{step.line.source}; the clinician decides"))
    elif gone.held_by_floor:
        text = "The plan stands at the floor: no cut without a clinician’s reason."
        rows.append(Row("Feed less", text, "common practice, a setting"))
    if gone.upkeep is not None:
        text = f"about {gone.upkeep.value:,.0f} kcal a day; {gone.upkeep.how}"
        rows.append(Row("To keep it", text, f"{gone.upkeep.source}; {gone.upkeep.note}"))
    return rows


def _more_or_less(lost_kg: float, unit: str) -> str:
    return f"{abs(in_unit(lost_kg, unit)):.2f} {unit} {'less' if lost_kg >= 0 else 'more'}"


def _pace(gone: Course) -> str:
    assert gone.percent_a_week is not None
    text = f"{shown(gone.percent_a_week, 1)} % of the starting weight a week"
    if gone.percent_low is None or gone.percent_high is None:
        return f"{text}; too few weigh-ins to say how sure"
    return f"{text} ({shown(gone.percent_low, 1)} to {shown(gone.percent_high, 1)})"


def _when(gone: Course) -> str:
    if gone.earliest is None:
        return "no day can be named yet"
    if gone.latest is None:
        return f"not before {gone.earliest:%-d %B %Y}; no end is in sight at the slow end"
    if gone.earliest == gone.latest:
        return f"about {gone.latest:%-d %B %Y}"
    return f"between {gone.earliest:%-d %B %Y} and {gone.latest:%-d %B %Y}"


def _weighed(
    programme: Programme, gone: Course, scores: Mapping[date, float], unit: str, factors: Factors
) -> list[WeighedRow]:
    rows = []
    for on, kg in reversed(programme.weighed):
        hoped = expected_on(programme, on, factors)
        span = f"{in_unit(hoped.low_kg, unit):.1f} to {in_unit(hoped.high_kg, unit):.1f}"
        score = f"{scores[on]:g}" if on in scores else "–"
        doubtful = on in gone.doubtful
        rows.append(WeighedRow(f"{on:%-d %B %Y}", weight_number(kg, unit), span, score, doubtful))
    return rows


def _change(patient: Patient, gone: Course, actor: Actor) -> tuple[str, str]:
    """The feeding page of the open visit, filled with the newest plan and the energy that is proposed."""
    if not actor.may(Right.FEED):
        return "", ""
    step, ended = gone.adjustment, gone.state == "reached"
    if not ended and (step is None or step.direction == "keep"):
        return "", ""
    visit = Visit.objects.filter(
        patient=patient, record__signed_at=None, record__isnull=False, place__in=HERE
    ).first()
    plan = Plan.objects.filter(record__visit__patient=patient, kind=Plan.Kind.FED).order_by("-at").first()
    if visit is None or plan is None:
        return "", "A visit or a call opened on Today lets you write the new plan."
    typed = again(plan)
    typed.pop("weigh_in_on", None)
    if ended:
        typed["aim"], typed["energy"] = "keep", ""
        typed.pop("target_weight", None)
    elif step is not None:
        typed["energy"], typed["own_kcal"] = "own", f"{(step.low_kcal + step.high_kcal) / 2:.0f}"
        typed["reason"] = f"Weigh-in: {WORDS[gone.state].lower()}"
    words = "Write the plan that keeps this weight" if ended else "Write the changed plan"
    return f"{reverse('visit-feeding', args=[visit.pk])}?{urlencode(list(_pairs(typed.lists())))}", words


def _pairs(lists: object) -> list[tuple[str, str]]:
    return [(name, value) for name, values in lists for value in values]  # type: ignore[attr-defined]


HERE = (Visit.Place.ARRIVED, Visit.Place.WITH_TECHNICIAN, Visit.Place.WITH_CLINICIAN, Visit.Place.ADMITTED)
