"""Making a summary: consent first, then the content is frozen and its PDF queued, in one transaction."""

import hashlib
import json
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.letters.actions import brings_history
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.summaries.composition import compose
from clinic.summaries.consent import Consent, in_words, settled
from clinic.summaries.document import to_json
from clinic.summaries.facts import Asked
from clinic.summaries.gathering import gather
from clinic.summaries.models import Summary, SummaryFile
from clinic.summaries.tasks_queue import queue_rendering
from clinic.visits.actions.common import first_sending, words
from clinic.visits.actions.signing import name_as_signed


@transaction.atomic
def make_summary(
    *,
    patient: Patient,
    purpose: str,
    to_whom: str,
    why: str,
    consent: Consent,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Summary:
    """For a colleague, signed by a clinician; it is printed or downloaded, and never mailed by itself.

    Raises NoConsentYet, NeedsWords (each names its field), SentBefore.
    """
    actor.require(Right.SIGN)
    kind = Summary.Purpose(purpose)
    to_whom = words(to_whom, field="to_whom", sentence="Say for whom it is.")
    why = words(why, field="why", sentence="Say why it is made, and what you ask of them.")
    first_sending(once, actor=actor, now=now)
    agreed = settled(consent, patient=patient, to_whom=to_whom, purpose=kind.label, actor=actor, now=now)
    signer = name_as_signed(actor.staff)
    asked = Asked(kind.label, to_whom, why, in_words(agreed, signer=actor.staff.printed_name))
    facts = gather(patient, asked=asked, signer=signer, today=timezone.localdate(now))
    content = to_json(compose(facts))
    canonical = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    made = Summary.objects.create(
        patient=patient,
        purpose=kind,
        to_whom=to_whom,
        why=why,
        consent=agreed.noted,
        consent_how=agreed.how,
        without=agreed.without,
        without_why=agreed.why,
        content=content,
        content_sha256=hashlib.sha256(canonical.encode()).hexdigest(),
        by=actor.staff,
        signed_name=signer,
        at=now,
    )
    if not brings_history():
        queue_rendering(made.pk)
    return made


@transaction.atomic
def make_file(*, summary: Summary, actor: Actor, now: datetime) -> bool:
    """Queue the PDF of a summary that has none yet. False when its bytes are there, and stay as they are."""
    actor.require(Right.SEND_LETTER)
    if SummaryFile.objects.filter(summary=summary).exists():
        return False
    queue_rendering(summary.pk)
    return True


def keep_file(*, summary: Summary, name: str, size: int, pages: int, now: datetime) -> SummaryFile:
    """Note the PDF's bytes once; a second rendering meets the first's row and changes nothing."""
    kept, _ = SummaryFile.objects.get_or_create(
        summary=summary,
        defaults={
            "sha256": name.split("/")[1].split(".")[0],
            "size": size,
            "pages": pages,
            "rendered_at": now,
        },
    )
    return kept
