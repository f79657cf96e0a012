"""What a tap does to a lump: place it, measure it, say that it is gone, grew together or was not looked at.

Target: `lump:<id>`, the id made on the tablet. Its number for life is the next that the patient never had.
Pure; how much it grew and what asks for a sample is `exams.lumps`.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from exams import guards
from exams.entries import text, texts
from exams.guards import Refusal
from exams.lines import Lines
from exams.lump_lines import line_of
from exams.lump_places import Place, PlaceError, check
from exams.lump_today import (
    GONE,
    GONE_HOW,
    LOOKS,
    MEASURED,
    MERGED,
    METHODS,
    NOT_LOOKED,
    SAMPLES,
    SEVERAL,
    TARGET,
    Known,
    LumpToday,
)
from exams.lumps import Growth, Lump, LumpError, Size, doubling, grows, growth, sampling, size
from exams.state import ExamState
from exams.taps import Change, Handler, Operation
from exams.walk import Walk

USUAL_MM = 200
_ID = re.compile(r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")


def _place(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: drawing, x, y, region, side, detail, depth, first_seen (a day), first_words.

    A lump that is there already is put right: it keeps its number.
    """
    key, today, known = _here(state, op)
    place = _read_place(op.payload, lines)
    number = today.number if today else known.number if known else next_number(state)
    told = today or LumpToday(number, new=known is None)
    first = text(op.payload, "first_seen")
    if first and _day(first) > _day(op.made_at[:10]):
        raise Refusal("bad-payload", "it cannot have been seen first after today")
    told = dataclasses.replace(
        told,
        place=place,
        moved_from=told.moved_from or (known.place if known else None),
        first_seen=first or told.first_seen,
        first_words=text(op.payload, "first_words")[:120] or told.first_words,
        **_said_by(op),
    )
    return Change(lumps={key: _judged(told, known, state, lines)})


