"""Teeth by their names: "the upper left canine" is 204, "still has the baby canine, lower right" is 804.

Source: the modified Triadan system (Floyd MR, J Vet Dent 1991; 8(4): 18-19): first digit the quadrant, 1 to 4
from the upper right round to the lower right, 5 to 8 the same for baby teeth; then 01 to 11 from the midline.
Carnassials: upper fourth premolar, lower first molar. Numbers written from memory.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from exams.spoken.clause import Clause
from exams.spoken.language import Language
from exams.spoken.terms import Term

QUADRANT = {("upper", "right"): 1, ("upper", "left"): 2, ("lower", "left"): 3, ("lower", "right"): 4}
COUNTED = frozenset(str(n) for n in range(1, 12))
OF_A_TOOTH = ("fractured", "broken", "worn", "worn-tip", "loose", "missing", "discoloured", "pulp-open")
BABY = 4  # quadrants further


def tooth_side(tooth: str) -> str:
    return "right" if tooth[0] in "1458" else "left"


def teeth_between(first: str, last: str) -> list[str]:
    """ "205 to 207": those that are not said, of one quadrant."""
    if first[0] != last[0]:
        return []
    return [f"{number}" for number in range(int(first) + 1, int(last))]


def teeth_named(
    clause: Clause, sides: Sequence[str], language: Language, numbers: Mapping[str, Mapping[str, str]]
) -> list[str]:
    """The numbers of one kind of tooth of one jaw, a side each; nothing where a word is missing. `numbers`:
    the two last digits for each kind of tooth, upper and lower."""
    said = " ".join(w for t in clause.terms for w in t.words)
    kinds = _kinds(said, language)
    jaws = [jaw for jaw in ("upper", "lower") if _has(said, language.forms.get("place", {}).get(jaw, ()))]
    if len(kinds) == 1 and not jaws and not {"left", "right"} & set(sides) and _all_four(clause):
        jaws, sides = ["upper", "lower"], ["both"]
    elif len(kinds) != 1 or len(jaws) != 1:
        return []
    baby = BABY if clause.having("trait", "retained") or _has(said, language.baby) else 0
    both = ("left", "right") if "both" in sides else sides
    return [
        f"{QUADRANT[jaw, side] + baby}{numbers[kinds[0]][jaw]}"
        for jaw in jaws
        for side in both
        if (jaw, side) in QUADRANT
    ]


def tooth_counted(before: Sequence[Term], figure: Term, clause: Clause) -> str:
    """ "Upper right four has a chip": counted from the midline, as the two last digits are."""
    near = before[-2:]
    jaw = next((k for t in near for k in t.keys("place") if k in ("upper", "lower")), "")
    side = next((k for t in near for k in t.keys("side") if k in ("left", "right")), "")
    number = figure.number
    if len(near) < 2 or not (jaw and side and number) or not clause.having("trait", *OF_A_TOOTH):
        return ""
    plain = number.digits in COUNTED and not (number.decimals or number.fraction)
    return f"{QUADRANT[jaw, side]}{int(number.digits):02}" if plain else ""


def _all_four(clause: Clause) -> bool:
    """ "All four canines", "the four canines"."""
    return clause.having("limb", "all") != [] or any(
        t.number is not None and t.number.whole() == len(QUADRANT) for t in clause.terms
    )


def _kinds(said: str, language: Language) -> list[str]:
    """The longest names only: "fourth premolar" is no other premolar."""
    forms = {form: kind for kind, forms in language.forms.get("tooth", {}).items() for form in forms}
    found = []
    for form in sorted(forms, key=len, reverse=True):
        if _pattern(form).search(said):
            found.append(forms[form])
            said = _pattern(form).sub(" ", said)
    return list(dict.fromkeys(found))


def _has(said: str, forms: Sequence[str]) -> bool:
    return any(_pattern(form).search(said) for form in forms)


@lru_cache(maxsize=256)
def _pattern(form: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(form)}(?:s|es)?(?!\w)")
