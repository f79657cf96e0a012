"""The pages of the clinic's own walk among the Records, and of one's own order beside one's sign-in."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from clinic.people.rights import Right
from clinic.platform.registries import lasting_changes, personal_pages, records_pages
from exams.absence_actions import OpenExamsKnow


@dataclass
class WalkPage:
    name: str = "walk"
    order: int = 5
    title: str = "The walk"
    words: str = "What every exam asks, which findings come first, findings of your own; every edition of it."
    right: Right = Right.PROPOSE_WALK

    def url(self) -> str:
        return reverse("walk")


@dataclass
class OrderPage:
    name: str = "my-order"
    order: int = 10
    title: str = "My order of the walk"
    words: str = "Which station comes after which, as your hands go."
    right: Right = Right.MEASURE

    def url(self) -> str:
        return reverse("my-order")


def register_own() -> None:
    """Called once, with the room's other entries."""
    records_pages.add(WalkPage())
    personal_pages.add(OrderPage())
    lasting_changes.add(OpenExamsKnow())
