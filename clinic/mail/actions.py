"""What leaves by e-mail: a row first, then one attempt at a time, each told by its state.

waiting → sending → sent; a passing fault goes back to waiting with a later try; a lasting one is failed; a
worker that died in mid-send leaves *unknown*, because the other side may have it: a person decides.

After a death no message leaves, but a condolence that its clinician wrote and one that a clinician let go:
see `_claim`. What a worker had taken before the death was entered has left; the death names it.
"""

import smtplib
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet
from procrastinate.contrib.django import app

from clinic.letters.document import Document
from clinic.letters.models import Letter, LetterFile
from clinic.letters.sheet import letter_title, mail_body
from clinic.letters.tasks_queue import queue_rendering
from clinic.mail.models import Message, MessageStep, about_patient
from clinic.mail.smtp import InDoubt
from clinic.mail.transport import send_now
from clinic.owner_page.actions import link_for_mail
from clinic.owner_page.models import OwnerLink
from clinic.patients.models import Patient
from clinic.people.actor import Actor, NotAllowed
from clinic.people.models import Owner, Staff
from clinic.people.rights import Right
from clinic.platform.registries import NotNow, message_checks
from clinic.visits.models import BookingChange, NextVisit

QUEUE = "mail"
SEND_TASK = "clinic.mail.tasks.send_message"
LONGEST_SENDING = timedelta(minutes=5)
WAITS = tuple(timedelta(minutes=m) for m in (1, 5, 15, 60, 240))
LASTING = range(500, 600)
AGAIN = frozenset({Message.State.FAILED, Message.State.HELD, Message.State.UNKNOWN, Message.State.SENT})
SENT_AGAIN = "sent again"
LOADED = (
    "letter__file",
    "letter__patient",
    "owner",
    "booking_change__next_visit__patient",
    "booking_change__visit__patient",
)
STOPPABLE = frozenset({Message.State.WAITING, Message.State.HELD, Message.State.FAILED})
LEAVING = frozenset({Message.State.SENDING, Message.State.UNKNOWN})
FOR_THE_LIVING = frozenset({Message.Purpose.MEDICAL, Message.Purpose.SERVICE, Message.Purpose.MARKETING})


class CannotSendAgain(Exception):
    """Only what has ended (sent, failed, held, unknown) can be sent again."""


def queue_letter(*, letter: Letter, document: Document, actor: Actor, now: datetime) -> Message | None:
    """The mail that carries a letter; None where the owner has no address or wants paper only."""
    carries = _carrying(letter, document)
    return write_message(**carries, actor=actor, now=now) if carries else None


@transaction.atomic
def let_go(*, letter: Letter, document: Document, actor: Actor, now: datetime) -> Message | None:
    """A clinician says that this letter leaves by mail though the patient has died.

    None where no mail can carry it, where one does already, or where the patient lives: its letters leave by
    themselves.
    """
    actor.require(Right.ASSESS)
    patient = Patient.objects.select_for_update(no_key=True).get(pk=letter.patient_id)
    carries = _carrying(letter, document)
    if patient.deceased_on is None or not carries or letter.messages.exists():
        return None
    message = write_message(**carries, released_by=actor.staff, released_at=now, actor=actor, now=now)
    if LetterFile.objects.filter(letter=letter).exists():
        queue_sending(message.pk)
    else:
        queue_rendering(letter.pk)  # which queues the sending
    return message


def note_sent(
    *, letter: Letter, document: Document, refused: str = "", actor: Actor, now: datetime
) -> Message | None:
    """A letter that left in its time, at `now`: noted as sent, or refused, and never queued.

    None as for `queue_letter`.
    """
    carries = _carrying(letter, document)
    if not carries:
        return None
    state = Message.State
    ended = state.FAILED if refused else state.SENT
    message = Message.objects.create(
        **carries,
        state=ended,
        state_since=now,
        state_why=refused[:300],
        attempts=1,
        sent_at=None if refused else now,
        made_by=actor.staff,
        made_at=now,
    )
    MessageStep.objects.bulk_create(
        [
            MessageStep(message=message, state=state.WAITING, at=now, by=actor.staff),
            MessageStep(message=message, state=state.SENDING, at=now),
            MessageStep(message=message, state=ended, why=refused[:300], at=now),
        ]
    )
    (mark_bounced if refused else _works)(message)
    return message


