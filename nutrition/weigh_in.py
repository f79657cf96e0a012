"""The page of a patient's weigh-ins as plain values: where its programme stands, and what follows."""

from dataclasses import dataclass, replace
from datetime import date
from urllib.parse import urlencode

from django.urls import reverse

from clinic.patients.ages import completed_months
from clinic.patients.curve import Curve, Point, curve
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.queries import clinic_details
from clinic.visits.models import Visit
from nutrition.explain import shown
from nutrition.factors import CERTAINTY_SAYS, Factors, Sentence, species_of
from nutrition.forms import again
from nutrition.growing import HOW_SAYS, Growing, growing
from nutrition.growth import is_growing
from nutrition.models import ExpectedGrownWeight, Plan
from nutrition.programme import Course, Programme, State, course, expected, expected_on
from nutrition.running import Weighed, programme_of, weights_until
from nutrition.versions import composed
from nutrition.weeks_chart import weeks_chart

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
    programme = programme_of(patient, weighed)
    found = None
    if programme is not None:
        found = _programme(patient, programme, actor, today, factors)
    last = f"{weighed[-1][1]:g} kg on {weighed[-1][0]:%-d %B %Y}" if weighed else ""
    return WeighInPage(
        patient_id=patient.pk,
        name=patient.name,
        programme=found,
        growth=None if found else _growth(patient, weighed, actor, today, factors),
        last=last,
        unit=clinic_details().weight_unit,
        may_weigh=actor.may(Right.MEASURE) and patient.deceased_on is None,
    )


def _programme(
    patient: Patient, programme: Programme, actor: Actor, today: date, factors: Factors
) -> ProgrammeShown:
    gone = course(programme, today, factors)
    shape, tone = SHAPES[gone.state]
    chart = weeks_chart(
        name=patient.name,
        weighed=programme.weighed,
        band=expected(programme, factors),
        target_kg=programme.target_kg,
        doubtful=gone.doubtful,
    )
    change_url, change_words = _change(patient, gone, actor)
    return ProgrammeShown(
        shape=shape,
        tone=tone,
        word=WORDS[gone.state],
        says=tuple(_said(each) for each in (gone.says, *gone.also)),
        rows=tuple(_rows(programme, gone, factors)),
        doubtful=tuple(f"{each:%-d %B}" for each in gone.doubtful),
        late=f"{gone.days_since + int(factors.value('programme.late_days'))} days" if gone.is_late else "",
        svg=chart.svg,
        weighed=tuple(_weighed(programme, gone, factors)),
        change_url=change_url,
        change_words=change_words,
    )


def _growth(
    patient: Patient, weighed: Weighed, actor: Actor, today: date, factors: Factors
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
    points = [Point(row.on, row.kg) for row in found.weighed]
    picture = curve(points, usual=_ground(grown_kg, noted))
    return GrowthShown(
        says=tuple(_said(each) for each in found.says),
        rows=tuple(_growth_rows(found, grown_kg, noted)),
        standstill=found.gain_kg_a_week is not None and found.gain_kg_a_week <= 0,
        picture=picture and replace(picture, alt=picture.alt.replace("Usual there", "Grown weight expected")),
        weighed=tuple(
            GrownRow(f"{row.on:%-d %B %Y}", f"{row.kg:g}", f"{row.percent:.0f} %" if row.percent else "")
            for row in reversed(found.weighed)
        ),
        may_set=actor.may(Right.TAKE_HISTORY) and patient.deceased_on is None,
    )


def _ground(grown_kg: float | None, note: ExpectedGrownWeight | None) -> tuple[float | None, float | None]:
    """An estimate is drawn with its ends; one number begins the ground."""
    if note is not None and note.low_kg < note.high_kg:
        return note.low_kg, note.high_kg
    return grown_kg, None


def _growth_rows(found: Growing, grown_kg: float | None, note: ExpectedGrownWeight | None) -> list[Row]:
    rows = [Row("Grown weight", "not known: ask, or estimate it beside", "")]
    if grown_kg is not None:
        span = f", {note.low_kg:g} to {note.high_kg:g}" if note and note.low_kg < note.high_kg else ""
        how = HOW_SAYS[note.how] if note else "as it stands on the patient"  # type: ignore[index]
        rows = [Row("Grown weight", f"about {grown_kg:g} kg{span}", how)]
    last = found.weighed[-1] if found.weighed else None
    if last is not None and last.percent is not None:
        rows.append(Row("Reached", f"{last.percent:.0f} % of it"))
    if found.gain_kg_a_week is not None:
        text = f"{found.gain_kg_a_week * 1000:,.0f} g a week ({found.gain_percent:.1f} %)"
        rows.append(Row("Gains", text, "between the last two weigh-ins"))
    if found.review_on is not None:
        rows.append(Row("Look again", f"{found.review_on:%-d %B %Y}"))
    return rows


def _said(sentence: Sentence) -> Said:
    source = sentence.source or CERTAINTY_SAYS[sentence.certainty]
    unsure = sentence.certainty == "C" and "to be checked" not in source
    return Said(sentence.says, f"{source} ({CERTAINTY_SAYS['C']})" if unsure else source)


def _rows(programme: Programme, gone: Course, factors: Factors) -> list[Row]:
    start = f"{programme.start_kg:g} kg on {programme.start_on:%-d %B %Y}"
    rows = [
        Row("Began", f"{start}; the plan gives {programme.energy_kcal:,.0f} kcal a day"),
        Row("Target", f"{programme.target_kg:g} kg; {gone.to_go_kg:.1f} kg to go"),
        Row("So far", f"{_more_or_less(gone.lost_kg)} ({abs(gone.lost_percent):.1f} %)"),
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


def _more_or_less(lost_kg: float) -> str:
    return f"{abs(lost_kg):.2f} kg {'less' if lost_kg >= 0 else 'more'}"


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


def _weighed(programme: Programme, gone: Course, factors: Factors) -> list[WeighedRow]:
    rows = []
    for on, kg in reversed(programme.weighed):
        hoped = expected_on(programme, on, factors)
        span = f"{hoped.low_kg:.1f} to {hoped.high_kg:.1f}"
        rows.append(WeighedRow(f"{on:%-d %B %Y}", f"{kg:g}", span, on in gone.doubtful))
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
        typed.pop("target_weight_kg", None)
    elif step is not None:
        typed["energy"], typed["own_kcal"] = "own", f"{(step.low_kcal + step.high_kcal) / 2:.0f}"
        typed["reason"] = f"Weigh-in: {WORDS[gone.state].lower()}"
    words = "Write the plan that keeps this weight" if ended else "Write the changed plan"
    return f"{reverse('visit-feeding', args=[visit.pk])}?{urlencode(list(_pairs(typed.lists())))}", words


def _pairs(lists: object) -> list[tuple[str, str]]:
    return [(name, value) for name, values in lists for value in values]  # type: ignore[attr-defined]


HERE = (Visit.Place.ARRIVED, Visit.Place.WITH_TECHNICIAN, Visit.Place.WITH_CLINICIAN, Visit.Place.ADMITTED)
