"""The shapes of the protocol data. Every rule names its source and how sure we are of it.

Certainty: ``A`` read in the source, ``B`` read as restated by others, ``C`` from memory, to be checked,
``derived`` arithmetic from a published fact, ``ours`` this project's choice, ``clinic`` the practice's own.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from preventive.dates import LeapDay, Span
from preventive.facts import ProductKind, Route, Species


class Certainty(StrEnum):
    READ = "A"
    RESTATED = "B"
    FROM_MEMORY = "C"
    DERIVED = "derived"
    OURS = "ours"
    CLINIC = "clinic"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cited:
    source: str
    certainty: Certainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Category(Cited):
    """Core or noncore by one version of one guideline."""

    guideline: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Applies(Cited):
    """Which animals an item is for; with nothing set it is for all of the species.

    ``any_of``: lifestyle answers of which one must be yes. ``until_age``: every animal up to and on that
    birthday. ``first_booster``: also the first booster of a finished series. ``if_given``: only where the
    antigen was given before.
    """

    any_of: tuple[str, ...] = ()
    until_age: Span | None = None
    first_booster: bool = False
    if_given: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Start(Cited):
    """``earliest``: no dose below this age counts. ``usual``: the age at which the first dose is due."""

    earliest: Span
    usual: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Series(Cited):
    """``doses`` doses, ``gap_min`` to ``gap_max`` apart.

    ``finish_age``: no dose below this age can end the series. ``outside_limit``: a later next dose starts
    the series again. ``min_interval``: a sooner dose does not count.
    """

    doses: int
    gap_min: Span
    gap_max: Span
    min_interval: Span
    finish_age: Span | None = None
    outside_limit: Span | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Late(Cited):
    """Doses needed from the finishing age on; one of ``single_kinds`` from ``single_from`` is enough."""

    doses: int
    single_from: Span | None = None
    single_kinds: tuple[ProductKind, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra(Cited):
    """One more last dose between two ages where a lifestyle answer asks for it, until ``until_age``."""

    any_of: tuple[str, ...]
    from_age: Span
    to_age: Span
    until_age: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstBooster(Cited):
    """``anchor`` "last": ``after`` the last dose of the series. "age": at that age; a series ended at or
    past it has its booster ``adult_after`` the last dose. A dose younger than ``accept_age`` or sooner
    than ``accept_gap`` after the last is one more dose of the series."""

    anchor: str
    after: Span
    adult_after: Span
    accept_age: Span
    accept_gap: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Booster(Cited):
    """The first entry whose ``any_of`` and ``kinds`` fit decides; ``every`` absent: no further dose."""

    any_of: tuple[str, ...] = ()
    kinds: tuple[ProductKind, ...] = ()
    every: Span | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lapse(Cited):
    """A dose later than ``limit`` after the last one starts the series again."""

    limit: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """How one kind of vaccine is given. ``routes`` empty: any route."""

    start: Start
    series: Series
    first_booster: FirstBooster
    boosters: tuple[Booster, ...]
    code: str = ""
    routes: tuple[Route, ...] = ()
    late: Late | None = None
    extra: Extra | None = None
    lapse: Lapse | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution(Cited):
    """A condition code that holds the item until a veterinarian has looked at it."""

    condition: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(Cited):
    text: str


class TitreUse(StrEnum):
    """What an antibody test means: it is on record; or it stands in for an adult booster."""

    NOTE = "note"
    IN_PLACE = "in_place"


@dataclass(frozen=True, slots=True, kw_only=True)
class TitreRule(Cited):
    """`every`: where antibody stands in for a booster, the next booster or test is due so much later."""

    mode: TitreUse
    every: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class VaccineRule:
    """``never``: why a guideline recommends it for no animal; such a rule has no courses."""

    label: str
    species: Species
    antigens: tuple[str, ...]
    categories: tuple[Category, ...]
    applies: Applies
    default: str
    courses: Mapping[str, Course]
    code: str = ""
    cautions: tuple[Caution, ...] = ()
    needs_negative: str = ""
    notes: tuple[Note, ...] = ()
    titre: TitreRule | None = None
    never: Note | None = None

    def course_for(self, route: Route) -> Course:
        """The course of a route, else the usual one."""
        fitting = [course for course in self.courses.values() if route in course.routes]
        return fitting[0] if fitting else self.courses[self.default]


class RabiesGiver(StrEnum):
    """Who may give rabies vaccine: a veterinarian alone; others with one on the premises; others for one."""

    VETERINARIAN = "veterinarian"
    ON_PREMISES = "on_premises"
    SUPERVISED = "supervised"


class RabiesSigner(StrEnum):
    """Who signs a certificate: the veterinarian who answers for the dose, or any of the practice."""

    NAMED = "named"
    ANY = "any"


@dataclass(frozen=True, slots=True, kw_only=True)
class GiverRule(Cited):
    who: RabiesGiver
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SignerRule(Cited):
    who: RabiesSigner
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RabiesRule(Cited):
    """What holds in every place: the doses' usual age and what counts as an early second dose."""

    label: str
    species: tuple[Species, ...]
    antigen: str
    min_age: Span
    early_booster_from: Span
    early_source: str
    early_certainty: Certainty
    categories: tuple[Category, ...] = ()
    code: str = ""
    notes: tuple[Note, ...] = ()
    # where the place says nothing; versions kept before these came have none
    giver: GiverRule | None = None
    signer: SignerRule | None = None


class LateRabies(StrEnum):
    LABEL = "label"
    RESTART_12MO = "restart_12mo"
    PRIMARY_AGAIN = "primary_again"


