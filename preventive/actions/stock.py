"""The clinic's list of products, the lots it has, and what is left of them."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from preventive.actions.common import said
from preventive.actions.dues import refresh_call_backs
from preventive.errors import Incomplete, LotRecalled, LotUsedUp
from preventive.models import Dose, Lot, LotStep, Product, RecallTold
from preventive.products import Listed

MOST = 10_000


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
    count: int | None = None,
    once: UUID | None = None,
) -> Lot:
    """A lot that came in, `count` doses of it; the same number again is more of the same lot.

    Raises Incomplete: the same number with another expiry, one that ended before it came; SentBefore.
    """
    require_stock(actor)
    first_sending(once, actor=actor, now=now)
    number = said(number, field="number", sentence="Which number stands on the box?")
    if received_on > timezone.localdate(now):
        raise Incomplete("received_on", "This day has not come yet.")
    if expires_on < received_on:
        raise Incomplete("expires_on", "It had expired before it came in: send it back.")
    lot, new = Lot.objects.get_or_create(
        product=product, number=number, defaults={"expires_on": expires_on, "received_on": received_on}
    )
    lot = _held(lot.pk)
    if not new and lot.expires_on != expires_on:
        raise Incomplete(
            "expires_on",
            f"Lot {number} is on the shelf with another expiry, {lot.expires_on:%-d %B %Y}: look at the box.",
        )
    if count is not None:
        lot.on_hand = (lot.on_hand or 0) + _number(count, least=1)
        lot.save(update_fields=["on_hand"])
        _step(lot, LotStep.Kind.RECEIVED, f"{count} doses", actor, now)
    return lot


@transaction.atomic
def count_lot(*, actor: Actor, now: datetime, lot: Lot, left: int, once: UUID | None = None) -> Lot:
    """Somebody looked: so many are there. Raises Incomplete, SentBefore."""
    require_stock(actor)
    first_sending(once, actor=actor, now=now)
    held = _held(lot.pk)
    before = "not counted before" if held.on_hand is None else f"{held.on_hand} by the count before"
    held.on_hand = _number(left, least=0)
    held.save(update_fields=["on_hand"])
    _step(held, LotStep.Kind.COUNTED, before, actor, now)
    return held


@transaction.atomic
def throw_away(
    *, actor: Actor, now: datetime, lot: Lot, count: int, why: str, once: UUID | None = None
) -> Lot:
    """Broken, warm, expired. Raises Incomplete, SentBefore."""
    require_stock(actor)
    first_sending(once, actor=actor, now=now)
    held = _held(lot.pk)
    if held.on_hand is None:
        raise Incomplete("count", "Count this lot first.")
    if not 1 <= count <= held.on_hand:
        raise Incomplete("count", f"There are {held.on_hand} by the count.")
    held.on_hand -= count
    held.save(update_fields=["on_hand"])
    reason = said(why, field="why", sentence="Say why they are thrown away.")
    _step(held, LotStep.Kind.THROWN, f"{count}: {reason}"[:200], actor, now)
    return held


@transaction.atomic
def recall_lot(*, actor: Actor, now: datetime, lot: Lot, reason: str, once: UUID | None = None) -> Lot:
    """Nothing more is given from it, and every owner stands among the call-backs until somebody told them.

    Whoever reads the notice may enter it. Raises Incomplete, SentBefore.
    """
    require_stock(actor)
    first_sending(once, actor=actor, now=now)
    held = _held(lot.pk)
    if held.recalled_on is None:
        held.recalled_on = timezone.localdate(now)
        held.recall_reason = said(reason, field="reason", sentence="By whom, and why?")
        held.save(update_fields=["recalled_on", "recall_reason"])
        _step(held, LotStep.Kind.RECALLED, held.recall_reason, actor, now)
        _refresh_all(held, now)
    return held


@transaction.atomic
def lift_recall(*, actor: Actor, now: datetime, lot: Lot, reason: str, once: UUID | None = None) -> Lot:
    """It was a mistake, or is over. A clinician says so. Raises Incomplete, SentBefore."""
    actor.require(Right.ASSESS)
    first_sending(once, actor=actor, now=now)
    held = _held(lot.pk)
    words = said(reason, field="reason", sentence="Say why it may be given again.")
    if held.recalled_on is not None:
        held.recalled_on, held.recall_reason = None, ""
        held.save(update_fields=["recalled_on", "recall_reason"])
        _step(held, LotStep.Kind.LIFTED, words, actor, now)
        _refresh_all(held, now)
    return held


@transaction.atomic
def owner_told(*, actor: Actor, now: datetime, dose: Dose, how: str, once: UUID | None = None) -> None:
    """The owner knows of the recall. Doing it twice changes nothing. Raises Incomplete, SentBefore."""
    actor.require(Right.NOTE_CONTACT)
    first_sending(once, actor=actor, now=now)
    how = said(how, field="how", sentence="How was the owner told?")
    RecallTold.objects.get_or_create(dose=dose, defaults={"how": how, "by": actor.staff, "at": now})
    refresh_call_backs(patient=dose.patient, today=timezone.localdate(now), now=now)


def take(lots: Iterable[Lot]) -> None:
    """One dose of each leaves the refrigerator; the lots are held until the transaction ends.

    In the order of their numbers, so that two people who take the same lots never wait for each other in a
    circle. Raises LotRecalled, LotUsedUp.
    """
    for lot in sorted(lots, key=lambda each: each.pk):
        held = _held(lot.pk)
        if held.recalled_on is not None:
            raise LotRecalled(held.number)
        if held.on_hand is None:
            continue
        if held.on_hand == 0:
            raise LotUsedUp(held.number)
        held.on_hand -= 1
        held.save(update_fields=["on_hand"])


def put_back(lot: Lot) -> None:
    """A dose that was never given is on the shelf still."""
    held = _held(lot.pk)
    if held.on_hand is not None:
        held.on_hand += 1
        held.save(update_fields=["on_hand"])


def _held(lot_id: int) -> Lot:
    """The lot, held until the transaction ends: two who take the last vial come one after the other."""
    return Lot.objects.select_for_update(no_key=True).get(pk=lot_id)


def _number(count: int, *, least: int) -> int:
    if not least <= count <= MOST:
        raise Incomplete("count", f"How many: {least} to {MOST}.")
    return count


def _step(lot: Lot, kind: str, words: str, actor: Actor, now: datetime) -> None:
    LotStep.objects.create(lot=lot, kind=kind, left=lot.on_hand, words=words, by=actor.staff, at=now)


def _refresh_all(lot: Lot, now: datetime) -> None:
    given = Dose.objects.filter(lot_in_stock=lot, struck_at=None).select_related("patient")
    for patient in {dose.patient for dose in given}:
        refresh_call_backs(patient=patient, today=timezone.localdate(now), now=now)
