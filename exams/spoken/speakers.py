"""Who is spoken of, and to whom: what is no finding of today's animal is left out of the findings.

The owner's history, earlier visits, other animals, instructions, questions, advice and talk to the animal
make nothing; what a member of the team reports is a heads-up; what shall be done is a line of the plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from exams.spoken.clause import Clause
from exams.spoken.shapes import Line, Span
from exams.spoken.terms import FIGURE, UNKNOWN, Term
from exams.spoken.tokens import PAUSE, WEAK

WHOLE = ("others", "question", "if", "teach", "quiz")  # these make the whole sentence no finding
CLAUSE = ("staff", "later", "idiom", "past")
LONG = 60  # terms: a sentence without stops
LONG_UNSTOPPED = 24  # the same, where there are hardly any commas


def sort_out(
    clauses: Sequence[Clause],
    text: str,
    own: Sequence[str] = (),
    view: Sequence[str] = (),
    looked: Sequence[str] = (),
) -> tuple[list[Line], list[Line]]:
    """Mark the clauses of one sentence that are no findings (`drop` says why); heads-ups and plan lines."""
    heads_ups: list[Line] = []
    plan: list[Line] = []
    length = sum(len(c.terms) for c in clauses)
    stops = sum(c.stop in (WEAK, PAUSE) for c in clauses)
    run_on = length > LONG or (length > LONG_UNSTOPPED and stops * LONG_UNSTOPPED < length)
    run_on = run_on or clauses[0].unstopped
    for at, clause in enumerate(clauses):
        talk = {k for t in clause.terms for k in t.keys("talk")}
        if clause.drop and not (clause.drop == "talk" and "plan" in talk):
            continue  # advice within the plan is of the plan: "if she gets worse, call us"
        if not any(t.has("talk", "question") for t in clause.terms[:3]):
            talk.discard("question")
        if clause.stop == "except" or _what_is(clause):
            talk.discard("question")  # "normal apart from what's hanging out of it"
        if clause.terms[0].has("talk", "ask"):
            talk.add("question")
        if clause.terms[0].has("trait") and any(t.has("talk", "likens") for t in clause.terms[1:2]):
            clause.drop = "talk"  # "mites look like coffee grounds"
            continue
        if "past" in talk and _than_then(clause):
            talk.discard("past")  # "less swollen than last time": so it is today
        trails = clause.unstopped and clause.terms[-1].has("talk", "past")
        if trails and any(t.has("says") for t in clause.terms):
            talk.discard("past")  # "no murmur today | last time …": it begins what comes
        if "past" in talk and _is_now(clause):
            talk.discard("past")
        if "plan" in talk and _look_next(clause):
            talk = talk - {"plan"} | {"later"}
        if "plan" in talk and not (talk & {"owner", "others"}):
            begins = bool(clause.having("word", "plan"))
            rest = clauses[at:] if begins or not clause.unstopped else _until(clauses, at, True)
            begin = next((t for t in clause.terms if t.has("talk", "plan")), clause.terms[0])
            # what stands before the word is a finding: "the ears are clean recheck in a week"
            if begin is not clause.terms[0] and any(t.has("noun") for t in _before(clause, begin)) and run_on:
                rest = rest[1:]
                plan.append(_line(clause.terms[clause.terms.index(begin) :], text))
                clause.terms = _before(clause, begin)
            for c in rest:
                c.drop = "plan"
            plan.extend(_plan_lines(rest, text))
            if begins or not clause.unstopped:
                break
            continue
        if clause.having("control", "skip") and ("owner" in talk or clause.having("talk", "thinks")):
            continue
        if "owner" in talk or _reported(clause):
            told = "owner" if "owner" in talk else "says"
            late = 0 < at == len(clauses) - 1 and len(clause.terms) <= 4 and not run_on
            late = late and not clause.having("noun") and not clause.having("word", "article")
            scope = list(clauses) if late else list(_until(clauses, at, run_on))
            if _by_the_way(clause) and at and not clauses[at - 1].drop and not run_on:
                scope = [clauses[at - 1], *scope]  # "The stool's normal, she says, at home"
            if told == "says":
                heads_ups.append(_line([t for c in scope for t in c.terms], text))
            if clause.unstopped and at and clause.terms[0].has("word", "per"):
                scope = [clauses[at - 1], clause]  # "ears are clean per mom"
            for c in scope[: _own_look(scope, own, view, looked)]:
                c.drop = c.drop or told
        elif talk & set(WHOLE) and not (run_on and "question" in talk):
            scope = list(_until(clauses, at, run_on))
            if talk & set(WHOLE) == {"question"} and at:
                scope = _to_answer(scope)
            if talk & {"teach", "quiz"} and not run_on and not _own(clauses[:at]):
                scope = list(clauses)
            if "others" in talk and not run_on:
                scope = list(clauses) if at <= 1 else list(clauses[at:])
            for c in scope:
                c.drop = c.drop or "talk"
        elif talk & set(CLAUSE):
            if "later" in talk and clause.having("control", "skip") and clause.having("noun"):
                continue  # "neck and back we'll get to when he's sedated"
            clause.drop = "past" if "past" in talk else "talk"
            names = any(t.has("noun") for t in clause.terms)
            if "past" in talk and not names:
                # "Last time, the weight was eleven": the time opens the sentence
                after = clauses[at + 1 :] if at == 0 and not run_on else ()
                for c in after[: _own_look(after, own)]:
                    c.drop = c.drop or "past"
            if "past" in talk and run_on and at > 0 and clauses[at - 1].drop:
                continue
    return heads_ups, plan


def _than_then(clause: Clause) -> bool:
    """Compared with another time, and not denied: "no bigger than last time" is no word about its size."""
    then = [at for at, t in enumerate(clause.terms) if t.has("talk", "past")]
    compared = all(
        clause.terms[at].has("word", "than") or (at and clause.terms[at - 1].has("word", "than"))
        for at in then
    )
    return compared and not clause.having("control", "no") and bool(clause.having("word", "comparing"))


def _what_is(clause: Clause) -> bool:
    """ "What's coming out is pus": nothing is asked."""
    at = next((i for i, t in enumerate(clause.terms) if t.has("talk", "question")), len(clause.terms))
    after = [i for i, t in enumerate(clause.terms) if i > at + 1 and t.has("word", "saying")]
    return at == 0 and bool(after) and not clause.asked and len(clause.terms) > after[0] + 1


def _by_the_way(clause: Clause) -> bool:
    return len(clause.terms) == 1 and clause.stop == WEAK


def _is_now(clause: Clause) -> bool:
    """ "The lump that we mapped in March is eight millimetres": how it is now."""
    at = next((i for i, t in enumerate(clause.terms) if t.has("talk", "past")), 0)
    led = any(t.has("word", "that") or t.has("word", "which") for t in clause.terms[:at])
    named = any(t.has("noun") or t.has("trait") for t in clause.terms[:at])
    after = clause.terms[at + 1 : at + 3]
    return led and named and len(after) == 2 and after[0].has("word", "being") and after[1].kind == FIGURE


def _look_next(clause: Clause) -> bool:
    """ "Let's do the heart": a look, no plan."""
    at = next((i for i, t in enumerate(clause.terms) if t.has("talk", "plan")), -1)
    rest = [t for t in clause.terms[at + 1 :] if not t.has("control", "filler")]
    looks = clause.terms[at].has("talk", "later") and rest != []
    return looks and rest[0].has("noun") and all(t.has("noun") or t.has("control") for t in rest)


def answers(sentences: Sequence[Sequence[Clause]]) -> None:
    """ "What do we look for in a puppy's mouth? Baby teeth, a cleft palate.": an answer about any animal."""
    for question, answer in pairwise(sentences):
        taught = any(t.has("talk", "quiz") for c in question for t in c.terms)
        if taught and question[-1].asked and not any(c.asked for c in answer) and not _of_this(answer):
            for clause in answer:
                clause.drop = clause.drop or "talk"


def _of_this(clauses: Sequence[Clause]) -> bool:
    """A finite sentence, or one that points at the animal."""
    return any(t.has("word", "saying", "subject", "that") for c in clauses for t in c.terms[:3])


def _own(clauses: Sequence[Clause]) -> bool:
    """Something is named and said before what is only taught, as of this animal."""
    return any(t.has("noun") for c in clauses for t in c.terms) and any(
        t.has("trait") or t.has("finding") or t.has("says") for c in clauses for t in c.terms
    )


def _before(clause: Clause, term: Term) -> list[Term]:
    return clause.terms[: clause.terms.index(term)]


def _own_look(
    clauses: Sequence[Clause], own: Sequence[str], view: Sequence[str] = (), looked: Sequence[str] = ()
) -> int:
    """ "You say he's not seeing well, but he follows my finger", "she thinks he's dull, to me he's bright":
    where what the speaker does or finds begins."""
    for at, clause in enumerate(clauses):
        if at and clause.terms[0].text in view:
            return at
        if at and clause.stop == "but" and any(w in own for t in clause.terms for w in t.words):
            return at
        if at and (_not_so(clause, own) or _looked(clause, own, looked)):
            return at
    return len(clauses)


def _looked(clause: Clause, own: Sequence[str], looked: Sequence[str]) -> bool:
    """ "Jess says there's a tick on his ear, I looked, it's a skin tag"."""
    told = clause.terms[:2]
    return len(told) == 2 and told[0].text in own and told[1].text in looked


def _not_so(clause: Clause, own: Sequence[str]) -> bool:
    """ "You find her coat dull, I don't, it's gleaming": the speaker goes on from there."""
    told = clause.terms
    return len(told) == 2 and told[0].text in own and told[1].has("control", "no")


def _until(clauses: Sequence[Clause], at: int, run_on: bool) -> Sequence[Clause]:
    """From `at` to the sentence's end; without stops until the next clause that names something first."""
    if not run_on:
        return clauses[at:]
    end = at + 1
    while end < len(clauses) and not _fresh(clauses[end]) and end < at + 4:
        end += 1
    return clauses[at:end]


