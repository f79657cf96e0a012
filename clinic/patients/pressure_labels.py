"""Names beside a systolic pressure: of the current table, or of a superseded one."""

from dataclasses import dataclass
from decimal import Decimal

from clinic.patients.limit_table import Limits, default_limits
from clinic.patients.units import plain


@dataclass(frozen=True)
class LabelVerdict:
    """`right` is the category of the current table for this pressure."""

    accepted: bool
    right: str
    reason: str = ""


def check_pressure_label(systolic: Decimal, label: str, limits: Limits | None = None) -> LabelVerdict:
    """Does a name beside a systolic pressure (mmHg) belong to it by the categories of 2018?

    Names and ranges of the tables of 2014-2015 are refused, whatever the number.
    """
    table = limits or default_limits()
    names = table.pressure_labels
    levels = [level for level in table.levels if level.kind == "blood-pressure"]
    right = next(level.category for level in levels if level.span.holds(systolic))
    said = " ".join(label.lower().replace("–", "-").replace("mmhg", "").split())
    if any(word in said for word in (*names.old_words, *names.old_ranges)):
        return LabelVerdict(False, right, f"“{label}” is of a superseded table ({names.source.work}).")
    name = said.rstrip("0123456789-() ")
    if name == right:
        return LabelVerdict(True, right)
    known = name in names.current
    reason = f"{plain(systolic)} mmHg is {right}." if known else f"“{label}” is not a category."
    return LabelVerdict(False, right, reason)
