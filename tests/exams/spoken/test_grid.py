"""One construction after another, tried on many lines of the walk: which of two, asked, thought, told, left out.

A sentence that is understood of an elbow has to be understood of a lens. What each comes to follows from the
convention (`narrations/README.md`); the sentences are common practice in dictating an examination.

`n` normal, `a` not normal, `x` not examined, `-` nothing; several: any of them does.
"""

from __future__ import annotations

import pytest

from exams.spoken import About, hear
from tests.exams.spoken.scoring import vocabulary

DOG = About("dog", "male-intact", 60)
STATES = {"normal": "n", "partial": "n", "abnormal": "a", "not_examined": "x"}

# name, its plural, its line, a word that is not normal of it
PAIRED = [
    ("elbow", "elbows", "FLB.elbow", "swollen"),
    ("stifle", "stifles", "HLB.stifle", "swollen"),
    ("ear canal", "ear canals", "EAR.canal", "red"),
    ("prescap", "prescaps", "LYM.prescapular", "enlarged"),
    ("kidney", "kidneys", "ABD.kidney", "small"),
    ("cornea", "corneas", "EYE.cornea", "hazy"),
    ("flap", "flaps", "EAR.pinna", "red"),
    ("anal sac", "anal sacs", "PER.anal-sacs", "full"),
    ("hip", "hips", "HLB.hip", "sore"),
    ("lens", "lenses", "EYE.lens", "cloudy"),
    ("nostril", "nostrils", "NOS.nares", "runny"),
    ("popliteal", "popliteals", "LYM.popliteal", "firm"),
    ("kneecap", "kneecaps", "HLB.patella", "loose"),
]

# what is said, and what it comes to of the left and of the right
OF_TWO = [
    ("Left {n} fine, right {n} fine.", "n", "n"),
    ("{n} fine on the left, on the right it's {b}.", "n", "a"),
    ("Left {n} {b}. Other {n} fine.", "a", "n"),
    ("Left {n} {b}, the other one's fine.", "a", "n"),
    ("Left {n} {b}. Right one fine.", "a", "n"),
    ("{p}: left {b}, right fine.", "a", "n"),
    ("{p}, left {b}, right fine.", "a", "n"),
    ("{p}. Left {b}. Right fine.", "a", "n"),
    ("Both {p} fine.", "n", "n"),
    ("Right {n} I left alone.", "-", "x"),
    ("Left {n} is fine. So is the right.", "n", "n"),
    ("Left {n} is fine and so is the right.", "n", "n"),
    ("Left {n} is fine, so's the right.", "n", "n"),
    ("Left {n} fine, right not examined.", "n", "x"),
    ("I couldn't get to the left {n}.", "x", "-"),
    ("Left {n} {b}; nothing on the right.", "a", "n"),
    ("Left and right {n} both fine.", "n", "n"),
    ("{p}, both sides, fine.", "n", "n"),
    ("Neither {n} is {b}.", "n", "n"),
    ("The left {n} is a bit {b} but the right's fine.", "a", "n"),
    ("The left {n} is a bit {b} but the right is okay.", "a", "n"),
    ("Right {n} is okay and the left is {b}.", "a", "n"),
    ("Left {n} fine, ditto right.", "n", "n"),
    ("Left {n} fine, right likewise.", "n", "n"),
    ("Left {n} fine, right the same.", "n", "n"),
    ("Left {n} {b}, right the same.", "a", "a"),
    ("Left {n} {b}, right a bit less so.", "a", "a"),
    ("Is the left {n} {b}? No, it's fine.", "n", "-"),
    ("Is the left {n} {b}? Yes, a bit.", "a", "-"),
    ("Left {n}, is that {b}? No, normal.", "n", "-"),
    ("left {n} fine right {n} {b}", "n", "a"),
    ("{p} fine bar the left, which is {b}.", "a", "n"),
    ("{p} fine, except the left one's {b}.", "a", "n"),
    ("{p} fine apart from the left, that's {b}.", "a", "n"),
    ("Only the left {n} is {b}, the right's fine.", "a", "n"),
    ("{n} on the left {b}, {n} on the right fine.", "a", "n"),
    ("Left {n}: fine. Right: {b}.", "n", "a"),
    ("The {n} is fine on both sides.", "n", "n"),
    ("Right {n} is {b}, I think.", "-", "a"),
    ("Right {n} isn't {b}.", "-", "n"),
    ("Right {n} not {b}, left not {b}.", "n", "n"),
    ("Right {n} is {b}, left isn't.", "n", "a"),
    ("Right {n} {b}, no, left {n} {b}.", "a", "-"),
    ("Right {n} {b}, sorry, the left.", "a", "-"),
    ("The left {n} was {b} last time, today it's fine.", "n", "-"),
    ("The left {n} was {b} last year.", "-", "-"),
    ("Owner says the left {n} is {b}.", "-", "-"),
    ("Owner says the left {n} is {b}. It's fine.", "n", "-"),
    ("Jess thinks the left {n} is {b}. No, it's normal.", "n", "-"),
    ("My own dog's left {n} is {b}.", "-", "-"),
    ("If the left {n} gets {b}, call me.", "-", "-"),
    ("{p} next. Right one's {b}. Left one's not.", "n", "a"),
    ("Left {n} is {b}, and I mean {b}.", "a", "-"),
    ("Let me feel the {p}. Fine, both.", "n", "n"),
    ("{p} normal, left and right.", "n", "n"),
    ("Can't examine the left {n}, right one's fine.", "x", "n"),
    ("Left {n} I can't examine, the right is fine.", "x", "n"),
    ("No problem with either {n}.", "n", "n"),
    ("Nothing wrong with the {p}.", "n", "n"),
    ("Left {n} {b}, moderate. Right {b} too, mild.", "a", "a"),
    ("Left {n} {b}, the right even more.", "a", "a"),
    ("I thought the right {n} was {b} but it's not.", "-", "-"),
    ("I wouldn't call the left {n} {b}.", "-", "-"),
    ("The left {n} could be {b}, hard to say.", "a", "-"),
    ("{p} both {b}, the left worse.", "a", "a"),
    ("With the right {n} fine, I went back to the left, and that's {b}.", "a", "n"),
]

