"""The clinic's list of products, as their labels say; doses and supplies keep what it was on their day."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from preventive.errors import Incomplete
from preventive.models import Lot, Product, ProductKind
from preventive.product_label import foreign_antigens, unknown_ingredients
from preventive.products import Listed
from preventive.versions import protocol_in_force


@transaction.atomic
def keep_products(*, actor: Actor, now: datetime, products: Sequence[Listed]) -> list[Product]:
    """Add what is new and bring up to date what stands; lots are only added. Doses keep their snapshot."""
    actor.require(Right.KEEP_MEDICINES)
    kept = Product.objects.bulk_create(
        [
            Product(
                code=each.code,
                kind=each.kind,
                name=each.name,
                maker=each.maker,
                species=list(each.species),
                facts=each.facts,
            )
            for each in products
        ],
        update_conflicts=True,
        unique_fields=["code"],
        update_fields=["kind", "name", "maker", "species", "facts"],
    )
    Lot.objects.bulk_create(
        [
            Lot(
                product=product,
                number=lot.number,
                band=lot.band,
                expires_on=lot.expires_on,
                received_on=lot.received_on,
            )
            for product, listed in zip(kept, products, strict=True)
            for lot in listed.lots
        ],
        ignore_conflicts=True,
    )
    return kept


@transaction.atomic
def keep_product(
    *,
    actor: Actor,
    now: datetime,
    product: Product | None,
    kind: str,
    name: str,
    maker: str,
    species: Sequence[str],
    facts: dict[str, Any],
    sure: bool = True,
    once: UUID | None = None,
) -> Product:
    """A product of the list, new (`product` None) or changed as its label has changed.

    `sure`: somebody looked at the spelling of an ingredient of which no class is known. Raises Incomplete,
    SentBefore.
    """
    actor.require(Right.KEEP_MEDICINES)
    first_sending(once, actor=actor, now=now)
    _fits(kind, species, facts, sure=sure)
    _once(product, name, maker)
    if product is None:
        return Product.objects.create(
            code=_code(name), kind=kind, name=name, maker=maker, species=list(species), facts=facts
        )
    _lots_keep_their_size(product, facts)
    product.name, product.maker, product.species, product.facts = name, maker, list(species), facts
    product.save(update_fields=["name", "maker", "species", "facts"])
    return product


@transaction.atomic
def use_product(
    *, actor: Actor, now: datetime, product: Product, used: bool, once: UUID | None = None
) -> None:
    """No longer used, or used again. Nothing is given from it meanwhile. Raises SentBefore, Incomplete."""
    actor.require(Right.KEEP_MEDICINES)
    first_sending(once, actor=actor, now=now)
    if used:
        _once(product, product.name, product.maker)
    product.retired_on = None if used else timezone.localdate(now)
    product.save(update_fields=["retired_on"])


def _fits(kind: str, species: Sequence[str], facts: dict[str, Any], *, sure: bool) -> None:
    rules = protocol_in_force().rules
    if not species:
        raise Incomplete("species", "For which species, by the label?")
    if kind == ProductKind.VACCINE:
        foreign = foreign_antigens(facts["antigens"], species, rules)
        if foreign:
            words = f"{', '.join(foreign)}: the protocol has no rule for it in this species."
            raise Incomplete("antigens", f"{words} A dose of it would move no date.")
        return
    unknown = unknown_ingredients(facts["ingredients"], rules)
    if unknown and not sure:
        words = f"Not known here: {', '.join(unknown)}. Look at the spelling"
        raise Incomplete("sure", f"{words}, or say that it is spelled so.")


def _once(product: Product | None, name: str, maker: str) -> None:
    same = Product.objects.filter(name__iexact=name, maker__iexact=maker, retired_on=None)
    if (same.exclude(pk=product.pk) if product else same).exists():
        raise Incomplete("name", "A product of this name and maker is on the list.")


def _lots_keep_their_size(product: Product, facts: dict[str, Any]) -> None:
    """A box on the shelf says which size it holds: its size stays on the list."""
    sizes = {each["name"] for each in facts.get("bands", ())}
    boxes = product.lots.exclude(band="").exclude(on_hand=0).values_list("number", "band")
    for number, band in boxes:
        if band not in sizes:
            raise Incomplete(
                "weight_in", f"Lot {number} on the shelf holds the size {band}: that size has to stay."
            )


def _code(name: str) -> str:
    """Short words of its name; a number behind where they are taken."""
    first = slugify(name)[:50] or "product"
    taken = set(Product.objects.filter(code__startswith=first).values_list("code", flat=True))
    return next(
        code for code in (first, *(f"{first}-{n}" for n in range(2, len(taken) + 3))) if code not in taken
    )
