"""Where one clause ends and the next begins without a pause: at a name, a side, a limb, a finding.

Dictation gives few stops, so a new name after a finished statement begins a clause of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from exams.spoken.clause import PREDICATE, anything_said, kind_of, one_side, up_from
from exams.spoken.terms import FIGURE, UNKNOWN, Term
from exams.spoken.vocabulary import Vocabulary

UNSTOPPED = 12  # terms without a pause: nobody dictates stops here


def after_but(terms: list[Term], mark: str, vocabulary: Vocabulary) -> Iterator[list[Term]]:
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
        skips = term.has("control", "skip") and any(
            t.has("trait") or t.has("says") or t.has("control", "part") for t in terms[start:at]
        )
        skips = skips and not _only_test(terms[start:at], vocabulary)
        tooth = term.kind == FIGURE and term.number is not None and bool(term.number.tooth())
        if at <= start:
            continue
        if _measured(terms, at):
            yield terms[start:at]
            start = at
            continue
        none = term.has("control", "nothing") and any(one_side(t) for t in terms[at + 1 : at + 4])
        rest = term.has("control", "rest") and len(term.words) > 1 and at + 1 < len(terms)
        if (rest or _again_there(terms, start, at)) and anything_said(terms[start:at]):
            yield terms[start:at]
            start = at
            continue
        if _after_staff(terms, start, at) or (term.has("noun") and up_from(terms[start])):
            yield terms[start:at]
            start = at
            continue
        if term.has("says") or skips or tooth or none or _finds_elsewhere(terms, start, at, vocabulary):
            cut = _bare_cut(terms, start, at)
        elif term.has("noun"):
            cut = _cut(terms, start, at, vocabulary)
        elif _finds_next(terms, start, at, vocabulary):
            cut = at
        elif _limb_next(terms, start, at) and not _of_four(terms[start:at], vocabulary):
            cut = at - 1 if at - 1 > start and one_side(terms[at - 1]) else at
        elif _base_again(terms, start, at, vocabulary) or _sided_again(terms, start, at):
            cut = at - 1 if terms[at - 1].has("word", "article") and at - 1 > start else at
        else:
            continue
        if cut > start:
            yield terms[start:cut]
            start = cut
    yield terms[start:]


def _only_test(terms: Sequence[Term], vocabulary: Vocabulary) -> bool:
    """ "Drawer | not tested": what could be found is the name of what was not done."""
    keys = [k for t in terms for k in t.keys("trait")]
    return bool(keys) and all(k in vocabulary.tests for k in keys) and not any(t.has("says") for t in terms)


def _limb_next(terms: Sequence[Term], start: int, at: int) -> bool:
    """ "… elbow and shoulder okay right fore fine": a limb that something is said of begins anew."""
    term = terms[at]
    if not term.has("limb", "fore", "hind") or not any(kind_of(t) in PREDICATE for t in terms[start:at]):
        return False
    before = terms[at - 1]
    if not one_side(before) or at - 2 < start or before.led:
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
    sided = any(one_side(t) for t in terms[start:at])
    return terms[at].has("control", "again") and sided and any(one_side(t) for t in terms[at + 1 : at + 3])


def _measured(terms: Sequence[Term], at: int) -> bool:
    """ "… slow on the stairs weight ninety eight pounds": what is measured, and at once its number."""
    named = any(k.startswith("VIT.") or k == "BCM.score" for k in terms[at].keys("noun"))
    behind = [t for t in terms[at + 1 : at + 3] if not t.has("control", "prep", "filler")]
    after = behind[0] if behind else None
    before = next((t for t in reversed(terms[:at]) if not t.has("control", "filler")), terms[at - 1])
    told = any(t.has("talk", "owner") for t in terms[:at])
    joined = before.has("control", "prep", "and") or before.has("side") or before.kind == FIGURE
    return (
        named
        and after is not None
        and after.kind == FIGURE
        and not joined
        and (len(terms) > UNSTOPPED or told)
    )


def _finds_next(terms: Sequence[Term], start: int, at: int, vocabulary: Vocabulary) -> bool:
    """ "… hock fine laceration on the right thigh": what is found, right behind a word that closes."""
    term = terms[at]
    found = term.alone and not term.has("noun") and not term.has("control") and not term.has("severity")
    calm = all(k in vocabulary.calm for k in (*term.keys("trait"), *term.keys("finding")))
    return found and not calm and terms[at - 1].text in vocabulary.language.predicative and at - 1 > start


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
    if len(terms[at].words) < 2 or not anything_said(terms[start:at]):
        return False
    own = any(one_side(t) for t in terms[at + 1 : at + 3]) and any(
        t.has("side") or t.has("limb") for t in terms[start:at]
    )
    return (bool(named) and not named & here) or own


def _bare_cut(terms: Sequence[Term], start: int, at: int) -> int:
    """Before what says something by itself: only articles and the like go with it."""
    i = at
    while (
        i > start
        and terms[i - 1].has("control", "filler", "no")
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
    was = any(t.has("word", "saying") for t in terms)
    if was and terms[0].has("talk", "past") and terms[-1].kind == FIGURE:
        return True  # "last year it was a two | rhythm regular"
    if len(terms) > 1 and terms[0].has("word", "saying", "having") and anything_said(terms):
        return True  # "… which is moderately enlarged | coat …": of what was named before
    return any(t.has("says") or t.alone for t in terms) or (
        any(
            t.has("noun")
            or t.has("side", "left", "right", "other", "both")
            or t.has("place", "scope")
            or (t.number is not None and t.number.tooth())
            for t in terms
        )
        and any(
            kind_of(t) in PREDICATE or t.kind == FIGURE or t.has("control", "skip", "again", "nothing")
            for t in terms
        )
        and len(terms) != 1
    )


def _base_again(terms: Sequence[Term], start: int, at: int, vocabulary: Vocabulary) -> bool:
    """ "he flinches at the left ear base the right base is not sore": of the ear, as before."""
    words = vocabulary.language
    sided = terms[at].words[0] in (*words.left_words, *words.right_words)
    base = terms[at].has("place") and sided and terms[at].words[-1] in words.base
    return base and any(t.has("noun", "EAR.base") for t in terms[start:at]) and anything_said(terms[start:at])


def _sided_again(terms: Sequence[Term], start: int, at: int) -> bool:
    """ "left one is down right one is not": the other side begins a new clause."""
    side = terms[at].keys("side")
    if not side or side[0] not in ("left", "right", "other") or terms[at].led:
        return False
    if (
        terms[at].one
        and not all(
            t.has("control", "skip") or t.has("control", "filler") or t.has("word", "subject", "article")
            for t in terms[start:at]
        )  # "can't see the right one for the hair"
        and anything_said(terms[start:at])
        and not terms[at - 1].has("control", "prep", "and")
        and not (at > 1 and terms[at - 1].has("word", "article") and _leads_on(terms[at - 2]))
    ):
        return True
    if (
        side[0] == "other"
        and anything_said(terms[start:at])
        and at + 1 < len(terms)
        and not terms[at - 1].has("control", "prep", "and", "again", "or")
        and not terms[at - 1].has("word", "than")
    ):
        return True  # "the drum looks healthy other side the flap's red"
    led = terms[at - 1].has("word", "next") or (
        terms[at - 1].has("word", "article") and at > 1 and terms[at - 2].has("word", "next")
    )
    if led and anything_said(terms[start:at]):
        return True  # "it's intact now the right it's red and swollen"
    behind = terms[at + 1] if at + 1 < len(terms) else None
    bare = terms[at].within and len(terms[at].words) <= 2
    before = terms[at - 1]
    compared = at > 1 and terms[at - 2].has("word", "than")
    if before.has("word", "than") or (before.has("word", "article") and compared):
        return False
    said = behind is not None and bare and behind.has("word", "saying") and anything_said(terms[start:at])
    if said and not terms[at - 1].has("control", "prep", "and"):
        return True
    if behind is not None and behind.has("control", "nothing") and anything_said(terms[start:at]):
        return not terms[at - 1].has("control", "prep", "and")
    earlier = {k for t in terms[start:at] for k in t.keys("side") if k in ("left", "right", "both")}
    last = terms[at - 1]
    return bool(
        earlier
        and side[0] not in earlier
        and not last.has("control", "and", "prep", "or")
        and not (last.has("control", "filler") and at > 1 and terms[at - 2].has("control", "prep"))
        and anything_said(terms[start:at])
    )


def _leads_on(term: Term) -> bool:
    """ "a drip out of the left one"."""
    return term.has("control", "prep") or term.has("number", "of")


def _cut(terms: Sequence[Term], start: int, at: int, vocabulary: Vocabulary) -> int:
    """Where the clause that speaks of the name at `at` begins; `start` if it is one with what came before."""
    i = at
    nouns = terms[at].keys("noun")
    if at == len(terms) - 1 and at > start and terms[at - 1].has("side") and set(nouns) & {"eye", "ear"}:
        return start  # "conjunctiva red both eyes"
    if (
        at - 1 > start
        and set(nouns) & {"eye", "ear"}
        and terms[at - 1].has("side")
        and at + 1 < len(terms)
        and terms[at + 1].has("noun")
        and anything_said(terms[start : at - 1])
    ):
        return start  # "menace normal both eyes palpebral slow"
    led = terms[at - 2 : at - 1] if terms[at - 1].has("word", "article") else terms[at - 1 : at]
    if led and led[0].has("word", "towards") and at - 2 > start and not led[0].has("noun"):
        return start  # "there's pus down to the elbow"
    if at - 2 >= start and terms[at - 1].has("limb", "all") and terms[at - 2].has("control", "prep"):
        return start  # "claws long on all four feet"
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
        and terms[i - 1].led
        and not any(
            t.has("trait") or t.has("says") or t.has("control", "nothing", "skip")
            for t in terms[at + 1 : at + 3]
        )
    )
    if leads or (i > start and terms[i - 1].has("control", "prep") and not terms[i - 1].has("noun")):
        # "discharge from the nose": the name belongs to what comes before the preposition
        j = i - 1
        if j - 2 > start and terms[j - 1].has("word", "centre") and terms[j - 2].has("control", "prep"):
            j -= 2  # "no pain at the base of either ear"
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
    if k < i and at + 1 < len(terms) and terms[at + 1].has("word", "saying", "having"):
        return i  # "… big and firm left popliteal is normal"
    if k == i > start and terms[i - 1].text in vocabulary.language.predicative:
        return i  # "the others are fine nodes …"
    return i if _speaks(terms[start:i]) else start


def _left_out_next(terms: Sequence[Term], at: int) -> bool:
    """The name is followed at once by words that it was not looked at."""
    after = [t for t in terms[at + 1 : at + 4] if not t.has("control", "filler")][:1]
    return bool(after) and (after[0].has("control", "skip") or after[0].has("trait", "unfelt", "not-seen"))


def _graded_before(terms: Sequence[Term], i: int, start: int) -> bool:
    """ "a grade three murmur"."""
    before = terms[i - 1]
    if before.has("number", "grade"):
        return True
    return before.kind == FIGURE and i - 2 >= start and terms[i - 2].has("number", "grade")


def _before_name(term: Term) -> bool:
    if term.has("control", "prep") or term.has("trait") or term.has("finding") or term.has("word", "object"):
        return False  # "he sneezed on me gums pink"
    return (
        (term.has("side") and not term.led)
        or (term.has("limb") and term.has("word", "attributive"))
        or term.has("severity")
        or (
            term.has("control", "filler", "no", "hedge", "rest")
            and not (term.has("trait") or term.has("noun"))
        )
    )