def _measure(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: axes (2 or 3, mm, any order), method, looks; looked_twice for one longer than usual."""
    key, today, known = _known(state, op)
    axes, method = op.payload.get("axes"), text(op.payload, "method") or "caliper"
    if not isinstance(axes, list) or not all(type(a) in (int, float) for a in axes):
        raise Refusal("bad-payload", "axes is a list of millimetres")
    if method not in METHODS:
        raise Refusal("bad-payload", f"the method is one of {', '.join(METHODS)}")
    try:
        told = size(*(float(a) for a in axes), method=method)
    except LumpError as error:
        raise Refusal("size", f"{str(error).capitalize()}.") from error
    if told.length_mm > USUAL_MM and op.payload.get("looked_twice") is not True:
        raise Refusal("ask-once", f"{told.length_mm:g} mm is longer than a hand. Is that millimetres?")
    lump = dataclasses.replace(
        _told(today, known),
        said=MEASURED,
        axes_mm=tuple(a for a in (told.length_mm, told.width_mm, told.height_mm) if a),
        method=told.method,
        reordered=told.reordered,
        looks=_looks(op.payload),
        **_nothing_else(),
        **_said_by(op),
    )
    return Change(lumps={key: _judged(lump, known, state, lines)})


def _sample(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: method (needle, biopsy), or "" when none was taken after all."""
    key, today, known = _known(state, op)
    method = text(op.payload, "method")
    if method and method not in SAMPLES:
        raise Refusal("bad-payload", f"a sample is one of {', '.join(SAMPLES)}")
    lump = dataclasses.replace(_told(today, known), sample=method, **_said_by(op))
    return Change(lumps={key: _judged(lump, known, state, lines)})


def _gone(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: how (not-felt, removed), words (where and when), histology: whether the whole was sent in."""
    key, today, known = _known(state, op)
    how, histology = text(op.payload, "how"), op.payload.get("histology") is True
    if how not in GONE_HOW or (histology and how != "removed"):
        raise Refusal("bad-payload", f"gone is one of {', '.join(GONE_HOW)}")
    if today and today.new:
        raise Refusal("new-lump", "It was placed today: take the placing back instead.")
    lump = dataclasses.replace(
        _blank(today, known), said=GONE, how=how, words=text(op.payload, "words"), **_said_by(op)
    )
    return Change(lumps={key: dataclasses.replace(lump, sample="removed" if histology else "")})


def _merge(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: into, the id of the lump it grew together with; that one goes on under its number."""
    key, today, known = _known(state, op)
    into = text(op.payload, "into")
    other_today, other = state.lumps.get(into), state.known_lumps.by_id.get(into)
    still_there = (
        other_today.said not in (GONE, MERGED) if other_today else other is not None and not other.gone
    )
    if into == key or not still_there:
        raise Refusal("no-such-lump", "say which lump it grew together with")
    lump = dataclasses.replace(_blank(today, known), said=MERGED, into=into, **_said_by(op))
    return Change(lumps={key: lump})


def _not_looked(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: reason (as for a line not examined), words."""
    key, today, known = _known(state, op)
    reason, words = text(op.payload, "reason"), text(op.payload, "words")
    guards.check_reason(walk, "not-examined", reason, words, op.role)
    if not reason and not words:
        raise Refusal("reason", "Say why it was not looked at.")
    lump = dataclasses.replace(
        _blank(today, known), said=NOT_LOOKED, reason=reason, words=words, **_said_by(op)
    )
    return Change(lumps={key: lump})


def _clear(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """Nothing was said of it today after all; one that was placed here goes from the map."""
    key = op.target.removeprefix(TARGET)
    if key not in state.lumps:
        raise Refusal("nothing-to-take-back", "nothing is said of that lump today")
    if any(lump.into == key for lump in state.lumps.values()):
        raise Refusal("merged", "another lump grew together with it today: take that back first")
    return Change(lumps={key: None})


def take_back(state: ExamState, op: Operation, walk: Walk, lines: Lines) -> Change:
    """payload: operation, the key of the tap on this lump that is taken back."""
    key = text(op.payload, "operation")
    undo, first = state.undo.get(key), state.outcomes.get(key)
    if undo is None or first is None or first.target != op.target:
        raise Refusal("nothing-to-take-back", "that was never saved, or was refused")
    now_said = state.lumps.get(op.target.removeprefix(TARGET))
    if now_said is None or now_said.operation != key:  # also after a later tap was taken back, it is the last
        raise Refusal("nothing-to-take-back", "it was changed since, or cannot be taken back")
    back = {k: v for k, v in undo.answers.items() if (now := state.answers.get(k)) and now.operation == key}
    return Change(answers=back, lumps=dict(undo.lumps), filled=tuple(undo.lumps))


ON_LUMPS: Mapping[str, Handler] = {
    "lump_place": _place,
    "lump_measure": _measure,
    "lump_sample": _sample,
    "lump_gone": _gone,
    "lump_merge": _merge,
    "lump_not_looked": _not_looked,
    "clear": _clear,
    "take_back": take_back,
}


def handler_of(what: str) -> Callable[[ExamState, Operation, Walk, Lines], Change]:
    if what not in ON_LUMPS:
        raise Refusal("unknown-operation", f"{what!r} is not something that is done to a lump")
    return ON_LUMPS[what]


def next_number(state: ExamState) -> int:
    """The number that a new lump gets: none that this patient ever had."""
    return max((state.known_lumps.last_number, *(x.number for x in state.lumps.values()))) + 1


# ---- Reading


def _here(state: ExamState, op: Operation) -> tuple[str, LumpToday | None, Known | None]:
    key = op.target.removeprefix(TARGET)
    if not _ID.match(key):
        raise Refusal("bad-payload", "a lump is named by its id")
    return key, state.lumps.get(key), state.known_lumps.by_id.get(key)


def _known(state: ExamState, op: Operation) -> tuple[str, LumpToday | None, Known | None]:
    key, today, known = _here(state, op)
    if today is None and known is None:
        raise Refusal("no-such-lump", "That lump stands on no map of this animal.")
    return key, today, known


def _read_place(payload: Mapping[str, Any], lines: Lines) -> Place:
    x, y = payload.get("x"), payload.get("y")
    if not isinstance(x, int | float) or not isinstance(y, int | float):
        raise Refusal("bad-payload", "x and y are parts of the drawing")
    names = ("drawing", "region", "side", "detail", "depth")
    place = Place(x=float(x), y=float(y), **{name: text(payload, name) for name in names})
    try:
        check(place, species=lines.animal.species, sex=lines.animal.sex)
    except PlaceError as error:
        raise Refusal("place", f"{str(error).capitalize()}.") from error
    return place


def _looks(payload: Mapping[str, Any]) -> dict[str, str]:
    sent = payload.get("looks", {})
    if not isinstance(sent, Mapping) or set(sent) - {*LOOKS, "note"}:
        raise Refusal("bad-payload", "that is not how a lump is described")
    told: dict[str, str] = {}
    for name in (*LOOKS, "note"):
        said = texts(sent, name) if name in SEVERAL and name in sent else (text(sent, name),)
        known = LOOKS.get(name)
        wrong = [word for word in said if word and known and word not in known]
        if wrong:
            raise Refusal("bad-payload", f"{name} is one of {', '.join(known or ())}")
        if any(said):
            told[name] = ", ".join(said)
    return told


def _day(words: str) -> date:
    try:
        return date.fromisoformat(words)
    except ValueError as error:
        raise Refusal("bad-payload", f"{words!r} is not a day") from error


def _said_by(op: Operation) -> dict[str, Any]:
    return {
        "person": op.person,
        "observed_by": op.observed_by,
        "made_at": op.made_at,
        "operation": op.key,
    }


def _nothing_else() -> dict[str, Any]:
    """A lump that is measured is neither gone nor unseen."""
    return {"reason": "", "words": "", "how": "", "into": ""}


def _told(today: LumpToday | None, known: Known | None) -> LumpToday:
    """What was said today, else a known lump at its place: an exam keeps where it said each lump lies."""
    if today is None and known is not None:
        return LumpToday(known.number, place=known.place)
    return today or LumpToday(0)


def _blank(today: LumpToday | None, known: Known | None) -> LumpToday:
    """Its number and place; what was said of size and look today no longer stands."""
    told = _told(today, known)
    return LumpToday(
        told.number,
        new=told.new,
        place=told.place,
        moved_from=told.moved_from,
        first_seen=told.first_seen,
        first_words=told.first_words,
    )


# ---- What it means


def _judged(lump: LumpToday, known: Known | None, state: ExamState, lines: Lines) -> LumpToday:
    """With growth, what asks for a sample, and the finding that it is."""
    place = lump.place or (known.place if known else None)
    if lump.said != MEASURED or place is None:
        return dataclasses.replace(lump, grown="", asks=(), facts={}, line="", code="")
    now = size(*lump.axes_mm, method=lump.method)
    change = _growth(known, now)
    line, code = line_of(place, lines)
    asks = sampling(_for_rules(lump, known, place, lines, change))
    facts: dict[str, float | bool] = {p.fact: True for p in asks if p.fact and p.fact != "pea_sized"}
    if any(p.fact == "pea_sized" for p in asks):
        facts |= {"longest_mm": now.length_mm, "present_days": float(_present(lump, known) or 0)}
    return dataclasses.replace(
        lump,
        grown=growth_words(known.last, now, known.last_days) if known and known.last else "",
        asks=tuple((p.words, p.source) for p in asks),
        facts=facts,
        line=line,
        code=code,
    )


def _for_rules(
    lump: LumpToday, known: Known | None, place: Place, lines: Lines, change: Growth | None
) -> Lump:
    looks = lump.looks
    surface = looks.get("surface", "")
    return Lump(
        species=lines.animal.species,
        region=place.rule_region,
        longest_mm=lump.axes_mm[0],
        days_present=_present(lump, known),
        sampled=bool(lump.sample) or bool(known and known.sampled),
        mammary=place.base == "gland" or place.depth == "mammary",
        injection_site=place.injection_site(lines.animal.species),
        growing=bool(change and grows(change)) or looks.get("change") == "bigger",
        changing=looks.get("change") == "different look",
        ulcerated="ulcerated" in surface or "bleeding" in surface,
        bothers=looks.get("bothers") == "yes",
    )


def _present(lump: LumpToday, known: Known | None) -> int | None:
    """Days that it is known to have been there; None: nobody said."""
    since = (_day(lump.made_at[:10]) - _day(lump.first_seen)).days if lump.first_seen else None
    days = [d for d in (since, known.days if known else None) if d is not None]
    return max(days, default=None)


def _growth(known: Known | None, now: Size) -> Growth | None:
    """None: nothing to compare with, or not measured the same way."""
    if known is None or known.last is None or known.last_days <= 0:
        return None
    try:
        return growth(known.last, now, known.last_days)
    except LumpError:
        return None


def growth_words(before: Size, now: Size, days: int) -> str:
    """How it changed since the last measure, with the range that the error of measuring leaves."""
    if days <= 0:
        return ""
    try:
        change = growth(before, now, days)
    except LumpError:
        return "Measured another way than last time, so growth is not reckoned."
    if change.within_error:
        return "No more change than the error of measuring (under 3 mm in a lump under 20 mm)."
    length, volume = (f"{p:+.0f}%" for p in (change.diameter_percent, change.volume_percent))
    said = f"{length} in length, {volume} in volume in {days} days"
    told = doubling(before, now, days)
    if told is None:
        return f"{said.replace('-', '−')}."
    slow = f" to {told.slowest_days:.0f}" if told.slowest_days else " or more, perhaps not growing"
    by = f"{told.fastest_days:.0f}{slow}, for an error of 2 mm an axis"
    return f"{said}. Doubles in about {told.days:.0f} days ({by})."
