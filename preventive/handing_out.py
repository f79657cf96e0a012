"""The preventives that may go home from a visit: product, size by weight, box, first day."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from preventive.due import DueGroup
from preventive.knowing import Known
from preventive.models import Lot, Product, ProductKind
from preventive.products import PreventiveFacts, preventive_facts
from preventive.vials import LotChoice, left, not_offered
from preventive.wording import PROTECTS, day


@dataclass(frozen=True)
class SupplyChoice:
    product_id: int
    name: str
    small: str
    size: str
    sizes: tuple[str, ...]
    lots: tuple[LotChoice, ...]
    gone: str
    checked: bool


def supplies(
    products: list[Product], known: Known, today: date, sent: Mapping[str, str]
) -> tuple[SupplyChoice, ...]:
    found = []
    for product in products:
        if product.kind != ProductKind.PREVENTIVE:
            continue
        label = preventive_facts(product.facts)
        band = label.band_for(known.animal.weight_kg)
        size = sent.get(f"band-{product.pk}") or (band.name if band else "")
        found.append(
            SupplyChoice(
                product_id=product.pk,
                name=product.name,
                small=_protects(label),
                size=size,
                sizes=tuple(each.name for each in label.bands),
                lots=_boxes(product, size, today, sent.get(f"lot-of-{product.pk}")),
                gone="; ".join(words for lot in product.lots.all() if (words := not_offered(lot, today))),
                checked=sent.get("product") == str(product.pk),
            )
        )
    return tuple(found)


def _boxes(product: Product, size: str, today: date, chosen: str | None) -> tuple[LotChoice, ...]:
    """Lots that may be handed out; of the fitting size the one that ends first is proposed."""
    good = [each for each in product.lots.all() if not not_offered(each, today)]
    good.sort(key=lambda each: (each.expires_on, each.number))
    fitting = next((str(each.pk) for each in good if each.band in {"", size}), "")
    picked = fitting if chosen is None else chosen
    return tuple(
        LotChoice(
            value=str(lot.pk),
            product=product.name,
            small=lot.band,
            label=f"{_number_and_size(lot)}, ends {day(lot.expires_on)}{left(lot)}",
            checked=picked == str(lot.pk),
        )
        for lot in good
    )


def _number_and_size(lot: Lot) -> str:
    return f"{lot.number}, {lot.band}" if lot.band else lot.number


def _protects(label: PreventiveFacts) -> str:
    against = ", ".join(PROTECTS.get(each, each) for each in label.protects)
    return f"{against}; every {label.interval.words}; {', '.join(label.ingredients)}"


def first_on(groups: tuple[DueGroup, ...], today: date) -> date:
    """The day the last preventive that went home is due again; today where there is none."""
    days = [
        g.first.target for g in groups if g.first.kind == "prevention" and g.first.last_on and g.first.target
    ]
    coming = [each for each in days if each > today]
    return min(coming, default=today)