# name, its line, a word that is not normal of it
ALONE = [
    ("bladder", "ABD.bladder", "hard"),
    ("spleen", "ABD.spleen", "enlarged"),
    ("tongue", "MTH.tongue", "ulcerated"),
    ("prostate", "PER.prostate", "enlarged"),
    ("colon", "ABD.colon", "packed"),
    ("palate", "MTH.palate", "cleft"),
    ("left elbow", "FLB.elbow", "swollen"),
    ("right canal", "EAR.canal", "red"),
    ("coat", "SKN.coat", "greasy"),
    ("tail", "SPN.tail", "kinked"),
    ("nose", "NOS.nares", "runny"),
    ("rhythm", "HRT.rhythm", "irregular"),
]

OF_ONE = [
    ("{n} fine.", "n"),
    ("{n} {b}.", "a"),
    ("{n}, nothing wrong.", "n"),
    ("{n} looks {b}, doesn't it?", "a"),
    ("I can't find anything wrong with the {n}.", "n"),
    ("The {n} hasn't been looked at.", "x"),
    ("{n} next. {B}.", "a"),
    ("Not happy with the {n}.", "-"),
    ("Happy with the {n}.", "n"),
    ("No concerns about the {n}.", "n"),
    ("{n} is no longer {b}.", "n"),
    ("{n} still {b}.", "a"),
    ("{n} less {b} than last time.", "a"),
    ("{n} as before, {b}.", "a"),
    ("I expected the {n} to be {b} and it isn't.", "n-"),
    ("You'd think the {n} would be {b}, but it's fine.", "n"),
    ("Could the {n} be {b}? Don't think so.", "-n"),
    ("{n}: {b}? Not really.", "-n"),
    ("The {n} is anything but fine.", "-"),
    ("{n} fine? Hard to say.", "-"),
    ("Is the {n} fine?", "-"),
    ("Hopefully the {n} is fine.", "-"),
    ("The {n} should be fine.", "-"),
    ("If the {n} is fine we'll stop.", "-"),
    ("The {n} would be fine in a younger dog.", "-"),
    ("Tell me if the {n} is {b}.", "-"),
    ("Check the {n} is fine.", "-"),
    ("I haven't checked whether the {n} is fine.", "-x"),
    ("The {n} isn't fine.", "-"),
    ("{n} fine according to mum.", "-"),
    ("Mum says the {n} is fine.", "-"),
    ("Last time the {n} was fine.", "-"),
    ("The {n} was fine yesterday.", "-"),
    ("His brother's {n} is fine.", "-"),
    ("{n} fine, I think.", "-"),
    ("{n} fine as far as I can tell.", "n"),
    ("{n} probably fine.", "-"),
    ("{n} almost fine.", "-"),
    ("{n} fine now.", "n"),
    ("{n} fine again.", "n"),
    ("{n} back to normal.", "n"),
    ("All fine with the {n}.", "n"),
    ("Can't fault the {n}.", "n"),
    ("{n} unremarkable.", "n"),
    ("{n} within normal limits.", "n"),
    ("{n} okay.", "n"),
    ("No complaints about the {n}.", "n"),
    ("I'm not worried about the {n}.", "-n"),
    ("I worry about the {n}.", "-"),
    ("The {n} bothers me.", "-"),
    ("I wish the {n} was fine.", "-"),
    ("We need to look at the {n}.", "-"),
    ("The {n} I'll do at the end.", "-x"),
    ("Remind me to do the {n}.", "-x"),
    ("I'd expect the {n} to be {b}.", "-"),
    ("No sign of the {n} being {b}.", "n-"),
    ("{n} a little {b}.", "a"),
    ("{n} perhaps a little {b}.", "a"),
    ("{n} neither here nor there.", "-"),
    ("{n} fine, honestly.", "n"),
    ("{n}, yes, fine.", "n"),
    ("{n}, um, fine.", "n"),
    ("{n}, let me see, fine.", "n"),
    ("So the {n} is fine.", "n"),
    ("And the {n}'s fine.", "n"),
    ("{n} all good.", "n"),
    ("{n} tick.", "-n"),
    ("The {n} passes.", "-n"),
    ("The {n} looks perfectly healthy to me.", "n"),
    ("Nothing to worry about in the {n}.", "n"),
    ("I've no issue with the {n}.", "n"),
    ("{n} nothing to report.", "n"),
    ("{n} nothing abnormal.", "n"),
    ("{n} nothing to see.", "n-"),
    ("{n} normal for his age.", "n"),
    ("{n} a bit off.", "-"),
    ("{n} not quite right.", "-"),
    ("{n} abnormal.", "-"),
    ("Something wrong with the {n}.", "-"),
    ("{n} needs another look.", "-"),
    ("{n} skipped.", "x"),
    ("{n} deferred.", "x"),
    ("{n} not today.", "x"),
    ("Skipping the {n}.", "x"),
    ("I'll pass on the {n}.", "x"),
    ("No luck with the {n}.", "-x"),
    ("{n} out of reach today.", "x"),
    ("He won't let me near the {n}.", "x"),
    ("Didn't manage the {n}.", "x"),
    ("{n} impossible today.", "x"),
    ("I gave up on the {n}.", "x"),
]

