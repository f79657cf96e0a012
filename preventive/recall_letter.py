"""What a household is told of a recalled lot: plain and short. Pure.

A notice about a product that was given is medical, not a reminder: it is sent also to those who said stop
(common practice; AAHA 2022 asks that the lot stands with each dose, so that a recall finds it).
"""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Named:
    """One animal and what it had: `had` as `a dose on 3 March 2026`."""

    animal: str
    had: str


@dataclass(frozen=True)
class ToHousehold:
    owner: str
    animals: tuple[Named, ...]


@dataclass(frozen=True)
class House:
    """What every letter about one lot says alike. `address`: the clinic's, line by line."""

    product: str
    maker: str
    lot: str
    phone: str
    emergency: str
    address: tuple[str, ...]


@dataclass(frozen=True)
class Mail:
    subject: str
    body: str


def names(animals: Sequence[str]) -> str:
    """Tarn; Tarn and Sorrel; Tarn, Sorrel and Bit."""
    one_each = list(dict.fromkeys(animals))
    return " and ".join([", ".join(one_each[:-1]), one_each[-1]] if len(one_each) > 1 else one_each)


def letter_to(household: ToHousehold, words: str, house: House) -> Mail:
    """`words`: the clinician's, put in the middle as they are."""
    whose = names([each.animal for each in household.animals])
    lines = [
        f"Dear {household.owner},",
        "",
        f"A lot of {house.product} ({house.maker}) that we have used is recalled. From this lot we gave or "
        "handed out:",
        "",
        *(f"- {each.animal}: {each.had}" for each in household.animals),
        "",
        f"Lot: {house.lot}",
        "",
        words,
        "",
        f"Please call us with any question, or when something about {whose} worries you: {house.phone}."
        + (f" When we are closed: {house.emergency}." if house.emergency else ""),
        "",
        "We write about the health of your animals, so this reaches you also if you want no reminders.",
        "",
        *house.address,
    ]
    return Mail(f"About {whose}: a recalled lot of {house.product}", "\n".join(lines))
