"""What is known of one animal, as the schedule reads it: frozen, and free of any clock or database."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from preventive.dates import Calendar, PartialDate, Precision, Span


class Species(StrEnum):
    DOG = "dog"
    CAT = "cat"


class ProductKind(StrEnum):
    LIVE = "live"
    INACTIVATED = "inactivated"
    RECOMBINANT = "recombinant"
    UNKNOWN = "unknown"


class Route(StrEnum):
    SUBCUTANEOUS = "SC"
    INTRAMUSCULAR = "IM"
    INTRANASAL = "IN"
    ORAL = "PO"
    TOPICAL = "topical"
    UNKNOWN = ""


class DoseSource(StrEnum):
    HERE = "given here"
    OUTSIDE = "outside record"
    OWNER = "owner says"


class Abcb1(StrEnum):
    NORMAL = "normal"
    ONE_MUTANT = "mutant/normal"
    TWO_MUTANT = "mutant/mutant"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Birth:
    """A birth date with its precision; ``estimated`` marks somebody's estimate."""

    day: PartialDate
    estimated: bool = False

    def youngest(self, on: date) -> date:
        """The latest day the animal can have been born, seen from ``on``."""
        return min(self.day.latest, max(on, self.day.earliest))

    @property
    def oldest(self) -> date:
        """The earliest day the animal can have been born."""
        return self.day.earliest


def born(day: date, precision: Precision = Precision.DAY, *, estimated: bool = False) -> Birth:
    return Birth(PartialDate(day, precision), estimated)


@dataclass(frozen=True, slots=True)
class Answer:
    """One lifestyle answer: True, False, or None where the owner does not know."""

    code: str
    value: bool | None
    answered_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Animal:
    """The animal's lasting facts. ``conditions`` holds codes such as ``seizures`` or ``pregnant``."""

    species: Species
    birth: Birth | None
    sex: str = ""
    neutered: bool | None = None
    conditions: frozenset[str] = frozenset()
    lifestyle: tuple[Answer, ...] = ()
    size: str = ""
    stage: str = ""
    lifespan_years: float | None = None
    acquired_on: date | None = None
    last_exposure_on: date | None = None
    weaned_on: date | None = None
    chipped_on: date | None = None
    abcb1: Abcb1 = Abcb1.UNKNOWN
    abcb1_breed: bool = False
    weight_kg: float | None = None
    weighed_on: date | None = None

    def answer(self, code: str) -> Answer | None:
        """The newest answer to one question; undated answers are the oldest."""
        found = [answer for answer in self.lifestyle if answer.code == code]
        return max(found, key=lambda answer: answer.answered_on or date.min, default=None)

    def says(self, code: str) -> bool | None:
        found = self.answer(code)
        return found.value if found else None

    def says_any(self, codes: Iterable[str]) -> bool | None:
        """True if one is answered yes, False if all are answered no, None if a question stays open."""
        values = [self.says(code) for code in codes]
        if any(values):
            return True
        return None if None in values else False


@dataclass(frozen=True, slots=True, kw_only=True)
class VaccineProduct:
    """What the label says. ``species`` empty means not recorded."""

    name: str = ""
    species: tuple[Species, ...] = ()
    kind: ProductKind = ProductKind.UNKNOWN
    licensed_months: int | None = None
    min_age: Span | None = None
    min_interval: Span | None = None


NO_PRODUCT = VaccineProduct()


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """One injection, drop or tablet of vaccine. ``decision`` is a veterinarian's ruling: count it or not."""

    id: str
    antigens: tuple[str, ...]
    given: PartialDate
    product: VaccineProduct = NO_PRODUCT
    route: Route = Route.UNKNOWN
    site: str = ""
    source: DoseSource = DoseSource.HERE
    proof: bool = True
    lot: str = ""
    lot_expires_on: date | None = None
    decision: bool | None = None
    decision_reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestResult:
    """One result that counts as one kind of test; ``positive`` None means no clear result.

    ``low``: an antibody was found, and less of it than the laboratory calls enough; positive like none.
    """

    __test__ = False  # keeps pytest from collecting it

    id: str = ""
    kind: str
    on: date
    positive: bool | None = False
    low: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """A preventive that went home or was given: ``count`` doses, ``interval`` apart, from ``first_on``."""

    id: str = ""
    product: str
    interval: Span
    count: int
    first_on: date
    protects: frozenset[str]
    ingredients: tuple[str, ...] = ()

    def doses_on(self, cal: Calendar) -> tuple[date, ...]:
        """The day of every dose, each reckoned from the first so that month ends do not drift."""
        return tuple(cal.due(self.first_on, self.interval.times(n)) for n in range(self.count))

    def covered_until(self, cal: Calendar) -> date:
        """The day the next dose is due."""
        return cal.due(self.first_on, self.interval.times(self.count))


@dataclass(frozen=True, slots=True)
class Treatment:
    """Something done once: ``deworming``, ``dental``."""

    kind: str
    on: date


@dataclass(frozen=True, slots=True)
class Decline:
    """The owner declined; offered again on ``until``. ``code``: item, group or antigen."""

    code: str
    on: date
    until: date
    reason: str


@dataclass(frozen=True, slots=True)
class Deferral:
    """Put off for a medical reason until a date."""

    code: str
    on: date
    until: date
    reason: str


@dataclass(frozen=True, slots=True)
class Hold:
    """Stopped (e.g. after an adverse event) until a veterinarian releases it."""

    code: str
    on: date
    reason: str
    released_on: date | None = None


@dataclass(frozen=True, slots=True)
class OwnDate:
    """A clinician's own due date for one item, set on a day by somebody for a reason."""

    code: str
    day: date
    on: date
    by: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """All that was done; the order inside each tuple does not matter."""

    doses: tuple[Dose, ...] = ()
    tests: tuple[TestResult, ...] = ()
    supplies: tuple[Supply, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    exams: tuple[date, ...] = ()
    declines: tuple[Decline, ...] = ()
    deferrals: tuple[Deferral, ...] = ()
    holds: tuple[Hold, ...] = ()
    own_dates: tuple[OwnDate, ...] = ()
