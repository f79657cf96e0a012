"""Where findings of one letter meet: what is one thing is said once, and reads as somebody would say it."""

from types import SimpleNamespace

import pytest

from clinic.letters.document import Mark, Walk, said
from exams.changes import changes
from exams.digest import judged
from exams.letter_findings import names_itself
from exams.letter_short import InShort
from exams.letter_walk import WalkInWords
from exams.owner_texts import texts_of
from exams.state import start
from exams.urgency import facts_of
from tests import letters
from tests.exams.house import exam_here
from tests.exams.test_letter_sentences import LINES
from tests.exams.test_lump_taps import measured, placed
from tests.exams.walkhelp import found, tap, walk


def lines_of(species: str = "cat"):
    return next(lines for animal, lines in LINES.items() if animal.species == species)


def played(*taps, species: str = "cat"):
    state, lines = start(), lines_of(species)
    for target, what, payload in taps:
        state, outcome = tap(state, target, what, payload, lines)
        assert outcome.accepted, outcome
    return state


def told(*taps, species: str = "cat", language: str = "en", before=None, advises=True) -> WalkInWords:
    state, lines = played(*taps, species=species), lines_of(species)
    animal = lines.animal
    facts = facts_of(walk(), species=species, age_days=animal.age_days, neutered=animal.neutered)
    standing = SimpleNamespace(
        walk=walk(), lines=lines, state=state, measured=(), judged=judged(state, walk(), facts),
        exam=SimpleNamespace(record=SimpleNamespace(is_signed=False)),
    )  # fmt: skip
    since = changes(before.answers, state, walk(), lines) if before else ()
    return WalkInWords(
        standing, texts_of(walk(), language), pet="Storm", names={}, since=since, advises=advises
    )


def texts(words: WalkInWords) -> list[str]:
    return [f"{each.text}{each.term}" for each in said(words.section())]


def score(value: str, unit: str = "bcs-9", line: str = "BCM.score|-") -> tuple[str, str, dict[str, str]]:
    return (line, "measure", {"value": value, "unit": unit, "flag": "high"})


FLAT = [(f"HLB.hock|{side}", "set_abnormal", found("HLB-19")) for side in ("left", "right")]


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en", "Both back legs: Storm walks flat on the back feet."),
        ("es", "Las dos patas traseras:"),
    ],
)
def test_what_the_animal_does_with_both_legs_is_of_both(language, words):
    assert any(each.startswith(words) for each in texts(told(*FLAT, language=language)))


def test_brackets_inside_the_term_follow_a_comma():
    assert "BCS 6 of 9, slightly overweight" in texts(told(score("6")))


def test_the_body_s_condition_names_its_degree_in_the_picture_alone():
    assert not [each for each in texts(told(score("8"))) if each.startswith(("This is", "8 of 9", "Degree"))]


def test_muscle_loss_that_was_felt_and_scored_stands_once():
    words = told(
        ("BCM.back-muscles|left", "set_abnormal", found("BCM-07")),
        ("BCM.muscle-score|-", "measure", {"value": "mild", "unit": "mcs-4", "flag": "low"}),
    )
    assert len([each for each in texts(words) if "muscle loss" in each and ":" in each]) == 1
    assert words.told_as["BCM.muscle-score|-"] == words.told_as["BCM.back-muscles|left"] == {Mark.ABNORMAL}


def test_what_gets_worse_is_one_line_and_something_an_owner_can_see():
    words = told(
        ("GEN.skin-turgor|-", "set_abnormal", found("GEN-14")),
        ("EYE.cornea|left", "set_abnormal", found("EYE-06")),
        ("EAR.canal|left", "set_abnormal", found("EAR-08")),
    )
    urgent = [letter for letter in "ET" if InShort(words).calls(letter)]
    lines = [each.text for letter in urgent for each in InShort(words).calls(letter)]
    assert len(lines) == len(urgent)
    assert "general look" not in " ".join(lines)
    assert "Storm is dehydrated" in " ".join(lines)


def test_what_gets_worse_names_the_weight_once():
    words = told(
        ("BCM.back-muscles|left", "set_abnormal", found("BCM-08")),
        ("BCM.score|-", "measure", {"value": "2", "unit": "bcs-9", "flag": "low"}),
        ("ABD.bladder|-", "set_abnormal", found("ABD-15", severity="moderate")),
    )
    (line,) = [each.text for letter in "ET" for each in InShort(words).calls(letter)]
    assert line == "What we found today gets worse: belly, weight and muscles."


def test_what_is_gone_keeps_the_brackets_of_its_term():
    dry, moist = (
        ("GEN.skin-turgor|-", "set_abnormal", found("GEN-13")),
        ("GEN.skin-turgor|-", "set_normal", {}),
    )
    assert any(
        "(" not in each and "mild dehydration, about 5%" in each
        for each in texts(told(moist, before=played(dry)))
    )


