"""What can become a problem today, brought by each room; `clinic` brings heads-ups, history and results."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from clinic.care.models import TestResult
from clinic.platform.registries import Registered, Registry, heads_up_places
from clinic.visits.models import HeadsUp, HistoryAnswer, Record
from clinic.visits.topics import TOPICS

ALARMING = ("positive", "low", "high", "unclear")


@dataclass(frozen=True)
class Matter:
    """Something of today that a clinician may make a problem of.

    `line_keys` say what it speaks of: an open problem that speaks of one of them has it already.
    `title` is what the problem would be called, `words` what was recorded, `urgency` M, R, T, E or empty.
    """

    line_keys: tuple[str, ...]
    station: str
    title: str
    urgency: str
    words: str

    @property
    def key(self) -> str:
        return self.line_keys[0]


class ProblemSource(Registered, Protocol):
    """Filled by a room. Both must not write, and ask a fixed number of questions of the database."""

    def matters(self, record: Record) -> list[Matter]:
        """What of this record is worth a problem, the most urgent first."""
        ...

    def facts(self, record: Record) -> Mapping[str, Any]:
        """What a guard needs to know: "ear-drum-seen-whole": {"left": True, "right": False}."""
        ...


problem_sources: Registry[ProblemSource] = Registry()


class HeadsUpMatters:
    """What a technician noticed; not what a clinician looked at and did not find."""

    name, order = "heads-ups", 20

    def matters(self, record: Record) -> list[Matter]:
        titles = {place.name: place.title for place in heads_up_places}
        noticed = HeadsUp.objects.filter(record=record).exclude(answer=HeadsUp.Answer.LOOKED)
        return [
            Matter((f"heads-up:{each.pk}",), each.station, each.words[:160], "", _noticed(each, titles))
            for each in noticed.select_related("by")
        ]

    def facts(self, record: Record) -> Mapping[str, Any]:
        return {}


def _noticed(each: HeadsUp, titles: dict[str, str]) -> str:
    where = " ".join(part for part in (each.side, titles.get(each.station, "").lower()) if part)
    return f"heads-up{f', {where}' if where else ''}, {each.by.full_name}"


class HistoryMatters:
    """What changed at home."""

    name, order = "history", 30

    def matters(self, record: Record) -> list[Matter]:
        titles = {topic.code: topic.title for topic in TOPICS}
        told = HistoryAnswer.objects.filter(record=record, answer__in=("more", "less", "changed"))
        return [
            Matter(
                (f"history:{each.pk}",),
                "",
                f"{titles.get(each.topic, each.topic)}: {each.answer}"[:160],
                "",
                f"told by the owner{f': “{each.words}”' if each.words else ''}",
            )
            for each in told.order_by("pk")
        ]

    def facts(self, record: Record) -> Mapping[str, Any]:
        return {}


class ResultMatters:
    """A result that is not as usual, of this record's tests."""

    name, order = "results", 40

    def matters(self, record: Record) -> list[Matter]:
        results = TestResult.objects.filter(test__record=record, struck_at=None, meaning__in=ALARMING)
        return [
            Matter(
                (f"result:{each.pk}",),
                "",
                f"{each.test.title}: {each.value} {each.unit}".strip()[:160],
                "",
                f"result, {each.meaning}",
            )
            # a test that a problem asked for speaks of that problem already
            for each in results.filter(test__plan_line=None).select_related("test").order_by("pk")
        ]

    def facts(self, record: Record) -> Mapping[str, Any]:
        return {}


def all_matters(record: Record) -> list[Matter]:
    """Of every room, in the rooms' order."""
    return [matter for source in problem_sources for matter in source.matters(record)]


def all_facts(record: Record) -> dict[str, Any]:
    """What the rooms know; a name is taken by one room only."""
    facts: dict[str, Any] = {}
    for source in problem_sources:
        facts |= source.facts(record)
    return facts
