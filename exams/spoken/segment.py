"""Sentences and clauses: who begins where, also without any punctuation.

A clause speaks of one thing, or of a row of things, and says something of it. Here the pauses and the words
that join or part; `cuts` parts what is left at names, `rows` puts rows together again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from exams.spoken.clause import PREDICATE, Clause, anything_said, kind_of, one_side, significant, up_from
from exams.spoken.cuts import UNSTOPPED, after_but
from exams.spoken.rows import deny_lists, rows
from exams.spoken.terms import FIGURE, UNKNOWN, Term
from exams.spoken.tokens import ASK, PAUSE, STRONG, WEAK
from exams.spoken.vocabulary import Sense, Vocabulary

AHEAD = 10  # terms that are looked at behind an "and"


def sentences_of(terms: Sequence[Term]) -> Iterator[tuple[list[Term], bool]]:
    """Terms up to a full stop, and whether it was a question mark."""
    held: list[Term] = []
    for term in terms:
        if term.kind in (STRONG, ASK):
            if held:
                yield held, term.kind == ASK
            held = []
        else:
            held.append(term)
    if held:
        yield held, False


def clauses_of(terms: Sequence[Term], sentence: int, asked: bool, vocabulary: Vocabulary) -> list[Clause]:
    """The clauses of one sentence."""
    found: list[Clause] = []
    for piece, stop, colon in _by_pauses(terms):
        for part, mark in _by_words(piece, stop, vocabulary):
            for at, run in enumerate(after_but(part, mark, vocabulary)):
                if run:
                    long = len(part) > UNSTOPPED  # without stops the reason ends somewhere
                    drop = "reason" if mark == "because" and not (long and at) else ""
                    if drop and any(t.has("control", "skip") for t in run) and (not found or _of_that(run)):
                        drop = ""  # "because of the noise I can't hear the lungs"
                    found.append(
                        Clause(run, sentence, stop=mark if at == 0 else "name", asked=asked, drop=drop)
                    )
                    if found[-1].stop == "until":
                        found[-1].stop, found[-1].until = "except", True
                    if found[-1].stop == "which":
                        found[-1].stop = "but"
                        _of_that_side(found)
        if found and colon:
            found[-1].colon = True
    if not found:
        return []
    found = list(_any_such(found, vocabulary))
    for before, clause in pairwise(found):
        if before.drop == "reason" and clause.stop == "and" and clause.terms[0].has("word", "subject"):
            clause.drop = "reason"  # "because she's a mother and she's sore"
    if asked and (tag := _tag_from(found, vocabulary)) and _stated(found[0]):
        for at, clause in enumerate(found):
            clause.asked, clause.drop = at >= tag, "talk" if at >= tag else clause.drop
    if asked and (last := _last_asked(found)):
        for clause in found[:last]:
            clause.asked = False
    begins = next((i for i, c in enumerate(found) if i and _asks(c)), 0)
    if asked and (any(_stated(c) for c in found[: begins or 1]) or _which_grade(found[-1])):
        for clause in found[:begins]:
            clause.asked = False  # "Gums are pale and, let me see, is that a bruise?"
    _none_of_them(found, vocabulary.language.bare_no)
    if asked and not begins and _row_before(found):
        for clause in found[:-1]:
            clause.asked = False
    if asked and _bare_name(found[-1]) and any(_stated(c) for c in found[:-1]):
        for clause in found[:-1]:
            clause.asked = False  # "The bottom's clean; rectal? No"
    if len(found) > 1 and _marker(found[0], found[1]):
        found[0].drop = "talk"
    if found and _heads_skips(found):
        found[0].heads_skips = True
    if found:
        found[0].opens = True
        found[-1].closes = True
        found[0].stop = "sentence"
    if len(found) > 1 and _both_behind(found[0], found[1]):
        found[0].terms, found[0].closes = [*found[0].terms, *found[1].terms], len(found) == 2
        del found[1]
    deny_lists(found, vocabulary.language.bare_no)
    return rows(found, vocabulary)


def _any_such(clauses: Sequence[Clause], vocabulary: Vocabulary) -> Iterator[Clause]:
    """ "A normal | kidney is smooth", "the bulge | next to the anus is soft": it belongs together."""
    preps = vocabulary.language.forms["control"].get("prep", ())
    held: list[Clause] = []
    for clause in clauses:
        name = clause.terms[0]
        led = (
            name.has("noun")
            and len(name.words) > 2
            and (name.words[0] in preps or " ".join(name.words[:2]) in preps)
        )
        good = bool(held) and held[0].terms[1].text in vocabulary.language.normal
        if held and clause.stop == "name" and (good or led):
            clause = replace(clause, terms=[*held[0].terms, *clause.terms], stop=held[0].stop)
            held = []
        yield from held
        two = len(clause.terms) == 2 and clause.terms[0].has("word", "article")
        any_one = two and clause.terms[0].has("word", "indefinite")
        good = any_one and clause.terms[1].text in vocabulary.language.normal
        bad = two and clause.terms[1].has("trait") and not clause.terms[1].has("noun")
        held = [clause] if good or bad else []
        if not held:
            yield clause
    yield from held


def _joint(term: Term) -> str:
    if term.has("control", "because"):
        return "because"
    return "which" if term.has("word", "which") else "but"


def _of_that_side(found: Sequence[Clause]) -> None:
    """ "It's loose compared with the left, which is fine": the left is."""
    if len(found) > 1 and one_side(found[-2].terms[-1]) and found[-1].terms[0].has("word", "saying"):
        side = found[-2].terms[-1]
        found[-1].terms = [replace(side, used=False), *found[-1].terms]


def _tag_from(clauses: Sequence[Clause], vocabulary: Vocabulary) -> int:
    """ "Eyes sunken on both sides, you see?", "… you see, Thandi?": nobody is asked. The clause that is the
    tag, 0 where there is none."""
    called = len(clauses) > 2 and all(t.kind == UNKNOWN for t in clauses[-1].terms)
    at = len(clauses) - (2 if called else 1)
    words = [w for t in clauses[at].terms for w in t.words]
    tags = [tag.split() for tag in vocabulary.language.tags]
    tag = any(words[: len(tag)] == tag and len(words) <= len(tag) + 1 for tag in tags)
    return at if tag else 0


def _both_behind(first: Clause, second: Clause) -> bool:
    """ "Let me feel the elbows. Fine, both.": what they are, and that it is both of them."""
    plain = len(first.terms) == 1 and kind_of(first.terms[0]) == "trait" and not first.drop
    return plain and second.stop == WEAK and all(t.has("side", "both") for t in second.terms)


def _of_that(terms: Sequence[Term]) -> bool:
    """ "… and because of that I left the ears": what was said before is the reason."""
    led = terms[0].has("number", "of") or terms[0].has("word", "that", "them")
    return led and any(t.has("noun") for t in terms)


def _last_asked(clauses: Sequence[Clause]) -> int:
    """ "Lungs: right clear throughout; left, crackle at the back?": where the question of one side begins,
    behind what was said of the other; 0 where it does not."""
    if not clauses[0].colon or len(clauses) < 3:
        return 0
    sides = [[k for t in c.terms for k in t.keys("side") if k in ("left", "right")] for c in clauses]
    told = [
        bool(s) and any(kind_of(t) in PREDICATE for t in c.terms) for s, c in zip(sides, clauses, strict=True)
    ]
    first = next((i for i, said in enumerate(told) if said), 0)
    later = next((i for i in range(first + 1, len(clauses)) if sides[i] and sides[i] != sides[first]), 0)
    return later if first else 0


def _asks(clause: Clause) -> bool:
    """ "… is that a bruise?", "… so which grade?"."""
    return clause.terms[0].has("talk", "question", "ask", "shown") or _which_grade(clause)


def _bare_name(clause: Clause) -> bool:
    told = [t for t in clause.terms if significant(t)]
    return bool(told) and all(t.has("noun") for t in told)


def _which_grade(clause: Clause) -> bool:
    return all(t.has("number", "grade") for t in clause.terms)


def _stated(clause: Clause) -> bool:
    """Something is named and said, and no question begins it."""
    first = clause.terms[0]
    asks = first.has("talk") or first.has("word", "saying", "having")
    named = any(t.has("noun") or t.has("says") for t in clause.terms)
    return not asks and named and anything_said(clause.terms)


def _heads_skips(clauses: Sequence[Clause]) -> bool:
    """ "Not done, and I mean on purpose: mouth, ears, nodes": not of what was spoken of before."""
    first = clauses[0]
    bare = not any(t.has("noun") or t.has("side") or kind_of(t) in PREDICATE for t in first.terms)
    over = next((i for i, c in enumerate(clauses[:-1]) if c.colon), -1)
    told = any(t.has("noun") for c in clauses[: over + 1] for t in c.terms)
    named = any(t.has("noun") for c in clauses[over + 1 :] for t in c.terms)
    return bool(first.having("control", "skip")) and bare and over >= 0 and not told and named


def _row_before(clauses: Sequence[Clause]) -> bool:
    """ "Left front quick, right front quick, right hind a shade slow?": the last is asked."""
    said = [
        any(t.has("side") or t.has("limb") for t in c.terms) and any(t.has("trait") for t in c.terms)
        for c in clauses
    ]
    return len(clauses) > 2 and said[-1] and sum(said[:-1]) > 1


def _marker(first: Clause, second: Clause) -> bool:
    """ "Right, ears.", "Right, this is Gulliver": no side, unless one thing or a word about it follows."""
    if len(first.terms) != 1 or not first.terms[0].assent or second.stop != WEAK or first.colon:
        return False
    said = next((t for t in second.terms if significant(t)), None)
    if said is None or kind_of(said) in PREDICATE or said.has("control", "again"):
        return said is None
    several = any(s.kind == "noun" and s.plural for s in said.senses)
    return not said.has("noun") or several


def other_side(sentences: Sequence[Sequence[Clause]]) -> None:
    """ "Left, it pops out. Right, I can't move it.": a side after all, as the sentence before began so."""
    for before, clauses in pairwise(sentences):
        first, terms = clauses[0], before[0].terms
        led = len(terms) == 1 and terms[0].has("side", "left") and len(before) > 1
        if led and first.drop == "talk" and len(first.terms) == 1 and first.terms[0].has("side", "right"):
            first.drop = ""


def _by_pauses(terms: Sequence[Term]) -> Iterator[tuple[list[Term], str, bool]]:
    held: list[Term] = []
    stop = ""
    for term in terms:
        if term.kind in (WEAK, PAUSE):
            if held:
                yield held, stop, term.text == ":"
            if held or not stop:
                stop = term.kind
            held = []
        else:
            held.append(term)
    if held:
        yield held, stop, False


def _by_words(terms: Sequence[Term], stop: str, vocabulary: Vocabulary) -> Iterator[tuple[list[Term], str]]:
    """Split at "but", and at "and" unless it joins a row; at words that correct."""
    held: list[Term] = []
    mark = stop
    for at, term in enumerate(terms):
        if term.has("control", "but", "because") and not term.has("noun"):
            if held:
                yield held, mark
            held, mark = [], _joint(term)
        elif (
            (
                term.has("talk", "owner", "others", "plan")
                or _to_staff(held, term)
                or up_from(term)
                or _back_then(terms, at)
            )
            and at + 1 < len(terms)
            and (anything_said(held) or any(t.has("talk") for t in held))
        ) or (_tells(terms, at) and anything_said(held)):
            yield held, mark
            held, mark = [term], "talk"
        elif (
            term.has("word", "them")
            and held
            and held[-1].has("noun")
            and any(t.has("talk", "later", "staff") for t in held)
        ):
            yield held, mark  # "I'm going to look at his eyes they're both gunky"
            held, mark = [term], "name"
        elif _counted(terms, at) and any(t.has("talk", "owner") for t in held):
            yield held, mark
            held, mark = [term], "name"
        elif term.text in vocabulary.language.not_that and _denies_next(terms, at) and held:
            yield held, mark  # "wobbly, but not weak"
            held, mark = [term], "but"
        elif term.has("control", "except") and held and at + 1 < len(terms):
            yield held, mark
            held, mark = [], "except"
        elif _up_to(terms, at) and (anything_said(held) or any(t.has("control", "nothing") for t in held)):
            yield held, mark  # "comfortable until the loin": not of that
            held, mark = [], "until"
        elif term.has("control", "correct") and held:
            yield held, mark
            held, mark = [term], "correct"
        elif term.has("control", "and") and not _joins([*held, *terms[at : at + AHEAD]], len(held)):
            if held:
                yield held, mark
            held, mark = [], "and"
        else:
            held.append(term)
    if held:
        yield held, mark


def _up_to(terms: Sequence[Term], at: int) -> bool:
    after = next((t for t in terms[at + 1 :] if significant(t)), None)
    return terms[at].has("word", "until") and after is not None and after.has("noun")


def _none_of_them(clauses: Sequence[Clause], no: Sequence[str]) -> None:
    """ "No heat, pain or swelling": the no is of all of them."""
    for at, last in enumerate(clauses):
        if not last.having("control", "or") or not _bare_words(last):
            continue
        first = at
        while first > 1 and clauses[first].stop == WEAK and not _denial(clauses[first - 1], no):
            if not _bare_words(clauses[first - 1]):
                break
            first -= 1
        if not first or clauses[first].stop != WEAK or not _denial(clauses[first - 1], no):
            continue
        for clause in clauses[first : at + 1]:
            start = clause.start
            clause.terms = [Term((no[0],), (Sense("control", "no"),), "form", start, start), *clause.terms]


def _denial(clause: Clause, no: Sequence[str]) -> bool:
    said = [t for t in clause.terms if t.has("trait") or t.has("finding") or t.has("control", "no")]
    return any(t.words[0] in no for t in said)


def _bare_words(clause: Clause) -> bool:
    """Words for what could be found, and at most where."""
    where = next((i for i, t in enumerate(clause.terms) if t.has("control", "prep")), len(clause.terms))
    said = clause.terms[:where]
    return bool(said) and all(
        (t.has("trait") and not t.has("noun"))
        or t.has("finding")
        or t.has("control", "or")
        or t.kind == UNKNOWN
        for t in said
    )


def _denies_next(terms: Sequence[Term], at: int) -> bool:
    """A word of description right behind it, and no name."""
    after = terms[at + 1] if at + 1 < len(terms) else None
    return (
        terms[at].has("control", "except")
        and after is not None
        and kind_of(after) in ("trait", "finding")
        and not after.has("noun")
    )


def _to_staff(held: Sequence[Term], term: Term) -> bool:
    """ "lungs clear can you lift her head": what was said before stands; not "abdomen okay let me …"."""
    return term.has("talk", "staff") and bool(held) and not held[-1].has("word", "okay")


def _tells(terms: Sequence[Term], at: int) -> bool:
    """ "hips good lucy says he nipped her": somebody who tells something, in the middle of it."""
    return terms[at].kind == UNKNOWN and any(t.has("word", "telling") for t in terms[at + 1 : at + 2])


def _counted(terms: Sequence[Term], at: int) -> bool:
    """ "came in for weight loss he is nine point two pounds": he, and a number of him."""
    after = terms[at + 1 : at + 3]
    return (
        terms[at].has("word", "subject")
        and after[:1] != []
        and after[0].has("word", "saying")
        and any(t.kind == FIGURE for t in after)
    )


def _back_then(terms: Sequence[Term], at: int) -> bool:
    """ "… nine point two pounds last june he was eleven": another time begins a clause of its own."""
    after = terms[at + 1] if at + 1 < len(terms) else None
    return after is not None and terms[at].has("talk", "past") and after.has("word", "subject")


def _near(terms: Sequence[Term], at: int, step: int) -> Term | None:
    i = at + step
    while 0 <= i < len(terms):
        if significant(terms[i]) and (not terms[i].has("control", "prep") or terms[i].has("trait")):
            return terms[i]
        i += step
    return None


def _joins(terms: Sequence[Term], at: int) -> bool:
    """Whether the "and" at `at` joins a row: two names, two sides, two words of one description."""
    before, after = _near(terms, at, -1), _near(terms, at, 1)
    if before is None or after is None:
        return before is not None or (after is not None and after.has("noun"))
    left, right = kind_of(before), kind_of(after)
    behind = terms[at + 1] if at + 1 < len(terms) else None
    if behind and behind.has("word", "them") and not (behind.has("word", "subject") or behind.has("side")):
        return False  # "I expected them to be bad and they're wide open"
    if left == "limb" and right == "side" and _same_sided_limbs(terms, at, after):
        return True  # "left fore and left hind are slow"
    sided = left != "side" and _sided_since_name(terms, at) and _sided_until_name(terms, at)
    if sided and (left != "noun" or any(kind_of(t) in PREDICATE for t in terms[:at])):
        return False
    if left == right and left in ("noun", "limb", FIGURE, "place"):
        return True
    if left == "place" and right == "noun":
        return not any(kind_of(t) in PREDICATE for t in terms[:at])
    if left == right == "side":
        # "left one is down and right one is not": both have said something; "clear on the left and right"
        last = not any(significant(t) for t in terms[at + 2 :]) and before.led
        return last or not any(kind_of(t) in PREDICATE for t in terms[:at])
    if left == "noun" and right in ("side", "limb", "trait"):
        return _beyond(terms, at, before)
    if right == "trait" and _names_next(terms, at, after) and any(kind_of(t) == "noun" for t in terms[:at]):
        return False  # "tartar and red gums"
    if left in ("trait", "severity") and right in ("trait", "severity"):
        # "small and soft", but "is clean and a soft lump": an article begins something new
        return not any(t.has("word", "article") for t in terms[at + 1 : at + 2])
    return left in ("trait", "finding") and right in ("finding",)


def _same_sided_limbs(terms: Sequence[Term], at: int, side: Term) -> bool:
    limb = _near(terms, next(i for i, t in enumerate(terms) if t is side), 1)
    before = [k for t in terms[:at] for k in t.keys("side")]
    plain = not any(kind_of(t) in PREDICATE for t in terms[:at])
    return plain and limb is not None and limb.has("limb") and before[-1:] == list(side.keys("side")[:1])


def _names_next(terms: Sequence[Term], at: int, trait: Term) -> bool:
    """The word of description is followed at once by a name, and that by more."""
    i = at + 1
    while i < len(terms) and terms[i] is not trait:
        i += 1
    own = any(kind_of(t) in PREDICATE or t.has("control", "skip") for t in terms[i + 2 : i + 5])
    return i + 1 < len(terms) and kind_of(terms[i + 1]) == "noun" and not own


def _sided_since_name(terms: Sequence[Term], at: int) -> bool:
    """A side was said of the last name."""
    for term in reversed(terms[:at]):
        if one_side(term):
            return True
        if term.has("noun"):
            break
    names = [i for i, t in enumerate(terms[:at]) if t.has("noun")]
    return bool(names) and any(one_side(t) for t in terms[max(0, names[-1] - 2) : names[-1]])


def _sided_until_name(terms: Sequence[Term], at: int) -> bool:
    """Another side follows before another thing is named."""
    for term in terms[at + 1 :]:
        if one_side(term):
            return True
        if term.has("noun"):
            return False
    return False


def _beyond(terms: Sequence[Term], at: int, before: Term) -> bool:
    """ "elbows and both wrists are free": a row whose names have their own sides, before anything is said."""
    rest = [t for t in terms[at + 1 :] if significant(t)]
    return (
        len(rest) > 1
        and not any(kind_of(t) in PREDICATE for t in terms[:at])
        and any(t.has("noun") for t in rest[:2])
    )
