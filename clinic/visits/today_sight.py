"""What every row of Today needs: whose eyes, the hour, the owners; and how it says times and numbers."""

from dataclasses import dataclass
from datetime import date, datetime

from django.urls import reverse
from django.utils import timezone

from clinic.mail.models import Message
from clinic.patients.ages import in_words
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.platform.registries import Flag, visit_steps
from clinic.visits.models import Visit


@dataclass(frozen=True)
class Animal:
    """Name and line below it, everywhere on Today."""

    name: str
    url: str
    facts: str
    why: str = ""


@dataclass(frozen=True)
class Sight:
    """What every row needs besides its visit."""

    actor: Actor
    now: datetime
    today: date
    owners: dict[int, Owner]
    stages: dict[int, int]
    flags: dict[int, list[Flag]]
    messages: dict[int, Message]
    handed: frozenset[int] = frozenset()


def step_url(visit: Visit, name: str) -> str:
    """Address of a step of the visit; the intake while no room has brought that step."""
    for step in visit_steps:
        if step.name == name:
            return step.url(visit)
    return reverse("visit-intake", args=[visit.pk])


def untaken(visit: Visit) -> bool:
    return visit.see_now_at is not None and visit.see_now_taken_at is None


def clock(at: datetime | None) -> str:
    return timezone.localtime(at).strftime("%H:%M") if at else ""


def when(at: datetime, today: date) -> str:
    local = timezone.localtime(at)
    ago = (today - local.date()).days
    day_words = {0: "today", 1: "yesterday"}.get(ago, f"{local.day} {local:%B}")
    return day_words if (local.hour, local.minute) == (0, 0) else f"{day_words} {local:%H:%M}"


def minutes_since(since: datetime, now: datetime) -> int:
    return int((now - since).total_seconds() // 60)


def animal_of(patient: Patient, url: str, sight: Sight) -> Animal:
    owner = sight.owners.get(patient.pk)
    facts = [_of(patient, sight.today), owner.name if owner else ""]
    return Animal(name=patient.name, url=url, facts=" · ".join(fact for fact in facts if fact))


def _of(patient: Patient, today: date) -> str:
    if patient.birth_date is None or patient.birth_date > today:
        return patient.get_species_display()
    estimated = patient.birth_precision in (Patient.BirthPrecision.ESTIMATE, Patient.BirthPrecision.YEAR)
    return f"{patient.get_species_display()}, {in_words(patient.birth_date, today, estimated=estimated)}"


def number_of(count: int, noun: str) -> str:
    words = ("no", "one", "two", "three", "four", "five", "six")
    number = words[count] if count < len(words) else str(count)
    return f"{number.capitalize()} {noun}{'' if count == 1 else 's'}"
