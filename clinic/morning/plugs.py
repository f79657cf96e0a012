"""What the clinic's own subjects put on the manager's morning; the rooms add theirs."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.urls import reverse
from django.utils import timezone

from clinic.mail.models import Message
from clinic.mail.telling import told
from clinic.morning.queries import undelivered
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.queries import clinic_name
from clinic.platform.registries import Flag, MorningRow, Tap, morning_parts
from clinic.promises.pages import promise_row
from clinic.promises.queries import open_promises
from clinic.visits import day
from clinic.visits.today_later import letterless_row, result_row, unsigned_row
from clinic.visits.today_sight import Sight, when

S = Message.State


@dataclass
class DidNotArrive:
    name: str = "undelivered"
    order: int = 10
    title: str = "Mail that did not arrive"
    beside: str = "oldest first"

    def rows(self, *, actor: Actor, today: date) -> list[MorningRow]:
        clinic = clinic_name()
        return [self._row(each, actor, clinic) for each in undelivered(timezone.now())]

    def _row(self, message: Message, actor: Actor, clinic: str) -> MorningRow:
        owner = message.owner
        mark = told(message.state, message.state_why)
        at = when(message.state_since, timezone.localdate())
        subject = message.subject.removesuffix(f", {clinic}")
        return MorningRow(
            name=owner.name if owner else message.to_whom or message.to_address,
            url=reverse("letter", args=[message.letter_id])
            if message.letter_id
            else reverse("owner", args=[owner.pk])
            if owner
            else reverse("messages"),
            words=". ".join(filter(None, (f"{subject}; {at}", mark.why))),
            mark=Flag(mark.shape, mark.words),
            taps=tuple(self._taps(message, actor)),
        )

    def _taps(self, message: Message, actor: Actor) -> list[Tap]:
        owner, found = message.owner, []
        bounced = bool(owner) and owner is not None and owner.email_state == Owner.EmailState.BOUNCED
        if not bounced and message.state in (S.FAILED, S.UNKNOWN, S.HELD) and actor.may(Right.SEND_LETTER):
            sends = (("since", message.state_since.isoformat()), ("morning", "1"))
            url = reverse("message-again", args=[message.pk])
            found.append(Tap("Send again", url, posts=True, sends=sends))
        if message.letter_id and message.letter and hasattr(message.letter, "file"):
            found.append(Tap("Print it", reverse("letter-pdf", args=[message.letter_id])))
        if owner and bounced:
            phone = next(iter(owner.phones.all()), None)
            if phone:
                found.append(Tap(f"Call {phone.number}", f"tel:{phone.digits}"))
            if owner.street and actor.may(Right.EDIT_PEOPLE):
                url = reverse("morning-paper", args=[owner.pk])
                found.append(Tap("Paper from now on", url, posts=True))
        return found


@dataclass
class NotSigned:
    name: str = "unsigned"
    order: int = 20
    title: str = "Not signed"
    beside: str = "the animal is long home"

    def rows(self, *, actor: Actor, today: date) -> list[MorningRow]:
        sight, found = _sight(actor, today), []
        for each in day.unsigned_of_earlier_days(today):
            owed = unsigned_row(each, sight)
            who = each.record.visit.clinician
            remind = Tap(
                f"Remind {who.full_name}", reverse("morning-remind", args=[each.record.pk]), posts=True
            ) if who and who.is_active else None  # fmt: skip
            found.append(MorningRow(owed.name, owed.url, owed.words, owed.mark, (remind,) if remind else ()))
        return found


@dataclass
class NotDelivered:
    name: str = "letterless"
    order: int = 25
    title: str = "Letters not delivered"
    beside: str = "not mailed, and not given on paper"

    def rows(self, *, actor: Actor, today: date) -> list[MorningRow]:
        above = {each.pk for each in undelivered(timezone.now())}  # stands there, with what went wrong
        left = [
            each
            for each in day.gone_without_letter(today)
            if each.message is None or each.message.pk not in above
        ]
        sight = _sight(actor, today, day.first_owners([each.visit.patient_id for each in left]))
        found = []
        for each in left:
            owed = letterless_row(each, sight)
            call = (Tap(f"Call {owed.call}", f"tel:{owed.call}"),) if owed.call else ()
            found.append(MorningRow(owed.name, owed.url, owed.words, owed.mark, call))
        return found


@dataclass
class LatePromises:
    name: str = "promises"
    order: int = 30
    title: str = "Promises late"
    beside: str = "the longest late first"

    def rows(self, *, actor: Actor, today: date) -> list[MorningRow]:
        late = sorted(open_promises(by=today - timedelta(days=1)), key=lambda each: each.due_on)
        found = []
        for each in late:
            row = promise_row(each, me=actor.staff.pk, today=today)
            hand = Tap("Hand on or move", row.url)
            mark = Flag(row.shape, row.mark)
            words = f"{row.what.rstrip('.')}. {row.who}"
            found.append(MorningRow(row.patient, row.url, words, mark, (hand,)))
        return found


@dataclass
class UnreadResults:
    name: str = "results"
    order: int = 35
    title: str = "Results nobody has read"
    beside: str = ""

    def rows(self, *, actor: Actor, today: date) -> list[MorningRow]:
        sight = _sight(actor, today)
        owed = [result_row(each, sight) for each in day.unread_results()]
        return [MorningRow(each.name, each.url, each.words, each.mark) for each in owed]


def _sight(actor: Actor, today: date, owners: dict[int, Owner] | None = None) -> Sight:
    """What the rows that Today has too are written with."""
    return Sight(actor, timezone.now(), today, owners=owners or {}, stages={}, flags={}, messages={})


def register() -> None:
    """Called once, when the app is ready."""
    for part in (DidNotArrive(), NotSigned(), NotDelivered(), LatePromises(), UnreadResults()):
        morning_parts.add(part)
