"""What is booked for a day, in the order of the clock, and what stands at the same time. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True)
class Slot:
    """One booking that has a time: `start` in the clinic's time zone."""

    key: str
    start: datetime
    minutes: int

    @property
    def end(self) -> datetime:
        return self.start + timedelta(minutes=self.minutes)


def at_the_same_time(slots: Iterable[Slot]) -> Mapping[str, tuple[str, ...]]:
    """Slot to the slots that share a minute with it. One that begins when another ends shares none."""
    ordered = sorted(slots, key=lambda slot: (slot.start, slot.key))
    shared: dict[str, list[str]] = {}
    for number, one in enumerate(ordered):
        for other in ordered[number + 1 :]:
            if other.start >= one.end:
                break
            shared.setdefault(one.key, []).append(other.key)
            shared.setdefault(other.key, []).append(one.key)
    return {key: tuple(others) for key, others in shared.items()}
