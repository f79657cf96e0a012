"""A death as plain values for its page."""

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from clinic.death.endings import Ended
from clinic.death.models import BodyDecision, Death
from clinic.death.queries import body_decisions
from clinic.patients.facts import both_weights


@dataclass(frozen=True)
class DeathPage:
    """`facts`: label and words; `body`: what is decided, the newest first."""

    said: str
    facts: tuple[tuple[str, str], ...]
    body: tuple[str, ...]
    ended: tuple[Ended, ...]


def _at(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{local.day} {local:%B %Y, %H:%M}"


def death_page(death: Death, unit: str = "kg") -> DeathPage:
    """One query, for the body. `unit` (kg or lb), as its reader weighs, comes first."""
    return DeathPage(
        said=f"{death.patient.name} {death.get_how_display()}, {_when(death)}",
        facts=tuple(_facts(death, unit)),
        body=tuple(_decided(each) for each in body_decisions(death)),
        ended=tuple(Ended(each["title"], tuple(each["lines"])) for each in death.ended),
    )


def _when(death: Death) -> str:
    return _at(death.died_at) if death.died_at else f"{death.died_on.day} {death.died_on:%B %Y}"


def _facts(death: Death, unit: str) -> list[tuple[str, str]]:
    told = [
        ("When", _when(death)),
        ("Entered", f"{_at(death.entered_at)}, {death.by.full_name}"),
        ("Made sure by", death.certified_by.printed_name if death.certified_by else ""),
        ("Told by", death.told_by),
        ("Consent", _consent(death)),
        ("Which animal", death.get_identity_display()),
        ("Weight", _weight(death, unit)),
        ("Owner", "" if death.owner_knows else "did not know yet when it was entered"),
        ("What happened", death.words),
    ]
    return [(label, words) for label, words in told if words]


def _consent(death: Death) -> str:
    if not death.consent_by or death.consent_at is None or death.consent_taken_by is None:
        return ""
    heard = [f"taken by {death.consent_taken_by.full_name}"]
    if death.consent_witness:
        heard.append(f"witness {death.consent_witness}")
    if death.consent_second:
        heard.append(f"{death.consent_second.full_name} listened")
    return (
        f"{death.consent_by}, {death.get_consent_as_display()}; {death.get_consent_how_display()}, "
        f"{_at(death.consent_at)}; {', '.join(heard)}"
    )


def _weight(death: Death, unit: str) -> str:
    if death.weight is None or death.weight.value is None:
        return f"not weighed: {death.no_weight_reason}"
    return both_weights(death.weight.value, unit)


def _decided(each: BodyDecision) -> str:
    parts = [each.get_what_display(), each.words, f"by the word of {each.said_by}" if each.said_by else ""]
    return f"{', '.join(part for part in parts if part)} ({each.by.full_name}, {_at(each.at)})"
