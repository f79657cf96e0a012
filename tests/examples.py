"""How many examples a property is tried with, and how far each goes."""

from hypothesis import settings

LONG_TIMES = 20


def examples(short: int) -> int:
    """`short`, or under --long twenty times as many. The profile was chosen before any test was imported."""
    return longer(short, LONG_TIMES * short)


def longer(short: int, long: int) -> int:
    """`short`, or under --long the other."""
    return long if settings.get_current_profile_name() == "long" else short
