"""A patient that dies: facts that are enough, for tests that ask about something else."""

from datetime import timedelta
from typing import Any

from clinic.death.actions import record_death
from clinic.death.facts import Consent, Facts
from clinic.models import Death, Patient, Staff
from clinic.people.actor import Actor
from tests import people


def told(**other: Any) -> Facts:
    """At home, by the owner's word."""
    facts = {"how": "died-home", "on": people.TODAY, "told_by": "Henrike Dovale", "body": "owner"}
    return Facts(**(facts | other))


def consent(by: Staff, **other: Any) -> Consent:
    facts = {
        "given_by": "Henrike Dovale",
        "given_as": "owner",
        "how": "paper",
        "at": people.NOW - timedelta(minutes=30),
        "taken_by": by,
    }
    return Consent(**(facts | other))


def asleep(by: Staff, **other: Any) -> Facts:
    """By us, with consent on paper."""
    facts: dict[str, Any] = {
        "how": "euthanised",
        "on": people.TODAY,
        "at": people.NOW - timedelta(minutes=5),
        "certified_by": by,
        "consent": consent(by),
        "identity": "owner",
        "no_weight_reason": "lying, in pain",
        "body": "private",
    }
    return Facts(**(facts | other))


def die(patient: Patient, *, actor: Actor, facts: Facts | None = None, **how: Any) -> Death:
    return record_death(patient=patient, facts=facts or told(), actor=actor, **({"now": people.NOW} | how))
