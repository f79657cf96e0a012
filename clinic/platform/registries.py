"""Where the upper rooms plug in: one registry and one protocol class each, filled in `AppConfig.ready()`.

`clinic` asks a registry and never an upper room. What is registered is ordered by `order`, then by name.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any, Generic, Protocol, TypeVar, runtime_checkable

from django.urls import reverse

from clinic.letters.document import Block, Part
from clinic.letters.texts import Texts
from clinic.mail.models import Message
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.promises.fold import Promise
from clinic.promises.models import PromiseStep
from clinic.visits.calendar_file import Entry
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
    def asks(self, visit: Visit) -> Mapping[str, Any]:
        """What `state` wants to be told: expressions by name, asked for all steps in one query."""
        ...

    def state(self, visit: Visit, told: Mapping[str, Any]) -> StepState: ...


class SignCheck(Registered, Protocol):
    """Says what is missing. Must not write."""

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]: ...


class SignStep(Registered, Protocol):
    """Runs inside the signing transaction, the record locked and not signed yet."""

    def run(self, record: Record, *, actor: Actor, now: datetime) -> None: ...


class LetterPart(Registered, Protocol):
    """Contributes to a record's letter, from recorded facts only. `today` is the clinic's date."""

    def part(self, record: Record, *, language: str, today: date) -> Part: ...


class LetterTexts(Registered, Protocol):
    """The texts of letters of this room, as its files say them, also where a clinic words them otherwise.
    `name` is the room's."""

    def texts(self, language: str) -> Texts: ...


class SummaryPart(Registered, Protocol):
    """A named part of the summary that goes to a colleague, from recorded facts only. `title` hangs in the
    margin. Without blocks the part is printed as empty: it is never left out."""

    title: str

    def blocks(self, patient: Patient, *, today: date) -> tuple[Block, ...]: ...


class PatientPanel(Registered, Protocol):
    """A block of the patient's page: a template and plain values for it. `column` is main or side."""

    template: str
    column: str

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]: ...


class IntakePanel(Registered, Protocol):
    """A block of the intake page; it posts to a URL of its own room. No values: nothing to show."""

    title: str
    template: str

    def context(self, visit: Visit, *, actor: Actor, today: date) -> dict[str, Any]: ...


@dataclass(frozen=True)
class CallBackRow:
    key: str
    label: str
    due_on: date
    latest_on: date | None = None
    nature: str = ""  # of CallBack.Nature
    never: bool = False  # long due by age alone: nothing of it is recorded
    may_wait: bool = False  # harmless enough to be held out from asking; silence is no


class CallBackSource(Registered, Protocol):
    """What this room wants the patient called back for; None of it is stored but as call-backs."""

    def rows(self, patient: Patient, *, today: date) -> list[CallBackRow]: ...


@runtime_checkable
class KeepsItself(Protocol):
    """A source of call-backs that writes its own rows, and knows by itself which a night has changed.

    The patient is held. Returns how many stand.
    """

    def refresh(self, patient: Patient, *, today: date, now: datetime) -> int: ...


class CalendarPart(Registered, Protocol):
    """Entries of a patient that its owner was once given as a calendar file, as they stand now.

    Asked as a letter leaves; none where no file was ever made. It may note what it told.
    """

    def entries(self, patient: Patient, *, now: datetime) -> list[Entry]: ...


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


class RecordPanel(Registered, Protocol):
    """What a room says of a record in short, on the plan and beside the signature."""

    title: str
    template: str

    def context(self, record: Record, *, actor: Actor, today: date) -> dict[str, Any]: ...


@dataclass(frozen=True)
class Movable:
    """Something entered in one record that may belong to another patient's.

    `where` and `words`: what was said; `there`: what stands at the same place of the other record. `hinder`
    says why it cannot go there. `asks` is a question that choosing it answers with yes.
    """

    key: str
    where: str
    words: str
    seen_by: Staff
    there: str = ""
    hinder: str = ""
    asks: str = ""

    @property
    def token(self) -> str:
        """Changes with anything of this row that a person may have looked at before choosing it."""
        told = (self.key, self.where, self.words, self.seen_by.pk, self.there, self.hinder, self.asks)
        return sha256(repr(told).encode()).hexdigest()[:32]


class WrongPatient(Registered, Protocol):
    """What of a room's entries can be put on the right patient; both records are open, and held to move."""

    title: str

    def rows(self, record: Record, *, to: Record, actor: Actor, now: datetime) -> list[Movable]: ...

    def move(
        self, record: Record, keys: Sequence[str], *, to: Record, actor: Actor, now: datetime
    ) -> None: ...


@dataclass(frozen=True)
class RecordsPage:
    """A page of a room among the Records: foods, products, protocols. Shown to those who hold `right`.

    `at`: the name of its address.
    """

    name: str
    order: int
    title: str
    words: str
    right: Right
    at: str

    def url(self) -> str:
        return reverse(self.at)


@dataclass(frozen=True)
class OfflinePage:
    """A page that a tablet opens again without a network.

    `pattern`: the whole path, a regular expression that Python and JavaScript read alike. `files`: beginnings
    of the names of the static files that it needs.
    """

    name: str
    order: int
    pattern: str
    files: tuple[str, ...]


