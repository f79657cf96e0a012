"""What letters plug into the registries: the letter is frozen with the signature."""

import copy
from datetime import datetime

from clinic.letters.actions import freeze_letter
from clinic.people.actor import Actor
from clinic.platform.registries import sign_steps
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


def register() -> None:
    """Called once, when the app is ready."""
    sign_steps.add(LetterFrozen())
