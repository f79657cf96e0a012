"""How soon a thing must be seen to, and a finding code suggested with its class."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Urgency(StrEnum):
    MONITOR = "M"
    RECHECK = "R"
    TREAT_SOON = "T"
    EMERGENCY = "E"

    @property
    def rank(self) -> int:
        return "MRTE".index(self.value)

    @property
    def needs_plan(self) -> bool:
        """Treat-soon and emergency findings need a plan line before signing."""
        return self in (Urgency.TREAT_SOON, Urgency.EMERGENCY)


def highest(classes: Iterable[Urgency]) -> Urgency | None:
    """The most urgent of them; None when there are none."""
    return max(classes, key=lambda urgency: urgency.rank, default=None)


@dataclass(frozen=True)
class Suggestion:
    """What the arithmetic proposes; a clinician decides. `code` is empty for advice without a finding."""

    code: str
    urgency: Urgency
    because: str
    raised: str = ""
    """Why the class stands above the code's usual one; empty when it does not."""
