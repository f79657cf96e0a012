"""How long it is from a day to another, as people say it. Pure."""

from datetime import date

from dateutil.relativedelta import relativedelta

MONTHS_FROM = 2
YEARS_ALONE_FROM = 2


def span_words(first: date, last: date) -> str:
    """1 day; 58 days; 5 months; 1 year 5 months; 16 years: completed units; the day itself is said beside."""
    span = relativedelta(last, first)
    if span.years * 12 + span.months < MONTHS_FROM:
        return _counted((last - first).days, "day")
    parts = [_counted(span.years, "year")] if span.years else []
    if span.months and span.years < YEARS_ALONE_FROM:
        parts.append(_counted(span.months, "month"))
    return " ".join(parts)


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
