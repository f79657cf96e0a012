"""Any state of an exam gives a letter in which each structure that was answered, or that every walk looks
at, is counted once: normal, abnormal or not examined (seen in part is a mark beside one of the first two)."""

from types import SimpleNamespace

from hypothesis import given
from hypothesis import strategies as st

from clinic.letters.document import Mark, said
from exams.digest import judged
from exams.letter_walk import NOT_SAID, WalkInWords
from exams.owner_texts import texts_of
from exams.state import NOT_EXAMINED, start
from exams.state import standing as line_standing
from exams.urgency import facts_of
from tests.exams.test_letter_sentences import ANIMALS, LINES
from tests.exams.walkhelp import found, listed, tap, walk

NORMAL, ABNORMAL = {Mark.NORMAL}, {Mark.ABNORMAL}
UNSEEN, PENDING = {Mark.UNSEEN}, {Mark.PENDING}
steps = st.lists(
    st.tuples(
        st.integers(0, 10_000),
        st.sampled_from(["normal", "abnormal", "bare", "unseen", "part", "station", "left-out"]),
        st.integers(0, 40),
    ),
    max_size=40,
)


def played(lines, script):
    """Whatever of the script the exam takes."""
    state, keys = start(), [line.key for line in lines if line.applies]
    for at, what, which in script:
        line = lines[keys[at % len(keys)]]
        codes = line.codes or ("",)
        target, name, payload = line.key, "set_normal", {}
        if what == "abnormal":
            name, payload = "set_abnormal", {**found(codes[which % len(codes)]), "sure": True}
        elif what == "bare":
            name, payload = "set_abnormal", {"findings": [], "sure": True}
        elif what == "unseen":
            name, payload = "set_not_examined", {"reason": "would-not-allow"}
        elif what == "part":
            name, payload = "set_in_part", {"status": "normal", "reason": "purring"}
        elif what == "station":
            target, name = line.station, "station_all_normal"
            payload = listed(lines, line.station)
        elif what == "left-out":
            name, payload = "set_not_examined", {"reason": "not-needed"}
        state, _outcome = tap(state, target, name, payload, lines)
    return state


def letter_of(state, lines, language="en"):
    animal = lines.animal
    facts = facts_of(walk(), species=animal.species, age_days=animal.age_days, neutered=animal.neutered)
    standing = SimpleNamespace(
        walk=walk(),
        lines=lines,
        state=state,
        measured=(),
        judged=judged(state, walk(), facts),
        exam=SimpleNamespace(record=SimpleNamespace(is_signed=False)),
    )
    return WalkInWords(standing, texts_of(walk(), language), pet="Ludo", names={})


def is_told(state, line):
    answer = state.answers.get(line.stored_at[0])
    left_out = (
        answer and answer.status == NOT_EXAMINED and answer.reason in NOT_SAID and line.asked != "every"
    )
    return answer is not None and not left_out


@given(st.sampled_from(ANIMALS), steps, st.sampled_from(["en", "es"]))
def test_each_structure_is_counted_once(animal, script, language) -> None:
    lines = LINES[animal]
    state = played(lines, script)
    words = letter_of(state, lines, language)
    section = words.section()
    for line in lines:
        if not line.applies or line.whole_station:
            continue
        key = line.stored_at[0]
        marks = words.told_as.get(key, set())
        answer = state.answers.get(key)
        if is_told(state, line):
            assert marks in (NORMAL, ABNORMAL, UNSEEN), (line.key, answer, marks)
            expected = UNSEEN if answer.status == NOT_EXAMINED else ABNORMAL if answer.is_abnormal else marks
            assert marks == expected, (line.key, answer, marks)
        elif line.asked == "every" and line.depth != "measured":
            waits = line_standing(state, lines, line.key)[0] == "not-yet"
            assert marks == (PENDING if waits else set()) or answer is None, (line.key, marks)
    texts = [each.text for each in said(section)]
    assert len({each.key for each in said(section)}) == len(texts)
    assert not [each for each in texts if "{" in each or "  " in each]


@given(st.sampled_from(ANIMALS), steps)
def test_a_station_that_was_normal_is_named_in_one_normal_line(animal, script) -> None:
    words = letter_of(played(LINES[animal], script), LINES[animal])
    lines = [line for block in words.section().blocks for line in block.lines]
    normal = " ".join(line.label.text.lower() for line in lines if line.mark == Mark.NORMAL)
    for station in walk().stations:
        if station.code == "VIT":
            continue
        keys = {x.stored_at[0] for x in words.lines.at(station.code) if not x.hidden and not x.whole_station}
        if any(words.told_as.get(key) == NORMAL for key in keys):
            assert normal.count(station.owner_name.lower()) == 1, (station.code, normal)
