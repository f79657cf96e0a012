"""A clinician makes a correction the clinic's wording, words a text anew, declines, takes a wording back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction

from clinic.letters.models import Correction, Wording
from clinic.letters.texts import SOURCE, Entry
from clinic.letters.wordings import standing_text, wrong_as_begun, wrong_as_text
from clinic.people.actor import Actor
from clinic.people.rights import Right

SAYS_SO = "Letters say exactly this already."


class CannotAdopt(Exception):
    """These words cannot be a text. `wrong`: why, in sentences."""

    def __init__(self, wrong: Sequence[str]) -> None:
        super().__init__(" ".join(wrong))
        self.wrong = tuple(wrong)


class ChangedMeanwhile(Exception):
    """Somebody else worded, declined or took back the same text since the page was opened."""


class NoSuchText(Exception):
    """No file says a text of that name any more."""


@transaction.atomic
def adopt(
    *,
    correction: Correction,
    forms: Sequence[str],
    seen: int | None,
    reviewed: bool = False,
    actor: Actor,
    now: datetime,
) -> Wording:
    """From now on letters say it so. `seen`: the wording in force that the clinician looked at.

    Raises CannotAdopt, ChangedMeanwhile, NoSuchText.
    """
    actor.require(Right.SIGN)
    of = _Of(correction.text, correction.language, correction.offered)
    entry, forms = _entry(of), _clean(forms)
    if wrong := wrong_as_text(correction, forms, entry):
        raise CannotAdopt(wrong)
    return _instead(of, entry, forms, seen, reviewed=reviewed, actor=actor, now=now)


@transaction.atomic
def word_anew(
    *,
    text: str,
    language: str,
    forms: Sequence[str],
    seen: int | None,
    reviewed: bool = False,
    actor: Actor,
    now: datetime,
) -> Wording:
    """The same for any text (`room:key`), without a letter in which it was corrected. Raises as `adopt`."""
    actor.require(Right.SIGN)
    forms = _clean(forms)
    of = _Of(text, language, forms[0] if forms else "", offered_in_a_letter=False)
    entry = _entry(of)
    if wrong := wrong_as_begun(language, forms, entry):
        raise CannotAdopt(wrong)
    return _instead(of, entry, forms, seen, reviewed=reviewed, actor=actor, now=now)


@transaction.atomic
def decline(*, correction: Correction, actor: Actor, now: datetime) -> Wording | None:
    """It is offered no more. None for a second tap."""
    actor.require(Right.SIGN)
    of = _Of(correction.text, correction.language, correction.offered)
    held = _held(of)
    if any(each.offered == of.offered and each.ended_at is None for each in held):
        return None
    return _added(of, held, declined=True, actor=actor, now=now)


@transaction.atomic
def take_back(*, wording: Wording, actor: Actor, now: datetime) -> bool:
    """Letters say it again as before; an offer that was declined is offered again. False for a second tap."""
    actor.require(Right.SIGN)
    return bool(
        Wording.objects.filter(pk=wording.pk, ended_at=None).update(ended_at=now, ended_by=actor.staff)
    )


@dataclass(frozen=True)
class _Of:
    """Which text, in which language, and what was offered instead of it: in a letter, or here."""

    text: str
    language: str
    offered: str
    offered_in_a_letter: bool = True


def _clean(forms: Sequence[str]) -> list[str]:
    return [" ".join(form.split()) for form in forms]


def _entry(of: _Of) -> Entry:
    known = standing_text(of.text, of.language)
    if known is None:
        raise NoSuchText(of.text)
    return known[1]


def _held(of: _Of) -> list[Wording]:
    """Every version of the text, held until the transaction ends."""
    rows = Wording.objects.select_for_update().filter(text=of.text, language=of.language)
    return list(rows.order_by("version"))


def _instead(
    of: _Of, entry: Entry, forms: list[str], seen: int | None, *, reviewed: bool, actor: Actor, now: datetime
) -> Wording:
    held = _held(of)
    stands = next((each for each in held if each.ended_at is None and not each.declined), None)
    if (stands.pk if stands else None) != seen:
        raise ChangedMeanwhile
    before = list(stands.forms if stands else entry.forms)
    if forms == before and not of.offered_in_a_letter:
        raise CannotAdopt([SAYS_SO])
    if stands:
        Wording.objects.filter(pk=stands.pk).update(ended_at=now, ended_by=actor.staff)
    reviewed = reviewed or of.language == SOURCE
    return _added(of, held, forms=forms, instead_of=before, reviewed=reviewed, actor=actor, now=now)


def _added(of: _Of, held: Sequence[Wording], *, actor: Actor, now: datetime, **said: object) -> Wording:
    try:
        with transaction.atomic():
            return Wording.objects.create(
                text=of.text,
                language=of.language,
                version=held[-1].version + 1 if held else 1,
                offered=of.offered,
                by=actor.staff,
                at=now,
                **said,
            )
    except IntegrityError as other:  # the first of a text has no row to hold
        raise ChangedMeanwhile from other
