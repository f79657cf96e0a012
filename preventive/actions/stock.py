"""The lots the clinic has, and what is left of them."""

from collections.abc import Mapping
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from preventive.actions.common import said
from preventive.errors import Incomplete, LotRecalled, LotUsedUp
from preventive.models import Lot, LotStep, Product
from preventive.products import preventive_facts
from preventive.wording import day

MOST = 10_000


def may_keep_stock(actor: Actor) -> bool:
    """Whoever gives from the refrigerator counts it, and so does a manager."""
    return actor.may(Right.GIVE_DOSE) or actor.may(Right.MANAGE_CLINIC)


def require_stock(actor: Actor) -> None:
    """Raises NotAllowed."""
    if not may_keep_stock(actor):
        actor.require(Right.GIVE_DOSE)


@transaction.atomic
def receive_lot(
    *,
    actor: Actor,
    now: datetime,
    product: Product,
    number: str,
    expires_on: date,
    received_on: date,
    band: str = "",
    count: int | None = None,
    once: UUID | None = None,
) -> Lot:
    """A lot that came in, `count` doses of it; the same number again is more of the same lot.

    `band`: of a preventive, the size on the box. Raises Incomplete: no size, the same number with another
    expiry, one that ended before it came; SentBefore.
    """
    require_stock(actor)
    first_sending(once, actor=actor, now=now)
    number = said(number, field="number", sentence="Which number stands on the box?")
    _size(product, band)
    if received_on > timezone.localdate(now):
        raise Incomplete("received_on", "This day has not come yet.")
    if expires_on < received_on:
        raise Incomplete("expires_on", "It had expired before it came in: send it back.")
    lot, new = Lot.objects.get_or_create(
        product=product,
        number=number,
        band=band,
        defaults={"expires_on": expires_on, "received_on": received_on},
    )
    lot = held_lot(lot.pk)
    if not new and lot.expires_on != expires_on:
        raise Incomplete(
            "expires_on",
            f"Lot {number} is on the shelf with another expiry, {day(lot.expires_on)}: look at the box.",
        )
    if count is not None:
        lot.on_hand = (lot.on_hand or 0) + _number(count, least=1)
        lot.save(update_fields=["on_hand"])
        note_step(lot, LotStep.Kind.RECEIVED, f"{count} doses", actor, now)
    return lot


@transaction.atomic
def count_lot(*, actor: Actor, now: datetime, lot: Lot, left: int, once: UUID | None = None) -> Lot:
    """Somebody looked: so many are there. Raises Incomplete, SentBefore."""
    require_stock(actor)
    first_sending(once, actor=actor, now=now)
    held = held_lot(lot.pk)
    before = "not counted before" if held.on_hand is None else f"{held.on_hand} by the count before"
    held.on_hand = _number(left, least=0)
    held.save(update_fields=["on_hand"])
    note_step(held, LotStep.Kind.COUNTED, before, actor, now)
    return held


@transaction.atomic
def throw_away(
    *, actor: Actor, now: datetime, lot: Lot, count: int, why: str, once: UUID | None = None
) -> Lot:
    """Broken, warm, expired. Raises Incomplete, SentBefore."""
    require_stock(actor)
    first_sending(once, actor=actor, now=now)
    held = held_lot(lot.pk)
    if held.on_hand is None:
        raise Incomplete("count", "Count this lot first.")
    if not 1 <= count <= held.on_hand:
        raise Incomplete("count", f"There are {held.on_hand} by the count.")
    held.on_hand -= count
    held.save(update_fields=["on_hand"])
    reason = said(why, field="why", sentence="Say why they are thrown away.")
    note_step(held, LotStep.Kind.THROWN, f"{count}: {reason}"[:200], actor, now)
    return held


def take(wanted: Mapping[Lot, int]) -> None:
    """So many of each leave the shelf; the lots are held until the transaction ends.

    In the order of their numbers, so that two people who take the same lots never wait for each other in a
    circle. Raises LotRecalled, LotUsedUp.
    """
    for lot in sorted(wanted, key=lambda each: each.pk):
        held, count = held_lot(lot.pk), wanted[lot]
        if held.recalled_on is not None:
            raise LotRecalled(held.number)
        if held.on_hand is None:
            continue
        if held.on_hand < count:
            raise LotUsedUp(held.number, held.on_hand)
        held.on_hand -= count
        held.save(update_fields=["on_hand"])


def put_back(lot: Lot, count: int = 1) -> None:
    """What was never given, or brought back unopened, is on the shelf still."""
    held = held_lot(lot.pk)
    if held.on_hand is not None:
        held.on_hand += count
        held.save(update_fields=["on_hand"])


def held_lot(lot_id: int) -> Lot:
    """The lot, held until the transaction ends: two who take the last vial come one after the other."""
    return Lot.objects.select_for_update(no_key=True).get(pk=lot_id)


def _size(product: Product, band: str) -> None:
    sizes = (
        [each.name for each in preventive_facts(product.facts).bands] if product.kind == "preventive" else []
    )
    if band not in (sizes or [""]):
        raise Incomplete("band", "Which size stands on the box?" if sizes else "A vaccine has no size.")


def _number(count: int, *, least: int) -> int:
    if not least <= count <= MOST:
        raise Incomplete("count", f"How many: {least} to {MOST}.")
    return count


def note_step(lot: Lot, kind: str, words: str, actor: Actor, now: datetime) -> None:
    LotStep.objects.create(lot=lot, kind=kind, left=lot.on_hand, words=words, by=actor.staff, at=now)
