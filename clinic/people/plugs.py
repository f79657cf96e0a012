"""What the people's own subject plugs into the registries."""

from dataclasses import dataclass

from django.urls import reverse

from clinic.people.rights import Right
from clinic.platform.registries import personal_pages


@dataclass
class UnitsPage:
    name: str = "my-units"
    order: int = 20
    title: str = "My units"
    words: str = "Kilograms or pounds, Celsius or Fahrenheit, grams or ounces."
    right: Right = Right.SEE

    def url(self) -> str:
        return reverse("own-units")


def register() -> None:
    """Called once, when the app is ready."""
    personal_pages.add(UnitsPage())