@dataclass(frozen=True, slots=True, kw_only=True)
class Minimum(Cited):
    age: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Deadline(Cited):
    age: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait(Cited):
    days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstRabiesBooster(Cited):
    """``after`` absent: by the label. ``label_from_age``: at that age or older the label decides."""

    after: Span | None = None
    label_from_age: Span | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LateMode(Cited):
    mode: LateRabies


@dataclass(frozen=True, slots=True, kw_only=True)
class Maximum(Cited):
    months: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Jurisdiction:
    """Rabies law of one place, as far as a schedule can hold it. Always: follow local law."""

    label: str
    wait: Wait
    first_booster: FirstRabiesBooster
    late: LateMode
    code: str = ""
    min_age: Minimum | None = None
    deadline: Deadline | None = None
    maximum: Maximum | None = None
    chip_first: Note | None = None
    giver: GiverRule | None = None
    signer: SignerRule | None = None
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat(Cited):
    """How often: the first entry whose ``any_of`` answers and ``until_age`` fit decides."""

    every: Span
    any_of: tuple[str, ...] = ()
    until_age: Span | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class First(Cited):
    age: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class TestRule:
    """A test repeated by the calendar. ``repeats`` empty: once, before a preventive starts."""

    label: str
    species: Species
    results: tuple[str, ...]
    first: First
    repeats: tuple[Repeat, ...]
    positive: Note
    applies: Applies
    code: str = ""
    together: tuple[str, ...] = ()
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Days(Cited):
    days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeartwormRule:
    """Dogs: tests by when the preventive began and by its gaps."""

    label: str
    species: Species
    results: tuple[str, ...]
    together: tuple[str, ...]
    protects: str
    pretest_age: First
    young_retest: Repeat
    retest: Repeat
    repeats: tuple[Repeat, ...]
    late_after: Days
    early_by: Days
    pretest_within: Days
    lapse: Note
    positive: Note
    code: str = ""
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RetrovirusRule:
    label: str
    species: Species
    result: str
    first: First
    window: Days
    exposure: str
    exposure_note: Note
    infected: Repeat
    positive: Note
    code: str = ""
    not_final_below: First | None = None
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PreventionRule:
    """Year-round protection: due again the day the last supply runs out."""

    label: str
    species: Species
    protects: str
    start: First
    applies: Applies
    code: str = ""
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class YoungDeworming(Cited):
    """From ``start`` every ``step`` to age ``until_age``, or to ``after_weaning`` past a known weaning;
    then every ``then_every`` to age ``then_until`` (absent: until the adult rule is chosen)."""

    start: Span
    step: Span
    until_age: Span
    then_every: Span
    then_until: Span
    after_weaning: Span | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DewormingRule:
    label: str
    species: Species
    young: YoungDeworming
    repeats: tuple[Repeat, ...]
    code: str = ""
    protects: str = "intestinal"
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitBand(Cited):
    """After an exam the next one falls ``earliest`` to ``latest`` later."""

    earliest: Span
    latest: Span
    stages: tuple[str, ...] = ()
    until_age: Span | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRule:
    label: str
    species: Species
    first: First
    bands: tuple[VisitBand, ...]
    code: str = ""
    notes: tuple[Note, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DentalFirst(Cited):
    age: Span
    sizes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DentalRule:
    label: str
    species: Species
    firsts: tuple[DentalFirst, ...]
    repeats: tuple[Repeat, ...]
    code: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageRule(Cited):
    """A stage lasts to the day before ``until_age``, or to ``until_share`` of the expected lifespan."""

    label: str
    order: int
    code: str = ""
    until_age: Span | None = None
    until_share: float | None = None
    by_staff: bool = False  # no birthday leads into it


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRule(Cited):
    label: str
    code: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedSites(Cited):
    """The sites a panel published for an antigen, and those it advises against."""

    species: Species
    antigens: tuple[str, ...]
    sites: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AvoidSite(Cited):
    species: Species
    site: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LumpRule(Cited):
    growing_after: Span
    present_after: Span
    size_cm: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyRule(Cited):
    level: str
    text: str
    code: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CountingRule(Cited):
    """Why a dose does not count; ``decide``: a veterinarian may rule otherwise."""

    text: str
    decide: bool
    code: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificateField(Cited):
    label: str
    required: bool
    code: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dates(Cited):
    leap_day: LeapDay


@dataclass(frozen=True, slots=True, kw_only=True)
class Review(Cited):
    """How long a lifestyle answer is trusted."""

    after: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportRule(Cited):
    """To whom a reaction to one kind of product is reported, and who must pass it on."""

    label: str
    to: str
    code: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """The whole composed protocol, typed."""

    antigens: Mapping[str, str]
    sources: Mapping[str, str]
    dates: Dates
    review: Review
    vaccines: Mapping[str, VaccineRule]
    rabies: RabiesRule
    jurisdictions: Mapping[str, Jurisdiction]
    tests: Mapping[str, TestRule]
    heartworm: Mapping[str, HeartwormRule]
    retrovirus: Mapping[str, RetrovirusRule]
    prevention: Mapping[str, PreventionRule]
    deworming: Mapping[str, DewormingRule]
    visits: Mapping[str, VisitRule]
    dental: Mapping[str, DentalRule]
    stages: Mapping[str, Mapping[str, StageRule]]
    sites: Mapping[str, SiteRule]
    published_sites: tuple[PublishedSites, ...]
    avoid_sites: tuple[AvoidSite, ...]
    lump: LumpRule
    safety: Mapping[str, SafetyRule]
    ingredients: Mapping[str, str]
    counting: Mapping[str, CountingRule]
    certificate: Mapping[str, CertificateField]
    lifestyle: Mapping[str, str]
    # versions kept before these tables came have none
    reporting: Mapping[str, ReportRule] = field(default_factory=dict)
    vaccination: Mapping[str, CertificateField] = field(default_factory=dict)
