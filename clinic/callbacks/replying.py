"""Staff answer by e-mail what an owner said or asked on their page: a person's own words, kept.

It is medical (about a household's own animals, on their own question): it stands outside the daily limit of
reminders, the hold-out, quiet hours and "stop reminders".
"""

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from clinic.callbacks.answer_models import Answer
from clinic.callbacks.errors import CallBackError
from clinic.mail.actions import queue_medical
from clinic.mail.models import Message
from clinic.owner_page.texts import texts
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.queries import clinic_details
from clinic.promises.actions import note_contact
from clinic.promises.models import Contact


class CannotReply(CallBackError):
    """No e-mail may go to them, or nothing was written."""


def why_not(owner: Owner, patient: Patient) -> str:
    """Why no e-mail about this animal goes to this owner; empty where one may."""
    if patient.deceased_on:
        return f"{patient.name} has died. Call them, or write a letter of condolence."
    if owner.letters_by == Owner.LettersBy.PAPER:
        return "They wish everything on paper: call them, or write a letter."
    if not owner.email or owner.email_state == Owner.EmailState.BOUNCED:
        return "No e-mail reaches them: call them."
    return ""


def replies_to(answers: Iterable[Answer]) -> dict[int, list[Message]]:
    """The oldest first, by the answer's key. One query."""
    rows: QuerySet[Message] = Message.objects.filter(
        owner__in={each.owner_id for each in answers}, once__startswith="reply:"
    )
    found: dict[int, list[Message]] = {}
    for message in rows.select_related("made_by").order_by("made_at", "pk"):
        found.setdefault(int(message.once.split(":")[1]), []).append(message)
    return found


@transaction.atomic
def reply(*, answer: Answer, words: str, once: UUID, actor: Actor, now: datetime) -> Message:
    """Write to the owner, in their language around the words; note it with the animal. It settles nothing.

    Raises CannotReply, SentBefore.
    """
    actor.require(Right.NOTE_CONTACT)
    words = words.strip()
    if not words:
        raise CannotReply("Write what they should read.", field="words")
    owner = Owner.objects.select_for_update(no_key=True).get(pk=answer.owner_id)
    patient = Patient.objects.select_for_update(no_key=True).get(pk=answer.patient_id)
    if why := why_not(owner, patient):
        raise CannotReply(why, field="words")
    note_contact(
        patient=patient,
        kind=Contact.Kind.MAIL,
        with_whom=owner.name,
        owner=owner,
        text=f"We wrote: {words}",
        once=once,
        actor=actor,
        now=now,
    )
    said, clinic = texts(owner.language).answer, clinic_details()
    return queue_medical(
        owner=owner,
        animals=[patient],
        subject=said["reply_title"].format(animal=patient.name),
        body="\n\n".join(
            [
                texts(owner.language).reminder["dear"].format(owner=owner.name),
                words,
                said["reply_call"].format(phone=clinic.phone),
                f"{actor.staff.printed_name}\n{clinic.name}",
            ]
        ),
        once=f"reply:{answer.pk}:{once}",
        actor=actor,
        now=now,
    )
