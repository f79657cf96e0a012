"""The owner is told by mail that a visit has another day, or does not take place: plain, short, once.

Never after a death, and never to somebody who said stop, which is asked again at the moment of sending
(common practice). A service message is neutral and without promotion (UK PECR, reg. 22); confirming an
appointment is transactional (US CAN-SPAM).
"""

from dataclasses import dataclass
from datetime import date, datetime, time

from clinic.letters.texts import Texts
from clinic.letters.wording import EN, clock, long_day, weekday, words
from clinic.mail.actions import queue_sending
from clinic.mail.models import Message, MessageStep
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.platform.addresses import town
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.visits.models import BookingChange, Record


@dataclass(frozen=True)
class Telling:
    """Whether the owner can be told by mail: to which address, or why not, as a sentence for the staff."""

    owner: Owner | None
    why_not: str = ""

    @property
    def can(self) -> bool:
        return not self.why_not


@dataclass(frozen=True)
class Moment:
    """A day, with an hour or without; `week`: any day of its week."""

    on: date
    at: time | None = None
    week: bool = False


@dataclass(frozen=True)
class Changed:
    """What the mail says of the change. `to`: None when it was called off; `what_for`: as in the letter."""

    was: Moment
    to: Moment | None = None
    what_for: str = ""


def telling(patient: Patient, *, record: Record | None) -> Telling:
    """`record`: the one at which the visit was planned, None for a booking. One query."""
    ownership = (
        patient.ownerships.select_related("owner").filter(until=None).order_by("-is_first", "pk").first()
    )
    owner = ownership.owner if ownership else None
    if patient.deceased_on:
        return Telling(owner, f"{patient.name} has died: no mail is sent.")
    if owner is None:
        return Telling(None, "Nobody stands as the owner.")
    if record is not None and not record.is_signed:
        return Telling(owner, "The letter has not gone out yet; it will have what is agreed now.")
    if not owner.email:
        return Telling(owner, f"{owner.name} has no e-mail address: tell them by telephone.")
    if owner.letters_by == Owner.LettersBy.PAPER:
        return Telling(owner, f"{owner.name} wants no mail: tell them by telephone.")
    return Telling(owner)


def in_words(moment: Moment, w: Texts = EN) -> str:
    """Monday 16 March 2026, 11:00 am; any day in the week of Monday 16 March 2026."""
    day = w("booking.day", weekday=weekday(moment.on, w), day=long_day(moment.on, w))
    if moment.week:
        return w("booking.week", day=day)
    return w("booking.at", day=day, time=clock(moment.at, w)) if moment.at else day


def queue_change(
    *,
    change: BookingChange,
    patient: Patient,
    owner: Owner,
    changed: Changed,
    calendar: bytes | None,
    actor: Actor,
    now: datetime,
) -> Message:
    """In the caller's transaction: the mail is there with the change, or neither is."""
    w = words(owner.language)
    message = Message.objects.create(
        purpose=Message.Purpose.SERVICE,
        owner=owner,
        booking_change=change,
        calendar=calendar.decode() if calendar else "",
        to_address=owner.email,
        subject=_subject(patient, changed, w)[:200],
        body=_body(patient, changed, clinic_details(), w, has_file=calendar is not None),
        once=f"booking-change:{change.pk}",
        state_since=now,
        made_by=actor.staff,
        made_at=now,
    )
    MessageStep.objects.create(message=message, state=message.state, at=now, by=actor.staff)
    queue_sending(message.pk)
    return message


def _subject(patient: Patient, changed: Changed, w: Texts) -> str:
    if changed.to:
        return w("booking.moved_subject", patient=patient.name, to=in_words(changed.to, w))
    return w("booking.off_subject", patient=patient.name, was=in_words(changed.was, w))


def _body(patient: Patient, changed: Changed, clinic: ClinicDetails, w: Texts, *, has_file: bool) -> str:
    """The reason stays in the house: it may be somebody's own business."""
    was, phone = in_words(changed.was, w), clinic.phone
    if changed.to:
        lines = [w("booking.moved", patient=patient.name), ""]
        lines += [w("booking.before", was=was), w("booking.now", to=in_words(changed.to, w))]
    else:
        lines = [w("booking.off", patient=patient.name), "", w("booking.was_on", was=was)]
    if changed.what_for:
        lines.append(w("booking.what_for", what=changed.what_for))
    if has_file:
        lines += ["", w("booking.file_moves" if changed.to else "booking.file_takes_out")]
    lines += ["", w("booking.other_day" if changed.to else "booking.call", phone=phone)]
    place = town(clinic)
    lines += ["", clinic.name, f"{clinic.street}, {place}"]
    lines.append(w("mail.emergencies", phone=clinic.emergency_phone))
    return "\n".join(lines) + "\n"
