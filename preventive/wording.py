"""How dues, doses and supplies are said, on pages and in letters. Pure."""

from collections.abc import Mapping
from datetime import date, timedelta

from clinic.platform.spans import span_words
from preventive.dates import day_words
from preventive.due import Action, Due, Standing, overdue_days, standing
from preventive.rules import Rules

day = day_words
SHAPES: Mapping[Standing, tuple[str, str]] = {
    Standing.OVERDUE: ("abnormal", "is-look"),
    Standing.DUE: ("abnormal", "is-look"),
    Standing.DUE_SOON: ("begun", "is-open"),
    Standing.UPCOMING: ("new", ""),
    Standing.COMPLETE: ("normal", "is-normal"),
    Standing.DECLINED: ("unseen", "is-unseen"),
    Standing.DEFERRED: ("unseen", "is-unseen"),
    Standing.HOLD: ("danger", "is-danger"),
    Standing.NOT_APPLICABLE: ("na", ""),
}
NOW: Mapping[Action, str] = {
    Action.START: "start",
    Action.GO_ON: "go on with the series",
    Action.RESTART: "begin again",
    Action.ONE_DOSE: "one dose",
    Action.TEST: "test",
    Action.TREAT: "treat",
    Action.EXAMINE: "examine",
    Action.ASK: "ask first",
    Action.WAIT: "wait",
    Action.NONE: "nothing",
}
ROUTES: Mapping[str, str] = {
    "SC": "under the skin",
    "IM": "into the muscle",
    "IN": "into the nose",
    "PO": "by mouth",
}
PROTECTS: Mapping[str, str] = {
    "heartworm": "heartworm",
    "fleas_ticks": "fleas and ticks",
    "intestinal": "intestinal worms",
}
FORMS = {"chew": "chew", "tablet": "tablet", "spot-on": "dose"}


LONG_OVER_DAYS = 365


def _over(due: Due, on: date) -> str:
    """Where nothing stands on record, the years since an animal's youth say nothing."""
    days = overdue_days(due, on)
    if days > LONG_OVER_DAYS and not due.last_on:
        return "none on record"
    return f"{span_words(on - timedelta(days=days), on)} over"


def standing_words(due: Due, on: date) -> str:
    """23 days over; none on record; due today; due 14 December 2026; declined until …"""
    at = standing(due, on)
    if at is Standing.OVERDUE:
        return _over(due, on)
    if at is Standing.DUE:
        return "ask" if due.then is Action.ASK else "due now"
    if at in {Standing.DUE_SOON, Standing.UPCOMING} and due.target:
        return f"due {day(due.target)}"
    if at in {Standing.DECLINED, Standing.DEFERRED} and due.pause and due.pause.until:
        return f"{at.value} until {day(due.pause.until)}"
    return {Standing.COMPLETE: "up to date", Standing.HOLD: "on hold"}.get(at, at.value)


def dates_words(due: Due) -> str:
    """The dates of an item in one line; empty where it has none."""
    said = []
    if due.last_on:
        said.append(f"last {day(due.last_on)}")
    if due.earliest and due.target and due.earliest != due.target:
        said.append(f"from {day(due.earliest)} to {day(due.target)}")
    elif due.target:
        said.append(f"due {day(due.target)}")
    if due.latest and due.latest != due.target:
        said.append(f"latest {day(due.latest)}")
    if due.legal and due.legal != due.target:
        said.append(f"by law {day(due.legal)}")
    return "; ".join(said)


def now_words(due: Due) -> str:
    """What to do today: one dose; go on with the series: initial 2; wait until …"""
    if due.action is Action.WAIT and due.earliest:
        return f"wait until {day(due.earliest)}"
    words = NOW[due.action]
    return (
        f"{words}: {due.sequence}" if due.sequence and due.action not in {Action.WAIT, Action.NONE} else words
    )


def antigens(codes: list[str], rules: Rules) -> str:
    """Distemper, adenovirus (hepatitis), parvovirus."""
    names = [rules.antigens.get(code, code) for code in codes]
    return ", ".join(name if number == 0 else name[0].lower() + name[1:] for number, name in enumerate(names))


def cited(source: str, certainty: str) -> str:
    """NASPHV 2016; from memory, to be checked."""
    notes = {"B": "; read as restated by others", "C": "; from memory, to be checked"}
    return f"{source}{notes.get(certainty, '')}"


def source_words(source: str, certainty: str) -> str:
    """The same inside a page's line, where only a value from memory needs a word."""
    return f"{source} (from memory, to be checked)" if certainty == "C" else source
