"""Which animal a sentence speaks of, where another was just spoken of: told by he and she."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from exams.spoken.clause import Clause
from exams.spoken.shapes import About
from exams.spoken.terms import UNKNOWN

NEAR = 2  # sentences after one about another animal
SURE = 3  # how often the animal is called he or she before the other word is taken for another's


def of_another(
    sentences: Sequence[Sequence[Clause]], about: About, pronouns: Mapping[str, tuple[str, ...]]
) -> None:
    """ "Your other one has the bad hips, right? Oh, it's his heart": of a bitch, that is still the other.
    Marks the clauses; does nothing where the sex is not known or the text does not keep to one word."""
    sex, _, _ = about.sex.partition("-")
    own = frozenset(pronouns.get(sex, ()))
    others = frozenset(w for key, words in pronouns.items() if key != sex for w in words)
    if not own or not others:
        return
    spoken = [{w for c in found for t in c.terms for w in t.words} for found in sentences]
    if sum(bool(words & own) for words in spoken) < max(SURE, sum(bool(words & others) for words in spoken)):
        return
    last = -NEAR - 1
    for at, (found, words) in enumerate(zip(sentences, spoken, strict=True)):
        if any(t.has("talk", "others") for c in found for t in c.terms):
            last = at
        elif words & others and not words & own and (at - last <= NEAR or _finds(found)):
            last = at
            for clause in found:
                clause.drop = clause.drop or "talk"


def _finds(clauses: Sequence[Clause]) -> bool:
    """ "And the sister is still wheezing, we'll talk about her after": a finding of somebody who is named."""
    before = clauses[0].terms[:3]
    told = any(t.has("trait") or t.has("finding") for t in clauses[0].terms)
    named = any(t.kind == UNKNOWN for t in before)
    return (
        named
        and told
        and not any(c.unstopped for c in clauses)
        and not any(c.having("noun") for c in clauses)
    )
