"""What a reminder says to one household: words, headers, calendar file, the links to answer and to stop."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.core import signing
from django.urls import reverse

from clinic.callbacks import composing
from clinic.callbacks.households import Household
from clinic.callbacks.plan_words import PlanWords
from clinic.callbacks.reminder_models import (
    ReminderItem,
)
from clinic.letters.spelling import spelled, variant_of
from clinic.mail.models import Message
from clinic.owner_page.actions import address_of, make_link
from clinic.owner_page.texts import FIRST, texts
from clinic.people.models import Owner
from clinic.platform.addresses import town
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.platform.registries import thing_words
from clinic.visits.calendar_file import Entry, calendar_file
from clinic.visits.calendars import mail_domain, place_of

SALT = "clinic.reminders.stop"
LINK_TO_COME = "…"
CALENDAR_SPACE = uuid.UUID("6d0b3c1e-54c5-5d0e-9a54-0b7d5b0a6c11")  # ours, for good


@dataclass(frozen=True)
class Said:
    """One thing as it is written about."""

    patient: str
    label: str
    due_on: date
    never: bool = False


def said_of(household: Household, names: Mapping[int, str]) -> list[Said]:
    """What a household is asked about; `names` of its animals by their keys."""
    return [
        Said(names[each.item.patient], each.item.label, each.item.due_on, each.item.never)
        for each in household.asked
    ]


def by_animal(things: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """A line an animal, in the order in which they first stand: “Pomfret: Rabies; Faecal test”."""
    found: dict[str, list[str]] = {}
    for animal, label in things:
        found.setdefault(animal, []).append(label)
    return tuple(f"{animal}: {'; '.join(labels)}" for animal, labels in found.items())


def fields(
    owner: Owner,
    things: Sequence[Said],
    *,
    key: uuid.UUID | None,
    clinic: ClinicDetails,
    words: PlanWords,
    today: date,
    answer_link: str | None = None,
) -> dict[str, Any]:
    """Subject, texts, headers and purpose of the message, as columns.

    `answer_link`: made when it leaves; None before that, where the text shows that one comes. No `key`: it is
    only shown, and stops nothing.
    """
    link = stop_link(owner.pk, key)
    if answer_link is None:
        answer_link = answer_link_to_come()
    written = written_to_owner(
        owner,
        things,
        clinic=clinic,
        words=words,
        ways=composing.Ways(
            clinic.email, link, answer_link, calendar=any(each.due_on >= today for each in things)
        ),
        today=today,
    )
    marketing = composing.is_marketing(clinic.country)
    return {
        "purpose": Message.Purpose.MARKETING if marketing else Message.Purpose.SERVICE,
        "subject": written.subject,
        "body": written.body,
        "html": written.html,
        "headers": list_headers(clinic.email, link),
    }


def written_to_owner(
    owner: Owner,
    things: Sequence[Said],
    *,
    clinic: ClinicDetails,
    words: PlanWords,
    ways: composing.Ways,
    today: date,
) -> composing.Written:
    """In the owner's language, each thing with the words of its own plan."""
    place = town(clinic)
    about = []
    for each in things:
        before, after = words.of(each.label, owner.language)
        label = thing_in(each.label, owner.language, clinic.country)
        about.append(composing.About(each.patient, label, each.due_on, before, after, each.never))
    return composing.write(
        to=owner.name,
        about=about,
        sender=composing.Sender(clinic.name, f"{clinic.street}, {place}", clinic.phone, clinic.country),
        ways=ways,
        language=owner.language,
        today=today,
    )


def thing_in(label: str, language: str, country: str) -> str:
    """A call-back's label as owners read it in their language, where its room has words for it; else as staff
    do. English as it is spelled in the clinic's country, but for staff's own words behind a colon."""
    told = next((found for each in thing_words if (found := each.say(label, language))), label)
    if language != FIRST:
        return told
    ours, colon, own = told.partition(":")
    return f"{spelled(ours, variant_of(country))}{colon}{own}"


def answer_link_to_come() -> str:
    """What stands for the secret address until the message leaves; empty without PUBLIC_URL."""
    return f"{settings.PUBLIC_URL}/l/{LINK_TO_COME}" if settings.PUBLIC_URL else ""


def answer_link(message: Message, *, now: datetime) -> str:
    """The secret address where this owner answers this message, the same at every attempt; in the sender's
    transaction. Empty without PUBLIC_URL, and where staff revoked it."""
    if not settings.PUBLIC_URL or message.owner is None:
        return ""
    links = list(message.links.all())
    if standing := next((each for each in links if each.stands(now) and address_of(each)), None):
        return address_of(standing)
    if any(each.revoked_at for each in links):
        return ""
    return address_of(make_link(owner=message.owner, message=message, now=now))


def calendar_of(things: Sequence[ReminderItem], *, today: date, now: datetime) -> str:
    """What is still to come as a calendar file (RFC 5545); empty where nothing is. One query.

    A thing keeps its UID from message to message; SEQUENCE counts the days it was said to be due on before,
    so that a day that moved is moved in the owner's calendar, too.
    """
    coming = [each for each in things if each.due_on >= today]
    if not coming:
        return ""
    earlier: dict[tuple[int, str, str], set[date]] = defaultdict(set)
    told = ReminderItem.objects.filter(
        patient__in={each.patient_id for each in coming}, skipped=False, reminder__message__sent_at__lt=now
    )
    for patient, source, key, due_on in told.values_list("patient", "source", "key", "due_on"):
        earlier[patient, source, key].add(due_on)
    clinic, language = clinic_details(), coming[0].reminder.owner.language
    place = place_of(clinic)
    said = texts(language).reminder
    entries = [
        Entry(
            uid=uuid.uuid5(CALENDAR_SPACE, f"{each.patient_id}:{each.source}:{each.key}"),
            sequence=len(earlier[each.patient_id, each.source, each.key] - {each.due_on}),
            on=each.due_on,
            start=None,
            minutes=0,
            week=False,
            summary=said["entry"].format(
                animal=each.patient.name, thing=thing_in(each.label, language, clinic.country)
            ),
            place=place,
            changed_at=now,
        )
        for each in coming
    ]
    return calendar_file(entries, domain=mail_domain()).decode()


def stop_link(owner_id: int, key: uuid.UUID | None) -> str:
    """An address that only this house can make; empty without PUBLIC_URL. Without a key it opens nothing."""
    if not settings.PUBLIC_URL:
        return ""
    if key is None:
        return f"{settings.PUBLIC_URL}/stop-reminders/{LINK_TO_COME}"
    token = signing.dumps({"owner": owner_id, "message": str(key)}, salt=SALT)
    return f"{settings.PUBLIC_URL}{reverse('owner-stop', args=[token], urlconf='clinic.owner_page.urls')}"


def list_headers(stop_mail: str, link: str) -> dict[str, str]:
    """RFC 2369 (List-Unsubscribe); RFC 8058 (one click), which wants an https address."""
    ways = [f"<{link}>"] if link.startswith("https://") else []
    ways.append(f"<mailto:{stop_mail}?subject=stop>")
    found = {"List-Unsubscribe": ", ".join(ways)}
    if len(ways) > 1:
        found["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return found