class PromiseSource(Registered, Protocol):
    """What this room promised: a person and a day for each, until something happened that closed it.

    `open`: one query; `by` only those whose own day is not later, and those of the keys in `also`. A source
    leaves out what `clinic.promises.queries.closed` says is closed. `stepped` runs in the step's transaction.
    """

    def open(
        self, *, by: date | None = None, also: frozenset[str] = frozenset(), patient: Patient | None = None
    ) -> list[Promise]: ...
    def one(self, key: str) -> Promise | None: ...
    def stepped(self, key: str, step: PromiseStep, *, actor: Actor, now: datetime) -> None: ...


class Ending(Registered, Protocol):
    """What ends with a patient's life, in the transaction that records its death, in words, a line each.

    `standing` must not write. `on`: the day of the death; `why` names it.
    """

    title: str

    def standing(self, patient: Patient, *, today: date) -> list[str]: ...
    def end(self, patient: Patient, *, why: str, on: date, actor: Actor, now: datetime) -> list[str]: ...


class LastingChange(Registered, Protocol):
    """Told, in the same transaction, that a part of a patient was noted as gone, or is there after all,
    or that its sex or neuter status was corrected."""

    def changed(self, patient: Patient, *, actor: Actor, now: datetime) -> None: ...


@dataclass(frozen=True)
class NotNow:
    """Why a message does not leave: the state it goes into; `later`: it waits on, until then."""

    state: str
    why: str
    later: datetime | None = None


class MessageCheck(Registered, Protocol):
    """Asks once more, in the transaction that hands a message over, whether it may leave.

    `hold` locks what the answer rests upon, answers None where the message may leave, and may write the
    message anew. `left` runs in the transaction that notes that it left, `came_back` in the one that notes
    that its address does not work after all.
    """

    def hold(self, message: Message, *, now: datetime) -> NotNow | None: ...
    def left(self, message: Message, *, now: datetime) -> None: ...
    def came_back(self, message: Message, *, now: datetime) -> None: ...


class PatientWatcher(Registered, Protocol):
    """Told, in the same transaction, that patients were booked, have other owners, left or came."""

    def changed(self, patient_ids: Sequence[int], *, now: datetime) -> None: ...


class OutsideTaker(Registered, Protocol):
    """Takes what an owner says was done elsewhere into its own record; `name` is the call-back's source.

    Says in words what it wrote, or "" where a thing of this key is no record of its own. Raises VisitError.
    `stored`: the kept proof, empty where there is none.
    """

    def take(
        self, *, patient: Patient, key: str, on: date, stored: str, words: str, product: str, lot: str,
        actor: Actor, now: datetime,
    ) -> str: ...  # fmt: skip


class ThingWords(Registered, Protocol):
    """Says a call-back's label in an owner's language; "" where this room does not know it."""

    def say(self, label: str, language: str) -> str: ...


@dataclass(frozen=True)
class Tap:
    """A button: it opens a page, or with `posts` does something at once; `sends` are the names and values."""

    words: str
    url: str
    posts: bool = False
    sends: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class MorningRow:
    """One thing for the manager to look at: a name with its page, small words, a mark, what one tap does."""

    name: str
    url: str
    words: str
    mark: "Flag"
    taps: tuple[Tap, ...] = ()


class MorningPart(Registered, Protocol):
    """A block of the manager's morning. `beside` says in a few words what its rows are. A fixed number of
    queries; without rows the block is left out."""

    title: str
    beside: str

    def rows(self, *, actor: Actor, today: date) -> list[MorningRow]: ...


class LifestyleWords(Registered, Protocol):
    """What the answers about an animal's life are called: code to words. At most one query."""

    def words(self) -> dict[str, str]: ...


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
letter_texts: Registry[LetterTexts] = Registry()
summary_parts: Registry[SummaryPart] = Registry()
patient_panels: Registry[PatientPanel] = Registry()
intake_panels: Registry[IntakePanel] = Registry()
call_back_sources: Registry[CallBackSource] = Registry()
today_flags: Registry[TodayFlag] = Registry()
calendar_parts: Registry[CalendarPart] = Registry()
merges: Registry[Merge] = Registry()
exports: Registry[Export] = Registry()
searches: Registry[Search] = Registry()
heads_up_places: Registry[HeadsUpPlace] = Registry()
record_panels: Registry[RecordPanel] = Registry()
wrong_patient_parts: Registry[WrongPatient] = Registry()
records_pages: Registry[RecordsPage] = Registry()
personal_pages: Registry[RecordsPage] = Registry()  # how one works, beside one's PIN and sign-in
jurisdictions: Registry[Choice] = Registry()
promise_sources: Registry[PromiseSource] = Registry()
endings: Registry[Ending] = Registry()
lasting_changes: Registry[LastingChange] = Registry()
offline_pages: Registry[OfflinePage] = Registry()
message_checks: Registry[MessageCheck] = Registry()
patient_watchers: Registry[PatientWatcher] = Registry()
morning_parts: Registry[MorningPart] = Registry()
lifestyle_words: Registry[LifestyleWords] = Registry()
outside_takers: Registry[OutsideTaker] = Registry()
thing_words: Registry[ThingWords] = Registry()


def tell_watchers(patient_ids: Sequence[int], *, now: datetime) -> None:
    """In the caller's transaction."""
    for watcher in patient_watchers:
        watcher.changed(patient_ids, now=now)
