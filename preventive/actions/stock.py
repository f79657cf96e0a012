"""The clinic's list of products and the lots it has."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from clinic.people.actor import Actor
from clinic.people.rights import Right
from preventive.models import Lot, Product
from preventive.products import Listed


@transaction.atomic
def keep_products(*, actor: Actor, now: datetime, products: Sequence[Listed]) -> list[Product]:
    """Add what is new and bring up to date what stands; lots are only added. Doses keep their snapshot."""
    actor.require(Right.MANAGE_CLINIC)
    kept = []
    for each in products:
        product, _ = Product.objects.update_or_create(
            code=each.code,
            defaults={
                "kind": each.kind,
                "name": each.name,
                "maker": each.maker,
                "species": list(each.species),
                "facts": each.facts,
            },
        )
        for lot in each.lots:
            Lot.objects.get_or_create(
                product=product,
                number=lot.number,
                defaults={"expires_on": lot.expires_on, "received_on": lot.received_on},
            )
        kept.append(product)
    return kept


@transaction.atomic
def receive_lot(
    *, actor: Actor, now: datetime, product: Product, number: str, expires_on: date, received_on: date
) -> Lot:
    """A lot that came in; the same number twice is the same lot."""
    actor.require(Right.MANAGE_CLINIC)
    lot, _ = Lot.objects.get_or_create(
        product=product,
        number=number.strip(),
        defaults={"expires_on": expires_on, "received_on": received_on},
    )
    return lot
