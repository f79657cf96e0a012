"""The pages of this room among the Records."""

from dataclasses import dataclass

from django.urls import reverse

from clinic.people.rights import Right
from clinic.platform.registries import records_pages


@dataclass
class StockPage:
    name: str = "stock"
    order: int = 30
    title: str = "Vaccines and preventives in stock"
    words: str = "Lots, what is left of them, what ends soon; a recall, and everyone who had the lot."
    right: Right = Right.SEE

    def url(self) -> str:
        return reverse("stock")


@dataclass
class ProtocolRecords:
    name: str = "protocol"
    order: int = 25
    title: str = "The prevention protocol"
    words: str = "The law of the place, and how the clinic answers what the guidelines leave open; editions."
    right: Right = Right.SEE_RECORDS

    def url(self) -> str:
        return reverse("protocol")


def register_pages() -> None:
    """Called once, with the room's other entries."""
    records_pages.add(ProtocolRecords())
    records_pages.add(StockPage())
