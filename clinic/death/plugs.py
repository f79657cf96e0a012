"""What deaths plug in: what ends with a life, and what is left to be done."""

from clinic.death.endings import Bookings, CallBacks, Medicines, Messages, Problems
from clinic.death.sources import AfterDeath
from clinic.platform.registries import endings, promise_sources


def register() -> None:
    """Called once, when the app is ready."""
    for ending in (Bookings(), CallBacks(), Messages(), Medicines(), Problems()):
        endings.add(ending)
    promise_sources.add(AfterDeath())
