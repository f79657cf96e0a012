"""A weight-loss programme as it runs: where it stands, what to do, when it may end. kg, kcal a day."""

from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil
from typing import Literal

from nutrition.energy import floor_kcal
from nutrition.explain import Line
from nutrition.factors import Factors, Sentence, Species
from nutrition.trend import Pace, by_day, pace
from nutrition.weight_loss import Adjustment, adjust, band_kg, own_need, weeks_to_target

State = Literal["reached", "too_few", "too_fast", "fast", "on_course", "slow", "plateau", "gaining"]
LONGEST_WEEKS = 78
FAR_WEEKS = 104  # beyond two years a day is no forecast


@dataclass(frozen=True, slots=True)
class Programme:
    """From the plan that began it to the newest one. `weighed`: (day, kg) since the start, also its own."""

    species: Species
    start_on: date
    start_kg: float
    target_kg: float
    energy_kcal: float
    weighed: tuple[tuple[date, float], ...]


@dataclass(frozen=True, slots=True)
class Expected:
    """What the band hopes for on a day: from the fastest loss to the slowest."""

    on: date
    low_kg: float
    high_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """How it goes. Percents are of the starting weight a week, positive when it loses.

    `earliest`, `latest`: the days between which the target may be reached; `latest` None: none in sight.
    `adjustment` is what the published steps say, never below the floor (`held_by_floor`: it ended there).
    """

    state: State
    says: Sentence
    also: tuple[Sentence, ...]
    last_on: date
    last_kg: float
    lost_kg: float
    lost_percent: float
    to_go_kg: float
    pace: Pace | None
    percent_a_week: float | None
    percent_low: float | None
    percent_high: float | None
    earliest: date | None
    latest: date | None
    adjustment: Adjustment | None
    held_by_floor: bool
    upkeep: Line | None
    doubtful: tuple[date, ...]
    days_since: int

    @property
    def is_late(self) -> bool:
        return self.days_since > 0 and self.state != "reached"


def expected(programme: Programme, factors: Factors) -> tuple[Expected, ...]:
    """The band week by week, until the slowest loss reaches the target."""
    start, target = programme.start_kg, programme.target_kg
    slowest = weeks_to_target(start, target, factors.value("loss.least"), factors)
    weeks = min(ceil(slowest), LONGEST_WEEKS)
    return tuple(
        Expected(programme.start_on + timedelta(weeks=week), *band_kg(start, target, week, factors))
        for week in range(weeks + 1)
    )


def expected_on(programme: Programme, day: date, factors: Factors) -> Expected:
    """The band on one day since the start."""
    weeks = (day - programme.start_on).days / 7
    return Expected(day, *band_kg(programme.start_kg, programme.target_kg, weeks, factors))


def recent_pace(programme: Programme, factors: Factors) -> Pace | None:
    """By the weigh-ins of the last weeks, so that an old pace hides no standstill; by the last five where
    those are fewer: of four, one wrong weight would still bend the line."""
    points = _points(programme)
    since = points[-1][0] - factors.value("programme.window_days")
    recent = [point for point in points if point[0] >= since]
    taken = recent if len(recent) >= 5 else points[-5:]
    return pace(taken, doubtful_percent=factors.value("programme.doubtful"))


def _points(programme: Programme) -> list[tuple[float, float]]:
    return by_day([((on - programme.start_on).days, kg) for on, kg in programme.weighed])


def course(programme: Programme, today: date, factors: Factors) -> Course:
    """Where the programme stands today. It must have been weighed at least once."""
    points, found = _points(programme), recent_pace(programme, factors)
    off = found.doubtful if found else ()
    last_day, last_kg = points[-1]
    per_week = 100 / programme.start_kg
    lost = None if found is None else -found.kg_a_week * per_week
    # a doubtful last weight ends no programme
    reached = last_kg <= programme.target_kg and last_day not in off
    state = "reached" if reached else _state(programme.species, lost, factors)
    adjustment, held = _adjusted(programme, state, lost, factors)
    earliest, latest = _when(programme, found) if state != "reached" else (None, None)
    last_on = programme.start_on + timedelta(days=int(last_day))
    return Course(
        state=state,
        says=factors.sentence(f"programme.{state}"),
        also=_also(programme.species, state, factors),
        last_on=last_on,
        last_kg=last_kg,
        lost_kg=programme.start_kg - last_kg,
        lost_percent=(programme.start_kg - last_kg) * per_week,
        to_go_kg=max(last_kg - programme.target_kg, 0.0),
        pace=found,
        percent_a_week=lost,
        percent_low=None if found is None or found.high is None else -found.high * per_week,
        percent_high=None if found is None or found.low is None else -found.low * per_week,
        earliest=earliest,
        latest=latest,
        adjustment=adjustment,
        held_by_floor=held,
        upkeep=_upkeep(programme, state, points, factors),
        doubtful=tuple(programme.start_on + timedelta(days=int(day)) for day in off),
        days_since=max((today - last_on).days - int(factors.value("programme.late_days")), 0),
    )


def _state(species: Species, lost: float | None, factors: Factors) -> State:
    if lost is None:
        return "too_few"
    usual, still = factors.factor(f"loss.rate.{species}"), factors.value("programme.standstill")
    if lost > factors.value("loss.most"):
        return "too_fast"
    if species == "cat" and lost > (usual.high or usual.value):
        return "fast"
    if lost >= (usual.low or usual.value):
        return "on_course"
    if lost >= still:
        return "slow"
    return "plateau" if lost > -still else "gaining"


def _adjusted(
    programme: Programme, state: State, lost: float | None, factors: Factors
) -> tuple[Adjustment | None, bool]:
    """The published steps; a cut ends at the floor."""
    if lost is None or state == "reached":
        return None, False
    found = adjust(programme.energy_kcal, lost, programme.species, factors)
    floor = floor_kcal(programme.species, programme.target_kg, factors)
    if found.direction != "less" or found.low_kcal >= floor:
        return found, False
    held = Adjustment("less", floor, max(floor, found.high_kcal), found.line)
    return (held if floor < programme.energy_kcal else None), True


def _when(programme: Programme, found: Pace | None) -> tuple[date | None, date | None]:
    """Between the quick and the slow end of the band; without a band no day is named."""
    if found is None or found.low is None or found.high is None or found.low >= 0:
        return None, None
    to_go, last_on = found.kg - programme.target_kg, programme.start_on + timedelta(days=int(found.day))

    def after(a_week: float) -> date | None:
        weeks = max(to_go, 0.0) / -a_week if a_week < 0 else None
        return None if weeks is None or weeks > FAR_WEEKS else last_on + timedelta(weeks=weeks)

    return after(found.low), after(found.high)


def _also(species: Species, state: State, factors: Factors) -> tuple[Sentence, ...]:
    if species == "cat" and state == "too_fast":
        return (factors.sentence("programme.cat_too_fast"),)
    if species == "cat" and state != "reached":
        return (factors.sentence("caution.cat_never_fast"),)
    return ()


def _upkeep(
    programme: Programme, state: State, points: list[tuple[float, float]], factors: Factors
) -> Line | None:
    """What it seems to need itself, by the plan's energy and all its weigh-ins; as good as they are."""
    whole = pace(points, doubtful_percent=factors.value("programme.doubtful"))
    if state != "reached" or whole is None:
        return None
    return own_need(programme.energy_kcal, whole.kg_a_week, factors)
