"""Which mammary gland is meant: "fourth gland on the left", "second from the back".

Glands are counted from the front, five on a side in the dog and four in the cat (common practice).
"""

from __future__ import annotations

from exams.spoken.clause import Clause
from exams.spoken.language import Language

PAIRS = {"dog": 5, "cat": 4}


def gland_counted(clause: Clause, side: str, species: str, language: Language) -> str:
    """ "L4", or empty."""
    pairs = PAIRS.get(species, 0)
    if side not in ("left", "right") or not pairs:
        return ""
    ordinals = language.ordinals[:pairs]
    for at, term in enumerate(clause.terms):
        if term.has("limb", "fore") and len(term.words) == 1:
            number = 4  # "left four" is written as "left fore"
        elif not _of_gland(clause, at, language):
            continue
        elif term.text in ordinals:
            number = ordinals.index(term.text) + 1
            said = f" {' '.join(w for t in clause.terms for w in t.words)} "
            if any(f" {form} " in said for form in language.from_behind):
                number = pairs + 1 - number
        elif term.text in language.hindmost:
            number = pairs
        else:
            continue
        return f"{side[0].upper()}{number}"
    return ""


def _of_gland(clause: Clause, at: int, language: Language) -> bool:
    """ "The fourth", "the last gland", "third from the back"; but "a second nodule"."""
    after = clause.terms[at + 1 : at + 2]
    if not after:
        return True
    gland = (
        after[0].has("place", "gland") or after[0].has("noun", "mammary") or after[0].text in language.ones
    )
    return gland or after[0].has("control", "prep")
