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
    """One line: its words, `y`, and where interval and share lie from left to right."""

    words: str
    y: int
    low: int
    at: int
    high: int
    unasked: bool


@dataclass(frozen=True)
class Plot:
    """The drawing, in its own units; `said` is what it shows, in words."""

    rows: tuple[Plotted, ...]
    left: int
    width: int
    height: int
    ticks: tuple[tuple[int, str], ...]
    said: str


LEFT, ACROSS, LINE, TOP = 280, 400, 28, 22  # room for words, the scale, a line's height, above the first


def plot(rows: Sequence[Row]) -> Plot:
    """One line a row that anybody stands for; the scale is none to all."""
    drawn = [row for row in rows if row.share.asked]
    lines = []
    for number, row in enumerate(drawn):
        low, high = row.share.interval
        lines.append(
            Plotted(
                words=f"{row.how}, {row.when}",
                y=TOP + LINE * number + LINE // 2,
                low=LEFT + round(low * ACROSS),
                at=LEFT + round(row.share.came / row.share.asked * ACROSS),
                high=LEFT + round(high * ACROSS),
                unasked=row.how == "not asked",
            )
        )
    said = "; ".join(f"{row.how}, {row.when}: {row.share.words}" for row in drawn)
    return Plot(
        rows=tuple(lines),
        left=LEFT,
        width=LEFT + ACROSS + 20,
        height=TOP + LINE * len(lines) + 24,
        ticks=tuple((LEFT + round(part / 100 * ACROSS), str(part)) for part in (0, 25, 50, 75, 100)),
        said=f"Came, of 100, with where the true share likely lies. {said}." if said else "",
    )
