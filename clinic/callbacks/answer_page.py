"""What an owner sees behind a reminder's link: what it was about, what they said, and what they may say."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks.answer_models import OF_ANIMALS, Answer
from clinic.callbacks.answering import answers_to, things_of
from clinic.callbacks.models import ReminderStop
from clinic.callbacks.reminder_models import ReminderItem
from clinic.callbacks.reminder_words import thing_in
from clinic.letters.wording import long_day, words
from clinic.mail.models import Message
from clinic.owner_page.models import OwnerLink
from clinic.owner_page.pages import dialled
from clinic.owner_page.texts import Texts, texts
from clinic.platform.queries import clinic_details

URLS = "clinic.owner_page.urls"


@dataclass(frozen=True)
class Thing:
    """One line. `said`: what they answered; empty while it is open."""

    id: int
    animal_id: int
    animal: str
    words: str
    said: str = ""
    more: str = ""


@dataclass(frozen=True)
class Typed:
    """A form that comes back: which one, what was typed, and what is wrong, by field."""

    kind: str = ""
    values: dict[str, str] = field(default_factory=dict)
    chosen: frozenset[int] = frozenset()
    wrong: dict[str, str] = field(default_factory=dict)


def answer_page(
    request: HttpRequest, link: OwnerLink, secret: str, *, typed: Typed | None = None
) -> HttpResponse | None:
    """None where the link's message is no reminder. Changes nothing. Seven queries at most."""
    message = link.message
    if message is None or message.owner_id != link.owner_id or not hasattr(message, "reminder"):
        return None
    told = texts(link.owner.language)
    things = things_of(message)
    said, stopped = _said(message, things, told)
    clinic = clinic_details()
    lines = [_line(each, said, told, clinic.country) for each in things]
    open_lines = [] if stopped else [each for each in lines if not each.said]
    context = {
        "t": told.answer,
        "language": told.language,
        "lead": told.answer["lead"].format(day=_day(message.sent_at or message.made_at, told)),
        "lines": lines,
        "open": open_lines,
        "animals": list({each.animal_id: each for each in open_lines}.values()),
        "gone": [(kind, told.answer[f"gone_{kind}"]) for kind in OF_ANIMALS],
        "stopped": stopped,
        "typed": typed or Typed(),
        "thanks": request.method == "GET" and request.GET.get("thanks") == "1",
        "post": reverse("owner-answer", args=[secret], urlconf=URLS),
        "clinic": clinic.name,
        "phone": told.page["clinic_phone"].format(phone=clinic.phone),
        "dial": dialled(clinic.phone),
        "call_us": told.page["call_us"],
        "today": timezone.localdate().isoformat(),
        "until": told.page["until"].format(day=_day(link.expires_at, told)),
    }
    wrong = typed is not None and bool(typed.wrong)
    return render(request, "owner/answer.html", context, status=422 if wrong else 200)


def _said(message: Message, things: list[ReminderItem], told: Texts) -> tuple[dict[Any, Any], bool]:
    """By thing, and by animal, what was answered; and whether they want no reminders at all."""
    said: dict[Any, Any] = {}
    stops = list(ReminderStop.objects.filter(owner=message.owner_id, lifted_at=None))
    for each in stops:
        said[each.patient_id, each.source, each.key] = (told.answer["said_unwanted"], "")
    for row in answers_to(message):
        animal = row.patient.name
        day = long_day(row.done_on, words(told.language)) if row.done_on else ""
        more = told.answer["said_died_more"].format(animal=animal) if row.kind == Answer.Kind.DIED else ""
        said[row.patient_id, row.source, row.key] = (
            told.answer[f"said_{row.kind}"].format(animal=animal, day=day),
            more,
        )
    return said, any(each.patient_id is None for each in stops)


def _line(thing: ReminderItem, said: dict[Any, Any], told: Texts, country: str) -> Thing:
    whole = said.get((thing.patient_id, "", ""))
    answered, more = whole or said.get((thing.patient_id, thing.source, thing.key), ("", ""))
    called = thing_in(thing.label, told.language, country)
    return Thing(thing.pk, thing.patient_id, thing.patient.name, called, answered, more)


def _day(at: datetime, told: Texts) -> str:
    return long_day(timezone.localdate(at), words(told.language))
