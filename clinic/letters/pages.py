"""Plain values for the letter's preview and page."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse

from clinic.letters.composition import NoEmergencyTelephone, compose
from clinic.letters.document import Document, Sentence, from_json, sentences
from clinic.letters.models import Letter
from clinic.letters.reading import reading
from clinic.letters.sheet import sheet_context
from clinic.letters.texts import END, SOURCE
from clinic.visits.models import Record


@dataclass(frozen=True)
class Origin:
    """Where one sentence comes from, and its words now."""

    sentence: Sentence
    visit_id: int
    can_correct: bool
    language: str = SOURCE


def letter_of(record: Record, *, today: date) -> Document:
    """What was frozen with the signature, its newest version; before it, the letter as it would be today."""
    visits = Letter.objects.filter(record=record, kind=Letter.Kind.VISIT)
    frozen = visits.order_by("-version").first() if record.is_signed else None
    return from_json(frozen.content) if frozen else compose(record, today=today)


def preview_context(record: Record, *, today: date, can_correct: bool) -> dict[str, Any]:
    """For `letters/preview.html`: the letter as it is or would be, each sentence opening its origin.

    `no_letter` says why there is none.
    """
    try:
        document = letter_of(record, today=today)
    except NoEmergencyTelephone:
        return {"no_letter": "The clinic's emergency telephone is missing. No letter goes out without one."}
    return {
        **sheet_context(document),
        "preview": True,
        "can_correct": can_correct,
        "origin_url": reverse("letter-sentence", args=[record.visit_id]),
        "reading": reading(_prose(document), document.language),
    }


def _prose(document: Document) -> Iterator[str]:
    """Whole sentences; labels, cells and terms in brackets are none."""
    told = (each.text for each in sentences(document) if not each.lang)
    return (text for text in told if text.rstrip(f" {END}").endswith((".", "!", "?")))


def origin(record: Record, key: str, *, today: date, can_correct: bool) -> Origin | None:
    """None when the letter has no such sentence."""
    document = letter_of(record, today=today)
    found = next((each for each in sentences(document) if each.key == key), None)
    return Origin(found, record.visit_id, can_correct, document.language) if found else None


def frozen_context(letter: Letter, document: Document) -> dict[str, Any]:
    return {**sheet_context(document), "preview": False, "letter_id": letter.pk}