def _carrying(letter: Letter, document: Document) -> dict[str, Any]:
    owner = letter.owner
    if not owner.email or owner.letters_by == Owner.LettersBy.PAPER:
        return {}
    return {
        "purpose": Message.Purpose.MEDICAL,
        "owner": owner,
        "letter": letter,
        "to_address": owner.email,
        "subject": letter_title(document)[:200],
        "body": mail_body(document),
        "once": f"letter:{letter.pk}",
    }


def queue_condolence(*, letter: Letter, document: Document, actor: Actor, now: datetime) -> Message:
    """The mail that carries a letter of condolence, as its clinician confirmed it: its text, and its PDF.

    For an owner with an address; whoever calls has looked.
    """
    return write_message(
        purpose=Message.Purpose.CONDOLENCE,
        owner=letter.owner,
        letter=letter,
        to_address=letter.owner.email,
        subject=letter_title(document)[:200],
        body=mail_body(document),
        once=f"letter:{letter.pk}",
        actor=actor,
        now=now,
    )


def queue_medical(
    *,
    owner: Owner,
    animals: Sequence[Patient],
    subject: str,
    body: str,
    once: str,
    actor: Actor,
    now: datetime,
) -> Message:
    """A mail about the health of one household's animals that carries no letter. Goes at once.

    For an owner with an address; whoever calls has looked. No "stop" to reminders keeps it back.
    """
    message = write_message(
        purpose=Message.Purpose.MEDICAL,
        owner=owner,
        to_address=owner.email,
        subject=subject[:200],
        body=body,
        once=once,
        actor=actor,
        now=now,
    )
    message.animals.set(animals)
    queue_sending(message.pk)
    return message


def call_off(*, messages: Sequence[Message], why: str, now: datetime) -> int:
    """What waits or is held leaves no more. Returns how many of them."""
    cancelled = Message.State.CANCELLED
    return sum(
        _step(each.pk, each.state, cancelled, now, why) for each in messages if each.state in STOPPABLE
    )


def queue_staff_mail(
    *, to_address: str, subject: str, body: str, once: str, actor: Actor, now: datetime
) -> Message:
    """A mail to somebody who works here (an invitation). Goes at once."""
    message = write_message(
        purpose=Message.Purpose.STAFF,
        owner=None,
        letter=None,
        to_address=to_address,
        subject=subject,
        body=body,
        once=once,
        actor=actor,
        now=now,
    )
    queue_sending(message.pk)
    return message


def write_message(*, actor: Actor, now: datetime, **fields: object) -> Message:
    """A row that waits, with its first step, in the caller's transaction; `once` makes it exist only once."""
    message = Message.objects.create(state_since=now, made_by=actor.staff, made_at=now, **fields)
    MessageStep.objects.create(message=message, state=message.state, at=now, by=actor.staff)
    return message


def queue_sending(message_id: uuid.UUID, *, at: datetime | None = None) -> None:
    """In the caller's transaction."""
    app.configure_task(SEND_TASK, queue=QUEUE, schedule_at=at).defer(message_id=str(message_id))


def queue_sendings(message_ids: Sequence[uuid.UUID], *, at: datetime) -> None:
    """Many at once, in one statement, in the caller's transaction."""
    if message_ids:
        jobs: list[dict[str, Any]] = [{"message_id": str(each)} for each in message_ids]
        app.configure_task(SEND_TASK, queue=QUEUE, schedule_at=at).batch_defer(*jobs)


def _step(message_id: uuid.UUID, old: str, new: str, now: datetime, why: str = "", **also: Any) -> bool:
    """One conditional change of state; False when another was faster."""
    with transaction.atomic():
        changed = Message.objects.filter(pk=message_id, state=old).update(
            state=new, state_since=now, state_why=why[:300], **also
        )
        if changed:
            MessageStep.objects.create(message_id=message_id, state=new, why=why[:300], at=now)
    return bool(changed)


