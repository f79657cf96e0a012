"""How many examples a property is tried with."""

from hypothesis import settings

LONG_TIMES = 20


def examples(short: int) -> int:
    """`short`, or under --long twenty times as many. The profile was chosen before any test was imported."""
    return LONG_TIMES * short if settings.get_current_profile_name() == "long" else short
