"""A medicine's directions in one sentence, composed from its parts. Pure; the clinician may correct it."""

from dataclasses import dataclass


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


def compose_directions(directions: Directions) -> str:
    """5 drops into the left ear, morning and evening. First dose: this evening. Last dose: 5 December."""
    place = _place(directions.route, directions.side)
    what = " ".join(part for part in (directions.dose, place) if part)
    sentences = [f"{what}, {directions.times}."]
    if directions.first_dose:
        sentences.append(f"First dose: {directions.first_dose}.")
    if directions.last_dose:
        sentences.append(f"Last dose: {directions.last_dose}.")
    if directions.quantity:
        sentences.append(f"You took home {directions.quantity}.")
    return " ".join(sentences)


def _place(route: str, side: str) -> str:
    """into the left ear; by mouth. A side is spelled out, never abbreviated."""
    if not side:
        return route
    sides = "both" if side == "both" else f"the {side}"
    if "the " in route:
        return route.replace("the ", f"{sides} ", 1)
    return f"{route}, {side} side"
