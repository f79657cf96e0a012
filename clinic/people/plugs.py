"""What the people's own subject plugs into the registries."""

from clinic.people.rights import Right
from clinic.platform.registries import RecordsPage, personal_pages

UNITS_PAGE = RecordsPage(
    name="my-units",
    order=20,
    title="My units",
    words="Kilograms or pounds, Celsius or Fahrenheit, grams or ounces.",
    right=Right.SEE,
    at="own-units",
)


def register() -> None:
    """Called once, when the app is ready."""
    personal_pages.add(UNITS_PAGE)
