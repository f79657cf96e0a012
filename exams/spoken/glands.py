"""Which mammary gland is meant: "fourth gland on the left", "second from the back".

Glands are counted from the front, five on a side in the dog and four in the cat (Nomina Anatomica Veterinaria
names them so; the numbers are written from memory).
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
    words = [w for t in clause.terms for w in t.words]
    said = f" {' '.join(words)} "
    ordinals = language.ordinals[:pairs]
    at = next((i for i, w in enumerate(words) if w in ordinals), None)
    if at is not None:
        number = ordinals.index(words[at]) + 1
        if any(f" {form} " in said for form in language.from_behind):
            number = pairs + 1 - number
    elif any(w in language.hindmost for w in words):
        number = pairs
    elif any(t.has("limb", "fore") and len(t.words) == 1 for t in clause.terms):
        number = 4  # "left four" is written as "left fore"
    else:
        return ""
    return f"{side[0].upper()}{number}"
