"""What the speaker says before looking: "Fleas, let me comb him"."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from exams.spoken.clause import Clause, significant
from exams.spoken.language import Language


def only_announced(sentences: Sequence[Sequence[Clause]], language: Language) -> None:
    """A finding alone, and behind it what is done to find out: it is asked, not said."""
    for clauses in sentences:
        for clause, deed in pairwise(clauses):
            words = [t for t in clause.terms if significant(t)]
            alone = len(words) == 1 and (words[0].has("trait") or words[0].has("finding"))
            said = f"{' '.join(w for t in deed.terms for w in t.words)} "
            announced = any(said.startswith(f"{form} ") for form in language.announcing)
            if clause.opens and alone and announced and not words[0].has("says"):
                clause.asked = True
