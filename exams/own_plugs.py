"""The pages of the clinic's own walk among the Records, and of one's own order beside one's sign-in."""

from __future__ import annotations

from clinic.people.rights import Right
from clinic.platform.registries import RecordsPage, lasting_changes, personal_pages, records_pages
from exams.absence_actions import OpenExamsKnow

WALK_PAGE = RecordsPage(
    name="walk",
    order=5,
    title="The walk",
    words="What every exam asks, which findings come first, findings of your own; every edition of it.",
    right=Right.PROPOSE_WALK,
    at="walk",
)
ORDER_PAGE = RecordsPage(
    name="my-order",
    order=10,
    title="My order of the walk",
    words="Which station comes after which, as your hands go.",
    right=Right.MEASURE,
    at="my-order",
)


def register_own() -> None:
    """Called once, with the room's other entries."""
    records_pages.add(WALK_PAGE)
    personal_pages.add(ORDER_PAGE)
    lasting_changes.add(OpenExamsKnow())
