"""The PIN that hands a tablet on: four digits, few tries. It picks a name and is no password."""

from datetime import timedelta

LENGTH = 4
TRIES = 5
LOCKED_FOR = timedelta(minutes=15)
LOCK_AFTER = timedelta(minutes=10)  # a tablet nobody touches
WORKING_DAY = timedelta(hours=12)  # how long a full sign-in lasts on a tablet; a night shift passes midnight

_RUN = "0123456789012"


def weakness(pin: str) -> str:
    """What is wrong with a chosen PIN, as a sentence; empty when it may be used."""
    if len(pin) != LENGTH or not (pin.isascii() and pin.isdigit()):
        return f"A PIN has exactly {LENGTH} digits."
    if len(set(pin)) == 1:
        return "Four times the same digit is tried first. Choose another PIN."
    if pin in _RUN or pin[::-1] in _RUN:
        return "Digits in a row are tried first. Choose another PIN."
    return ""
