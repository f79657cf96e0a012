"""The order in which one person walks the stations. Pure: names and places only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


class NotAnOrder(ValueError):
    """An order names every station once."""


def ordered(published: Sequence[str], own: Iterable[str]) -> tuple[str, ...]:
    """The stations in a person's own order; one that the order does not know stands after its published
    neighbour, one that the walk no longer has is left out."""
    order = [code for code in dict.fromkeys(own) if code in published]
    if not order:
        return tuple(published)
    for place, code in enumerate(published):
        if code not in order:
            before = published[place - 1] if place else None
            order.insert(order.index(before) + 1 if before else 0, code)
    return tuple(order)


def checked(published: Sequence[str], wanted: Sequence[str]) -> tuple[str, ...]:
    """The order to keep: empty where it is the published one. Raises NotAnOrder."""
    if sorted(wanted) != sorted(published):
        raise NotAnOrder("An order names every station once.")
    return () if list(wanted) == list(published) else tuple(wanted)


def moved(order: Sequence[str], code: str, way: str) -> tuple[str, ...]:
    """`code` one place `up` or `down`; at the end, or for an unknown code, nothing moves."""
    after = list(order)
    if code in after:
        here = after.index(code)
        there = here + (-1 if way == "up" else 1)
        if 0 <= there < len(after):
            after[here], after[there] = after[there], after[here]
    return tuple(after)
