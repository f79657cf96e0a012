"""A place as letters have it."""

from typing import Protocol


class Placed(Protocol):
    """An owner, or the clinic."""

    street: str
    city: str
    region: str
    postal_code: str


def town(of: Placed) -> str:
    """Town, region and postal code in one line, what is not known left out."""
    return " ".join(part for part in (of.city, of.region, of.postal_code) if part)


def one_line(of: Placed) -> str:
    """Street, and the town behind it."""
    return ", ".join(part for part in (of.street, town(of)) if part)
