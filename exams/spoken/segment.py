"""Sentences and clauses: who begins where, also without any punctuation.

A clause speaks of one thing, or of a row of things, and says something of it. Dictation gives few stops, so a
new name after a finished statement begins a clause of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from exams.spoken.terms import FIGURE, UNKNOWN, Term
from exams.spoken.tokens import ASK, PAUSE, STRONG, WEAK
from exams.spoken.vocabulary import Sense, Vocabulary

UNSTOPPED = 12  # terms without a pause: nobody dictates stops here
AHEAD = 10  # terms that are looked at behind an "and"
PREDICATE = ("trait", "finding", "says")


@dataclass(slots=True)
class Clause:
    """Terms that belong together. `sentence`: its number; `opens`: it begins one; `asked`: a question;
    `corrects`: what comes takes back what was; `stop`: the pause before it."""

    terms: list[Term]
    sentence: int
    opens: bool = False
    asked: bool = False
    corrects: bool = False
    stop: str = ""
    colon: bool = False
    drop: str = ""
    closes: bool = False  # the last of its sentence
    unstopped: bool = False  # of a text without stops
    nouns: list[Term] = field(default_factory=list)

    @property
    def start(self) -> int:
        return self.terms[0].start

    @property
    def end(self) -> int:
        return self.terms[-1].end

    def having(self, kind: str, *keys: str) -> list[Term]:
        return [t for t in self.terms if t.has(kind, *keys)]


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
        for part, mark in _by_words(piece, stop):
            for at, run in enumerate(_after_but(part, mark, vocabulary)):
                if run:
                    long = len(part) > UNSTOPPED  # without stops the reason ends somewhere
                    drop = "reason" if mark == "because" and not (long and at) else ""
                    if drop and not found and any(t.has("control", "skip") for t in run):
                        drop = ""  # "because of the noise I can't hear the lungs"
                    found.append(
                        Clause(run, sentence, stop=mark if at == 0 else "name", asked=asked, drop=drop)
                    )
        if found and colon:
            found[-1].colon = True
    if len(found) > 1 and _marker(found[0], found[1]):
        found[0].drop = "talk"
    if found:
        found[0].opens = True
        found[-1].closes = True
        found[0].stop = "sentence"
    return _rows(found, vocabulary)


def answered(clauses: list[Clause], no: Sequence[str], none: Sequence[str] = ()) -> list[Clause]:
    """ "Fleas, no; ticks, no", "Fleas? No.", "Fleas no.": a lone no behind a name or finding denies it."""
    found: list[Clause] = []
    for at, clause in enumerate(clauses):
        words = [t for t in clause.terms if not t.has("control", "filler")]
        last = found[-1] if found else None
        lone = len(words) == 1 and words[0].text in (*no, *none)
        if len(words) == 2 and words[1].text in no and _bare_trait(words[0]) and _ends(clauses, at):
            words[1:], clause.terms = [], [words[1], *(t for t in clause.terms if t is not words[1])]
        if lone and words[0].text in none and not (last and _bare(last)):
            last = _over_talk(clauses, at) or last
        again = lone and _named_again(clauses, at)
        if lone and not again and last and not last.drop and _bare(last) and _answers(last, clause, none):
            denial = Term(words[0].words, (Sense("control", "no"),), "form", words[0].start, words[0].end)
            last.terms = [denial, *last.terms]
            last.asked = False
        else:
            found.append(clause)
    return found


def _marker(first: Clause, second: Clause) -> bool:
    """ "Right, ears.", "Right, this is Gulliver": no side, unless one thing or a word about it follows."""
    if len(first.terms) != 1 or first.terms[0].words != ("right",) or second.stop != WEAK or first.colon:
        return False
    said = next((t for t in second.terms if significant(t)), None)
    if said is None or kind_of(said) in PREDICATE:
        return said is None
    several = any(s.kind == "noun" and s.plural for s in said.senses)
    return not said.has("noun") or several


def _over_talk(clauses: Sequence[Clause], at: int) -> Clause | None:
    """ "Mites, I looked at a swab and there aren't any": the name before words that say nothing."""
    for before in reversed(clauses[:at]):
        if before.sentence != clauses[at].sentence or before.drop:
            return None
        if _bare(before) and before.terms[0].kind != FIGURE:
            return before
        if any(t.has("noun") or t.has("side") or kind_of(t) in PREDICATE for t in before.terms):
            return None
    return None


def _named_again(clauses: Sequence[Clause], at: int) -> bool:
    """ "Right hip, painful, no, left hip": the no takes back where, it denies nothing."""
    sentence = [c for c in clauses if c.sentence == clauses[at].sentence]
    before = {k for c in sentence[: sentence.index(clauses[at])] for t in c.terms for k in t.keys("noun")}
    after = clauses[at + 1 : at + 2]
    return any(
        c.sentence == clauses[at].sentence
        and any(_one_side(t) for t in c.terms)
        and any(k in before for t in c.terms for k in t.keys("noun"))
        for c in after
    )


def _bare(clause: Clause) -> bool:
    said = [t for t in clause.terms if significant(t) and not t.has("control", "filler", "prep")]
    return (
        0 < len(said) <= 2
        and said[0].has("trait")
        and clause.stop != "but"
        and all(t.has("trait") for t in said)
    )


def _bare_trait(term: Term) -> bool:
    return term.has("trait") and term.alone


def _ends(clauses: Sequence[Clause], at: int) -> bool:
    return at + 1 == len(clauses) or clauses[at + 1].sentence != clauses[at].sentence


def _answers(question: Clause, answer: Clause, none: Sequence[str]) -> bool:
    if question.sentence == answer.sentence:
        return answer.stop == WEAK or any(t.text in none for t in answer.terms)
    return question.asked and answer.opens


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


def significant(term: Term) -> bool:
    """Not an article, auxiliary or the like."""
    return bool(
        term.kind in (FIGURE, UNKNOWN)
        or any(s.kind != "word" and (s.kind, s.key) != ("control", "filler") for s in term.senses)
    )


def kind_of(term: Term) -> str:
    """The kind that decides about boundaries."""
    for kind in ("noun", "side", "limb", "finding", "says", "trait", "severity", "place"):
        if term.has(kind):
            return kind
    return FIGURE if term.kind == FIGURE else "control" if term.senses else UNKNOWN


def _by_words(terms: Sequence[Term], stop: str) -> Iterator[tuple[list[Term], str]]:
    """Split at "but", and at "and" unless it joins a row; at words that correct."""
    held: list[Term] = []
    mark = stop
    for at, term in enumerate(terms):
        if term.has("control", "but", "because") and not term.has("noun"):
            if held:
                yield held, mark
            held, mark = [], "because" if term.has("control", "because") else "but"
        elif (
            (
                term.has("talk", "owner", "others", "plan")
                or _to_staff(held, term)
                or _up_from(term)
                or _back_then(terms, at)
            )
            and at + 1 < len(terms)
            and (_said(held) or any(t.has("talk") for t in held))
        ):
            yield held, mark
            held, mark = [term], "talk"
        elif _counted(terms, at) and any(t.has("talk", "owner") for t in held):
            yield held, mark
            held, mark = [term], "name"
        elif term.has("control", "except") and held and at + 1 < len(terms):
            yield held, mark
            held, mark = [], "except"
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


def _up_from(term: Term) -> bool:
    """ "five point two kilos up from five": what it is, and what it was."""
    return term.has("talk", "past") and term.words in (("up", "from"), ("down", "from"))


def _to_staff(held: Sequence[Term], term: Term) -> bool:
    """ "lungs clear can you lift her head": what was said before stands; not "abdomen okay let me …"."""
    return term.has("talk", "staff") and bool(held) and not held[-1].has("word", "okay")


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
    sided = left != "side" and _sided_since_name(terms, at) and _sided_until_name(terms, at)
    if sided and (left != "noun" or any(kind_of(t) in PREDICATE for t in terms[:at])):
        return False
    if left == right and left in ("noun", "limb", FIGURE, "place"):
        return True
    if left == "place" and right == "noun":
        return not any(kind_of(t) in PREDICATE for t in terms[:at])
    if left == right == "side":
        # "left one is down and right one is not": both have said something
        return not any(kind_of(t) in PREDICATE for t in terms[:at])
    if left == "noun" and right in ("side", "limb", "trait"):
        return _beyond(terms, at, before)
    if right == "trait" and _names_next(terms, at, after) and any(kind_of(t) == "noun" for t in terms[:at]):
        return False  # "tartar and red gums"
    if left in ("trait", "severity") and right in ("trait", "severity"):
        # "small and soft", but "is clean and a soft lump": an article begins something new
        return not any(t.has("word", "article") for t in terms[at + 1 : at + 2])
    return left in ("trait", "finding") and right in ("finding",)


def _names_next(terms: Sequence[Term], at: int, trait: Term) -> bool:
    """The word of description is followed at once by a name, and that by more."""
    i = at + 1
    while i < len(terms) and terms[i] is not trait:
        i += 1
    own = any(kind_of(t) in PREDICATE for t in terms[i + 2 : i + 5])
    return i + 1 < len(terms) and kind_of(terms[i + 1]) == "noun" and not own


def _sided_since_name(terms: Sequence[Term], at: int) -> bool:
    """A side was said of the last name."""
    for term in reversed(terms[:at]):
        if _one_side(term):
            return True
        if term.has("noun"):
            break
    names = [i for i, t in enumerate(terms[:at]) if t.has("noun")]
    return bool(names) and any(_one_side(t) for t in terms[max(0, names[-1] - 2) : names[-1]])


def _sided_until_name(terms: Sequence[Term], at: int) -> bool:
    """Another side follows before another thing is named."""
    for term in terms[at + 1 :]:
        if _one_side(term):
            return True
        if term.has("noun"):
            return False
    return False


def _one_side(term: Term) -> bool:
    return term.has("side", "left", "right", "other")


def _beyond(terms: Sequence[Term], at: int, before: Term) -> bool:
    """ "elbows and both wrists are free": a row whose names have their own sides, before anything is said."""
    rest = [t for t in terms[at + 1 :] if significant(t)]
    return (
        len(rest) > 1
        and not any(kind_of(t) in PREDICATE for t in terms[:at])
        and any(t.has("noun") for t in rest[:2])
    )


def _after_but(terms: list[Term], mark: str, vocabulary: Vocabulary) -> Iterator[list[Term]]:
    """ "nails like needles but fine skin there is …": right behind a but, fine is of what was before it."""
    first = terms[:2]
    plain = len(first) == 2 and first[0].has("trait", "good", "clear", "clean") and first[1].has("noun")
    if mark == "but" and plain and any(kind_of(t) in PREDICATE for t in terms[2:]):
        yield terms[:1]
        terms = terms[1:]
    yield from _by_names(terms, vocabulary)


def _by_names(terms: list[Term], vocabulary: Vocabulary) -> Iterator[list[Term]]:
    """Split before a name when what came before is a statement of its own."""
    start = 0
    for at, term in enumerate(terms):
        skips = term.has("control", "skip") and any(t.has("trait") or t.has("says") for t in terms[start:at])
        tooth = term.kind == FIGURE and term.number is not None and bool(term.number.tooth())
        if at <= start:
            continue
        if _measured(terms, at):
            yield terms[start:at]
            start = at
            continue
        none = term.has("control", "nothing") and any(_one_side(t) for t in terms[at + 1 : at + 4])
        rest = term.has("control", "rest") and len(term.words) > 1 and at + 1 < len(terms)
        if (rest or _again_there(terms, start, at)) and _said(terms[start:at]):
            yield terms[start:at]
            start = at
            continue
        if _after_staff(terms, start, at) or (term.has("noun") and _up_from(terms[start])):
            yield terms[start:at]
            start = at
            continue
        if term.has("says") or skips or tooth or none or _finds_elsewhere(terms, start, at, vocabulary):
            cut = _bare_cut(terms, start, at)
        elif term.has("noun"):
            cut = _cut(terms, start, at, vocabulary)
        elif _limb_next(terms, start, at) and not _of_four(terms[start:at], vocabulary):
            cut = at - 1 if at - 1 > start and _one_side(terms[at - 1]) else at
        elif _sided_again(terms, start, at):
            cut = at - 1 if terms[at - 1].has("word", "article") and at - 1 > start else at
        else:
            continue
        if cut > start:
            yield terms[start:cut]
            start = cut
    yield terms[start:]


def _limb_next(terms: Sequence[Term], start: int, at: int) -> bool:
    """ "… elbow and shoulder okay right fore fine": a limb that something is said of begins anew."""
    term = terms[at]
    if not term.has("limb", "fore", "hind") or not any(kind_of(t) in PREDICATE for t in terms[start:at]):
        return False
    before = terms[at - 1]
    if not _one_side(before) or at - 2 < start or before.words[0] in ("on", "in"):
        return False
    led = terms[at - 2].has("control", "prep", "and", "or", "filler") and not terms[at - 2].has("trait")
    after = terms[at + 1 : at + 2]
    return not led and bool(after) and kind_of(after[0]) in ("noun", *PREDICATE)


def _of_four(terms: Sequence[Term], vocabulary: Vocabulary) -> bool:
    """ "Paw placement normal left hind delayed": of what each limb is asked, a limb says which."""
    lines = {x for t in terms for k in t.keys("noun") for x in vocabulary.nouns[k].normal}
    return any(vocabulary.walk.structure[x].sided == "four" for x in lines)


def _again_there(terms: Sequence[Term], start: int, at: int) -> bool:
    """ "left carpus good same on the right": the same again, of the other side."""
    sided = any(_one_side(t) for t in terms[start:at])
    return terms[at].has("control", "again") and sided and any(_one_side(t) for t in terms[at + 1 : at + 3])


def _measured(terms: Sequence[Term], at: int) -> bool:
    """ "… slow on the stairs weight ninety eight pounds": what is measured, and at once its number."""
    named = any(k.startswith("VIT.") or k == "BCM.score" for k in terms[at].keys("noun"))
    behind = [t for t in terms[at + 1 : at + 3] if not t.has("control", "prep", "filler")]
    after = behind[0] if behind else None
    before = next((t for t in reversed(terms[:at]) if not t.has("control", "filler")), terms[at - 1])
    joined = before.has("control", "prep", "and") or before.has("side") or before.kind == FIGURE
    return named and after is not None and after.kind == FIGURE and not joined and len(terms) > UNSTOPPED


def _finds_elsewhere(terms: Sequence[Term], start: int, at: int, vocabulary: Vocabulary) -> bool:
    """ "… a fold infection there anal sacs full", "… licked brown interdigital redness on the right front": a
    finding of another station than was named, or with a place of its own."""
    found = [k for k in terms[at].keys("finding") if k in vocabulary.walk.finding]
    if not found or terms[at].has("noun"):
        return False
    here = {s.partition(".")[0] for k in found for s in vocabulary.walk.finding[k].structures}
    named = {
        s.partition(".")[0]
        for t in terms[start:at]
        for k in t.keys("noun")
        for s in (*vocabulary.nouns[k].normal, *vocabulary.nouns[k].scope)
    } | {
        s.partition(".")[0]
        for t in terms[start:at]
        for k in t.keys("trait")
        for s in vocabulary.home.get(k, ())
    }
    if len(terms[at].words) < 2 or not _said(terms[start:at]):
        return False
    own = any(_one_side(t) for t in terms[at + 1 : at + 3]) and any(
        t.has("side") or t.has("limb") for t in terms[start:at]
    )
    return (bool(named) and not named & here) or own


def _bare_cut(terms: Sequence[Term], start: int, at: int) -> int:
    """Before what says something by itself: only articles and the like go with it."""
    i = at
    while (
        i > start
        and terms[i - 1].has("control", "filler")
        and not (terms[i - 1].has("trait") or terms[i - 1].has("noun"))
    ):
        if terms[i - 1].has("control", "prep"):
            break
        i -= 1
    if (
        terms[at].kind == FIGURE
        and i > start
        and (
            terms[i - 1].has("control", "and", "or", "prep")
            or terms[i - 1].kind == FIGURE
            or terms[i - 1].has("number")
        )
    ):
        return start
    return i if _speaks(terms[start:i]) else start


def _after_staff(terms: Sequence[Term], start: int, at: int) -> bool:
    """ "can you lift her head please tom | ears clean": asked and thanked for, then something is named."""
    if not any(t.has("talk", "staff") for t in terms[start:at]) or not terms[at].has("noun"):
        return False
    thanked = any(t.has("talk", "pet") for t in terms[max(start, at - 2) : at])
    said = any(kind_of(t) in PREDICATE for t in terms[at + 1 : at + 3])
    return thanked and said and (terms[at - 1].kind == UNKNOWN or terms[at - 1].has("talk", "pet"))


def _speaks(terms: Sequence[Term]) -> bool:
    """Something is named or meant by itself, and something is said of it."""
    if any(t.has("control", "part") for t in terms) and any(t.has("trait") for t in terms):
        return True
    if len(terms) > 1 and terms[-1].has("talk", "past") and not any(t.has("talk", "owner") for t in terms):
        return not terms[0].has("talk", "past")  # "the part i did this morning | heart rate …"
    if len(terms) > 1 and terms[0].has("word", "saying", "having") and _said(terms):
        return True  # "… which is moderately enlarged | coat …": of what was named before
    return any(t.has("says") or t.alone for t in terms) or (
        any(
            t.has("noun") or t.has("side", "left", "right", "other", "both") or t.has("place", "scope")
            for t in terms
        )
        and any(
            kind_of(t) in PREDICATE or t.kind == FIGURE or t.has("control", "skip", "again", "nothing")
            for t in terms
        )
        and len(terms) != 1
    )


def _said(terms: Sequence[Term]) -> bool:
    return any(
        t.has("trait")
        or t.has("finding")
        or t.has("says")
        or t.kind == FIGURE
        or t.has("control", "skip", "again")
        for t in terms
    )


def _sided_again(terms: Sequence[Term], start: int, at: int) -> bool:
    """ "left one is down right one is not": the other side begins a new clause."""
    side = terms[at].keys("side")
    if not side or side[0] not in ("left", "right", "other") or terms[at].words[0] in ("on", "in"):
        return False
    if (
        terms[at].words[-1] in ("one", "ones")
        and _said(terms[start:at])
        and not terms[at - 1].has("control", "prep", "and")
        and not (at > 1 and terms[at - 1].has("word", "article") and terms[at - 2].has("control", "prep"))
    ):
        return True
    if (
        side[0] == "other"
        and _said(terms[start:at])
        and at + 1 < len(terms)
        and not terms[at - 1].has("control", "prep", "and", "again", "or")
        and not terms[at - 1].has("word", "than")
    ):
        return True  # "the drum looks healthy other side the flap's red"
    behind = terms[at + 1] if at + 1 < len(terms) else None
    bare = terms[at].words[:1] in (("left",), ("right",)) and len(terms[at].words) <= 2
    before = terms[at - 1]
    compared = at > 1 and terms[at - 2].has("word", "than")
    if before.text == "than" or (before.has("word", "article") and compared):
        return False
    said = behind is not None and bare and behind.has("word", "saying") and _said(terms[start:at])
    if said and not terms[at - 1].has("control", "prep", "and"):
        return True
    if behind is not None and behind.has("control", "nothing") and _said(terms[start:at]):
        return not terms[at - 1].has("control", "prep", "and")
    earlier = {k for t in terms[start:at] for k in t.keys("side") if k in ("left", "right", "both")}
    last = terms[at - 1]
    return bool(
        earlier
        and side[0] not in earlier
        and not last.has("control", "and", "prep", "or")
        and not (last.has("control", "filler") and at > 1 and terms[at - 2].has("control", "prep"))
        and _said(terms[start:at])
    )


def _cut(terms: Sequence[Term], start: int, at: int, vocabulary: Vocabulary) -> int:
    """Where the clause that speaks of the name at `at` begins; `start` if it is one with what came before."""
    i = at
    nouns = terms[at].keys("noun")
    if at == len(terms) - 1 and at > start and terms[at - 1].has("side") and set(nouns) & {"eye", "ear"}:
        return start  # "conjunctiva red both eyes"
    paired = any(vocabulary.paired(n) for n in nouns)
    graded = terms[at].has("trait")
    while i > start and (_before_name(terms[i - 1]) or (graded and _graded_before(terms, i, start))):
        if terms[i - 1].has("side") and not paired:
            break
        i -= 1
        if terms[i].has("control", "no"):
            break
    while i < at and terms[i].has("severity") and not (i + 1 < at and terms[i + 1].has("trait")):
        i += 1
    leads = (
        i > start
        and terms[i - 1].has("side")
        and terms[i - 1].words[0] in ("on", "in")
        and not any(
            t.has("trait") or t.has("says") or t.has("control", "nothing", "skip")
            for t in terms[at + 1 : at + 3]
        )
    )
    if leads or (i > start and terms[i - 1].has("control", "prep") and not terms[i - 1].has("noun")):
        # "discharge from the nose": the name belongs to what comes before the preposition
        j = i - 1
        k = j
        while k > start and (terms[k - 1].has("trait") or terms[k - 1].has("finding")):
            keys = (*terms[k - 1].keys("trait"), *terms[k - 1].keys("finding"))
            if not terms[k - 1].alone and not any(vocabulary.fits(n, key) for n in nouns for key in keys):
                break
            k -= 1
        if k == j:
            return start
        while k > start and (
            terms[k - 1].has("severity")
            or terms[k - 1].has("control", "no")
            or terms[k - 1].has("word", "indefinite")
        ):
            k -= 1
            if terms[k].has("control", "no"):
                break
        return k if _speaks(terms[start:k]) else start
    if i > start and (
        terms[i - 1].has("control", "and", "or")
        or (terms[i - 1].has("control", "again") and not any(t.has("noun") for t in terms[start:i]))
    ):
        return start
    # words of description right before the name are the name's, unless the name before has nothing else
    k = i
    while k > start and terms[k - 1].has("trait") and not terms[k - 1].has("noun"):
        if not any(vocabulary.fits(n, key) for n in nouns for key in terms[k - 1].keys("trait")):
            break
        k -= 1
    if k > start and terms[k - 1].has("word", "saying") and k < i:
        k = i  # "right is normal bladder soft": said of what was before
    if k < i and (terms[i - 1].text in vocabulary.language.predicative or _left_out_next(terms, at)):
        k = i  # "they're fine bladder I haven't felt"
    if k > start and terms[k - 1].has("control", "and", "or") and k < i:
        k = i  # "small and soft": both are of what came before
    while k > start and k < i and (terms[k - 1].has("severity") or terms[k - 1].has("control", "no")):
        k -= 1
    if k == start and k < i and not any(t.has("noun") or t.has("says") for t in terms[start:i]):
        return start  # "small irregular kidneys": all of it is of what is named
    if k < i and _speaks(terms[start:k]):
        # "no fleas no lumps nails short": what says something by itself is not the next name's
        return i if any(t.alone for t in terms[k:i]) and terms[k].has("control", "no") else k
    return i if _speaks(terms[start:i]) else start


def _left_out_next(terms: Sequence[Term], at: int) -> bool:
    """The name is followed at once by words that it was not looked at."""
    after = [t for t in terms[at + 1 : at + 4] if not t.has("control", "filler")][:1]
    return bool(after) and after[0].has("control", "skip")


def _graded_before(terms: Sequence[Term], i: int, start: int) -> bool:
    """ "a grade three murmur"."""
    before = terms[i - 1]
    if before.has("number", "grade"):
        return True
    return before.kind == FIGURE and i - 2 >= start and terms[i - 2].has("number", "grade")


def _before_name(term: Term) -> bool:
    if term.has("control", "prep") or term.has("trait") or term.has("finding"):
        return False
    return (
        (term.has("side") and term.words[0] not in ("on", "in"))
        or term.has("limb")
        or term.has("severity")
        or (
            term.has("control", "filler", "no", "hedge", "rest")
            and not (term.has("trait") or term.has("noun"))
        )
    )


def _rows(clauses: list[Clause], vocabulary: Vocabulary) -> list[Clause]:
    """ "Hips, stifles and hocks move freely": names alone before a comma join the row that follows."""
    found: list[Clause] = []
    for clause in reversed(clauses):
        if (
            found
            and _only_names(clause)
            and not clause.colon
            and found[-1].stop == WEAK
            and (_begins_with_row(found[-1]) or _goes_on(clause, found[-1], vocabulary) or _teeth(clause, found[-1]))
            and not clause.asked
        ):
            row = found[-1]
            comma = Term((",",), (Sense("control", "and"),), "form", clause.end, clause.end)
            row.terms = [*clause.terms, comma, *row.terms]
            row.stop, row.opens = clause.stop, clause.opens
        else:
            found.append(clause)
    return found[::-1]


def _goes_on(names: Clause, row: Clause, vocabulary: Vocabulary) -> bool:
    """ "Hocks, stifles, hips fine": no "and", and the first is no heading over what follows."""
    last = [t for t in names.terms if t.has("noun")][-1]
    first = next((t for t in row.terms if not t.has("control", "filler")), None)
    if first is None or not first.has("noun") or first.has("trait"):
        return False
    plain = all(t.has("noun") or t.has("word", "article") for t in names.terms)  # not "that's the stomach, …"
    return plain and not vocabulary.leads(last.keys("noun")[0], first.keys("noun")[0])


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
