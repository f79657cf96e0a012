"""Names in a row that one thing is said of: "Hips, stifles and hocks move freely"."""

from __future__ import annotations

from exams.spoken.clause import PREDICATE, Clause, kind_of
from exams.spoken.terms import UNKNOWN, Term
from exams.spoken.tokens import WEAK
from exams.spoken.vocabulary import Sense, Vocabulary


def rows(clauses: list[Clause], vocabulary: Vocabulary) -> list[Clause]:
    """ "Hips, stifles and hocks move freely": names alone before a comma join the row that follows."""
    found: list[Clause] = []
    for clause in reversed(clauses):
        if (
            found
            and _only_names(clause)
            and not clause.colon
            and found[-1].stop == WEAK
            and (
                _begins_with_row(found[-1])
                or _goes_on(clause, found[-1], vocabulary)
                or _teeth(clause, found[-1])
            )
            and not clause.asked
        ):
            row = found[-1]
            comma = Term((",",), (Sense("control", "and"),), "form", clause.end, clause.end)
            row.terms = [*clause.terms, comma, *row.terms]
            row.stop, row.opens = clause.stop, clause.opens
        else:
            found.append(clause)
    return found[::-1]


def deny_lists(clauses: list[Clause], bare_no: tuple[str, ...]) -> None:
    """ "No murmurs, rubs or gallops": the no holds to the end of its list."""
    for at, clause in enumerate(clauses):
        first = next((t for t in clause.terms if not t.has("control", "filler")), clause.terms[0])
        if first.words[:1] and first.words[0] in bare_no and not clause.having("word", "saying"):
            after = clauses[at + 1 : at + 2]
            if after and after[0].stop == "name" and clause.terms[-1].has("control", "or"):
                after[0].denied = True  # "no fluid or | pain in the belly"
            listed = []
            for one in clauses[at + 1 :]:
                if one.stop != WEAK or not _bare_list(one):
                    break
                listed.append(one)
            ends = [i for i, c in enumerate(listed) if c.having("control", "or")]
            for one in listed[: ends[-1] + 1] if ends else ():
                one.denied = True


def _bare_list(clause: Clause) -> bool:
    """Only words of description, joined or alone, with a name nobody knows at most."""
    terms = clause.terms
    said = [t for t in terms if t.has("trait") or t.has("finding")]
    where = next((i for i, t in enumerate(terms) if i > 1 and t.has("control", "prep")), len(terms))
    if said and not any(t in said for t in terms[where:]):
        terms = terms[:where]  # "… or pain in the belly"
    others = [t for t in terms if t not in said and not t.has("control", "or", "and", "filler")]
    others = [t for t in others if not t.led]  # "… or wheeze on the left"
    return len(others) <= 1 and all(t.kind == UNKNOWN or t.has("severity") for t in others)


def _goes_on(names: Clause, row: Clause, vocabulary: Vocabulary) -> bool:
    """ "Hocks, stifles, hips fine": no "and", and the first is no heading over what follows."""
    last = [t for t in names.terms if t.has("noun")][-1]
    first = next((t for t in row.terms if not t.has("control", "filler")), None)
    if first is None or not first.has("noun") or first.has("trait"):
        return False
    plain = all(t.has("noun") or t.has("word", "article") for t in names.terms)  # not "that's the stomach, …"
    over = first.keys("noun")[0] == vocabulary.over.get(last.keys("noun")[0])
    if over and row.terms[0].has("side", "left", "right"):
        return False  # "knees, right kneecap tight"
    if plain and row.colon and _only_names(row) and not _within(last, first, vocabulary):
        return True  # "Ears, eyes, skin: nothing to report"
    return plain and not vocabulary.leads(last.keys("noun")[0], first.keys("noun")[0])


def _within(above: Term, below: Term, vocabulary: Vocabulary) -> bool:
    """The second name is a part of the first: "Ears, canals: …"."""
    lines = [
        {
            x.partition(".")[0]
            for k in t.keys("noun")
            for x in (*vocabulary.nouns[k].normal, *vocabulary.nouns[k].scope)
        }
        for t in (above, below)
    ]
    return bool(lines[0] & lines[1])


def _teeth(names: Clause, row: Clause) -> bool:
    """ "Teeth 106, 107 and 108 have tartar"."""
    ends = (names.terms[-1], row.terms[0])
    return all(t.number is not None and t.number.tooth() for t in ends)


def _only_names(clause: Clause) -> bool:
    return any(t.has("noun") for t in clause.terms) and all(
        t.has("noun")
        or t.has("side")
        or t.has("limb")
        or t.has("control", "filler")
        or (t.number is not None and t.number.tooth())
        for t in clause.terms
    )


def _begins_with_row(clause: Clause) -> bool:
    """Its first words are a name, joined to another."""
    names = [i for i, t in enumerate(clause.terms) if t.has("noun")]
    if len(names) < 2:
        return False
    between = clause.terms[names[0] + 1 : names[1]]
    return not any(kind_of(t) in PREDICATE for t in clause.terms[: names[0]]) and (
        not any(kind_of(t) in PREDICATE for t in between)
    )