@pytest.mark.parametrize("now", ["7", "5"])
def test_a_condition_that_is_scored_now_is_not_called_gone(now):
    ribs = ("BCM.ribs|left", "set_abnormal", found("BCM-05", grade="7"))
    normal = ("BCM.ribs|left", "set_normal", {})
    flag = {"value": now, "unit": "bcs-9", "flag": "high" if now == "7" else "inside"}
    words = told(normal, ("BCM.score|-", "measure", flag), before=played(ribs))
    assert not [each for each in texts(words) if "gone" in each]


EAR_BEFORE, SMELL = ("EAR.canal|left", "set_normal", {}), "EAR.odour|left"


@pytest.mark.parametrize(
    ("codes", "language", "words"),
    [
        (["EAR-02"], "en", "New since last time."),
        (["EAR-02", "EAR-03"], "en", "Both are new since last time."),
        (["EAR-02", "EAR-03"], "es", "Las dos cosas son nuevas desde la última vez."),
        (["EAR-02", "EAR-03", "EAR-08"], "en", "All 3 are new since last time."),
    ],
)
def test_what_became_of_several_at_one_place_is_said_once(codes, language, words):
    now = found(codes[0])
    now["findings"] += [each for code in codes[1:] for each in found(code)["findings"]]
    told_now = told(("EAR.canal|left", "set_abnormal", now), language=language, before=played(EAR_BEFORE))
    new = [each for each in texts(told_now) if "new" in each.lower() or "nuev" in each.lower()]
    assert new == [words]


def test_so_it_is_where_the_owner_reads_one_place_for_two_lines():
    """The wax and the smell are of two lines of the walk; the letter says "left ear" of both."""
    taps = [(x, "set_abnormal", found(code)) for x, code in (("EAR.canal|left", "EAR-02"), (SMELL, "EAR-06"))]
    before = played(EAR_BEFORE, (SMELL, "set_normal", {}))
    new = [each for each in texts(told(*taps, before=before)) if "new" in each.lower()]
    assert new == ["Both are new since last time."]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("count", "words"),
    [(1, "It is lump 1 in the drawing below."), (2, "They are lumps 1 and 2 in the drawing below.")],
)
def test_a_lump_on_the_walk_says_which_it_is(count, words):
    case = letters.arrived("Storm")
    tablet = exam_here(case.actor(), case.visit)
    for size in range(count):
        measured(tablet, placed(tablet), 12.0 + size, 9.0, 6.0)
    blocks = case.section("walk").blocks
    walked = [each for block in blocks if isinstance(block, Walk) for each in said_in(block)]
    assert words in walked


def said_in(block: Walk) -> list[str]:
    return [each.text for line in block.lines for each in line.sentences]


SORE_BACK = ("SPN.lumbar|-", "set_abnormal", found("SPN-02", severity="moderate"))


def test_what_a_finding_asks_to_watch_for_stands_among_what_to_call_about_at_once():
    said = [each.text for each in InShort(told(SORE_BACK)).watch()]
    assert said == ["Storm’s legs go weak or wobbly."]
    assert InShort(told(*FLAT)).watch() == ()


def test_of_one_that_died_stands_what_was_seen_and_nothing_that_is_to_be_done():
    assert "Rest strictly." in " ".join(texts(told(SORE_BACK)))
    died = texts(told(SORE_BACK, advises=False))
    assert died[:2] == [
        "Back and tail: the middle or lower back is sore.",
        "thoracolumbar or lumbar pain, moderate",
    ]
    assert not [each for each in died if "Rest" in each or "emergency" in each]


def test_a_few_things_to_look_at_again_are_named_at_once():
    assert InShort(told(score("6"))).headline().text.endswith("To watch: weight and muscles.")


def test_a_sentence_that_names_its_place_itself_is_not_headed_by_it():
    assert names_itself("Systolic blood pressure", "Blood pressure was a little high")
    assert names_itself("Belly", "Belly pain")
    assert not names_itself("Left ear", "Ears are red")
    assert not names_itself("Belly", "Bellyache")


def test_what_a_visit_was_not_for_is_a_list_that_is_not_shouted():
    walked = told(SORE_BACK, ("EAR.pinna|left", "set_not_examined", {"reason": "not-part"}))
    line = next(each for block in walked.section().blocks for each in block.lines if each.mark is Mark.UNSEEN)
    assert [each.text for each in (line.label, *line.sentences)] == [
        "Not examined:", "ears.", "It was not part of this visit.",
    ]  # fmt: skip
