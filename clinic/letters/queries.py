"""Questions about letters: the one asked for, and what was sent, when, and what failed and why."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Q
from django.http import Http404
from django.utils import timezone

from clinic.letters.models import Letter
from clinic.mail.bounces import CAN_COME_BACK
from clinic.mail.models import Message, MessageStep
from clinic.mail.telling import MARKS, Told, told
from clinic.patients.facts import died_words
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.visits.models import Record, Visit

PAGE = 50


def access_record(actor: Actor, visit_id: int) -> Record:
    """The record behind a visit's letter, with what a letter reads of the visit. 404 when there is none."""
    record = (
        Record.objects.select_related("visit__patient", "visit__clinician", "visit__technician", "signed_by")
        .filter(visit=visit_id)
        .first()
    )
    if record is None:
        raise Http404
    return record


def access_letter(actor: Actor, letter_id: int) -> Letter:
    """One frozen letter with its file. 404 when there is none."""
    letter = (
        Letter.objects.select_related("patient", "owner", "record__visit", "file", "by", "handed__by")
        .filter(pk=letter_id)
        .first()
    )
    if letter is None:
        raise Http404
    return letter


def access_message(actor: Actor, message_id: str) -> Message:
    """One message. 404 when there is none."""
    message = Message.objects.select_related("owner").filter(pk=message_id).first()
    if message is None:
        raise Http404
    return message


@dataclass(frozen=True)
class Version:
    letter_id: int
    version: int
    at: datetime
    why_again: str


def versions(letter: Letter) -> tuple[Version, ...]:
    """All versions of the same letter, newest first."""
    if letter.record_id is None:  # a condolence has one version
        return (Version(letter.pk, letter.version, letter.at, letter.why_again),)
    same = Letter.objects.filter(record=letter.record_id, kind=letter.kind, number=letter.number)
    rows = same.order_by("-version")
    return tuple(Version(row.pk, row.version, row.at, row.why_again) for row in rows)


@dataclass(frozen=True)
class Step:
    words: str
    why: str
    at: datetime


@dataclass(frozen=True)
class Going:
    """One message as a page shows it. `decides`: who may let it go again: everybody, clinician, author."""

    message_id: str
    patient: str
    to: str
    address: str
    what: str
    letter_id: int | None
    owner_id: int | None
    state: str
    mark: Told
    when: str
    attempts: int
    can_send_again: bool
    can_come_back: bool
    since: str
    died: str = ""
    decides: str = "everybody"
    address_now: str = ""
    steps: tuple[Step, ...] = ()


CAN_AGAIN = frozenset({"failed", "held", "unknown", "sent"})


def _going(message: Message, *, clinic: str, now: datetime, steps: tuple[Step, ...] = ()) -> Going:
    mark = told(message.state, message.state_why)
    letter = message.letter
    return Going(
        message_id=str(message.pk),
        patient=letter.patient.name if letter else "",
        to=message.owner.name if message.owner else message.to_whom,
        address=message.to_address,
        what=_what(message, clinic),
        letter_id=letter.pk if letter else None,
        owner_id=message.owner_id,
        state=message.state,
        mark=mark,
        when=_when(message, now),
        attempts=message.attempts,
        can_send_again=message.state in CAN_AGAIN,
        can_come_back=message.state in CAN_COME_BACK,
        since=message.state_since.isoformat(),
        died=died_words(letter.patient) if letter else "",
        decides=_decides(message),
        address_now=_address_now(message),
        steps=steps,
    )


def _what(message: Message, clinic: str) -> str:
    """Its subject without this clinic's name, which says something to its owner alone."""
    return message.subject.removesuffix(f", {clinic}")


def _when(message: Message, now: datetime) -> str:
    """When it leaves, where that is still to come; else since when it stands as it does."""
    leaves = message.next_try_at if message.state == Message.State.WAITING else None
    if leaves and leaves > now:
        return f"leaves {_minute(leaves)}"
    return _minute(message.state_since)


def _minute(at: datetime) -> str:
    return f"{timezone.localtime(at):%-d %b, %H:%M}"


