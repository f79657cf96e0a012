"""The pages of the medicine list as plain values: rows, one medicine, what another changed meanwhile."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django.http import Http404
from django.urls import reverse
from django.utils import timezone

from clinic.care.catalogue import known_kinds
from clinic.care.days import day_of
from clinic.care.guards import Kinds
from clinic.care.kinds import plain, published
from clinic.care.listed_forms import OwnKinds, typed_of
from clinic.care.listed_models import IngredientKinds, ListedMedicine
from clinic.people.actor import Actor
from clinic.people.rights import Right

LABELS = {
    "name": "name",
    "ingredients": "active ingredients",
    "strength": "strength",
    "unit": "counted in",
    "route": "route",
    "species": "for",
    "off": "on the list",
}


@dataclass(frozen=True)
class Ingredient:
    """`kinds` in words; `unknown`: nobody said which, so the guards cannot ask about it."""

    name: str
    kinds: str
    unknown: bool


@dataclass(frozen=True)
class Row:
    name: str
    strength: str
    ingredients: tuple[Ingredient, ...]
    species: str
    route: str
    unit: str
    off: str
    url: str


@dataclass(frozen=True)
class ListPage:
    query: str
    on: tuple[Row, ...]
    off: tuple[Row, ...]
    empty: bool
    unknown: int
    may_change: bool


@dataclass(frozen=True)
class Difference:
    """One thing that changed; `typed`: what the person who looked typed at the same place."""

    what: str
    was: str
    now: str
    typed: str = ""


@dataclass(frozen=True)
class Turn:
    """One change of a medicine, with who and when."""

    words: str
    by: str
    differences: tuple[Difference, ...]


@dataclass(frozen=True)
class Meanwhile:
    by: str
    at: str
    differences: tuple[Difference, ...]


def list_page(*, query: str, actor: Actor) -> ListPage:
    """Those whose name, ingredients or kinds hold every word of the query. Two queries."""
    kinds = known_kinds()
    every = [_row(each, kinds) for each in ListedMedicine.objects.all()]
    words = query.casefold().split()
    found = [row for row in every if all(word in _searched(row) for word in words)]
    return ListPage(
        query=query,
        on=tuple(row for row in found if not row.off),
        off=tuple(row for row in found if row.off),
        empty=not every,
        unknown=sum(any(each.unknown for each in row.ingredients) for row in every if not row.off),
        may_change=actor.may(Right.KEEP_MEDICINES),
    )


def _searched(row: Row) -> str:
    return " ".join((row.name, *(f"{each.name} {each.kinds}" for each in row.ingredients))).casefold()


def _row(row: ListedMedicine, kinds: Kinds) -> Row:
    return Row(
        name=row.name,
        strength=row.strength,
        ingredients=tuple(_ingredient(each, kinds) for each in row.ingredients),
        species=_species(row.species),
        route=row.route,
        unit=row.unit,
        off=f"taken off {day_of(row.off_at)}: {row.off_reason}" if row.off_at else "",
        url=reverse("listed-medicine", args=[row.pk]),
    )


def _ingredient(name: str, kinds: Kinds) -> Ingredient:
    if plain(name) not in kinds.of:
        return Ingredient(name, "no kind known: the guards cannot ask about it", unknown=True)
    told = ", ".join(published().titles(kinds.find(name)))
    return Ingredient(name, told or "none of the kinds that are asked about", unknown=False)


def _species(species: list[str]) -> str:
    return " and ".join(f"{each}s" for each in species) or "not said"


def access_listed(listed_id: int) -> ListedMedicine:
    """A medicine of the list, also one that was taken off. 404 when there is none."""
    row = ListedMedicine.objects.filter(pk=listed_id).first()
    if row is None:
        raise Http404
    return row


def own_kinds() -> dict[str, OwnKinds]:
    """What the clinic said of ingredients, by plain name. One query."""
    return {
        plain(each.ingredient): OwnKinds(frozenset(each.kinds), each.version)
        for each in IngredientKinds.objects.all()
    }


def turns_of(row: ListedMedicine) -> tuple[Turn, ...]:
    """What became of it, the newest first. One query."""
    events = list(_events(row))
    turns = [
        Turn(_when(new), new.changed_by.full_name, _differences(old, new)) for old, new in pairwise(events)
    ]
    first = events[:1]
    return (
        *reversed(turns),
        *(Turn(f"{_when(each)}, added", each.changed_by.full_name, ()) for each in first),
    )


def meanwhile(row: ListedMedicine, *, seen: int, typed: dict[str, Any] | None = None) -> Meanwhile:
    """What changed since `seen`, beside what was typed. One query."""
    before = next((each for each in _events(row) if each.version == seen), None)
    told = _differences(before, row, typed or {}) if before else ()
    return Meanwhile(row.changed_by.full_name, _when(row), told)


def follow(row: ListedMedicine, *, seen: int, typed: dict[str, Any]) -> dict[str, Any]:
    """Fields that were left as they had been and have changed since: the form follows them. One query."""
    before = next((each for each in _events(row) if each.version == seen), None)
    if before is None:
        return {}
    old, now = typed_of(before), typed_of(row)
    return {name: now[name] for name in old if typed.get(name) == old[name] != now[name]}


def _events(row: ListedMedicine) -> Any:
    return row.events.select_related("changed_by").order_by("pgh_id")  # type: ignore[attr-defined]


def _when(row: Any) -> str:
    return f"{timezone.localtime(row.changed_at):%-d %B %Y, %H:%M}"


def _differences(old: Any, new: Any, typed: dict[str, Any] | None = None) -> tuple[Difference, ...]:
    was, now = _said(old), _said(new)
    mine = {name: _words(value) for name, value in (typed or {}).items()}
    return tuple(
        Difference(
            LABELS[name],
            was[name],
            now[name],
            typed="" if mine.get(name) in (was[name], now[name]) else mine.get(name, ""),
        )
        for name in LABELS
        if was[name] != now[name]
    )


def _said(row: Any) -> dict[str, str]:
    told = {name: _words(value) for name, value in typed_of(row).items()}
    return {**told, "off": f"no: {row.off_reason}" if row.off_at else "yes"}


def _words(value: Any) -> str:
    return _species(value) if isinstance(value, list) else str(value)
