"""The clinic keeps its list of medicines: added, changed, taken off with a reason, put back; nothing erased.

What was directed copied its medicine, so no record changes with the list.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import F, Value
from django.db.models.functions import Lower

from clinic.care.actions.common import said
from clinic.care.errors import TextMissing
from clinic.care.kinds import plain, published
from clinic.care.listed_errors import KindsChanged, ListChanged, NameStands, NotAKind
from clinic.care.listed_models import ROUTES, SPECIES, IngredientKinds, ListedMedicine
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending

NAME_ONCE = "a_medicine_is_listed_once"


@dataclass(frozen=True)
class SaidKinds:
    """Kinds of an ingredient as somebody chose them; `seen`: the version they looked at, 0 when none was."""

    kinds: frozenset[str]
    seen: int = 0


@dataclass(frozen=True)
class Facts:
    """What stands on the label. `species`: empty when it does not say."""

    name: str
    ingredients: tuple[str, ...]
    strength: str
    route: str
    unit: str
    species: tuple[str, ...] = ()


@transaction.atomic
def list_medicine(
    *,
    actor: Actor,
    now: datetime,
    facts: Facts,
    kinds: Mapping[str, SaidKinds] | None = None,
    once: UUID | None = None,
) -> ListedMedicine:
    """Put a medicine on the list; `kinds` of its ingredients that no file knows, by ingredient.

    Raises TextMissing, NameStands, NotAKind, KindsChanged, SentBefore.
    """
    actor.require(Right.KEEP_MEDICINES)
    columns = _columns(facts)
    first_sending(once, actor=actor, now=now)
    _say_kinds(kinds or {}, actor=actor, now=now)
    who = {"added_at": now, "added_by": actor.staff, "changed_at": now, "changed_by": actor.staff}
    try:
        with transaction.atomic():
            return ListedMedicine.objects.create(**columns, **who)
    except IntegrityError as error:
        raise _name_stands(error, columns["name"]) from error


@transaction.atomic
def change_listed(
    *,
    actor: Actor,
    now: datetime,
    row: ListedMedicine,
    seen: int,
    facts: Facts,
    kinds: Mapping[str, SaidKinds] | None = None,
    once: UUID | None = None,
) -> ListedMedicine:
    """Change what the list says. `seen`: the version that was looked at.

    Raises TextMissing, ListChanged, NameStands, NotAKind, KindsChanged, SentBefore.
    """
    actor.require(Right.KEEP_MEDICINES)
    columns = _columns(facts)
    first_sending(once, actor=actor, now=now)
    _say_kinds(kinds or {}, actor=actor, now=now)
    try:
        with transaction.atomic():
            return _step(row, seen, actor=actor, now=now, **columns)
    except IntegrityError as error:
        raise _name_stands(error, columns["name"]) from error


@transaction.atomic
def take_off(
    *,
    actor: Actor,
    now: datetime,
    row: ListedMedicine,
    seen: int,
    reason: str,
    once: UUID | None = None,
) -> ListedMedicine:
    """It is not offered any more; what was directed of it stays.

    Raises TextMissing, ListChanged, SentBefore.
    """
    actor.require(Right.KEEP_MEDICINES)
    reason = said(reason, field="reason", sentence="Say why it is taken off the list.")
    first_sending(once, actor=actor, now=now)
    return _step(row, seen, actor=actor, now=now, off_at=now, off_reason=reason)


@transaction.atomic
def put_back(
    *, actor: Actor, now: datetime, row: ListedMedicine, seen: int, once: UUID | None = None
) -> ListedMedicine:
    """It is offered again; its history keeps why it was taken off. Raises ListChanged, SentBefore."""
    actor.require(Right.KEEP_MEDICINES)
    first_sending(once, actor=actor, now=now)
    return _step(row, seen, actor=actor, now=now, off_at=None, off_reason="")


def _step(row: ListedMedicine, seen: int, *, actor: Actor, now: datetime, **columns: Any) -> ListedMedicine:
    """One change of the row that was looked at, and of no other. Raises ListChanged."""
    done = ListedMedicine.objects.filter(pk=row.pk, version=seen).update(
        **columns, version=F("version") + 1, changed_at=now, changed_by=actor.staff
    )
    now_there = ListedMedicine.objects.select_related("changed_by").get(pk=row.pk)
    if not done:
        raise ListChanged(now_there)
    return now_there


def _columns(facts: Facts) -> dict[str, Any]:
    """As it is stored, blanks put straight. Raises TextMissing."""
    ingredients = tuple(dict.fromkeys(_tidy(each) for each in facts.ingredients if each.strip()))
    if not ingredients:
        raise TextMissing("ingredients", "Write its active ingredients, with commas between.")
    if facts.route not in ROUTES:
        raise TextMissing("route", "Choose a route of the list.")
    if set(facts.species) - set(SPECIES):
        raise TextMissing("species", "Choose dogs, cats, or leave it open.")
    return {
        "name": said(_tidy(facts.name), field="name", sentence="Write the name on its label."),
        "ingredients": list(ingredients),
        "strength": said(
            _tidy(facts.strength), field="strength", sentence="Write its strength with the unit."
        ),
        "species": [each for each in SPECIES if each in facts.species],
        "route": facts.route,
        "unit": said(_tidy(facts.unit), field="unit", sentence="Say what a dose is counted in."),
    }


def _tidy(text: str) -> str:
    return " ".join(text.split())


def _name_stands(error: IntegrityError, name: str) -> Exception:
    """The error in words, when it is the name that stands already; else the error itself."""
    if NAME_ONCE not in str(error):
        return error
    spelt = ListedMedicine.objects.annotate(spelt=Lower("name"))
    return NameStands(spelt.get(spelt=Lower(Value(name))))


def _say_kinds(kinds: Mapping[str, SaidKinds], *, actor: Actor, now: datetime) -> None:
    """Keep what differs from what stands. Raises NotAKind, KindsChanged."""
    for ingredient, chosen in sorted(kinds.items()):
        if chosen.kinds - published().names():
            raise NotAKind(ingredient)
        name = plain(ingredient)
        # two people saying the kinds of a new ingredient: the unique name makes the second wait, and see
        row, made = IngredientKinds.objects.get_or_create(
            ingredient=name, defaults={"kinds": sorted(chosen.kinds), "by": actor.staff, "at": now}
        )
        if made or frozenset(row.kinds) == chosen.kinds:
            continue
        done = IngredientKinds.objects.filter(pk=row.pk, version=chosen.seen).update(
            kinds=sorted(chosen.kinds), version=F("version") + 1, by=actor.staff, at=now
        )
        if not done:
            raise KindsChanged(IngredientKinds.objects.select_related("by").get(pk=row.pk))
