"""What this room puts on the manager's morning: lots that ended, or end soon."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q
from django.urls import reverse

from clinic.people.actor import Actor
from clinic.platform.registries import Flag, MorningRow, Tap
from preventive.actions.stock import may_keep_stock
from preventive.models import Lot
from preventive.stock_page import SOON
from preventive.versions import protocol_in_force
from preventive.wording import day

MANY = 12


@dataclass
class LotsThatEnd:
    """Ended ones first: they are no longer offered, and wait to be taken off the shelf."""

    name: str = "lots"
    order: int = 40
    title: str = "Lots that end soon"
    beside: str = "in the fridge and on the shelf"

    def rows(self, *, actor: Actor, today: date) -> list[MorningRow]:
        """One query."""
        lots = (
            Lot.objects.filter(recalled_on=None, expires_on__lte=today + SOON)
            .filter(Q(on_hand__gt=0) | Q(on_hand=None, expires_on__gte=today - SOON))
            .select_related("product")
            .order_by("expires_on", "pk")[:MANY]
        )
        may = may_keep_stock(actor)
        return [self._row(lot, today, may=may) for lot in lots]

    def _row(self, lot: Lot, today: date, *, may: bool) -> MorningRow:
        ended = lot.expires_on < today
        days = (lot.expires_on - today).days
        words = f"ended {day(lot.expires_on)}" if ended else f"{days} day{'' if days == 1 else 's'}"
        left = "not counted" if lot.on_hand is None else f"{lot.on_hand} left"
        url = reverse("lot", args=[lot.pk])
        return MorningRow(
            name=f"{lot.product.name}, {lot.number}",
            url=url,
            words=f"{left}; no longer offered when a dose is recorded"
            if ended
            else f"{left}: use these first",
            mark=Flag("danger" if ended else "abnormal", words),
            taps=(Tap("Take them off", url),) if ended and may else (),
        )


@dataclass
class LifeInWords:
    """The lifestyle answers that the protocol reads."""

    name: str = "prevention"
    order: int = 10

    def words(self) -> dict[str, str]:
        return dict(protocol_in_force().rules.lifestyle)
