"""How many examples a property is tried with."""

from hypothesis import settings

LONG = 2000


def examples(short: int) -> int:
    """`short`, or under --long the full number. The profile was chosen before any test was imported."""
    return LONG if settings.get_current_profile_name() == "long" else short