def send(*, message_id: uuid.UUID, now: datetime) -> str:
    """Try once; returns the state it ended in. Nothing is locked while the other side talks."""
    state = Message.State
    message = Message.objects.select_related(*LOADED).get(pk=message_id)
    if message.state != state.WAITING or (message.next_try_at and message.next_try_at > now):
        return message.state
    if message.letter and not hasattr(message.letter, "file"):
        return message.state  # its rendering queues the sending again
    mine, stays, link = _claim(message, now)
    if not mine:
        return stays
    try:
        send_now(message, link)
    except smtplib.SMTPRecipientsRefused as refused:
        code, answer = next(iter(refused.recipients.values()))
        lasting = code in LASTING
        return _after_fault(message, lasting, f"{code} {_text(answer)}", now, bounced=lasting)
    except InDoubt as doubt:
        why = f"the other side broke off before it answered for the mail ({doubt}): it may have arrived"
        _step(message_id, state.SENDING, state.UNKNOWN, now, why)
        return state.UNKNOWN
    except smtplib.SMTPResponseException as fault:
        why = f"{fault.smtp_code} {_text(fault.smtp_error)}"
        return _after_fault(message, fault.smtp_code in LASTING, why, now)
    except (smtplib.SMTPException, OSError) as fault:
        return _after_fault(message, False, f"no connection: {fault}", now)
    with transaction.atomic():
        if not _step(message_id, state.SENDING, state.SENT, now, sent_at=now):
            # so slow that it was given up as unknown; now it is known
            why = "the other side was slow, and took it"
            _step(message_id, state.UNKNOWN, state.SENT, now, why, sent_at=now)
        for check in message_checks:
            check.left(message, now=now)
    _works(message)
    return state.SENT


@transaction.atomic
def _claim(message: Message, now: datetime) -> tuple[bool, str, OwnerLink | None]:
    """Take it for sending, and whether it is this worker's now; else in which state it stays, which is
    *sending*, too, where another worker was faster.

    With the link to the owner's page that it carries, which is there before the mail leaves.

    The patient is held meanwhile: a death either was entered before and is seen here, or waits until the
    claim stands and sees that. Stopping at once after a death, and asking again when it is sent,
    is common practice of reminders.
    """
    state = Message.State
    patient = _held_patient(message)
    if stopped := _stopped_by_death(message, patient, now) or _no_longer_true(message, now):
        return False, stopped, None
    for check in message_checks:
        if word := check.hold(message, now=now):
            return False, _not_now(message, word, now), None
    if _step(message.pk, state.WAITING, state.SENDING, now, attempts=message.attempts + 1):
        return True, state.SENDING, link_for_mail(message, now=now)
    return False, Message.objects.values_list("state", flat=True).get(pk=message.pk), None


def _not_now(message: Message, word: NotNow, now: datetime) -> str:
    if word.state != Message.State.WAITING:
        return _keep_back(message, word.state, word.why, now)
    Message.objects.filter(pk=message.pk, state=Message.State.WAITING).update(
        state_why=word.why[:300], next_try_at=word.later
    )
    queue_sending(message.pk, at=word.later)
    return Message.State.WAITING


def cancel(*, message_id: uuid.UUID, why: str, now: datetime, by: Staff | None = None) -> bool:
    """What has not left does not leave any more. False when it was not waiting, held or failed.

    Whoever calls has asked for the right, and runs it in a transaction.
    """
    changed = Message.objects.filter(pk=message_id, state__in=STOPPABLE).update(
        state=Message.State.CANCELLED, state_since=now, state_why=why[:300]
    )
    if changed:
        MessageStep.objects.create(
            message_id=message_id, state=Message.State.CANCELLED, why=why[:300], at=now, by=by
        )
    return bool(changed)


def _held_patient(message: Message) -> Patient | None:
    """Whom the message speaks of, as it stands now, held until the transaction ends; of several the dead one.

    A mail that names two animals, of which one died since it was written, reads wrong as a whole.
    """
    rows = Patient.objects.select_for_update(no_key=True)
    if about := message.about:
        return rows.get(pk=about.pk)
    named = list(rows.filter(pk__in=message.animals.values("pk")).order_by("pk"))
    return next((each for each in named if each.deceased_on), named[0] if named else None)


def _stopped_by_death(message: Message, patient: Patient | None, now: datetime) -> str:
    """The state that a death, or a death taken back, puts the message into; nothing where it may leave."""
    state, purpose = Message.State, Message.Purpose
    if patient is None:
        return ""
    if message.purpose == purpose.CONDOLENCE and patient.deceased_on is None:
        return _keep_back(message, state.HELD, f"{patient.name} is not recorded as dead any more", now)
    if message.purpose not in FOR_THE_LIVING or patient.deceased_on is None:
        return ""
    if message.purpose != purpose.MEDICAL:
        return _keep_back(message, state.CANCELLED, f"{patient.name} has died", now)
    let_go = Message.objects.filter(pk=message.pk, released_by__isnull=False).exists()
    return "" if let_go else _keep_back(message, state.HELD, held_since_death(patient.name), now)


