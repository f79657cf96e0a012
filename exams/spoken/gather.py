"""From statements to proposals: one a line, side and site; what was said twice differently asks."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence

from exams.spoken.counted import NO_UNIT
from exams.spoken.said import LIMB_STATIONS, SUSPECTED, Statement
from exams.spoken.shapes import ABNORMAL, NORMAL, NOT_EXAMINED, PARTIAL, Measurement, Proposal, Question, Span
from exams.walk import Walk

NO_GRADE = "no grade was said"
KINDS = {"HRT-04", "HRT-05", "HRT-06", "HRT-07"}  # of a murmur, beside its grade
NO_SIDE = "no side was said"
TALKED = 6  # sentences over which a doubt is talked away


def gather(
    statements: Sequence[Statement], strongest: Sequence[Sequence[str]] = ()
) -> tuple[list[Proposal], list[Question]]:
    """Not normal outweighs normal; said not examined as well as normal is not normal either."""
    groups: dict[tuple[str, str], list[Statement]] = {}
    statements = _kind_of_murmur(_sound(_settled(statements)))
    for s in _of_no_side(_of_one_limb(statements)):
        groups.setdefault((s.structure, s.side), []).append(s)
    for key, said in groups.items():
        groups[key] = [s for s in said if not s.group] or said
    by_line = _other_sides(groups)
    proposals: list[Proposal] = []
    questions: list[Question] = []
    for (structure, side), said in groups.items():
        states = {s.state for s in said}
        if len(states) > 1 and states != {NORMAL, PARTIAL}:
            questions.append(_question(structure, side, said))
        if ABNORMAL in states:
            proposals += _abnormal(_strongest([s for s in said if s.state == ABNORMAL], strongest))
        elif NOT_EXAMINED in states:
            proposals.append(_one([s for s in said if s.state == NOT_EXAMINED], NOT_EXAMINED))
        elif PARTIAL in states:
            proposals += [] if (structure, side) in by_line else [_one(said, PARTIAL)]
        elif (structure, side) not in by_line or any(s.rest for s in said):
            whole = [s for s in said if not s.one_part]
            proposals += [_one(whole, NORMAL)] if whole else []
    return proposals, questions


def _sound(statements: Sequence[Statement]) -> list[Statement]:
    """ "Drifting to the left, no lameness": who is not lame does not walk well for that."""
    gaits = ("NEU.gait", "FLB.gait", "HLB.gait")
    if not any(s.structure in gaits and s.state == ABNORMAL for s in statements):
        return list(statements)
    return [s for s in statements if (s.structure, s.state) != ("GEN.gait", NORMAL)]


def _kind_of_murmur(statements: Sequence[Statement]) -> list[Statement]:
    """ "A soft murmur after the second sound": one murmur, and its kind is what is told of it."""
    kinds = [s for s in statements if s.structure == "HRT.murmur" and set(s.codes) & KINDS]
    plain = [s for s in statements if s.structure == "HRT.murmur" and s.state == ABNORMAL and s not in kinds]
    gone = [p for p in plain if any(p.sentence == k.sentence for k in kinds)]
    for kind in kinds:
        for p in (p for p in gone if p.sentence == kind.sentence):
            kind.grade, kind.site = kind.grade or p.grade, kind.site or p.site
            kind.side = p.side if kind.side == "none" else kind.side
    return [s for s in statements if s not in gone]


def _settled(statements: Sequence[Statement]) -> list[Statement]:
    """ "Murmur, I'm not sure with that noise. Turn it off? No. No murmur.": the doubt is talked away."""
    return [
        s
        for s in statements
        if s.note != SUSPECTED
        or not any(
            later.state == NORMAL
            and (later.structure, later.side) == (s.structure, s.side)
            and s.clause < later.clause
            and later.sentence - s.sentence <= TALKED
            and (later.trait == s.trait or later.structure == "HRT.murmur")
            for later in statements
        )
    ]


def _of_one_limb(statements: Sequence[Statement]) -> list[Statement]:
    """ "Nails fine, the web between three and four is red": one paw is spoken of and nobody said which, so
    what is fine in the same breath is not fine of both."""
    unsaid = {
        (s.structure.partition(".")[0], s.sentence) for s in statements if s.unsaid and s.state == ABNORMAL
    }
    return [
        s
        for s in statements
        if s.state not in (NORMAL, PARTIAL)
        or s.sided
        or s.structure.partition(".")[0] not in LIMB_STATIONS
        or (s.structure.partition(".")[0], s.sentence) not in unsaid
    ]


def _of_no_side(statements: Sequence[Statement]) -> list[Statement]:
    """ "There's an ulcer of the cornea": not normal of one side, and nobody said which. It has no side then,
    unless the same was said of one as well; and neither side is normal."""
    bad = [s for s in statements if s.unsaid and s.state == ABNORMAL]
    if not bad:
        return list(statements)
    fine = {(s.structure, s.side) for s in statements if s.state in (NORMAL, PARTIAL) and s.sided}
    # "stifle thickened … left stifle stable": that one is not the other
    lines = {s.structure for s in bad if len([f for f in fine if f[0] == s.structure]) != 1}
    told = {(s.structure, s.codes) for s in statements if s.state == ABNORMAL and not s.unsaid}
    kept: list[Statement] = []
    for s in statements:
        if s.state in (NORMAL, PARTIAL) and s.structure in lines:
            continue
        if not (s.unsaid and s.state == ABNORMAL):
            kept.append(s)
        elif (s.structure, s.codes) not in told:
            s = dataclasses.replace(s, side="none")
            if s not in kept:
                kept.append(s)
    return kept


def _other_sides(groups: dict[tuple[str, str], list[Statement]]) -> set[tuple[str, str]]:
    """Lines said to be normal as a whole, while a side of them is not."""
    bad = {structure for (structure, side), said in groups.items() if any(s.state == ABNORMAL for s in said)}
    return {(structure, side) for structure, side in groups if side == "none" and structure in bad}


def _strongest(said: list[Statement], groups: Sequence[Sequence[str]]) -> list[Statement]:
    """Of findings that exclude each other the gravest one said stands, for a site."""
    kept = list(said)
    for group in groups:
        for site in {s.site for s in said}:
            here = [s for s in kept if s.site == site and s.codes and s.codes[0] in group]
            top = max((group.index(s.codes[0]) for s in here), default=0)
            kept = [s for s in kept if s not in here or group.index(s.codes[0]) == top]
    return kept


def _abnormal(said: Sequence[Statement]) -> list[Proposal]:
    sites: dict[str, list[Statement]] = {}
    for s in said:
        sites.setdefault(s.site, []).append(s)
    return [_one(group, ABNORMAL) for group in sites.values()]


def _one(said: Sequence[Statement], state: str) -> Proposal:
    first, abnormal = said[0], state == ABNORMAL
    one_of = next((s.one_of for s in said if s.one_of), ()) if abnormal else ()
    if any(set(s.codes) & set(one_of) for s in said if not s.one_of):
        one_of = ()  # its grade was said elsewhere
    codes = [c for s in said for c in s.codes if not (s.one_of and (one_of or c in s.one_of))]
    return Proposal(
        station=first.structure.partition(".")[0],
        structure=first.structure,
        side=first.side,
        state=state,
        codes=tuple(dict.fromkeys(codes)) if abnormal else (),
        one_of=one_of,
        severity=next((s.severity for s in reversed(said) if s.severity), "") if abnormal else "",
        grade=next((s.grade for s in reversed(said) if s.grade), "") if abnormal else "",
        size_mm=next((s.size for s in reversed(said) if s.size), ()) if abnormal else (),
        site=first.site if abnormal else "",
        note=next((s.note for s in reversed(said) if s.note), ""),
        spans=merged(span for s in said for span in s.spans),
        confidence=max(s.sure for s in said),
        reason=NO_GRADE if one_of else NO_SIDE if first.unsaid else first.reason,
    )


def by_score(proposals: Iterable[Proposal], measured: Iterable[Measurement], walk: Walk) -> list[Proposal]:
    """ "No waist, seven of nine": the score that was said tells which grade of it."""
    score = next((m.value for m in measured if m.structure == "BCM.score"), "")
    found: list[Proposal] = []
    for p in proposals:
        scored = [
            c
            for c, finding in walk.finding.items()
            if p.structure in finding.structures
            and finding.grade_scale == "bcs-9"
            and score in finding.grades
        ]
        graded = any(walk.finding[c].grade_scale == "bcs-9" for c in p.one_of)
        if graded and scored:
            p = dataclasses.replace(p, codes=(*scored, *(c for c in p.codes if c not in p.one_of)), one_of=())
        found.append(p)
    return found


def merged(spans: Iterable[Span]) -> tuple[Span, ...]:
    """In their order, without repeats and what lies inside another."""
    found: list[Span] = []
    for span in sorted(set(spans), key=lambda s: (s.start, -s.end)):
        if not found or span.end > found[-1].end:
            found.append(span)
    return tuple(found)


def _question(structure: str, side: str, said: Sequence[Statement]) -> Question:
    words = " / ".join(dict.fromkeys(s.state.replace("_", " ") for s in said))
    return Question(words, structure, side, "", merged(span for s in said for span in s.spans))


def last_said(
    measured: Sequence[tuple[Measurement, bool]],
) -> tuple[list[Measurement], list[Question]]:
    """The last value counts; without a word that corrects, two different values ask."""
    found: dict[str, Measurement] = {}
    questions: list[Question] = []
    for measurement, corrected in measured:
        old = found.get(measurement.what)
        if (
            old is not None
            and (old.value, old.unit) != (measurement.value, measurement.unit)
            and not corrected
        ):
            questions.append(
                Question(
                    f"{old.value} {old.unit} / {measurement.value} {measurement.unit}",
                    measurement.structure,
                    measurement.side,
                    measurement.what,
                    (*old.spans, *measurement.spans),
                )
            )
        found.pop(measurement.what, None)
        found[measurement.what] = measurement
    return [_in_pounds(m, found.values()) for m in found.values()], questions


def _in_pounds(measurement: Measurement, all_said: Iterable[Measurement]) -> Measurement:
    """A weight without its unit, of a speaker who says the temperature in Fahrenheit, is in pounds."""
    if measurement.reason != NO_UNIT or not any(m.unit == "F" for m in all_said):
        return measurement
    return dataclasses.replace(measurement, unit="lb")
