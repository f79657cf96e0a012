"""What is left, station by station, and what stands against signing. Reckoned, never stored."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from exams import qualifiers
from exams.lines import Line, Lines
from exams.state import (
    ABNORMAL,
    MEASURED,
    NORMAL,
    NOT_APPLICABLE,
    NOT_EXAMINED,
    NOT_YET,
    ExamState,
    FindingEntry,
    LineAnswer,
    codes,
    standing,
)
from exams.tooth_chart import FURCATION, RESORPTION
from exams.urgency import NEEDS_PLAN, Facts, Urgency, effective, highest, implied
from exams.walk import Walk

FLAGGED = ("high", "low")
NEEDS_VALUE_OR_REASON = ("VIT.weight|-", "BCM.score|-")
GROWTH = "BCM.growth|-"  # read off the weights, no value of its own to take


@dataclass(frozen=True, slots=True)
class StationDigest:
    """One station in numbers.

    standing: new, begun, normal, abnormal or unseen. left: lines that every exam answers and that are not
    yet; left_called_for: the others not yet; structures_left counts a structure once, whatever its sides.
    """

    code: str
    standing: str
    left: int
    left_called_for: int
    structures_left: int
    normal: int
    abnormal: int
    not_examined: int
    measured: int
    in_part: int
    not_applicable: int
    heads_ups_open: int
    left_by_side: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Digest:
    """The whole exam. A look with twins counts once in `left`, though both stations show it."""

    stations: tuple[StationDigest, ...]
    left: int
    left_called_for: int
    heads_ups_open: int
    urgency: str


@dataclass(frozen=True, slots=True)
class Judged:
    """One finding on one line with the class that counts."""

    line: str
    entry: FindingEntry
    urgency: Urgency


@dataclass(frozen=True, slots=True)
class Missing:
    """One thing that stands against signing.

    kind: routine, measured, heads-up, reason, finding, grade, unconfirmed, plan or nothing-examined.
    `where`: lines, heads-up ids or finding codes.
    """

    kind: str
    words: str
    where: tuple[str, ...]


def digest(
    state: ExamState,
    walk: Walk,
    lines: Lines,
    *,
    measured: Mapping[str, str] | None = None,
    facts: Facts | None = None,
) -> Digest:
    """measured: line key to high, low or inside, of values taken at intake. facts: `urgency.facts_of`."""
    told = _standings(state, lines, measured or {})
    stations = tuple(_station(state, walk, lines, code, told) for code in walk.station)
    open_lines = {
        line.stored_at: line for line in lines if told[line.key] == NOT_YET and not line.whole_station
    }
    return Digest(
        stations,
        left=sum(line.asked == "every" for line in open_lines.values()),
        left_called_for=sum(line.asked != "every" for line in open_lines.values()),
        heads_ups_open=len(state.open_heads_ups()),
        urgency=highest(j.urgency.letter for j in judged(state, walk, facts or {})),
    )


def judged(state: ExamState, walk: Walk, facts: Facts) -> tuple[Judged, ...]:
    """Every finding with its class in these circumstances, in walking order, limits and variants too."""
    found = []
    extra = {f"finding:{code}": True for code in codes(state)}
    order = {code: i for i, code in enumerate(walk.station)}
    for key, answer in sorted(state.answers.items(), key=lambda x: order.get(x[0].partition(".")[0], 0)):
        for entry in answer.findings:
            own = {**facts, **extra, **_size(answer), **facts_of_entry(walk, entry)}
            by_hand = entry.urgency
            reckoned = effective(
                walk.finding[entry.code], own, set_by_clinician=by_hand, why=entry.urgency_why
            )
            found.append(Judged(key, entry, reckoned))
    return tuple(found)


def missing_to_sign(
    state: ExamState,
    walk: Walk,
    lines: Lines,
    *,
    measured: Mapping[str, str] | None = None,
    facts: Facts | None = None,
    planned: Collection[str] = (),
) -> tuple[Missing, ...]:
    """What a signature waits for. planned: codes of findings that have a plan line."""
    told = _standings(state, lines, measured or {})
    asked = [x for x in _asked(state, lines) if told[x.key] == NOT_YET]
    routine = tuple(dict.fromkeys(x.key for x in asked if x.depth != "measured"))
    values = tuple(
        k for k in NEEDS_VALUE_OR_REASON if k in lines and _without_value(state, k, measured or {})
    )
    urgent = [j for j in judged(state, walk, facts or {}) if j.urgency.letter in NEEDS_PLAN]
    unplanned = tuple(dict.fromkeys(j.entry.code for j in urgent if j.entry.code not in planned))
    open_ids = tuple(h.id for h in state.open_heads_ups())
    nothing = not state.answers and not any((measured or {}).values())
    found = (
        Missing("routine", f"{len(routine)} routine lines not answered", routine),
        Missing("measured", "no weight or body condition, and no reason why not", values),
        Missing("heads-up", f"{len(open_ids)} heads-ups not answered", open_ids),
        Missing("plan", "urgent findings without a plan line", unplanned),
        Missing("nothing-examined", "nothing was examined", ("exam",) if nothing else ()),
        *_missing_on_lines(state, walk),
    )
    return tuple(m for m in found if m.where)


def not_measured(state: ExamState, lines: Lines) -> tuple[Line, ...]:
    """Values that every full exam asks for, that nobody took and nobody gave a reason for.

    They remind and hold no signature up; weight and body condition do (`missing_to_sign`). A letter calls
    none of them normal.
    """
    if state.kind != "full":
        return ()
    return tuple(
        x
        for x in _asked(state, lines)
        if x.depth == "measured" and x.applies and x.key not in (*NEEDS_VALUE_OR_REASON, GROWTH)
        if standing(state, lines, x.key)[0] == NOT_YET
    )


def _without_value(state: ExamState, key: str, measured: Mapping[str, str]) -> bool:
    answer = state.answers.get(key)
    if key in measured or (answer and answer.status == NOT_EXAMINED):
        return False
    return not (answer and answer.value)


def needs_grade(entry: FindingEntry) -> bool:
    """Whether a finding with a scale still needs its grade. The stage of a resorption needs an X-ray, which
    an exam alone does not give; a bare root is told in mm."""
    if entry.code == RESORPTION or (entry.code == FURCATION and entry.qualifiers.get("mm")):
        return False
    return not (entry.grade or entry.severity)


def _missing_on_lines(state: ExamState, walk: Walk) -> tuple[Missing, ...]:
    bare, empty, ungraded, unconfirmed = [], [], [], []
    for key, a in state.answers.items():
        needs_reason = (
            a.status == NOT_EXAMINED and not any(f.variant == "limit" for f in a.findings)
        ) or a.in_part
        if needs_reason and not (a.reason or a.reason_words):
            bare.append(key)
        if a.status == ABNORMAL and not a.findings and not state.notes.get(key):
            empty.append(key)
        if any(walk.finding[f.code].grade_scale and needs_grade(f) for f in a.findings):
            ungraded.append(key)
        if any(f.unconfirmed for f in a.findings):
            unconfirmed.append(key)
    return (
        Missing("reason", "not examined or in part, without a reason", tuple(bare)),
        Missing("finding", "abnormal, without saying what", tuple(empty)),
        Missing("grade", "a grade is missing", tuple(ungraded)),
        Missing("unconfirmed", "grades that a clinician has not confirmed", tuple(unconfirmed)),
    )


def _asked(state: ExamState, lines: Lines) -> list[Line]:
    """The lines that this kind of exam asks for: all of them, or those of the chosen stations."""
    wanted = state.stations if state.kind == "focused" else ()
    return [x for x in lines if x.asked == "every" and (not wanted or x.station in wanted)]


def _size(answer: LineAnswer) -> dict[str, float]:
    """The size that stands on the line itself: a lymph node's long axis."""
    if answer.unit != "mm" or not answer.value or answer.status == MEASURED:
        return {}
    return dict.fromkeys(("mm", "longest_mm"), float(answer.value))


