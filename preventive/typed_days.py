"""A day as people copy it from a booklet: to the day, the month or the year. Pure."""

import re
from datetime import date, datetime

from preventive.dates import PartialDate, Precision

_ISO = re.compile(r"(\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?")
_WORDS = (
    ("%d %B %Y", Precision.DAY),
    ("%d %b %Y", Precision.DAY),
    ("%B %Y", Precision.MONTH),
    ("%b %Y", Precision.MONTH),
)


def read_day(text: str) -> PartialDate:
    """2024-05-12, 2024-05, 2024, 12 May 2024 or May 2024. Raises ValueError for anything else.

    05/12/2024 is refused: nobody can tell May from December.
    """
    plain = " ".join(text.split())
    if found := _ISO.fullmatch(plain):
        year, month, day = (int(each) if each else None for each in found.groups())
        precision = Precision.DAY if day else Precision.MONTH if month else Precision.YEAR
        return PartialDate(date(year or 0, month or 1, day or 1), precision)
    for form, precision in _WORDS:
        try:
            return PartialDate(datetime.strptime(plain, form).date(), precision)  # noqa: DTZ007
        except ValueError:
            continue
    raise ValueError(f"no day: {plain}")
