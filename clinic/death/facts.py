"""What is said of a death, and whether its facts fit together. Asks neither clock nor database."""

from dataclasses import dataclass
from datetime import date, datetime

from clinic.death.errors import Unfit
from clinic.death.models import BodyDecision, Death
from clinic.patients.models import Patient
from clinic.people.models import Staff
from clinic.people.rights import Right, Role, may

HERE = frozenset({Death.How.DIED_HERE, Death.How.EUTHANISED})
ASLEEP = frozenset({Death.How.EUTHANISED, Death.How.EUTHANISED_ELSEWHERE})
AFTERWARDS = frozenset(
    {BodyDecision.What.UNDECIDED, BodyDecision.What.EXAMINE}
)  # something is still to decide
NOT_SEEN = "not seen by us"


@dataclass(frozen=True)
class Consent:
    """Who let it be euthanised, how they said so, and who heard it.

    AVMA, Owner Consent: consent, written or verbal, is recorded. A witness in person, a second
    colleague on the telephone: common practice.
    """

    given_by: str
    given_as: str
    how: str
    at: datetime | None
    taken_by: Staff | None
    witness: str = ""
    second: Staff | None = None


@dataclass(frozen=True)
class Facts:
    """A death as it is told. `at`: the hour, where it is known; `on`: the clinic's date."""

    how: str
    on: date
    at: datetime | None = None
    certified_by: Staff | None = None
    told_by: str = ""
    consent: Consent | None = None
    no_weight_reason: str = ""
    identity: str = ""
    owner_knows: bool = True
    body: str = BodyDecision.What.UNDECIDED
    body_by: str = ""
    body_words: str = ""
    words: str = ""


def check(facts: Facts, *, patient: Patient, chips: int, now: datetime, today: date) -> None:
    """Raises Unfit for the first fact that is missing or contradicts another. `chips`: their number."""
    how = Death.How(facts.how)
    if facts.on > today or (facts.at and facts.at > now):
        raise Unfit("on" if facts.on > today else "at", "That has not come yet.")
    if patient.birth_date and facts.on < patient.birth_date:
        raise Unfit("on", "That is before the birth.")
    if how in HERE:
        _seen_here(facts, how, chips)
    elif not facts.told_by.strip():
        raise Unfit("told_by", "Say who told us.")
    if facts.identity == Death.Identity.CHIP and not chips:
        raise Unfit("identity", "No chip of this patient is on record, so none can have matched.")
    BodyDecision.What(facts.body)


def _seen_here(facts: Facts, how: Death.How, chips: int) -> None:
    if facts.certified_by is None or not may(_roles(facts.certified_by), Right.CERTIFY_DEATH):
        raise Unfit("certified_by", "Name the clinician who made sure that it is dead.")
    if facts.identity in ("", Death.Identity.NOT_SEEN):
        raise Unfit("identity", "Say how you made sure which animal this is.")
    if how == Death.How.EUTHANISED:
        _consented(facts)


def _roles(staff: Staff) -> frozenset[Role]:
    return frozenset(Role(each) for each in staff.roles)


def _consented(facts: Facts) -> None:
    given = facts.consent
    if facts.at is None:
        raise Unfit("at", "Say at what time.")
    if given is None or not given.given_by.strip():
        raise Unfit("consent_by", "No euthanasia without consent: say who gave it.")
    if not given.given_as:
        raise Unfit("consent_as", "Say as what they consented.")
    if not given.how:
        raise Unfit("consent_how", "Say how they consented.")
    if given.at is None:
        raise Unfit("consent_at", "Say when they consented.")
    if given.at > facts.at:
        raise Unfit("consent_at", "The consent comes before the death.")
    if given.taken_by is None:
        raise Unfit("consent_taken_by", "Say which of us took it.")
    if given.how == Death.ConsentHow.PERSON and not given.witness.strip():
        raise Unfit("consent_witness", "Name the witness.")
    if given.how == Death.ConsentHow.TELEPHONE:
        if given.second is None:
            raise Unfit("consent_second", "Name the colleague who listened.")
        if given.second.pk == given.taken_by.pk:
            raise Unfit("consent_second", "Two people hear a consent by telephone: name the other one.")
