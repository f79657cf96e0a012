"""How a household can be reached, why somebody is not asked, and when again. Pure: no clock, no database."""

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from enum import StrEnum

from clinic.platform.spans import span_words


class Reach(StrEnum):
    """The first way that is open; what an owner wished goes before what would be possible."""

    PAPER = "paper"
    MAIL = "mail"
    BOUNCED = "bounced"
    TELEPHONE = "telephone"
    NOTHING = "nothing"


REACH_WORDS: Mapping[Reach, str] = {
    Reach.PAPER: "on paper",
    Reach.MAIL: "e-mail",
    Reach.BOUNCED: "e-mail came back",
    Reach.TELEPHONE: "telephone only",
    Reach.NOTHING: "nothing works",
}
REACH_MARKS: Mapping[Reach, tuple[str, str]] = {
    Reach.PAPER: ("part", ""),
    Reach.MAIL: ("normal", "is-normal"),
    Reach.BOUNCED: ("abnormal", "is-look"),
    Reach.TELEPHONE: ("begun", ""),
    Reach.NOTHING: ("abnormal", "is-look"),
}


class LeftOut(StrEnum):
    """Why nobody asks about it now, the weightiest first (common practice; the last four are ours)."""

    DIED = "died"
    MOVED = "moved"
    STOPPED = "stopped"
    STOPPED_ITEM = "stopped-item"
    ELSEWHERE = "elsewhere"
    ANSWERED = "answered"
    HERE = "here"
    BOOKED = "booked"
    LATELY = "lately"
    OFTEN = "often"
    INACTIVE = "inactive"


LEFT_OUT_WORDS: Mapping[LeftOut, str] = {
    LeftOut.DIED: "died",
    LeftOut.MOVED: "left the practice",
    LeftOut.STOPPED: "said stop",
    LeftOut.STOPPED_ITEM: "said stop to this",
    LeftOut.ELSEWHERE: "done elsewhere, as they say",
    LeftOut.ANSWERED: "they answered us",
    LeftOut.HERE: "here now",
    LeftOut.BOOKED: "booked",
    LeftOut.LATELY: "asked lately",
    LeftOut.OFTEN: "asked three times",
    LeftOut.INACTIVE: "not seen for long",
}
LEFT_OUT_MARKS: Mapping[LeftOut, tuple[str, str]] = {
    LeftOut.DIED: ("na", "is-unseen"),
    LeftOut.MOVED: ("na", "is-unseen"),
    LeftOut.STOPPED: ("unseen", "is-unseen"),
    LeftOut.STOPPED_ITEM: ("unseen", "is-unseen"),
    LeftOut.ELSEWHERE: ("normal", "is-normal"),
    LeftOut.ANSWERED: ("begun", ""),
    LeftOut.HERE: ("normal", "is-normal"),
    LeftOut.BOOKED: ("normal", "is-normal"),
    LeftOut.LATELY: ("begun", ""),
    LeftOut.OFTEN: ("unseen", "is-unseen"),
    LeftOut.INACTIVE: ("unseen", "is-unseen"),
}

ASKED_AT_MOST = 3  # stop after three: common practice
INACTIVE_MONTHS = (
    36  # no visit for 24 to 36 months, common practice; the longer one, unless a clinic sets another
)
# How long somebody is left in peace. After asking: the next of the usual days (common
# practice) comes 30 days later. The shorter ones are ours.
AGAIN_AFTER: Mapping[str, timedelta] = {
    "not-reached": timedelta(days=2),
    "wrong-number": timedelta(days=2),
    "asked": timedelta(days=30),
    "will-call": timedelta(days=14),
    "will-come": timedelta(days=14),  # as they say; by then they came, or are asked again
    "moved": timedelta(days=2),  # by then it stands on the animal's card, or somebody asks
    "died": timedelta(days=2),
    "booked": timedelta(days=2),  # by then the booking stands, or somebody asks what became of it
    "elsewhere": timedelta(days=30),
}
UNREACHED = frozenset({"not-reached", "wrong-number"})  # nobody heard it: not counted as asking


def again_on(outcome: str, *, today: date, wished: date | None = None) -> date:
    """The first day on which they may be asked again: as agreed, or as is usual after such an outcome."""
    return wished or today + AGAIN_AFTER[outcome]


def over_words(due_on: date, today: date, *, never: bool = False) -> str:
    """As `span_words`; what is not due yet: in 3 days.

    Of what was never recorded nobody knows how long it is over, or whether.
    """
    if never:
        return "never recorded"
    days = (today - due_on).days
    if days == 0:
        return "today"
    words = span_words(min(due_on, today), max(due_on, today))
    return words if days > 0 else f"in {words}"


RULE_DAYS, RULE_STEP, RULE_LEFT, RULE_RIGHT = 60, 36, 2, 126


def over_run(due_on: date, today: date, *, never: bool = False) -> int:
    """Where the bar of a ruler ends that has a mark every 60 days; what is longer ends with the ruler."""
    days = 0 if never else max((today - due_on).days, 0)
    return min(RULE_LEFT + round(days * RULE_STEP / RULE_DAYS), RULE_RIGHT)


def counted(number: int, one: str, many: str) -> str:
    return f"{number:,} {one if number == 1 else many}"


def listed(parts: list[str]) -> str:
    """one; one and two; one, two and three."""
    return " and ".join(filter(None, (", ".join(parts[:-1]), parts[-1]))) if parts else ""


def sentence(*, things: int, patients: int, reach: Mapping[str, int]) -> str:
    """What the list says before its rows. `reach` counts households."""
    if not things:
        return "Nobody has to be asked about anything."
    animals = counted(patients, "patient", "patients")
    houses = counted(sum(reach.values()), "household", "households")
    ways = listed([f"{reach[way]:,} {_way(way)}" for way in Reach if reach.get(way)])
    return f"{counted(things, 'thing is', 'things are')} overdue for {animals} of {houses}: {ways}."


def waiting_words(days: Iterable[date], *, today: date) -> str:
    """How many messages wait, and when they leave: 3 messages wait: 2 for today, 1 for 30 November.

    `days`: of each message; one that is late leaves as soon as it may.
    """
    of = Counter(max(day, today) for day in days)
    said = counted(of.total(), "message waits", "messages wait")
    if set(of) <= {today}:
        return said
    named = [f"{of[day]} for {'today' if day == today else f'{day.day} {day:%B}'}" for day in sorted(of)]
    return f"{said}: {', '.join(named)}"


def left_out_words(left_out: Mapping[str, int]) -> tuple[str, str]:
    """How many things nobody asks about, and why, the weightiest first; both empty where there are none."""
    if not left_out:
        return "", ""
    why = [f"{left_out[each]:,} {LEFT_OUT_WORDS[each]}" for each in LeftOut if left_out.get(each)]
    return f"Left out: {counted(sum(left_out.values()), 'thing', 'things')}", f"({listed(why)})."


def _way(way: Reach) -> str:
    return {
        Reach.PAPER: "on paper",
        Reach.MAIL: "by e-mail",
        Reach.BOUNCED: "whose e-mail came back",
        Reach.TELEPHONE: "by telephone only",
        Reach.NOTHING: "not at all",
    }[way]