def _keep_back(message: Message, to: str, why: str, now: datetime) -> str:
    """The state it is in now: `to`, or the one into which another was faster to put it."""
    _step(message.pk, Message.State.WAITING, to, now, why)
    return Message.objects.values_list("state", flat=True).get(pk=message.pk)


def held_since_death(name: str) -> str:
    return f"{name} has died: a clinician decides whether this leaves"


def _no_longer_true(message: Message, now: datetime) -> str:
    """What was right when it was queued may not be when it leaves; the state it is put into, or nothing.

    Somebody who sends it again by hand, having read why it was held, is obeyed.
    """
    owner, state = message.owner, Message.State
    if message.booking_change and (why := _told_otherwise(message, message.booking_change)):
        _step(message.pk, state.WAITING, state.CANCELLED, now, why)
        return state.CANCELLED
    by_hand = message.steps.filter(why__startswith=SENT_AGAIN).exists()
    medical = message.purpose == Message.Purpose.MEDICAL
    if medical and owner and owner.letters_by == Owner.LettersBy.PAPER and not by_hand:
        _step(message.pk, state.WAITING, state.HELD, now, "the owner asked for paper since: print it")
        return state.HELD
    return ""


def _told_otherwise(message: Message, change: BookingChange) -> str:
    """Why a changed booking is not told by this mail any more; also when a person sends it again."""
    if message.owner and message.owner.letters_by == Owner.LettersBy.PAPER:
        return "the owner asked for paper since: tell them by telephone"
    if _of_same_booking(change).filter(pk__gt=change.pk).exists():
        return "the booking was changed again since"
    return ""


def _of_same_booking(change: BookingChange) -> QuerySet[BookingChange]:
    """Of the visit and of the plan that became it: both are one booking to the owner."""
    plan = change.next_visit or NextVisit.objects.filter(became=change.visit).first()
    if plan is None:
        return BookingChange.objects.filter(visit=change.visit)
    own = Q(next_visit=plan)
    return BookingChange.objects.filter(own | Q(visit=plan.became) if plan.became_id else own)


def _works(message: Message) -> None:
    """The owner's address was taken by the other side, as long as it is still theirs."""
    if message.owner_id:
        Owner.objects.filter(pk=message.owner_id, email=message.to_address).exclude(
            email_state=Owner.EmailState.WORKS
        ).update(email_state=Owner.EmailState.WORKS)


def mark_bounced(message: Message) -> None:
    """The other side does not know the owner's address, as long as it is still theirs."""
    if message.owner_id:
        Owner.objects.filter(pk=message.owner_id, email=message.to_address).update(
            email_state=Owner.EmailState.BOUNCED
        )


def _text(said: bytes | str) -> str:
    return said.decode(errors="replace") if isinstance(said, bytes) else said


def _after_fault(message: Message, lasting: bool, why: str, now: datetime, *, bounced: bool = False) -> str:
    attempts = message.attempts + 1
    if lasting or attempts > len(WAITS):
        _step(message.pk, Message.State.SENDING, Message.State.FAILED, now, why)
        if bounced:
            mark_bounced(message)
        return Message.State.FAILED
    later = now + WAITS[attempts - 1]
    with transaction.atomic():
        _step(message.pk, Message.State.SENDING, Message.State.WAITING, now, why, next_try_at=later)
        queue_sending(message.pk, at=later)
    return Message.State.WAITING


def rescue(*, now: datetime) -> int:
    """Look at every stuck message: long in *sending* becomes unknown; waiting past its time goes again."""
    stuck = Message.objects.filter(state=Message.State.SENDING, state_since__lt=now - LONGEST_SENDING)
    rescued = 0
    for message in stuck:
        why = "the program ended while it was being sent: it may or may not have arrived"
        rescued += _step(message.pk, Message.State.SENDING, Message.State.UNKNOWN, now, why)
    forgotten = Message.objects.filter(
        Q(next_try_at=None) | Q(next_try_at__lt=now - LONGEST_SENDING),
        state=Message.State.WAITING,
        state_since__lt=now - LONGEST_SENDING,
    )
    for message in forgotten:
        queue_sending(message.pk)
        rescued += 1
    return rescued


