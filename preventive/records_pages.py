"""The pages of this room among the Records."""

from clinic.people.rights import Right
from clinic.platform.registries import RecordsPage, records_pages

STOCK_PAGE = RecordsPage(
    name="stock",
    order=30,
    title="Vaccines and preventives",
    words="What the clinic uses, as labels say; lots, what is left of them, what ends soon; recalls.",
    right=Right.SEE,
    at="stock",
)
PROTOCOL_PAGE = RecordsPage(
    name="protocol",
    order=25,
    title="The prevention protocol",
    words="The law of the place, and how the clinic answers what the guidelines leave open; editions.",
    right=Right.SEE_RECORDS,
    at="protocol",
)


def register_pages() -> None:
    """Called once, with the room's other entries."""
    records_pages.add(PROTOCOL_PAGE)
    records_pages.add(STOCK_PAGE)
