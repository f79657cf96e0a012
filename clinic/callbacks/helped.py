"""Did asking help: how many came after it, and how sure that is. Pure."""

from dataclasses import dataclass
from math import sqrt

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
