"""Sides and limbs: which were said, and which a line has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from exams.spoken.terms import UNKNOWN, Term
from exams.walk import Structure

UNRESOLVED = "?"  # "that side" when no side was said shortly before
LIMBS = {"LF": "left", "RF": "right", "LH": "left", "RH": "right"}
LUNGS = {"lung front": "LUN.front", "lung middle": "LUN.middle", "lung back": "LUN.back"}
NECK = {"neck up": "NEK.up", "neck down": "NEK.down", "neck side": "NEK.side"}
ALL_NECK = ("NEK.up", "NEK.down", "NEK.side")


@dataclass(frozen=True, slots=True)
class Place:
    """Limb, part and side that a clause speaks of."""

    limb: str = ""
    sides: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()
    station: str = ""

    @classmethod
    def of(cls, terms: Sequence[Term]) -> Place:
        limbs = [k for at, t in enumerate(terms) for k in t.keys("limb") if not _leads(terms, at)]
        limb = "all" if "all" in limbs or {"fore", "hind"} <= set(limbs) else limbs[0] if limbs else ""
        keys = tuple(k for t in terms for k in t.keys("place"))
        return cls(limb, tuple(sides_said(terms, "")), keys)

    def has(self, *keys: str) -> bool:
        return bool(set(keys) & set(self.keys))

    @property
    def lungs(self) -> tuple[str, ...]:
        if "lung ahead" in self.keys:
            return ("LUN.front", "LUN.middle")
        return tuple(dict.fromkeys(LUNGS[k] for k in self.keys if k in LUNGS))

    @property
    def neck(self) -> tuple[str, ...]:
        if "neck all" in self.keys:
            return ALL_NECK
        return tuple(dict.fromkeys(NECK[k] for k in self.keys if k in NECK))


def _leads(terms: Sequence[Term], at: int) -> bool:
    """ "Behind the bins": no limb."""
    after = terms[at + 1 : at + 2]
    of = bool(after) and (after[0].has("word", "definite") or after[0].has("word", "whom"))
    return terms[at].has("control", "prep") and of


LIMB_PLACE = {limb: Place("fore" if limb[1] == "F" else "hind", (side,)) for limb, side in LIMBS.items()}


def side_kind(line: Structure) -> str:
    """ "none", "pair", "four" (limbs) or "free" (a side only if one was said)."""
    if line.sided == "four":
        return "four"
    if line.sided in ("pair", "limb"):
        return "pair"
    if line.sided in ("tooth", "quadrant", "gland"):
        return "free" if line.sided != "gland" else "pair"
    return "free" if line.side_text in ("region", "site", "location") else "none"


def is_paired(line: Structure) -> bool:
    """One of two, or a line of its own for each of the two, as the kidneys have."""
    return side_kind(line) == "pair" or line.code.endswith(("-left", "-right"))


def that_side(line: str, side: str) -> str:
    """The line of the other of two that have one each."""
    stem, _, own = line.rpartition("-")
    return f"{stem}-{side}" if own in ("left", "right") else line


def opposite(side: str) -> str:
    return {"left": "right", "right": "left"}.get(side, "")


def sides_said(terms: Sequence[Term], last: str) -> list[str]:
    """left, right, both in their order; "the other" and "that side" from the side spoken of before."""
    found: list[str] = []
    for at, term in enumerate(terms):
        keys = term.keys("side")
        if not keys or (term.used and term.has("side")):
            continue
        key = keys[0]
        if key == "right" and term.assent and _no_side(terms, at):
            continue
        if term.has("control", "nor") and any(t.has("control", "nor") for t in terms[at + 1 :]):
            continue  # "neither the elbow nor the wrist"
        if key == "both" and term.has("word", "either") and _neither_too(terms, at):
            continue
        if _compared(terms, at) or _rest(terms, at):
            continue
        if key == "other":
            key = opposite(last)
        elif key == "that":
            key = last
        key = key or UNRESOLVED
        if key not in found:
            found.append(key)
    for term in terms:
        held = term.has("noun") or term.has("limb") or (term.sided and not term.has("control", "again"))
        for side in term.within if held and not term.has("side") else ():
            if side not in found:
                found.append(side)
    return found


def _no_side(terms: Sequence[Term], at: int) -> bool:
    """ "Right, this is Gulliver"; "right back to the tail"."""
    if len(terms) == 1:
        return False
    after = terms[at + 1] if at + 1 < len(terms) else None
    before = terms[at - 1] if at else None
    verb = before is not None and (before.has("trait") or before.kind == UNKNOWN)
    if verb and after is not None and after.right_at:
        return True  # "they slide right under my fingers"
    if at == 0 and len(terms) == 2 and after is not None and after.has("trait", "up"):
        return False  # "third eyelids: right up"
    return after is not None and (
        after.has("place", "to tail")
        or (
            after.has("control", "prep")
            and any(t.has("word", "centre") or t.has("side", "left") for t in terms[at + 2 : at + 4])
        )
        or after.has("word", "onward", "turning")
    )


def _neither_too(terms: Sequence[Term], at: int) -> bool:
    """ "It doesn't bend all the way either": as little as something else, and no side."""
    led = at > 0 and (terms[at - 1].has("control", "prep", "nothing") or terms[at - 1].has("number", "of"))
    return at == len(terms) - 1 > 0 and not led


def _rest(terms: Sequence[Term], at: int) -> bool:
    """ "The other nodes": several others, no side."""
    after = terms[at + 1] if at + 1 < len(terms) else None
    several = after is not None and any(s.kind == "noun" and s.plural for s in after.senses)
    return terms[at].has("side", "other") and several


def _compared(terms: Sequence[Term], at: int) -> bool:
    """ "bigger than the right": the side of the comparison."""
    near = terms[max(0, at - 2) : at]
    further = terms[max(0, at - 4) : at]
    return any(t.has("word", "than") for t in near) or any(t.has("word", "compared") for t in further)


def limbs_said(place: Place, sides: Sequence[str]) -> list[str]:
    """LF, RF, LH, RH from a limb and sides."""
    if not place.limb:
        return []
    pairs = {"fore": ("LF", "RF"), "hind": ("LH", "RH"), "all": tuple(LIMBS)}[place.limb]
    one = {s for s in sides if s in ("left", "right")}
    return [x for x in pairs if not one or LIMBS[x] in one]


def sides_for(kind: str, said: Sequence[str], place: Place, several: bool) -> list[str]:
    """Sides of a statement about a line of `kind`; `several`: without a side, both are meant."""
    one = [s for s in said if s in ("left", "right")]
    if UNRESOLVED in said and not one and "both" not in said:
        return ["none"] if kind in ("free", "none") else []
    if kind == "free":
        if "both" in said or len(set(one)) == 2:
            return ["left", "right"]
        return one or ["none"]
    if kind == "none":
        return ["none"]
    if "both" in said or len(set(one)) == 2:
        return ["left", "right"]
    if one:
        return one[:1]
    return ["left", "right"] if several else []
