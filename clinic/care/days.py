"""How the clinic's pages about care say a day."""

from datetime import date, datetime

from django.utils import timezone


def day_of(at: datetime) -> str:
    """The clinic's local day of a moment: 5 December 2026."""
    return on_day(timezone.localtime(at).date())


def on_day(day: date) -> str:
    """5 December 2026."""
    return f"{day:%-d %B %Y}"
