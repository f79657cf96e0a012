"""From what was heard to what a person confirms: each thing once, with the taps that would enter it. Pure.

A tap is exactly what a finger sends (`exams.taps`): where it is refused by hand it is refused here too. What
words alone do not settle (which side, which tooth, under one second or under two) is a choice of taps.
"""

from __future__ import annotations

import dataclasses
import hashlib
import itertools
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from exams.guards import DIRECTION, DIRECTIONS, is_undirected
from exams.lines import Line, Lines
from exams.qualifiers import how
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED, PARTIAL, Heard, Proposal
from exams.state import REFILL_STEPS, ExamState, FindingEntry, LineAnswer, shown
from exams.walk import FindingCode, Walk

LINE, MEASURED, HEADS_UP, PLAN, QUESTION = "line", "measurement", "heads-up", "plan", "question"
NOWHERE = "GEN"  # the station of a remark that stands beside no other
PLAN_KINDS = (("recheck", "Recheck"), ("home-care", "Home care"), ("watch", "Watch"), ("call", "We call"))
UNITS: Mapping[str, str] = {"/min": "per-min", "of 9": "bcs-9", "mm/min": "mm-per-min"}
DEGREES: Mapping[str, str] = {"C": "°C", "F": "°F", "/min": "a minute", "mm/min": "mm in a minute"}
LUMPS = "SKN.lumps"
REASON_SAID: Mapping[str, str] = {
    "animal would not allow": "would-not-allow",
    "would not allow": "would-not-allow",
}
NO_REASON = "no reason given"
_GLAND = re.compile(r"^([LR])\s?([1-5])$", re.IGNORECASE)
_SPAN = re.compile(r"^([LR])([1-5])\s?-\s?[LR]?([1-5])$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Item:
    """One thing heard. `said`: plain values of the proposal without its spans; `station`: empty for a plan.

    spans: (start, end) in the text that was heard.
    """

    kind: str
    station: str
    said: Mapping[str, Any]
    spans: tuple[tuple[int, int], ...]
    confidence: float = 0.0
    reason: str = ""

    @property
    def identity(self) -> str:
        """The same for the same thing said in other words."""
        body = json.dumps([self.kind, self.said], sort_keys=True, ensure_ascii=False)
        return hashlib.sha256(body.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Tap:
    """One operation that would enter it; `words` tells several apart, `group` gathers them: a quadrant."""

    target: str
    what: str
    payload: Mapping[str, Any]
    words: str = ""
    group: str = ""


@dataclass(frozen=True, slots=True)
class Taps:
    """Taps to choose from; without any, `lacks` says what a person does instead."""

    taps: tuple[Tap, ...] = ()
    lacks: str = ""


def items_of(heard: Heard) -> tuple[Item, ...]:
    """Everything heard, each thing once with all its words."""
    found: dict[str, Item] = {}
    for item in _items(heard):
        before = found.get(item.identity)
        spans = tuple(dict.fromkeys((*before.spans, *item.spans))) if before else item.spans
        found[item.identity] = dataclasses.replace(item, spans=spans)
    return tuple(found.values())


def _items(heard: Heard) -> Iterator[Item]:
    for p in heard.proposals:
        said = _said(
            p,
            ("structure", "side", "state", "codes", "one_of", "severity", "grade", "size_mm", "site", "note"),
        )
        yield Item(LINE, p.station, said, _spans(p.spans), p.confidence, p.reason)
    for m in heard.measurements:
        said = _said(m, ("what", "value", "unit", "structure", "side"))
        yield Item(MEASURED, m.structure.partition(".")[0], said, _spans(m.spans), m.confidence, m.reason)
    for line in heard.heads_ups:
        station = _beside(heard.proposals, line.spans)
        yield Item(
            HEADS_UP, station, {"words": line.words}, _spans(line.spans), 1.0, "somebody else’s remark"
        )
    for line in heard.plan:
        yield Item(PLAN, "", {"words": line.words}, _spans(line.spans), 1.0, "said as something to be done")
    for q in heard.questions:
        said = _said(q, ("words", "structure", "side", "what"))
        yield Item(
            QUESTION, q.structure.partition(".")[0], said, _spans(q.spans), 0.0, "said twice, differently"
        )


def _said(row: object, names: Iterable[str]) -> dict[str, Any]:
    told = {name: getattr(row, name) for name in names}
    return {k: list(v) if isinstance(v, tuple) else v for k, v in told.items() if v}


def _spans(spans: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    return tuple((start, end) for start, end in spans)


def _beside(proposals: Iterable[Proposal], spans: Iterable[tuple[int, int]]) -> str:
    """The station of whatever was said nearest before or after."""
    at = next(iter(spans), (0, 0))[0]
    near = min(
        ((abs(start - at), p.station) for p in proposals for start, _ in p.spans), default=(0, NOWHERE)
    )
    return near[1]


# ---- The taps


def taps_of(item: Item, walk: Walk, lines: Lines) -> Taps:
    """How it would be entered by hand."""
    said = item.said
    if item.kind == QUESTION:
        return Taps(lacks="Answer the line by hand, or discard the question.")
    if item.kind == HEADS_UP:
        return Taps((Tap("", "pin_heads_up", {"station": item.station, "words": said["words"]}),))
    if item.kind == PLAN:
        return Taps(
            tuple(Tap("exam", "plan_heard", {"kind": k, "text": said["words"]}, w) for k, w in PLAN_KINDS)
        )
    if item.kind == MEASURED:
        return _measured(said, lines)
    places = _places(said, lines)
    if not places:
        return Taps(lacks=_nowhere(said, lines))
    if said["structure"] == LUMPS and said["state"] == ABNORMAL:
        return Taps(lacks="Place it on the body map.")
    state = said["state"]
    if state in (NORMAL, PARTIAL) and any(x.depth == "measured" for x in places):
        return Taps(lacks="Its value decides: enter the value.")
    if said.get("one_of"):
        return _grades(said, places, walk)
    if len(places) == 1 or state in (NORMAL, PARTIAL, NOT_EXAMINED):
        return _together(said, places, walk)
    return _choice(said, places, walk)


def _nowhere(said: Mapping[str, Any], lines: Lines) -> str:
    here = lines.at(said["structure"])
    mine = [x for x in here if x.side == said.get("side")] or here
    gone = next((x.why for x in mine if x.why), "")
    return (
        f"Does not apply to this animal: {gone}."
        if gone
        else "This animal has no such line: enter it by hand."
    )


def _places(said: Mapping[str, Any], lines: Lines) -> tuple[Line, ...]:
    """The lines that it may mean: one where the words say which."""
    structure, side, site = said["structure"], said.get("side", "none"), said.get("site", "")
    here = tuple(x for x in lines.at(structure) if x.applies)
    exact = [x for x in lines.at(structure) if x.side == {"none": "-"}.get(side, side)]
    if exact:  # what was said of a lost side is never taken for the other
        return (exact[0],) if exact[0].applies else ()
    if len(here) == 1:
        return here
    named = [x for x in here if x.side in _named(site)]
    if named:
        return tuple(named)
    if side in ("left", "right"):
        mine = tuple(x for x in here if _on(x.side, side))
        return mine or here
    return here


def _named(site: str) -> tuple[str, ...]:
    """Sides of lines that a place names: tooth 308, gland L5, glands R1-R5."""
    if site.isdigit():
        return (site,)
    if one := _GLAND.match(site):
        return (f"{_SIDE[one[1].upper()]}-{one[2]}",)
    if many := _SPAN.match(site):
        return tuple(f"{_SIDE[many[1].upper()]}-{n}" for n in range(int(many[2]), int(many[3]) + 1))
    return (site.replace(" ", "-"),) if site else ()


_SIDE = {"L": "left", "R": "right"}
_QUADRANT_SIDE = {"1": "right", "2": "left", "3": "left", "4": "right"}
_QUADRANT_SIDE |= {"5": "right", "6": "left", "7": "left", "8": "right"}


def _on(line_side: str, side: str) -> bool:
    if line_side.isdigit():
        return _QUADRANT_SIDE[line_side[0]] == side
    return side in line_side.split("-") or line_side in {"left": ("LF", "LH"), "right": ("RF", "RH")}[side]


def _together(said: Mapping[str, Any], places: tuple[Line, ...], walk: Walk) -> Taps:
    """One tap; for many lines of one kind that of the whole row."""
    state = said["state"]
    if len(places) == 1:
        return Taps(_each_way(_on_line(said, places[0], walk), walk))
    keys = [x.key for x in places]
    if state == NORMAL:
        return Taps((Tap(said["structure"], "station_all_normal", {"lines": keys}),))
    if state == NOT_EXAMINED:
        reason, words = reason_of(walk, "not-examined", said.get("note", ""))
        payload = {"reason": reason or "other", "words": words or (reason and "") or NO_REASON}
        return Taps(
            (Tap(said["structure"], "station_rest_not_examined", payload | {"lines": keys, "all": True}),)
        )
    return Taps(lacks="Say which: enter it by hand.")


def _each_way(tap: Tap, walk: Walk) -> tuple[Tap, ...]:
    """A kneecap goes somewhere: where nobody said which way, that is the choice."""
    entries = tap.payload.get("findings", ())
    if not any(is_undirected(walk.finding[e["code"]], e.get("qualifiers", {})) for e in entries):
        return (tap,)
    return tuple(
        dataclasses.replace(
            tap,
            words=way,
            payload={
                **tap.payload,
                "findings": [
                    {**e, "qualifiers": {**e.get("qualifiers", {}), DIRECTION: way}} for e in entries
                ],
            },
        )
        for way in DIRECTIONS
    )


def _choice(said: Mapping[str, Any], places: tuple[Line, ...], walk: Walk) -> Taps:
    """Which of them it was: a handful at once, many by quadrant or side first."""
    sides = {x.side for x in places}
    taps = tuple(dataclasses.replace(_on_line(said, x, walk), words=x.side_words) for x in places)
    if sides == {"left", "right"}:
        both = dataclasses.replace(taps[0], target=f"{said['structure']}|both", words="both")
        return Taps((*taps, both))
    if len(places) <= MOST_CHOICES:
        return Taps(taps)
    groups = [_group(x.side) for x in places]
    if not all(groups):
        return Taps(lacks="Say which: enter it by hand, then discard this.")
    return Taps(tuple(dataclasses.replace(t, group=g) for t, g in zip(taps, groups, strict=True)))


def _grades(said: Mapping[str, Any], places: tuple[Line, ...], walk: Walk) -> Taps:
    """Which grade it was, of each side it may be of."""
    taps: list[Tap] = []
    for finding in (walk.finding[c] for c in said["one_of"]):
        scale = walk.scale[finding.grade_scale]
        for grade in (g for g in scale.grades if g.key in finding.grades):
            one = {**said, "codes": [*said.get("codes", ()), finding.code], "grade": grade.key}
            made = _choice(one, places, walk) if len(places) > 1 else _together(one, places, walk)
            taps += [dataclasses.replace(t, words=grade.label, group=t.words) for t in made.taps]
    return Taps(tuple(taps), "" if taps else "Say which: enter it by hand.")


MOST_CHOICES = 6
_QUADRANT = ("upper right", "upper left", "lower left", "lower right")


def _group(side: str) -> str:
    """The quadrant of a tooth, the row of a gland; nothing for a line of its own."""
    if side.isdigit():
        return _QUADRANT[(int(side[0]) - 1) % 4]
    row, _, number = side.partition("-")
    return row if number.isdigit() else ""


def _on_line(said: Mapping[str, Any], line: Line, walk: Walk) -> Tap:
    state, note = said["state"], said.get("note", "")
    if state == NORMAL:
        return Tap(line.key, "set_normal", {})
    if state == PARTIAL:
        reason, words = reason_of(walk, "in-part", note)
        return Tap(line.key, "set_normal", {"in_part": {"reason": reason, "words": words}})
    if state == NOT_EXAMINED:
        reason, words = reason_of(walk, "not-examined", note)
        return Tap(line.key, "set_not_examined", {"reason": reason, "words": words})
    entries = [_entry(code, said, line, walk) for code in said.get("codes", ()) if code in walk.finding]
    sized = _node_size(said, line, walk)
    return Tap(line.key, "set_abnormal", {"findings": entries, **sized})


def _node_size(said: Mapping[str, Any], line: Line, walk: Walk) -> dict[str, str]:
    return {"size_mm": f"{said['size_mm'][0]:g}"} if said.get("size_mm") and line.station == "LYM" else {}


def reason_of(walk: Walk, use: str, note: str) -> tuple[str, str]:
    """A reason's key, where the words begin as one of the list, and what else was said."""
    if note == NO_REASON:
        return "", ""
    low = note.lower()
    known = {r.words: r.key for r in walk.reasons_for(use) if not r.needs_words and not r.roles} | {
        words: key for words, key in REASON_SAID.items() if use in walk.reason[key].use
    }
    for words in sorted(known, key=len, reverse=True):
        if low.startswith(words):
            return known[words], note[len(words) :].strip(" :;,.")
    return "", note


def _entry(code: str, said: Mapping[str, Any], line: Line, walk: Walk) -> dict[str, Any]:
    """A finding as the page sends it. What its descriptor does not take stands in its note."""
    finding, entry = walk.finding[code], dict[str, Any](code=code)
    left = [said.get("site", "")]
    qualifiers: dict[str, str] = {}
    _degree(said, finding, walk, entry, left)
    side = said.get("side", "")
    if line.side == "-" and side in ("left", "right") and finding.side_text in ("L/R", "L/R or midline"):
        structure = walk.structure.get(line.structure)
        if structure is None or structure.side_text not in ("L", "R"):
            qualifiers["side"] = side
    for part in said.get("note", "").split("; "):
        if part == "suspected":
            qualifiers["certainty"] = part
        elif DIRECTION in finding.qualifiers and part in how(walk.qualifiers, code, DIRECTION).values:
            qualifiers[DIRECTION] = part
        else:
            left.append(part)
    if left[0].isdigit() and (line.side.isdigit() or finding.side_text == "tooth"):
        if not line.side.isdigit():
            entry["tooth"] = int(left[0])
        left[0] = ""
    elif (left[0] and left[0] in _named(left[0]) and line.side == left[0]) or _GLAND.match(left[0]):
        left[0] = ""
    _size(said, finding, line, walk, qualifiers, left)
    words = "; ".join(w for w in left if w)
    return {
        **entry,
        **({"qualifiers": qualifiers} if qualifiers else {}),
        **({"note": words} if words else {}),
    }


def _degree(
    said: Mapping[str, Any], finding: FindingCode, walk: Walk, entry: dict[str, Any], left: list[str]
) -> None:
    severity, grade = said.get("severity", ""), said.get("grade", "")
    scale = walk.scale.get(finding.grade_scale)
    steps = finding.grades or tuple(g.key for g in scale.grades) if scale else ()
    if severity in finding.severity_words:
        entry["severity"] = severity
    elif severity and severity in steps and not grade:
        grade = severity
    elif severity:
        left.append(severity)
    if grade and grade in steps:
        entry |= {"grade": grade, "scale": finding.grade_scale}
    elif grade:
        left.append(f"grade {grade}")


def _size(
    said: Mapping[str, Any],
    finding: FindingCode,
    line: Line,
    walk: Walk,
    qualifiers: dict[str, str],
    left: list[str],
) -> None:
    sizes = [f"{mm:g}" for mm in said.get("size_mm", ())]
    if not sizes or line.station == "LYM":
        return
    for name in finding.qualifiers:
        way = how(walk.qualifiers, finding.code, name)
        if way.unit == "mm" and (way.kind == "number" or (way.kind == "sizes" and len(sizes) > 1)):
            qualifiers[name] = sizes[0] if way.kind == "number" else " x ".join(sizes)
            return
    left.append(f"{' × '.join(sizes)} mm")


def _measured(said: Mapping[str, Any], lines: Lines) -> Taps:
    key = f"{said['structure']}|{ {'none': '-'}.get(said.get('side', 'none'), said.get('side', 'none')) }"
    if key not in lines or not lines[key].applies:
        return Taps(lacks="This walk does not ask for it: note it by hand.")
    line, value = lines[key], str(said["value"])
    unit = UNITS.get(said.get("unit", ""), said.get("unit", ""))
    if line.value == "s":
        return Taps(tuple(Tap(key, "measure", {"value": v, "unit": "s"}, w) for v, w in _refill(value)))
    if value[:1] in "<>":
        return Taps(lacks="It is outside what was read off: enter the number by hand.")
    return Taps((Tap(key, "measure", {"value": value, "unit": unit or line.value}),))


REFILL = tuple(REFILL_STEPS.items())


def _refill(value: str) -> tuple[tuple[str, str], ...]:
    """The steps of the line that the words may mean: "under two" is either of the first two."""
    number = float(value.lstrip("<>") or 0)
    tops = (1.0, 2.0, 3.0)
    if value.startswith("<"):
        return tuple(step for step, top in zip(REFILL, tops, strict=False) if top <= number) or REFILL[:1]
    if value.startswith(">"):
        return REFILL[3:] if number >= tops[2] else REFILL[sum(number >= top for top in tops) :]
    if number < tops[0]:
        return REFILL[:1]
    return (REFILL[sum(number > top for top in tops)],)


# ---- Against what stands


def stands(item: Item, state: ExamState, walk: Walk, lines: Lines) -> bool:
    """Whether the record says already what was heard."""
    said = item.said
    if item.kind in (HEADS_UP, PLAN, QUESTION):
        return False
    if item.kind == MEASURED:
        return any(_same_value(tap, state) for tap in taps_of(item, walk, lines).taps)
    places = _places(said, lines)
    answers = [shown(state, lines, x.key) for x in places]
    if not places or not all(answers):
        return False
    return all(a is not None and _says(said, a) for a in answers)


def _same_value(tap: Tap, state: ExamState) -> bool:
    answer = state.answers.get(tap.target)
    if answer is None or answer.status != "measured" or answer.unit != tap.payload["unit"]:
        return False
    try:
        return float(answer.value) == float(tap.payload["value"])
    except ValueError:
        return bool(answer.value == tap.payload["value"])


def _says(said: Mapping[str, Any], answer: LineAnswer) -> bool:
    state = said["state"]
    if state == NOT_EXAMINED:
        return answer.status == "not-examined"
    if state == NORMAL:  # where a value decides, the value is the answer
        return answer.status == "measured" or (answer.status == "normal" and not answer.in_part)
    if state == PARTIAL:
        return answer.status == "normal" and answer.in_part
    found = {f.code: f for f in answer.findings}
    codes, one_of = said.get("codes", ()), said.get("one_of", ())
    graded = not one_of or any(c in found for c in one_of)
    return bool(codes or one_of) and graded and all(c in found and _degree_is(said, found[c]) for c in codes)


def _degree_is(said: Mapping[str, Any], entry: FindingEntry) -> bool:
    severity, grade = said.get("severity", ""), said.get("grade", "")
    return severity in ("", entry.severity, entry.grade) and grade in ("", entry.grade)


# ---- In words


def item_words(item: Item, walk: Walk, lines: Lines) -> str:
    """What it would say: "left canal: redness, mild"."""
    said = item.said
    if item.kind in (HEADS_UP, PLAN):
        return str(said["words"])
    if item.kind == MEASURED:
        unit = said.get("unit", "")
        what = f"{said['what'][:1].upper()}{said['what'][1:]}"
        return f"{what}: {said['value']} {DEGREES.get(unit, unit)}".strip()
    places = _places(said, lines)
    structure = walk.structure.get(said.get("structure", ""))
    name = structure.title.partition(" (")[0] if structure else said.get("what", "")
    side = places[0].side_words if len(places) == 1 else said.get("side", "")
    where = f"{name}, {side}" if side and side != "none" else name
    if item.kind == QUESTION:
        return f"{where}: {said['words']}?"
    if said["state"] != ABNORMAL:
        normal = _normal_words(structure.normal_means if structure else "")
        told = {NORMAL: normal, NOT_EXAMINED: "not examined", PARTIAL: f"{normal}, in part"}[said["state"]]
        return f"{where}: {', '.join(w for w in (told, said.get('note', '')) if w)}"
    names = [walk.finding[c].name for c in said.get("codes", ()) if c in walk.finding]
    names += [f"{_alike([walk.finding[c].name for c in said['one_of']])}?"] if said.get("one_of") else []
    names = names or ["abnormal"]
    size = f"{' × '.join(f'{mm:g}' for mm in said['size_mm'])} mm" if said.get("size_mm") else ""
    grade = f"grade {said['grade']}" if said.get("grade") else ""
    site = "" if len(places) == 1 and said.get("site") == places[0].side else said.get("site", "")
    more = [said.get("severity", ""), grade, size, site, said.get("note", "")]
    return f"{where}: {', '.join([' and '.join(names), *(w for w in more if w)])}"


def _alike(names: Sequence[str]) -> str:
    """The words that names begin with: "Patellar luxation grade"."""
    words = [name.split() for name in names]
    return " ".join(w[0] for w in itertools.takewhile(lambda w: len(set(w)) == 1, zip(*words, strict=False)))


def _normal_words(means: str) -> str:
    """Of a line that is named for what may be wrong ("Murmur"), that there was none."""
    first = re.split("[,:;]", means)[0].lower()
    return first if first.split(" ")[0] == "none" else "normal"


def keys_of(item: Item, lines: Lines) -> tuple[str, ...]:
    """Where the answers of its lines are kept; nothing for what belongs to no line."""
    if not item.said.get("structure"):
        return ()
    return tuple(key for line in _places(item.said, lines) for key in line.stored_at)
