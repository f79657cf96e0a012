"""What stands in the refrigerator: lots, what is left, what ends soon, who had a lot."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Q

from clinic.patients.models import Ownership
from preventive.models import Dose, Lot, LotStep, Product
from preventive.products import vaccine_facts
from preventive.versions import protocol_in_force
from preventive.wording import antigens, day

SOON = timedelta(days=60)
FEW = 3


@dataclass(frozen=True)
class ShelfLot:
    id: int
    number: str
    shape: str
    tone: str
    words: str
    left: str
    given: int


@dataclass(frozen=True)
class ShelfProduct:
    id: int
    name: str
    small: str
    lots: tuple[ShelfLot, ...]
    retired: bool


@dataclass(frozen=True)
class Had:
    """One dose from a lot: the animal, its owner, and whether the owner knows of the recall."""

    dose_id: int
    patient_id: int
    patient: str
    owner: str
    reach: str
    when: str
    told: str
    ended: str


@dataclass(frozen=True)
class LotPage:
    lot: Lot
    row: ShelfLot
    steps: Sequence[LotStep]
    had: tuple[Had, ...]
    elsewhere: tuple[Had, ...]
    untold: int


def shelf(*, today: date, all_lots: bool = False) -> tuple[ShelfProduct, ...]:
    """Vaccines and their lots; used up and long expired ones only with `all_lots`. Three queries."""
    rules = protocol_in_force().rules
    lots: dict[int, list[ShelfLot]] = {}
    counted = Lot.objects.annotate(given=Count("doses", filter=Q(doses__struck_at=None)))
    for lot in counted.order_by("expires_on", "number"):
        if all_lots or _on_shelf(lot, today):
            lots.setdefault(lot.product_id, []).append(_row(lot, lot.given, today))
    return tuple(
        ShelfProduct(
            id=each.pk,
            name=each.name,
            small=f"{antigens(list(vaccine_facts(each.facts).antigens), rules)}; {each.maker}",
            lots=tuple(lots.get(each.pk, ())),
            retired=each.retired_on is not None,
        )
        for each in Product.objects.filter(kind="vaccine").order_by("name", "pk")
    )


def _on_shelf(lot: Lot, today: date) -> bool:
    return lot.recalled_on is not None or (lot.on_hand != 0 and lot.expires_on >= today - SOON)


def _row(lot: Lot, given: int, today: date) -> ShelfLot:
    shape, tone, words = _stands(lot, today)
    left = "not counted" if lot.on_hand is None else f"{lot.on_hand} left"
    return ShelfLot(lot.pk, lot.number, shape, tone, words, left, given)


def _stands(lot: Lot, today: date) -> tuple[str, str, str]:
    """Shape, tone and words of a lot, the gravest first."""
    if lot.recalled_on is not None:
        return "danger", "is-danger", f"recalled {day(lot.recalled_on)}"
    if lot.expires_on < today:
        return "danger", "is-danger", f"ended {day(lot.expires_on)}: take it off the shelf"
    if lot.on_hand == 0:
        return "na", "", f"used up; ends {day(lot.expires_on)}"
    if lot.expires_on <= today + SOON:
        return "abnormal", "is-look", f"ends soon: {day(lot.expires_on)}"
    if lot.on_hand is not None and lot.on_hand <= FEW:
        return "abnormal", "is-look", f"few left; ends {day(lot.expires_on)}"
    return "normal", "is-normal", f"ends {day(lot.expires_on)}"


def lot_page(lot: Lot, *, today: date) -> LotPage:
    """A lot and everyone who had it; also doses from elsewhere under the same number, apart."""
    doses = list(
        Dose.objects.filter(Q(lot_in_stock=lot) | Q(lot=lot.number, lot_in_stock=None), struck_at=None)
        .select_related("patient", "recall_told__by")
        .order_by("given_on", "pk")
    )
    owners = {
        each.patient_id: each
        for each in Ownership.objects.filter(
            patient_id__in={dose.patient_id for dose in doses}, until=None, is_first=True
        )
        .select_related("owner")
        .prefetch_related("owner__phones")
    }
    had = [(dose, _had(dose, owners.get(dose.patient_id))) for dose in doses]
    own = tuple(row for dose, row in had if dose.lot_in_stock_id)
    return LotPage(
        lot=lot,
        row=_row(lot, len(own), today),
        steps=tuple(lot.steps.select_related("by")),
        had=own,
        elsewhere=tuple(row for dose, row in had if not dose.lot_in_stock_id),
        untold=sum(1 for row in own if not row.told),
    )


def _had(dose: Dose, ownership: Ownership | None) -> Had:
    owner = ownership.owner if ownership else None
    reach = [each.number for each in owner.phones.all()] if owner else []
    if owner and owner.email:
        reach.append(owner.email)
    told = getattr(dose, "recall_told", None)
    patient = dose.patient
    ended = "has died" if patient.deceased_on else "left the practice" if patient.left_practice_on else ""
    return Had(
        dose_id=dose.pk,
        patient_id=patient.pk,
        patient=patient.name,
        owner=owner.name if owner else "no owner on record",
        reach=", ".join(reach) or "no way to reach them on record",
        when=day(dose.given_on),
        told=f"told {day(told.at.date())} by {told.by.full_name}: {told.how}" if told else "",
        ended=ended,
    )