def _to_answer(clauses: Sequence[Clause]) -> list[Clause]:
    """ "Pale, or is that the lamp... no, they're pink": the question, up to the no."""
    for at, clause in enumerate(clauses):
        words = [t for t in clause.terms if not t.has("control", "filler") or t.has("word", "yes")]
        if at and len(words) == 1 and (words[0].has("control", "no") or words[0].has("word", "yes")):
            return list(clauses[:at])
    return list(clauses)


def _fresh(clause: Clause) -> bool:
    first = [t for t in clause.terms if not t.has("control", "filler")]
    return bool(first) and (
        first[0].kind == FIGURE
        or first[0].has("noun")
        or first[0].has("side")
        or first[0].has("talk", "plan")
        or first[0].has("control", "correct")  # "tech says … hang on, yes, I see it"
    )


def _reported(clause: Clause) -> bool:
    """ "Jess says": a name that no form knows, then a verb of saying."""
    if clause.having("talk", "thinks") or (clause.terms[0].has("word", "telling") and not clause.opens):
        return True  # "Alfie, the student, reckons …"
    for before, verb in zip(clause.terms, clause.terms[1:], strict=False):
        if verb.has("talk", "says") and before.kind == UNKNOWN:
            return True
    return False


def _line(terms: Sequence[Term], text: str) -> Line:
    start, end = min(t.start for t in terms), max(t.end for t in terms)
    return Line(text[start:end], (Span(start, end),))