def handed_words(letter: Letter) -> str:
    """Who gave it to the owner on paper, and when; empty where nobody did."""
    if not hasattr(letter, "handed"):
        return ""
    return f"{letter.handed.by.full_name}, {timezone.localtime(letter.handed.at):%-d %b %Y, %H:%M}"


def let_go_to(letter: Letter) -> str:
    """Where a clinician may let a letter about a dead patient go; empty where that is no question."""
    owner = letter.owner
    asked = letter.patient.deceased_on is not None and letter.kind != Letter.Kind.CONDOLENCE
    by_mail = owner.email and owner.letters_by != Owner.LettersBy.PAPER
    return owner.email if asked and by_mail and not letter.messages.exists() else ""


def _decides(message: Message) -> str:
    if message.purpose == Message.Purpose.CONDOLENCE:
        return "author"
    dead = message.letter is not None and message.letter.patient.deceased_on is not None
    return "clinician" if dead else "everybody"


def _address_now(message: Message) -> str:
    """The owner's address, where it has been changed since the message was made."""
    now = message.owner.email if message.owner else ""
    return now if now != message.to_address else ""


def messages_of(letter: Letter, *, clinic: str, now: datetime) -> tuple[Going, ...]:
    """The letter's messages with every step they took. `clinic`: the clinic's name."""
    rows = (
        letter.messages.select_related("owner", "letter__patient")
        .prefetch_related("steps")
        .order_by("-made_at")
    )
    return tuple(
        _going(row, clinic=clinic, now=now, steps=tuple(_step(each) for each in row.steps.all()))
        for row in rows
    )


def _step(step: MessageStep) -> Step:
    _shape, _tone, words = MARKS[step.state]
    return Step(words, step.why, step.at)


LOOKED_BACK = timedelta(days=60)
ASKS_SOMEBODY = ("failed", "unknown", "held")


def to_look_at(now: datetime) -> tuple[tuple[str, str, int], ...]:
    """States of mails of the last two months that somebody has to decide about: state, words, how many."""
    rows = Message.objects.filter(state__in=ASKS_SOMEBODY, state_since__gte=now - LOOKED_BACK)
    counted = dict(rows.order_by("state").values_list("state").annotate(Count("pk")))
    return tuple((each, MARKS[each][2], counted[each]) for each in ASKS_SOMEBODY if each in counted)


@dataclass(frozen=True)
class SentPage:
    rows: tuple[Going, ...]
    to_print: tuple["ToPrint", ...]
    older: str


@dataclass(frozen=True)
class ToPrint:
    """A letter of a living household that no mail carries."""

    letter_id: int
    patient: str
    owner: str
    why: str
    at: datetime


def what_was_sent(*, clinic: str, now: datetime, state: str = "", before: datetime | None = None) -> SentPage:
    """Newest first, a page at a time by keyset; letters without a mail beside it. `clinic`: its name."""
    messages = Message.objects.select_related("owner", "letter__patient").order_by("-made_at", "-pk")
    if state:
        messages = messages.filter(state=state)
    if before:
        messages = messages.filter(made_at__lt=before)
    rows = list(messages[: PAGE + 1])
    older = rows[PAGE - 1].made_at.isoformat() if len(rows) > PAGE else ""
    going = tuple(_going(row, clinic=clinic, now=now) for row in rows[:PAGE])
    return SentPage(going, to_print(), older)


def to_print() -> tuple[ToPrint, ...]:
    """The newest letters that nobody gets by mail: no address, or paper wanted."""
    letters = (
        Letter.objects.select_related("patient", "owner")
        .filter(file__isnull=False)
        .filter(Q(owner__letters_by__in=["paper", "both"]) | Q(owner__email=""))
        .filter(patient__deceased_on=None)
        .filter(handed=None)
        .exclude(record__visit__outcome__in=[Visit.Outcome.DIED, Visit.Outcome.EUTHANISED])
        .order_by("-at")[:20]
    )
    return tuple(
        ToPrint(
            letter_id=letter.pk,
            patient=letter.patient.name,
            owner=letter.owner.name,
            why="no e-mail" if not letter.owner.email else letter.owner.get_letters_by_display(),
            at=letter.at,
        )
        for letter in letters
    )