def facts_of_entry(walk: Walk, entry: FindingEntry) -> dict[str, str | float | bool]:
    """What one finding states itself: circumstances and what follows from them, degree, numbers, onset."""
    facts: dict[str, str | float | bool] = dict.fromkeys(implied(walk, (), entry.circumstances), True)
    facts |= qualifiers.facts(walk.qualifiers, entry.code, entry.qualifiers)
    facts |= entry.numbers
    if entry.severity:
        facts["severity"] = entry.severity
    if entry.grade.isdigit():
        facts["grade"] = float(entry.grade)
    if "sudden" in (entry.qualifiers.get("onset"), entry.qualifiers.get("sudden / gradual")):
        facts["sudden"] = True
    if entry.qualifiers.get("change") in ("new", "worse"):
        facts[{"new": "new", "worse": "worsening"}[entry.qualifiers["change"]]] = True
    return facts


def _standings(state: ExamState, lines: Lines, measured: Mapping[str, str]) -> dict[str, str]:
    told = {line.key: standing(state, lines, line.key)[0] for line in lines}
    for key, flag in measured.items():
        for line in lines:
            if key in (line.key, *line.stored_at) and told[line.key] == NOT_YET:
                told[line.key] = ABNORMAL if flag in FLAGGED else MEASURED
    return told


def _station(state: ExamState, walk: Walk, lines: Lines, code: str, told: Mapping[str, str]) -> StationDigest:
    own = [x for x in lines.at(code) if not x.hidden and not x.whole_station]
    limits = [x for x in lines.at(code) if x.whole_station and told[x.key] != NOT_YET]
    open_lines = [x for x in own if told[x.key] == NOT_YET]
    left = [x for x in open_lines if x.asked == "every"]
    count = {s: sum(told[x.key] == s for x in (*own, *limits)) for s in _STATES}
    sides = (
        {s: sum(x.side == s for x in left) for s in ("left", "right")} if walk.station[code].per_side else {}
    )
    return StationDigest(
        code,
        _word(len(left), len(own) - count[NOT_APPLICABLE], len(open_lines), count),
        left=len(left),
        left_called_for=len(open_lines) - len(left),
        structures_left=len({x.structure for x in left}),
        normal=count[NORMAL],
        abnormal=count[ABNORMAL],
        not_examined=count[NOT_EXAMINED],
        measured=count[MEASURED],
        in_part=sum(any(_in_part(state.answers.get(k)) for k in x.stored_at) for x in own),
        not_applicable=count[NOT_APPLICABLE],
        heads_ups_open=len(state.open_heads_ups((code,))),
        left_by_side=sides,
    )


_STATES = (NORMAL, ABNORMAL, NOT_EXAMINED, MEASURED, NOT_APPLICABLE)


def _in_part(answer: LineAnswer | None) -> bool:
    return bool(answer and answer.in_part)


def _word(left: int, lines: int, still: int, count: Mapping[str, int]) -> str:
    """A station is begun while a line that every exam answers is open; then its worst word."""
    if still == lines and not count[ABNORMAL]:
        return "new"
    if left:
        return "begun"
    if count[ABNORMAL]:
        return "abnormal"
    return "normal" if count[NORMAL] or count[MEASURED] else "unseen"