@transaction.atomic
def send_again(*, actor: Actor, now: datetime, message: Message, seen: datetime | None = None) -> Message:
    """A person decides to send it once more, to the owner's address of now. Raises CannotSendAgain.

    `seen`: since when it stood in the state that the person looked at, so that a second tap, which may come
    when the first one's mail has already left, does nothing. After a death a letter about the patient goes
    only where a clinician says so; the message keeps who did.
    """
    actor.require(Right.SEND_LETTER)
    patient = _held_patient(message)
    released = patient is not None and patient.deceased_on is not None and message.purpose in FOR_THE_LIVING
    if released:
        actor.require(Right.ASSESS)
    if message.purpose == Message.Purpose.CONDOLENCE and message.made_by_id != actor.staff.pk:
        raise NotAllowed(Right.SIGN)
    owner = message.owner
    to, why = message.to_address, SENT_AGAIN
    if owner and owner.email and owner.email != to:
        to, why = owner.email, f"{SENT_AGAIN}, to {owner.email} instead of {to}"
    if released:
        why += "; the clinician’s decision after the death"
    changed = Message.objects.filter(
        pk=message.pk, state__in=AGAIN, state_since=seen or message.state_since
    ).update(
        state=Message.State.WAITING,
        state_since=now,
        state_why="",
        next_try_at=None,
        attempts=0,
        to_address=to,
        released_by=actor.staff if released else None,
        released_at=now if released else None,
    )
    if not changed:
        raise CannotSendAgain
    MessageStep.objects.create(
        message=message, state=Message.State.WAITING, why=why[:300], at=now, by=actor.staff
    )
    if message.letter_id and not LetterFile.objects.filter(letter=message.letter_id).exists():
        queue_rendering(message.letter_id)  # which queues the sending
    else:
        queue_sending(message.pk)
    return Message.objects.get(pk=message.pk)


def hold(*, letter_id: int, why: str, now: datetime) -> int:
    """Keep back the letter's messages that wait: they cannot leave as they are. Returns how many."""
    waiting = Message.objects.filter(letter=letter_id, state=Message.State.WAITING)
    return sum(_step(each.pk, Message.State.WAITING, Message.State.HELD, now, why) for each in waiting)


def hold_condolences(*, patient: Patient, now: datetime) -> int:
    """A death was taken back: what waits to say how sorry we are does not leave. Returns how many."""
    waiting = Message.objects.filter(
        letter__patient=patient, state=Message.State.WAITING, purpose=Message.Purpose.CONDOLENCE
    )
    why = f"{patient.name} is not recorded as dead any more"
    return sum(_step(each.pk, Message.State.WAITING, Message.State.HELD, now, why) for each in waiting)


@dataclass(frozen=True)
class Stopped:
    """What a death did to a patient's messages, by their subjects; `leaving`: a worker had them already."""

    held: tuple[str, ...]
    cancelled: tuple[str, ...]
    leaving: tuple[str, ...]


def messages_to_stop(patient: Patient) -> QuerySet[Message]:
    """What has not left yet for the patient."""
    return Message.objects.filter(
        about_patient(patient.pk), state__in=STOPPABLE, purpose__in=FOR_THE_LIVING
    ).order_by("made_at", "pk")


@transaction.atomic
def stop_for_dead(*, patient: Patient, now: datetime) -> Stopped:
    """Nothing leaves by itself any more; the caller holds the patient and has written that it is dead.

    Letters about the patient are held for a clinician, all else is cancelled. An earlier decision to let one
    go ends too. A condolence is nobody's to stop but its clinician's.
    """
    state = Message.State
    held, cancelled = [], []
    for message in messages_to_stop(patient):
        Message.objects.filter(pk=message.pk).update(released_by=None, released_at=None)
        if message.purpose != Message.Purpose.MEDICAL:
            if _step(message.pk, message.state, state.CANCELLED, now, f"{patient.name} has died"):
                cancelled.append(message.subject)
        elif message.state == state.WAITING and _step(
            message.pk, state.WAITING, state.HELD, now, held_since_death(patient.name)
        ):
            held.append(message.subject)
    leaving = Message.objects.filter(about_patient(patient.pk), state__in=LEAVING)
    subjects = tuple(leaving.order_by("made_at", "pk").values_list("subject", flat=True))
    return Stopped(tuple(held), tuple(cancelled), subjects)