BESIDE = [
    ("bladder", "left elbow"),
    ("spleen", "tongue"),
    ("left elbow", "prostate"),
    ("right canal", "colon"),
    ("coat", "bladder"),
    ("nose", "spleen"),
    ("tongue", "left elbow"),
    ("rhythm", "bladder"),
    ("colon", "right canal"),
    ("palate", "coat"),
]

OF_BOTH = [
    ("{n1} {b1}, {n2} fine.", "a", "n"),
    ("{n1} fine, {n2} {b2}.", "n", "a"),
    ("{n1} and {n2} fine.", "n", "n"),
    ("{n1} fine but {n2} {b2}.", "n", "a"),
    ("{n1} fine. {n2} not looked at.", "n", "x"),
    ("{n1}, {n2}: fine.", "n-", "n"),
    ("{n1} fine, didn't get to the {n2}.", "n", "x"),
    ("Didn't get to the {n1}; {n2} fine.", "x", "n"),
    ("{n1} fine, unlike the {n2}, which is {b2}.", "n", "a"),
    ("{n1} {b1} whereas {n2} is fine.", "a", "n"),
    ("Before I do the {n1}, {n2} fine.", "-", "n"),
    ("{n1} I'll do last. {n2} fine.", "-x", "n"),
    ("{n1} hurts so I skipped the {n2}.", "-a", "x"),
    ("{n1} fine, which surprised me, given the {n2}.", "n", "-"),
    ("{n1} fine and then {n2}, fine too.", "n", "n"),
    ("Both the {n1} and the {n2} are fine.", "n", "n"),
    ("{n1} is fine, as is the {n2}.", "n", "n"),
    ("{n1} fine, so's the {n2}.", "n", "n"),
    ("{n1} fine, {n2} as well.", "n", "n"),
    ("{n1} fine, {n2} less so.", "n", "-"),
    ("{n1} {b1}, nothing wrong with the {n2}.", "a", "n"),
    ("Nothing wrong with the {n1} or the {n2}.", "n", "n"),
    ("{n1} fine. {n2}? Fine.", "n", "n"),
    ("{n1} fine. {n2}? {B2}.", "n", "a"),
    ("{n1} fine and I couldn't do the {n2}.", "n", "x"),
    ("{n1} fine; the {n2} can wait.", "n", "x"),
    ("{n1} fine, leaving the {n2}.", "n", "x"),
    ("{n1} {b1}. The rest, including the {n2}, fine.", "a", "n"),
    ("Not the {n1}, the {n2} is {b2}.", "-", "a"),
    ("It's the {n1} that's {b1}, not the {n2}.", "a", "-"),
    ("{n1} fine, {n2} fine, all fine.", "n", "n"),
    ("the {n1} is fine the {n2} is {b2}", "n", "a"),
    ("{n1} fine {n2} not done", "n", "x"),
    ("{n1} fine although the {n2} is {b2}.", "n", "a"),
    ("Even though the {n1} is {b1}, the {n2} is fine.", "a", "n"),
    ("{n1} {b1} and because of that I left the {n2}.", "a", "x"),
    ("{n1} {b1}, so no {n2} today.", "a", "x"),
    ("Jess, hold him while I do the {n1}. {n2} fine.", "-", "n"),
    ("{n1} {b1}, which is why he's here. {n2} fine.", "a", "n"),
    ("Left the {n1} till last, and it's {b1}. {n2} fine.", "a", "n"),
]

