"""Findings in words, for the record and for the owner."""

import pytest

from exams.owner_texts import texts_of
from exams.sentences import finding_words, for_owner, for_record, normal_line, why_for_owner
from exams.state import shown, start
from tests.exams.walkhelp import dog, found, tap, walk


def record(target, what, payload):
    state, outcome = tap(start(), target, what, payload)
    assert outcome.accepted, outcome
    return for_record(walk(), dog()[target], shown(state, dog(), target))


def owner(target, payload, **more):
    state, outcome = tap(start(), target, "set_abnormal", payload)
    assert outcome.accepted, outcome
    return for_owner(walk(), dog()[target], shown(state, dog(), target).findings[0], **more)


@pytest.mark.parametrize(
    ("target", "what", "payload", "words"),
    [
        (
            "EAR.canal|left",
            "set_abnormal",
            found("EAR-02", severity="moderate", qualifiers={"colour": "brown"}),
            "left: excess wax, moderate, brown",
        ),
        ("EAR.canal|right", "set_normal", {}, "right: normal"),
        ("NOS.planum|-", "set_normal", {}, "normal"),
        ("EAR.canal|left", "set_not_examined", {"reason": "too-painful"}, "left: not examined, too painful"),
        (
            "MTH.tongue|-",
            "set_in_part",
            {"status": "normal", "reason": "other", "words": "bit the wedge"},
            "normal; in part: bit the wedge",
        ),
        ("VIT.weight|-", "measure", {"value": "27.4", "unit": "kg"}, "27.4 kg"),
        ("NOS.nares|left", "set_abnormal", found("NOS-06"), "sneezing"),
        (
            "MTH.teeth|307",
            "set_abnormal",
            found("MTH-05", grade="3"),
            "307, lower left third premolar: periodontal disease, provisional stage, PD 3, tooth 307, "
            "provisional, awake",
        ),
        (
            "HRT.murmur|-",
            "set_abnormal",
            found("HRT-02", grade="3", qualifiers={"timing": "systolic"}),
            "heart murmur grade III of VI, systolic",
        ),
    ],
)
def test_the_record_says(target, what, payload, words) -> None:
    assert record(target, what, payload) == words


def test_the_owner_reads_side_what_was_seen_and_the_term_last() -> None:
    said = owner("EAR.canal|left", found("EAR-02", severity="moderate"))
    assert said.heading == "Left ear"
    assert said.text == "There is more wax than normal. This is moderate."
    assert said.term == "(excess wax, moderate)"


def test_the_owner_reads_the_grade_in_words() -> None:
    assert owner("HRT.murmur|-", found("HRT-02", grade="3")).text.endswith(" Grade 3 of 6, medium.")


def test_the_owner_reads_the_name_of_the_pet() -> None:
    payload = found("GEN-08")
    assert owner("GEN.gait|-", payload, pet="Pomfret").text.startswith("Pomfret was weak")


@pytest.mark.parametrize(
    ("target", "payload", "heading"),
    [
        ("HLB.hip|right", found("HLB-03"), "Right back leg"),
        ("MTH.teeth|307", found("MTH-06", grade="2"), "Tooth 307 (lower left third premolar)"),
        ("LYM.popliteal|left", found("LYM-07"), "Lymph nodes, left side"),
        ("GUM.mammary|left-3", found("GUM-01"), "Left milk gland 3"),
        ("NOS.nares|left", found("NOS-06"), "Nose and face"),
        ("NEU.hopping|LH", found("NEU-13"), "Nerves, left hind"),
        ("NEU.posture|-", found("NEU-01", qualifiers={"side": "left"}), "Nerves, left side"),
        ("ABD.liver|-", found("ABD-06"), "Belly"),
    ],
)
def test_the_heading_spells_the_side_out(target, payload, heading) -> None:
    assert owner(target, payload).heading == heading


def test_no_heading_uses_an_error_prone_abbreviation() -> None:
    import re

    for line in dog():
        state, outcome = (
            tap(start(), line.key, "set_abnormal", found(line.codes[0])) if line.codes else (None, None)
        )
        if outcome and outcome.accepted and (answer := shown(state, dog(), line.key)) and answer.findings:
            said = for_owner(walk(), line, answer.findings[0])
            assert not re.search(r"\b(OD|OS|OU|AD|AS|AU|WNL|NAD|L/R)\b", f"{said.heading} {said.text}")


def test_normal_neighbours_are_joined_in_one_line() -> None:
    english, spanish = (texts_of(walk(), language) for language in ("en", "es"))
    stations = [walk().station[c] for c in ("EYE", "NOS", "EAR")]
    assert normal_line(stations, english) == "Eyes, nose and face and ears: normal."
    assert normal_line(stations, spanish) == "Ojos, nariz y cara y oídos: todo normal."
    assert normal_line([walk().station["HRT"]], english) == "Heart: normal."
    assert normal_line([], english) == ""


def test_why_not_is_a_sentence_with_the_name_of_the_pet_and_own_words_stay_as_written() -> None:
    english, spanish = (texts_of(walk(), language) for language in ("en", "es"))
    assert why_for_owner(walk(), "would-not-allow", "", "Ludo", english) == "Ludo would not allow it."
    assert why_for_owner(walk(), "would-not-allow", "", "Ludo", spanish) == "Ludo no lo permitió."
    assert why_for_owner(walk(), "other", "bit the wedge", "Ludo", english) == "Bit the wedge."
    assert why_for_owner(walk(), "other", "bit the wedge", "Ludo", spanish) == "\u2068Bit the wedge.\u2069"


def test_a_code_that_holds_its_grade_does_not_say_it_twice() -> None:
    state, _ = tap(start(), "GEN.consciousness|-", "set_abnormal", found("GEN-03"))
    entry = shown(state, dog(), "GEN.consciousness|-").findings[0]
    assert finding_words(walk(), entry) == "stuporous (responds only to strong stimulus)"
