"""The closed list of routes, in the words that the owner reads. Pure."""

from enum import StrEnum


class Route(StrEnum):
    """Stored as words, so that a signed direction can be read without this list."""

    MOUTH = "by mouth"
    EAR = "into the ear"
    EYE = "into the eye"
    SKIN = "on the skin"
    UNDER_SKIN = "under the skin"
    MUSCLE = "into the muscle"
    VEIN = "into the vein"
    NOSE = "into the nose"
    RECTUM = "into the rectum"
    BREATHED = "breathed in"


SIDED = frozenset({Route.EAR, Route.EYE})
# dosed by the drop at the place, not by the weight of the animal
NOT_BY_WEIGHT = frozenset({Route.EAR, Route.EYE})


def needs_side(route: str) -> bool:
    """Left, right or both must be said; a route outside the list that names its side itself does not."""
    return route in SIDED


def place(route: str, side: str) -> str:
    """into the left ear; into both ears; by mouth. A side is spelled out, never abbreviated."""
    if not side:
        return route
    if "the " not in route:
        return f"{route}, {'both sides' if side == 'both' else f'{side} side'}"
    if side == "both":
        return f"{route.replace('the ', 'both ', 1)}s"
    return route.replace("the ", f"the {side} ", 1)
