"""A clinician makes a correction the clinic's wording, declines it, or takes a wording back."""

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction

from clinic.letters.models import Correction, Wording
from clinic.letters.texts import SOURCE
from clinic.letters.wordings import standing_text, wrong_as_text
from clinic.people.actor import Actor
from clinic.people.rights import Right


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
    known = standing_text(correction.text, correction.language)
    if known is None:
        raise NoSuchText(correction.text)
    _texts, entry = known
    forms = [" ".join(form.split()) for form in forms]
    if wrong := wrong_as_text(correction, forms, entry):
        raise CannotAdopt(wrong)
    rows = Wording.objects.select_for_update().filter(text=correction.text, language=correction.language)
    held = list(rows.order_by("version"))
    stands = next((each for each in held if each.ended_at is None and not each.declined), None)
    if (stands.pk if stands else None) != seen:
        raise ChangedMeanwhile
    if stands:
        Wording.objects.filter(pk=stands.pk).update(ended_at=now, ended_by=actor.staff)
    return _added(
        correction,
        held,
        forms=list(forms),
        instead_of=list(stands.forms if stands else entry.forms),
        reviewed=reviewed or correction.language == SOURCE,
        actor=actor,
        now=now,
    )


@transaction.atomic
def decline(*, correction: Correction, actor: Actor, now: datetime) -> Wording | None:
    """It is offered no more. None for a second tap."""
    actor.require(Right.SIGN)
    rows = Wording.objects.select_for_update().filter(text=correction.text, language=correction.language)
    held = list(rows.order_by("version"))
    if any(each.offered == correction.offered and each.ended_at is None for each in held):
        return None
    return _added(correction, held, declined=True, actor=actor, now=now)


@transaction.atomic
def take_back(*, wording: Wording, actor: Actor, now: datetime) -> bool:
    """Letters say it again as before; an offer that was declined is offered again. False for a second tap."""
    actor.require(Right.SIGN)
    return bool(
        Wording.objects.filter(pk=wording.pk, ended_at=None).update(ended_at=now, ended_by=actor.staff)
    )


def _added(
    correction: Correction, held: Sequence[Wording], *, actor: Actor, now: datetime, **said: object
) -> Wording:
    try:
        with transaction.atomic():
            return Wording.objects.create(
                text=correction.text,
                language=correction.language,
                version=held[-1].version + 1 if held else 1,
                offered=correction.offered,
                by=actor.staff,
                at=now,
                **said,
            )
    except IntegrityError as other:  # the first of a text has no row to hold
        raise ChangedMeanwhile from other
