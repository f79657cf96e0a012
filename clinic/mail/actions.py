"""What leaves by e-mail: a row first, then one attempt at a time, each told by its state.

waiting → sending → sent; a passing fault goes back to waiting with a later try; a lasting one is failed; a
worker that died in mid-send leaves *unknown*, because the other side may have it: a person decides.
"""

import smtplib
import uuid
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q
from procrastinate.contrib.django import app

from clinic.letters.document import Document
from clinic.letters.models import Letter, LetterFile
from clinic.letters.sheet import letter_title, mail_body
from clinic.letters.tasks_queue import queue_rendering
from clinic.mail.models import Message, MessageStep
from clinic.mail.transport import send_now
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right

QUEUE = "mail"
SEND_TASK = "clinic.mail.tasks.send_message"
LONGEST_SENDING = timedelta(minutes=5)
WAITS = tuple(timedelta(minutes=m) for m in (1, 5, 15, 60, 240))
LASTING = range(500, 600)
AGAIN = frozenset({Message.State.FAILED, Message.State.HELD, Message.State.UNKNOWN, Message.State.SENT})
SENT_AGAIN = "sent again"
STOPPABLE = frozenset({Message.State.WAITING, Message.State.HELD, Message.State.FAILED})


class CannotSendAgain(Exception):
    """Only what has ended (sent, failed, held, unknown) can be sent again."""


def queue_letter(*, letter: Letter, document: Document, actor: Actor, now: datetime) -> Message | None:
    """The mail that carries a letter; None where the owner has no address or wants paper only."""
    owner = letter.owner
    if not owner.email or owner.letters_by == Owner.LettersBy.PAPER:
        return None
    return _message(
        purpose=Message.Purpose.MEDICAL,
        owner=owner,
        letter=letter,
        to_address=owner.email,
        subject=letter_title(document)[:200],
        body=mail_body(document),
        once=f"letter:{letter.pk}",
        actor=actor,
        now=now,
    )


def note_sent(
    *, letter: Letter, document: Document, refused: str = "", actor: Actor, now: datetime
) -> Message | None:
    """A letter that left in its time, at `now`: noted as sent, or refused, and never queued.

    None as for `queue_letter`.
    """
    message = queue_letter(letter=letter, document=document, actor=actor, now=now)
    if message is None:
        return None
    state = Message.State
    _step(message.pk, state.WAITING, state.SENDING, now, attempts=1)
    if refused:
        _step(message.pk, state.SENDING, state.FAILED, now, refused)
        _bounced(message)
    else:
        _step(message.pk, state.SENDING, state.SENT, now, sent_at=now)
        _works(message)
    message.refresh_from_db()
    return message


def queue_staff_mail(
    *, to_address: str, subject: str, body: str, once: str, actor: Actor, now: datetime
) -> Message:
    """A mail to somebody who works here (an invitation). Goes at once."""
    message = _message(
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


def _message(*, actor: Actor, now: datetime, **fields: object) -> Message:
    message = Message.objects.create(state_since=now, made_by=actor.staff, made_at=now, **fields)
    MessageStep.objects.create(message=message, state=message.state, at=now, by=actor.staff)
    return message


def queue_sending(message_id: uuid.UUID, *, at: datetime | None = None) -> None:
    """In the caller's transaction."""
    app.configure_task(SEND_TASK, queue=QUEUE, schedule_at=at).defer(message_id=str(message_id))


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
    message = Message.objects.select_related("letter__file", "letter__patient", "owner").get(pk=message_id)
    if message.state != state.WAITING or (message.next_try_at and message.next_try_at > now):
        return message.state
    if message.letter and not hasattr(message.letter, "file"):
        return message.state  # its rendering queues the sending again
    if stopped := _no_longer_true(message, now):
        return stopped
    if not _step(message_id, state.WAITING, state.SENDING, now, attempts=message.attempts + 1):
        return Message.objects.values_list("state", flat=True).get(pk=message_id)
    try:
        send_now(message)
    except smtplib.SMTPRecipientsRefused as refused:
        code, answer = next(iter(refused.recipients.values()))
        return _after_fault(message, code in LASTING, f"{code} {_text(answer)}", now, bounced=True)
    except smtplib.SMTPResponseException as fault:
        why = f"{fault.smtp_code} {_text(fault.smtp_error)}"
        return _after_fault(message, fault.smtp_code in LASTING, why, now)
    except (smtplib.SMTPException, OSError) as fault:
        return _after_fault(message, False, f"no connection: {fault}", now)
    _step(message_id, state.SENDING, state.SENT, now, sent_at=now)
    _works(message)
    return state.SENT


def _no_longer_true(message: Message, now: datetime) -> str:
    """What was right when it was queued may not be when it leaves; the state it is put into, or nothing.

    Somebody who sends it again by hand, having read why it was held, is obeyed.
    """
    letter, owner, state = message.letter, message.owner, Message.State
    medical = message.purpose == Message.Purpose.MEDICAL
    if letter and letter.patient.deceased_on and not medical:
        _step(message.pk, state.WAITING, state.CANCELLED, now, f"{letter.patient.name} has died")
        return state.CANCELLED
    by_hand = message.steps.filter(why__startswith=SENT_AGAIN).exists()
    if medical and owner and owner.letters_by == Owner.LettersBy.PAPER and not by_hand:
        _step(message.pk, state.WAITING, state.HELD, now, "the owner asked for paper since: print it")
        return state.HELD
    return ""


def _works(message: Message) -> None:
    """The owner's address was taken by the other side, as long as it is still theirs."""
    if message.owner_id:
        Owner.objects.filter(pk=message.owner_id, email=message.to_address).exclude(
            email_state=Owner.EmailState.WORKS
        ).update(email_state=Owner.EmailState.WORKS)


def _bounced(message: Message) -> None:
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
            _bounced(message)
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
    when the first one's mail has already left, does nothing.
    """
    actor.require(Right.SEND_LETTER)
    owner = message.owner
    to, why = message.to_address, SENT_AGAIN
    if owner and owner.email and owner.email != to:
        to, why = owner.email, f"{SENT_AGAIN}, to {owner.email} instead of {to}"
    changed = Message.objects.filter(
        pk=message.pk, state__in=AGAIN, state_since=seen or message.state_since
    ).update(
        state=Message.State.WAITING,
        state_since=now,
        state_why="",
        next_try_at=None,
        attempts=0,
        to_address=to,
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


@transaction.atomic
def cancel_for_patient(*, patient_id: int, why: str, now: datetime) -> int:
    """Stop what has not left yet for a patient, but for medical messages. Returns how many."""
    waiting = Message.objects.filter(letter__patient=patient_id, state__in=STOPPABLE).exclude(
        purpose=Message.Purpose.MEDICAL
    )
    stopped = 0
    for message in waiting:
        stopped += _step(message.pk, message.state, Message.State.CANCELLED, now, why)
    return stopped
