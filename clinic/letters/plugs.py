"""What letters plug into the registries: the letter is frozen with the signature."""

import copy
from dataclasses import dataclass
from datetime import datetime

from clinic.letters.actions import freeze_letter
from clinic.letters.texts import LETTERS, Texts
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.registries import RecordsPage, letter_texts, records_pages, sign_steps
from clinic.visits.actions.signing import name_as_signed
from clinic.visits.models import Record


class LetterFrozen:
    """Last of the steps, so that it holds what the others made."""

    name, order = "letter", 90

    def run(self, record: Record, *, actor: Actor, now: datetime) -> None:
        # the letter names who signs it; the record itself is closed by the action, after all steps
        signing = copy.copy(record)
        signing.signed_at, signing.signed_by, signing.signed_name = (
            now,
            actor.staff,
            name_as_signed(actor.staff),
        )
        freeze_letter(record=signing, actor=actor, now=now)


@dataclass(frozen=True)
class SheetTexts:
    """What the letter itself, care, weight and visits say."""

    name: str = "letters"
    order: int = 10

    def texts(self, language: str) -> Texts:
        return LETTERS.of_files(language)


WORDS_PAGE = RecordsPage(
    name="letter-words",
    order=30,
    title="Words of letters",
    words="What clinicians wrote instead of a letter's own words, and what the clinic says so from now on.",
    right=Right.SIGN,
    at="letter-words",
)


def register() -> None:
    """Called once, when the app is ready."""
    sign_steps.add(LetterFrozen())
    letter_texts.add(SheetTexts())
    records_pages.add(WORDS_PAGE)
