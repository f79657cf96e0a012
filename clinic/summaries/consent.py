"""The owner's consent behind a summary: what was noted, what is noted now, or why it goes without.

RCVS 13.1 and AVMA, Owner Consent: consents, given or withheld, are recorded with who and how. That a
record is passed on with the owner's consent, but for the law or a life at stake, is the profession's rule of
confidentiality (RCVS Supporting Guidance 14, from memory); local law decides.
"""

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from clinic.letters.texts import Texts
from clinic.letters.wording import EN, clock, long_day
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.promises.actions import note_contact
from clinic.promises.models import Contact
from clinic.summaries.errors import NoConsentYet
from clinic.summaries.models import Summary
from clinic.visits.errors import NeedsWords

UNSAID = "unsaid"  # it goes without, and nobody said yet on what ground


@dataclass(frozen=True)
class Consent:
    """`noted`: a contact that stands. Without one `who`, `how` and `at` (None: now) note it anew.

    `without` and `why`: it goes without. `how` is one of Summary.How.
    """

    noted: Contact | None = None
    who: str = ""
    how: str = ""
    at: datetime | None = None
    without: str = ""
    why: str = ""


def settled(
    consent: Consent,
    *,
    patient: Patient,
    to_whom: str,
    purpose: str,
    what: str = "a summary of the record",
    actor: Actor,
    now: datetime,
) -> Consent:
    """The same, with its contact noted. `what`: that goes to them. Raises NoConsentYet, NeedsWords."""
    if consent.without:
        return _without(consent)
    if consent.noted is None and not consent.who.strip():
        raise NoConsentYet(to_whom)
    if consent.how not in Summary.How.values:
        raise NeedsWords("consent_how", "Say how the owner agreed.")
    how = Summary.How(consent.how)
    if consent.noted is not None:
        return Consent(_standing(consent.noted, patient), how=how)
    if consent.at and consent.at > now:
        raise NeedsWords("consent_at", "This lies in the future.")
    noted = note_contact(
        patient=patient,
        kind=Contact.Kind.CONSENT,
        with_whom=consent.who,
        text=f"Agrees, {how.label}, that {what} goes to {to_whom} ({purpose}).",
        happened_at=consent.at,
        actor=actor,
        now=now,
    )
    return Consent(noted, how=how)


def _without(consent: Consent) -> Consent:
    if consent.without not in Summary.Without.values:
        raise NeedsWords("without", "Say whether the law obliges you, or life is at stake.")
    if not consent.why.strip():
        raise NeedsWords("without_why", "Say why it goes without the owner’s consent; this is printed on it.")
    return Consent(without=Summary.Without(consent.without), why=consent.why.strip())


def _standing(noted: Contact, patient: Patient) -> Contact:
    if noted.patient_id != patient.pk or noted.kind != Contact.Kind.CONSENT:
        raise NeedsWords("consent", "This is no consent about this patient.")
    if noted.corrections.exists():
        raise NeedsWords("consent", "This consent was corrected by a later contact: choose that one.")
    return noted


def in_words(consent: Consent, *, signer: str, w: Texts = EN) -> str:
    """One sentence for the sheet, in `w` where there is a consent. One that is only typed yet is said as it
    would be noted."""
    if consent.without:
        why = f"{Summary.Without(consent.without).label}. {consent.why.rstrip('.')}"
        return f"Made without the owner’s consent, because {why}. Decided by {signer}."
    noted = consent.noted
    if noted is None:
        return "The owner’s consent is not noted yet."
    at = timezone.localtime(noted.happened_at)
    return w(
        "colleague.agreed",
        who=noted.with_whom,
        how=w(f"colleague.how.{Summary.How(consent.how).value}"),
        day=long_day(at.date(), w),
        time=clock(at.time(), w),
        by=noted.by.printed_name,
    )


def noted_words(each: Contact) -> str:
    """One noted consent, to choose from."""
    at = timezone.localtime(each.happened_at)
    return f"{each.with_whom}, {at:%-d %B %Y, %H:%M}, noted by {each.by.full_name}: “{each.text}”"


def consents_of(patient: Patient, *, at_most: int = 10) -> list[Contact]:
    """Consents that stand, and those withheld, the newest first; corrected ones are left out."""
    rows = Contact.objects.filter(
        patient=patient,
        kind__in=(Contact.Kind.CONSENT, Contact.Kind.WITHHELD),
        corrections=None,
    )
    return list(rows.select_related("by").order_by("-happened_at", "-pk")[:at_most])
