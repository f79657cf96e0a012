"""A letter goes to somebody else too: another owner, or a colleague with the owner's consent."""

from datetime import datetime
from hashlib import sha256
from uuid import UUID

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction

from clinic.letters.document import Document
from clinic.letters.models import Letter, LetterFile
from clinic.letters.sheet import letter_title, mail_body
from clinic.letters.tasks_queue import queue_rendering
from clinic.letters.wording import words
from clinic.mail.actions import queue_sending, write_message
from clinic.mail.models import Message
from clinic.owner_page.actions import NotTheirs, may_read
from clinic.owner_page.queries import documents_of
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.summaries.consent import Consent, in_words, settled
from clinic.visits.actions.common import first_sending
from clinic.visits.errors import NeedsWords


class GoesAlready(Exception):
    """A mail carries this letter to them already; that one can be sent again."""


class NoMailTo(Exception):
    """The owner has no address, or wants paper."""


@transaction.atomic
def send_to_owner(*, letter: Letter, owner: Owner, actor: Actor, now: datetime) -> Message:
    """To another owner of the patient, or to whom it was written where no mail carries it yet. In their own
    language, where the letter is kept in it; the PDF is the one letter.

    Raises NotTheirs, NoMailTo, GoesAlready. After a death it is a clinician's decision.
    """
    actor.require(Right.SEND_LETTER)
    if letter.kind == Letter.Kind.CONDOLENCE or not may_read(letter, owner):
        raise NotTheirs
    if not owner.email or owner.letters_by == Owner.LettersBy.PAPER:
        raise NoMailTo
    released = _released(letter, actor, now)
    if letter.messages.filter(owner=owner).exists():
        raise GoesAlready
    documents = documents_of(letter)
    document = documents.get(owner.language, documents[letter.language])
    message = write_message(
        purpose=Message.Purpose.MEDICAL,
        owner=owner,
        letter=letter,
        language=document.language,
        to_address=owner.email,
        subject=letter_title(document)[:200],
        body=mail_body(document),
        once=f"letter:{letter.pk}:owner:{owner.pk}",
        actor=actor,
        now=now,
        **released,
    )
    return _on_its_way(message)


@transaction.atomic
def send_to_colleague(
    *,
    letter: Letter,
    to_whom: str,
    address: str,
    consent: Consent,
    language: str = "",
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Message:
    """To a colleague elsewhere, with the owner's consent, which is noted in the same step where it was not.

    `language`: of the mail, among those that the letter is kept in (empty: the letter's own). The PDF is the
    owner's.

    Raises NoConsentYet, NeedsWords (each names its field), GoesAlready, SentBefore; NotTheirs: a condolence.
    """
    actor.require(Right.SEND_LETTER)
    if letter.kind == Letter.Kind.CONDOLENCE:
        raise NotTheirs
    to_whom, address = to_whom.strip(), address.strip().lower()
    if not to_whom:
        raise NeedsWords("to_whom", "Say who it is, and the practice.")
    try:
        validate_email(address)
    except ValidationError as error:
        raise NeedsWords("address", "This is no e-mail address.") from error
    if consent.without:
        raise NeedsWords("consent", "A letter goes to a colleague with the owner’s consent alone.")
    first_sending(once, actor=actor, now=now)
    released = _released(letter, actor, now)
    if letter.messages.filter(owner=None, to_address=address).exists():
        raise GoesAlready
    documents = documents_of(letter)
    document = documents.get(language, documents[letter.language])
    agreed = settled(
        consent,
        patient=letter.patient,
        to_whom=f"{to_whom}, {address}",
        purpose=letter_title(document),
        what="a letter about a visit",
        actor=actor,
        now=now,
    )
    message = write_message(
        purpose=Message.Purpose.MEDICAL,
        owner=None,
        letter=letter,
        to_whom=to_whom[:200],
        language=document.language,
        consent=agreed.noted,
        to_address=address,
        subject=letter_title(document)[:200],
        body=_for_a_colleague(document, to_whom, agreed, actor),
        once=f"letter:{letter.pk}:colleague:{sha256(address.encode()).hexdigest()[:40]}",
        actor=actor,
        now=now,
        **released,
    )
    return _on_its_way(message)


def _released(letter: Letter, actor: Actor, now: datetime) -> dict[str, object]:
    """The patient is held, so that a death is seen here or sees this message."""
    patient = Patient.objects.select_for_update(no_key=True).get(pk=letter.patient_id)
    if patient.deceased_on is None:
        return {}
    actor.require(Right.ASSESS)
    return {"released_by": actor.staff, "released_at": now}


def _on_its_way(message: Message) -> Message:
    if LetterFile.objects.filter(letter=message.letter_id).exists():
        queue_sending(message.pk)
    else:
        assert message.letter_id is not None
        queue_rendering(message.letter_id)  # which queues the sending
    return message


def _for_a_colleague(document: Document, to_whom: str, consent: Consent, actor: Actor) -> str:
    head, w = document.head, words(document.language)
    lines = [
        letter_title(document),
        "",
        w("colleague.for", who=to_whom, owner=head.owner_name),
        w("colleague.patient", patient=head.patient_name, facts=head.patient_facts),
        in_words(consent, signer=actor.staff.printed_name, w=w),
        "",
    ]
    return "\n".join(lines) + mail_body(document)
