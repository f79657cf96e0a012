"""A lone no behind a name or a finding: "Fleas, no; ticks, no", "Fleas? No."."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import groupby, pairwise

from exams.spoken.clause import PREDICATE, Clause, kind_of, one_side, significant
from exams.spoken.terms import FIGURE, Term
from exams.spoken.tokens import WEAK
from exams.spoken.vocabulary import Sense

DENIED = Sense("control", "no")
ASKING = ("question", "ask")


def questions_answered(clauses: Sequence[Clause], no: Sequence[str], yes: Sequence[str]) -> None:
    """ "Knees, are they swollen? No.", "Any pain? Neck no, hips no, back yes.": what was asked, of what is
    named. A name begins the question, so that it is no owner who is asked."""
    sentences = [list(group) for _, group in groupby(clauses, key=lambda c: c.sentence)]
    for question, answer in pairwise(sentences):
        if not all(c.asked for c in question) or any(c.drop not in ("", "talk") for c in question):
            continue
        traits = [t for c in question for t in c.terms if t.has("trait")]
        if not traits:
            continue
        if not any(t.has("noun") or t.has("side") or t.has("talk") for c in question for t in c.terms):
            for clause in answer:
                _of_each(clause, traits, no, yes)
        elif _denies(answer, no) and _begins_with_name(question):
            _said_no(question, answer[0].terms[0])


def _of_each(clause: Clause, traits: Sequence[Term], no: Sequence[str], yes: Sequence[str]) -> None:
    """ "Neck no", "back yes": the name, with what was asked."""
    words = [t for t in clause.terms if significant(t) or t.has("side") or t.text in (*no, *yes)]
    named = words[:-1]
    plain = any(t.has("noun") or t.has("side") for t in named) and all(
        t.has("noun") or t.has("side") or t.has("limb") or t.has("control", "and") for t in named
    )
    if plain and not clause.asked and words[-1].text in (*no, *yes):
        last = words[-1]
        denial = [replace(last, senses=(DENIED,))] if last.text in no else []
        found = [replace(t, start=last.start, end=last.end) for t in traits]
        clause.terms = [*named, *denial, *found]


def _denies(answer: Sequence[Clause], no: Sequence[str]) -> bool:
    """No, and at most what it is instead: "No, that's just hair"."""
    first = answer[0].terms
    rest = [t for c in answer[1:] for t in c.terms]
    return (
        len(first) == 1
        and first[0].text in no
        and len(answer) <= 2
        and not any(c.drop or c.asked for c in answer)
        and not any(kind_of(t) in ("noun", "side", "limb", *PREDICATE) for t in rest)
        and not any(t.has("control", "hedge", "skip", "unreal", "correct", "but") for t in rest)
    )


def _begins_with_name(question: Sequence[Clause]) -> bool:
    first = next((t for t in question[0].terms if significant(t) and not t.has("side")), None)
    asks = any(t.has("talk") and not t.has("talk", *ASKING) for c in question for t in c.terms)
    return first is not None and (first.has("noun") or first.has("limb")) and not asks


def _said_no(question: Sequence[Clause], no: Term) -> None:
    for clause in question:
        clause.asked, clause.drop = False, ""
        clause.terms = [t for t in clause.terms if not t.has("talk", *ASKING)] or clause.terms
        at = next((i for i, t in enumerate(clause.terms) if kind_of(t) in PREDICATE), -1)
        if at >= 0:
            denial = replace(no, senses=(DENIED,), start=clause.terms[at].start, end=clause.terms[at].start)
            clause.terms = [*clause.terms[:at], denial, *clause.terms[at:]]


def answered(
    clauses: list[Clause], no: Sequence[str], none: Sequence[str] = (), tests: Collection[str] = ()
) -> list[Clause]:
    """ "Fleas, no; ticks, no", "Fleas? No.", "Fleas no.": a lone no behind a name or finding denies it."""
    found: list[Clause] = []
    for at, clause in enumerate(clauses):
        alone = len(clause.terms) == 1
        words = [t for t in clause.terms if (one_side(t) and not alone) or not t.has("control", "filler")]
        last = found[-1] if found else None
        lone = len(words) == 1 and words[0].text in (*no, *none)
        if last and _of_one_side(words, (*no, *none)) and last is _heading(found, clause):
            denial = replace(words[1], senses=(DENIED,))
            clause.terms = [words[0], denial, *last.terms]  # "Smell: right nothing, left yeasty"
            found.append(clause)
            continue
        if lone and last and _side_only(last, clause):
            last.terms = [*last.terms, replace(words[0], senses=(Sense("control", "nothing"),))]
            continue  # "right she yelps, left, no"
        if len(words) == 2 and words[1].text in no and _bare_trait(words[0]) and _ends(clauses, at):
            words[1:], clause.terms = [], [words[1], *(t for t in clause.terms if t is not words[1])]
        if lone and words[0].text in none and not (last and _bare(last)):
            last = _over_talk(clauses, at) or last
        if lone and words[0].text in none and clause.opens and (before := _sentence_before(clauses, at)):
            last = before
        if lone and clause.opens and (before := _asked_lately(clauses, at)):
            last = before
        if lone and not clause.opens and (before := _asked_before(clauses, at)):
            last = before
        no_more = lone and words[0].text in no
        if no_more and last and _with_test(found, tests):
            found[-2].terms = [*found[-2].terms, *last.terms]  # "Hip tests and drawer, no"
            found.pop()
            last = found[-1]
            last.terms = [*last.terms, replace(words[0], senses=(Sense("control", "skip"),))]
            continue
        if no_more and last and not _named_again(clauses, at) and _names_only(last, clause):
            left_out = Term(words[0].words, (Sense("control", "skip"),), "form", words[0].start, words[0].end)
            last.terms = [*last.terms, left_out]  # "Knees and hips, no, she doesn't need that"
            continue
        if len(words) == 1 and words[0].has("word", "live") and (before := _heading(found, clause)):
            lone, last = True, before
        again = lone and _named_again(clauses, at)
        live = lone and words[0].has("word", "live")
        fits = last and not last.drop and _bare(last) and (live or _answers(last, clause, none))
        if lone and not again and last and fits:
            denial = Term(words[0].words, (Sense("control", "no"),), "form", words[0].start, words[0].end)
            last.terms = [denial, *last.terms]
            last.asked = False
            row = found[-2] if len(found) > 1 and last is found[-1] and last.stop == "and" else None
            if row and row.sentence == last.sentence and row.opens and not row.drop and _bare(row):
                row.terms = [denial, *row.terms]  # "Murmurs and gallops, none."
        else:
            found.append(clause)
    return found


def _of_one_side(words: Sequence[Term], none: Collection[str]) -> bool:
    return len(words) == 2 and one_side(words[0]) and words[1].text in none


def _side_only(before: Clause, no: Clause) -> bool:
    """A side, behind something else of the sentence, and the no after a pause."""
    same = before.sentence == no.sentence and not before.opens and not before.drop and not before.asked
    side = len(before.terms) == 1 and one_side(before.terms[0]) and not before.terms[0].assent
    return same and side and no.stop == WEAK


def _heading(found: Sequence[Clause], clause: Clause) -> Clause | None:
    """ "Fleas, I only see the black dirt, no live ones": what the sentence began with."""
    return next(
        (c for c in found if c.sentence == clause.sentence and c.opens and _bare(c) and not c.drop), None
    )


def _over_talk(clauses: Sequence[Clause], at: int) -> Clause | None:
    """ "Mites, I looked at a swab and there aren't any": the name before words that say nothing."""
    for before in reversed(clauses[:at]):
        if before.sentence != clauses[at].sentence or (before.drop and before.drop != "assent"):
            return None
        if len(before.terms) == 1 and before.terms[0].assent:
            before.drop = "assent"  # "Cherry eye, right, she doesn't have one"
            continue
        if _bare(before) and before.terms[0].kind != FIGURE:
            return before
        if any(
            t.has("noun") or t.has("side") or (kind_of(t) in PREDICATE and not t.has("trait", "absent"))
            for t in before.terms
        ):
            return None
    return None


def _sentence_before(clauses: Sequence[Clause], at: int) -> Clause | None:
    """ "Fleas, comb her. None.": the name that the sentence before began with, nothing else said in it."""
    sentence = [c for c in clauses[:at] if c.sentence == clauses[at].sentence - 1]
    if len(sentence) < 2 or not _bare(sentence[0]) or sentence[0].drop:
        return None
    rest = [t for c in sentence[1:] for t in c.terms]
    if any(t.has("noun") or t.has("side") or kind_of(t) in PREDICATE or t.kind == FIGURE for t in rest):
        return None
    sentence[0].asked = True
    return sentence[0]


def _asked_lately(clauses: Sequence[Clause], at: int) -> Clause | None:
    """ "Murmur? Listened twice. None.": the question, one sentence that says nothing in between."""
    here = clauses[at].sentence
    between = [c for c in clauses[:at] if c.sentence == here - 1]
    asked = [c for c in clauses[:at] if c.sentence == here - 2]
    said = any(t.has("noun") or t.has("side") or kind_of(t) in PREDICATE for c in between for t in c.terms)
    if said or not between or len(asked) != 1 or not asked[0].asked or asked[0].drop:
        return None
    return asked[0] if _bare(asked[0]) else None


def _with_test(found: Sequence[Clause], tests: Collection[str]) -> bool:
    """Names, "and" the name of a test, and nothing else."""
    if len(found) < 2 or found[-1].stop != "and" or found[-2].sentence != found[-1].sentence:
        return False
    names, test = found[-2], found[-1]
    plain = any(t.has("noun") for t in names.terms) and names.opens and not names.drop and not names.asked
    return (
        plain
        and not any(kind_of(t) in PREDICATE for t in names.terms)
        and all(any(k in tests for k in t.keys("trait")) for t in test.terms)
    )


def _names_only(before: Clause, no: Clause) -> bool:
    named = sum(t.has("noun") for t in before.terms)
    plain = all(t.has("noun") or one_side(t) or t.has("control", "and", "or", "filler") for t in before.terms)
    one = sum(one_side(t) for t in before.terms) == 1 and len(before.terms) <= 3
    several = named > 1 or (named == 1 and (before.colon or one))
    same = before.sentence == no.sentence and before.opens and not before.asked and not before.drop
    return several and plain and same and not any(t.has("trait") for t in before.terms)


def _asked_before(clauses: Sequence[Clause], at: int) -> Clause | None:
    """ "A gallop? I listened for it, and no.": the question, where nothing was said in between."""
    here = [c for c in clauses[:at] if c.sentence == clauses[at].sentence]
    asked = [c for c in clauses[:at] if c.sentence == clauses[at].sentence - 1]
    said = any(t.has("noun") or t.has("side") or kind_of(t) in PREDICATE for c in here for t in c.terms)
    if said or not _ends(clauses, at) or len(asked) != 1 or not asked[0].asked or asked[0].drop:
        return None
    return asked[0] if _bare(asked[0]) else None


def _named_again(clauses: Sequence[Clause], at: int) -> bool:
    """ "Right hip, painful, no, left hip": the no takes back where, it denies nothing."""
    sentence = [c for c in clauses if c.sentence == clauses[at].sentence]
    before = {k for c in sentence[: sentence.index(clauses[at])] for t in c.terms for k in t.keys("noun")}
    after = clauses[at + 1 : at + 2]
    return any(
        c.sentence == clauses[at].sentence
        and any(one_side(t) for t in c.terms)
        and any(k in before for t in c.terms for k in t.keys("noun"))
        for c in after
    )


def _bare(clause: Clause) -> bool:
    said = [t for t in clause.terms if significant(t) and not t.has("control", "filler", "prep")]
    row = [t for t in said if not t.has("control", "and", "or")]  # "clicks and thuds, none"
    said = row if row and all(t.has("trait") and not t.has("noun") for t in row) else said
    return (
        0 < len(said) <= 2
        and said[0].has("trait")
        and clause.stop != "but"
        and not said[0].has("trait", "absent")
        and all(t.has("trait") for t in said)
    )


def _bare_trait(term: Term) -> bool:
    return term.has("trait") and term.alone


def _ends(clauses: Sequence[Clause], at: int) -> bool:
    return at + 1 == len(clauses) or clauses[at + 1].sentence != clauses[at].sentence


def _answers(question: Clause, answer: Clause, none: Sequence[str]) -> bool:
    if question.sentence == answer.sentence:
        return answer.stop == WEAK or any(t.text in none for t in answer.terms)
    return question.asked
