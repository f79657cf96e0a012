"""Where the upper rooms plug in: one registry and one protocol class each, filled in `AppConfig.ready()`.

`clinic` asks a registry and never an upper room. What is registered is ordered by `order`, then by name.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Generic, Protocol, TypeVar

from clinic.letters.document import Part
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Record, Visit


class Registered(Protocol):
    """What every entry of a registry has."""

    @property
    def name(self) -> str: ...
    @property
    def order(self) -> int: ...


T = TypeVar("T", bound=Registered)


class Registry(Generic[T]):
    """Entries by name, in order. A name can be taken once."""

    def __init__(self) -> None:
        self._entries: dict[str, T] = {}

    def add(self, entry: T) -> None:
        """Raise ValueError when the name is taken by another entry."""
        if entry.name in self._entries:
            raise ValueError(f"{entry.name} is registered already")
        self._entries[entry.name] = entry

    def __iter__(self) -> Iterator[T]:
        return iter(sorted(self._entries.values(), key=lambda entry: (entry.order, entry.name)))

    def names(self) -> list[str]:
        return [entry.name for entry in self]


@dataclass(frozen=True)
class Missing:
    """Something that stands between a record and its signature.

    `blocks` False: shown and counted before signing, but does not refuse it.
    """

    code: str
    sentence: str
    url: str
    blocks: bool = True


@dataclass(frozen=True)
class StepState:
    """How far a step of the visit is: a shape (new, begun, normal, abnormal, unseen, flag) and words."""

    shape: str
    words: str


class VisitStep(Registered, Protocol):
    """One page of a visit, in the bar of every page of the visit."""

    title: str

    def url(self, visit: Visit) -> str: ...
    def state(self, visit: Visit) -> StepState: ...


class SignCheck(Registered, Protocol):
    """Says what is missing. Must not write."""

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]: ...


class SignStep(Registered, Protocol):
    """Runs inside the signing transaction, the record locked and not signed yet."""

    def run(self, record: Record, *, actor: Actor, now: datetime) -> None: ...


class LetterPart(Registered, Protocol):
    """Contributes to a record's letter, from recorded facts only. `today` is the clinic's date."""

    def part(self, record: Record, *, language: str, today: date) -> Part: ...


class PatientPanel(Registered, Protocol):
    """A block of the patient's page: a template and plain values for it. `column` is main or side."""

    template: str
    column: str

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]: ...


class IntakePanel(Registered, Protocol):
    """A block of the intake page; it posts to a URL of its own room."""

    title: str
    template: str

    def context(self, visit: Visit, *, actor: Actor, today: date) -> dict[str, Any]: ...


@dataclass(frozen=True)
class CallBackRow:
    key: str
    label: str
    due_on: date
    latest_on: date | None = None


class CallBackSource(Registered, Protocol):
    """What this room wants the patient called back for; None of it is stored but as call-backs."""

    def rows(self, patient: Patient, *, today: date) -> list[CallBackRow]: ...


@dataclass(frozen=True)
class Flag:
    """A word beside a visit on Today: a shape and words."""

    shape: str
    words: str


class TodayFlag(Registered, Protocol):
    """Flags for all visits of a page in one go: visit id to flags. A fixed number of queries."""

    def flags(self, visits: list[Visit], *, today: date) -> dict[int, list[Flag]]: ...


class Merge(Registered, Protocol):
    """Moves what is free of a patient that was merged into another; frozen rows stay."""

    def merge(self, patient: Patient, *, into: Patient, actor: Actor, now: datetime) -> None: ...


class Export(Registered, Protocol):
    """Rows of a patient as plain values, for the practice's export."""

    def rows(self, patient: Patient) -> list[dict[str, Any]]: ...


@dataclass(frozen=True)
class Found:
    title: str
    words: str
    url: str


class Search(Registered, Protocol):
    """Something besides people and patients that the search box finds."""

    def find(self, query: str, *, limit: int) -> list[Found]: ...


@dataclass(frozen=True)
class HeadsUpPlace:
    """A station that a heads-up can be pinned to. `name` is the station's code, at most three letters.

    `region` says where it lies on the outline of the animal: head, back, chest, belly, rear, front-legs,
    hind-legs, all-over. `paired`: left and right are asked.
    """

    name: str
    order: int
    title: str
    region: str = "all-over"
    paired: bool = False


class RecordsPage(Registered, Protocol):
    """A page of this room among the Records: foods, products, protocols. Shown to those who hold `right`."""

    title: str
    words: str
    right: Right

    def url(self) -> str: ...


@dataclass(frozen=True)
class Choice:
    """One answer that the clinic's details offer; `name` is what is stored."""

    name: str
    order: int
    title: str


visit_steps: Registry[VisitStep] = Registry()
sign_checks: Registry[SignCheck] = Registry()
sign_steps: Registry[SignStep] = Registry()
letter_parts: Registry[LetterPart] = Registry()
patient_panels: Registry[PatientPanel] = Registry()
intake_panels: Registry[IntakePanel] = Registry()
call_back_sources: Registry[CallBackSource] = Registry()
today_flags: Registry[TodayFlag] = Registry()
merges: Registry[Merge] = Registry()
exports: Registry[Export] = Registry()
searches: Registry[Search] = Registry()
heads_up_places: Registry[HeadsUpPlace] = Registry()
records_pages: Registry[RecordsPage] = Registry()
jurisdictions: Registry[Choice] = Registry()
