"""A letter of condolence: written by a clinician, released by the same one. The program proposes no text."""

import hashlib
import json
import re
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.death.errors import CannotWrite, NotDead
from clinic.letters.actions import brings_history
from clinic.letters.document import Document, Head, Section, Sentence, Signed, Text, Tone, to_json
from clinic.letters.models import Letter
from clinic.letters.sheet import CONDOLENCE
from clinic.letters.tasks_queue import queue_rendering
from clinic.letters.wording import long_day, words
from clinic.mail.actions import queue_condolence
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.addresses import town
from clinic.platform.queries import clinic_details
from clinic.visits.actions.common import first_sending

BY_MAIL, ON_PAPER = "mail", "paper"
ORIGIN = "the clinician who wrote it"


def greeting(owner: Owner) -> str:
    """All that stands in the letter before a clinician writes."""
    return words(owner.language)("condolence.greeting", owner=owner.name)


def ways(owner: Owner) -> list[str]:
    """How a letter may go to this owner."""
    by_mail = owner.email and owner.letters_by != Owner.LettersBy.PAPER
    return [BY_MAIL, ON_PAPER] if by_mail else [ON_PAPER]


def compose_condolence(
    *,
    patient: Patient,
    owner: Owner,
    greets: str,
    text: str,
    actor: Actor,
    today: date,
    language: str = "",
) -> Document:
    """The letter as it would go: address, greeting, the clinician's paragraphs, their name.

    `language`: in which they wrote it (empty: the owner's); it is said so to whoever has it read aloud.
    """
    clinic = clinic_details()
    w = words(language or owner.language)
    place = town(clinic)
    paragraphs = [each.strip() for each in re.split(r"\n\s*\n", text.replace("\r\n", "\n")) if each.strip()]
    return Document(
        language=w.language,
        tone=Tone.QUIET,
        head=Head(
            clinic_name=clinic.name,
            clinic_lines=(f"{clinic.street}, {place}",),
            phone=clinic.phone,
            emergency_name="",
            emergency_phone="",
            owner_name=owner.name,
            owner_lines=tuple(
                line for line in (owner.street, f"{owner.postal_code} {owner.city}".strip()) if line
            ),
            patient_name=patient.name,
            patient_facts="",
            day=long_day(today, w),
        ),
        headline=_own("greeting", greets.strip(), actor),
        points=(),
        call_now=(),
        call_within_a_day=(),
        sections=(
            Section(
                CONDOLENCE,
                "",
                10,
                tuple(Text((_own(f"text:{n}", each, actor),)) for n, each in enumerate(paragraphs)),
            ),
        ),
        next_things=(),
        signed=Signed(lines=(_own("signed:by", actor.staff.printed_name, actor),)),
        paper=clinic.paper,
        large_print=owner.print_size == Owner.Print.LARGE,
        kind=CONDOLENCE,
    )


def _own(key: str, text: str, actor: Actor) -> Sentence:
    return Sentence(key, text, ORIGIN, by=actor.staff.full_name)


@transaction.atomic
def send_condolence(
    *,
    patient: Patient,
    owner: Owner,
    greets: str,
    text: str,
    way: str,
    language: str = "",
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Letter:
    """The clinician who wrote it lets it go: frozen, its PDF queued, and by mail where they say so.

    Releasing a letter is a veterinarian's (Maryland COMAR 15.14.13.13).
    Raises NotDead, CannotWrite, SentBefore.
    """
    actor.require(Right.SIGN)
    held = Patient.objects.select_for_update(no_key=True).get(pk=patient.pk)
    if held.deceased_on is None:
        raise NotDead(held.name)
    if not greets.strip():
        raise CannotWrite("greets", "A letter greets whom it is written to.")
    if not text.strip():
        raise CannotWrite("text", "Write the letter first.")
    if way not in ways(owner):
        raise CannotWrite("way", f"{owner.name} gets letters on paper: print it.")
    first_sending(once, actor=actor, now=now)
    document = compose_condolence(
        patient=held,
        owner=owner,
        greets=greets,
        text=text,
        actor=actor,
        today=timezone.localdate(now),
        language=language,
    )
    content = to_json(document)
    canonical = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    letter = Letter.objects.create(
        patient=held,
        record=None,
        owner=owner,
        kind=Letter.Kind.CONDOLENCE,
        language=document.language,
        large_print=document.large_print,
        content=content,
        content_sha256=hashlib.sha256(canonical.encode()).hexdigest(),
        by=actor.staff,
        at=now,
    )
    if brings_history():  # it left in its time
        return letter
    if way == BY_MAIL:
        queue_condolence(letter=letter, document=document, actor=actor, now=now)
    queue_rendering(letter.pk)
    return letter