# missed still: of all lines, or of the one that is named
MISSED = {
    "You'd think the {n} would be {b}, but it's fine.": None,
    "{n1} {b1}. The rest, including the {n2}, fine.": None,
    "{n} is no longer {b}.": "tongue",
    "{n} out of reach today.": "tongue",
    "Right {n} {b}, sorry, the left.": "kidney",
}


def _told(said: str) -> tuple[str, list[tuple[str, str, str]]]:
    words = said[0].upper() + said[1:] if not said.startswith(("left ", "the ")) else said
    heard = hear(words, DOG, vocabulary()).proposals
    return words, [(p.structure, p.side, STATES[p.state]) for p in heard]


def _state(told: list[tuple[str, str, str]], line: str, side: str = "") -> str:
    states = {
        state for structure, here, state in told if structure.startswith(line) and (not side or here == side)
    }
    return next((s for s in "axn" if s in states), "-")


def _only(told: list[tuple[str, str, str]], *lines: str) -> bool:
    """Nothing else is called normal."""
    return all(state != "n" or structure.startswith(lines) for structure, _, state in told)


def _missed(said: str, name: str) -> bool:
    return said in MISSED and MISSED[said] in (None, name)


@pytest.mark.parametrize(("said", "left", "right"), OF_TWO)
def test_of_two_each_gets_what_was_said_of_it(said: str, left: str, right: str) -> None:
    for name, plural, line, bad in PAIRED:
        words, told = _told(said.format(n=name, p=plural, b=bad))
        found = (_state(told, line, "left"), _state(told, line, "right"))
        if not _missed(said, name):
            assert found == (left, right), words
        assert _only(told, line), words


@pytest.mark.parametrize(("said", "state"), OF_ONE)
def test_of_one_it_is_normal_where_somebody_says_so(said: str, state: str) -> None:
    for name, line, bad in ALONE:
        words, told = _told(said.format(n=name, b=bad, B=bad.capitalize()))
        if not _missed(said, name):
            assert _state(told, line) in state, words
        assert _only(told, line), words


@pytest.mark.parametrize(("said", "one", "other"), OF_BOTH)
def test_side_by_side_neither_gets_what_is_said_of_the_other(said: str, one: str, other: str) -> None:
    lines = {name: (line, bad) for name, line, bad in ALONE}
    for first, second in BESIDE:
        (line, bad), (next_line, worse) = lines[first], lines[second]
        words, told = _told(said.format(n1=first, b1=bad, n2=second, b2=worse, B2=worse.capitalize()))
        if not _missed(said, first):
            assert _state(told, line) in one, words
            assert _state(told, next_line) in other, words
        assert _only(told, line, next_line), words