def heads_plan(clauses: Sequence[Clause]) -> bool:
    """ "Plan.": the word is the whole sentence, and what comes is the plan."""
    return len(clauses) == 1 and len(clauses[0].terms) == 1 and clauses[0].terms[0].has("word", "plan")


def is_afterthought(clauses: Sequence[Clause], words: Sequence[str]) -> bool:
    """ "Oh, and the left ear's waxy": no more of the plan."""
    said = f"{' '.join(w for t in clauses[0].terms for w in t.words)} "
    return any(said.startswith(f"{form} ") for form in words)


def planned_on(clauses: Sequence[Clause], text: str) -> list[Line]:
    """The clauses of a sentence behind "Plan.", those that are somebody else's words aside."""
    rest = [c for c in clauses if not c.drop]
    for clause in rest:
        clause.drop = "plan"
    return _plan_lines(rest, text)


def _plan_lines(clauses: Sequence[Clause], text: str) -> list[Line]:
    lines = []
    for clause in clauses:
        terms = list(clause.terms)
        if terms and terms[0].has("word", "plan"):
            terms = terms[1:]
        if terms and not _dosed(terms):
            lines.append(_line(terms, text))
    return lines


def _dosed(terms: Sequence[Term]) -> bool:
    """A number with a unit of dose: medicines and doses are not taken from speech."""
    return any(t.kind == FIGURE for t in terms) and any(t.has("number-unit", "dose") for t in terms)
