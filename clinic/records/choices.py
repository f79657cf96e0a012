"""What the clinic's details offer to choose from."""

from clinic.platform.registries import jurisdictions

# The profiles that the program itself speaks of; the room that keeps their rules may register more.
PLACES = (
    ("nasphv", "The NASPHV Compendium 2016 (recommendations, not a regulation)"),
    ("us-tx", "Texas"),
    ("us-ny", "New York"),
    ("us-pa", "Pennsylvania"),
    ("eu-travel", "Travel in the European Union"),
    ("ca-strict", "Canada, strict reading of the label"),
)
ENERGY_RULES = (
    ("rer-multiples", "Multiples of the resting need"),
    ("body-size", "Need by body size"),
)
PAPER = (("A4", "A4"), ("letter", "US Letter"))


def places() -> list[tuple[str, str]]:
    """Stored code and title of every jurisdiction, registered ones first."""
    known = [(choice.name, choice.title) for choice in jurisdictions]
    codes = {code for code, _ in known}
    return known + [place for place in PLACES if place[0] not in codes]
