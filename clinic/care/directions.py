"""A medicine's directions in short sentences, composed from its parts. Pure; they may be corrected."""

from dataclasses import dataclass

from clinic.care.routes import place


@dataclass(frozen=True)
class Directions:
    """As prescribed. All text, in the prescriber's units; nothing is reckoned from it."""

    name: str
    ingredients: tuple[str, ...]
    strength: str
    dose: str
    route: str
    times: str
    first_dose: str
    last_dose: str
    side: str = ""
    quantity: str = ""


def compose_directions(directions: Directions, *, given: bool = False) -> str:
    """5 drops into the left ear, morning and evening. First dose: this evening. Last dose: 5 December.

    `given`: it was given here, so nothing is said of doses to come or of what went home.
    """
    what = " ".join(part for part in (directions.dose, place(directions.route, directions.side)) if part)
    sentences = [_ended(", ".join(part for part in (what, directions.times) if part))]
    if not given:
        if directions.first_dose:
            sentences.append(_ended(f"First dose: {directions.first_dose}"))
        if directions.last_dose:
            sentences.append(_ended(f"Last dose: {directions.last_dose}"))
        if directions.quantity:
            sentences.append(_ended(f"You took home {directions.quantity}"))
    return " ".join(sentences)


def _ended(text: str) -> str:
    """With a full stop, once; a dose such as "0.25 ml" begins as it was written."""
    return f"{text.strip().rstrip('.')}."
