"""Did asking help: how many came after it, and how sure that is. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Protocol

Z = 1.96  # for 95 in 100
RULE = 120  # width of the ruler from none to all


@dataclass(frozen=True)
class Share:
    """`came` of `asked`, with the interval in which the true share lies in 95 of 100 cases."""

    came: int
    asked: int

    @property
    def interval(self) -> tuple[float, float]:
        """Wilson, E. B. (1927), J. Am. Stat. Assoc. 22: 209-212. Honest also for few or none."""
        if not self.asked:
            return 0.0, 1.0
        n, p = self.asked, self.came / self.asked
        middle = (p + Z * Z / (2 * n)) / (1 + Z * Z / n)
        half = Z / (1 + Z * Z / n) * sqrt(p * (1 - p) / n + Z * Z / (4 * n * n))
        return max(middle - half, 0.0), min(middle + half, 1.0)

    @property
    def words(self) -> str:
        """39 in 100, likely between 28 and 52; of nobody nothing is said."""
        if not self.asked:
            return "nobody was asked"
        low, high = self.interval
        return (
            f"{round(100 * self.came / self.asked)} in 100, "
            f"likely between {round(100 * low)} and {round(100 * high)}"
        )

    @property
    def ruler(self) -> tuple[int, int, int]:
        """Where the interval begins, the share stands, and the interval ends."""
        low, high = self.interval
        share = self.came / self.asked if self.asked else 0.0
        return round(low * RULE), round(share * RULE), round(high * RULE)


class Row(Protocol):
    """What a line of the drawing needs."""

    @property
    def how(self) -> str: ...
    @property
    def when(self) -> str: ...
    @property
    def share(self) -> Share: ...


@dataclass(frozen=True)
class Plotted:
    """One line: its words and where they stand, `y`, and where interval and share lie from left to right."""

    words: str
    words_at: tuple[int, int]
    y: int
    low: int
    at: int
    high: int
    unasked: bool


@dataclass(frozen=True)
class Plot:
    """The drawing, in its own units; `said` is what it shows, in words."""

    name: str
    rows: tuple[Plotted, ...]
    anchor: str
    width: int
    height: int
    ticks: tuple[tuple[int, str], ...]
    said: str


@dataclass(frozen=True)
class Sheet:
    """Room left of the scale, for the scale, for a line, and of it above the drawn for its words."""

    name: str
    left: int
    across: int
    line: int
    above: int = 0


WIDE, NARROW = Sheet("wide", 280, 400, 28), Sheet("narrow", 14, 300, 52, above=24)
TOP, RIGHT, UNDER = 22, 20, 24


def plot(rows: Sequence[Row], sheet: Sheet = WIDE) -> Plot:
    """One line a row that anybody stands for; the scale is none to all."""
    drawn = [row for row in rows if row.share.asked]

    def x(share: float) -> int:
        return sheet.left + round(share * sheet.across)

    lines = []
    for number, row in enumerate(drawn):
        low, high = row.share.interval
        top = TOP + sheet.line * number
        y = top + sheet.above + (sheet.line - sheet.above) // 2
        lines.append(
            Plotted(
                words=f"{row.how}, {row.when}",
                words_at=(0, top + sheet.above - 4) if sheet.above else (sheet.left - 12, y + 5),
                y=y,
                low=x(low),
                at=x(row.share.came / row.share.asked),
                high=x(high),
                unasked=row.how == "not asked",
            )
        )
    said = "; ".join(f"{row.how}, {row.when}: {row.share.words}" for row in drawn)
    return Plot(
        name=sheet.name,
        rows=tuple(lines),
        anchor="start" if sheet.above else "end",
        width=sheet.left + sheet.across + RIGHT,
        height=TOP + sheet.line * len(lines) + UNDER,
        ticks=tuple((x(part / 100), str(part)) for part in (0, 25, 50, 75, 100)),
        said=f"Came, of 100, with where the true share likely lies. {said}." if said else "",
    )
