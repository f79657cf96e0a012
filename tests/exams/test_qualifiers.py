"""What qualifies a finding is asked as the data says, kept with its unit, and can move its class."""

import pytest

from exams.asking import asked
from exams.digest import facts_of_entry, judged
from exams.guards import SHARED_QUALIFIERS
from exams.qualifiers import CLOSED, LASTING, facts, how, in_words, problem, total_of
from exams.sentences import for_record
from exams.state import FindingEntry, start
from exams.walk import ClassChange
from tests.exams.walkhelp import dog, found, tap, walk
from tests.for_each import for_each

NAMED = [(f.code, n) for f in walk().finding.values() for n in f.qualifiers if n not in SHARED_QUALIFIERS]
IN_WORDS = {("GEN-06", "which stations limited"), ("GUM-22", "details")}


def test_only_two_qualifiers_are_left_to_free_words() -> None:
    assert {(c, n) for c, n in NAMED if how(walk().qualifiers, c, n).kind == "text"} == IN_WORDS


@for_each(NAMED)
def test_a_list_offers_values_and_a_number_has_limits(code_and_name) -> None:
    way = how(walk().qualifiers, *code_and_name)
    assert way.kind not in ("one", "several") or 2 <= len(way.values) <= 12
    assert way.kind not in ("number", "sizes") or way.least < way.most
    assert way.kind != "total" or way.scales


def test_every_entry_of_the_list_is_used() -> None:
    used = {n for _, n in NAMED} | {LASTING}
    assert {n for q in walk().qualifiers for n in q.names} <= used
    for q in walk().qualifiers:
        assert all(set(q.names) & set(walk().finding[c].qualifiers) for c in q.codes), q


def test_the_findings_own_entry_goes_before_the_common_one() -> None:
    assert "black" in how(walk().qualifiers, "EAR-02", "colour").values
    assert "black" not in how(walk().qualifiers, "EYE-02", "colour").values


@pytest.mark.parametrize(
    ("name", "value", "wrong"),
    [
        ("mm", "12", ""),
        ("mm", "12,5", ""),
        ("mm", "pea-sized", "a number is wanted"),
        ("mm", "9000", "9000 is outside 0.5 to 600"),
        ("mm x mm x mm", "14 x 11 x 8", ""),
        ("mm x mm x mm", "14", "numbers with × between them are wanted, as 12 x 10 x 8"),
        ("scale and score", "Feline Grimace Scale 4 of 10", ""),
        ("scale and score", "four", "a total of a maximum is wanted, as 4 of 10"),
        ("colour", "like tea", ""),
    ],
)
def test_a_number_is_a_number_and_a_list_takes_own_words(name, value, wrong) -> None:
    assert problem(how(walk().qualifiers, "XXX-00", name), value) == wrong


def test_the_server_refuses_a_size_that_is_none() -> None:
    _, outcome = tap(start(), "EAR.canal|left", "set_abnormal", found("EAR-13", qualifiers={"mm": "big"}))
    assert (outcome.reason, outcome.words) == ("qualifier", "Mass or polyp in canal, mm: a number is wanted")


@pytest.mark.parametrize(
    ("code", "told", "expected"),
    [
        ("SKN-27", {"mm x mm x mm": "8 x 14 x 11"}, {"longest_mm": 14.0}),
        ("LYM-10", {"mm": "12"}, {"mm": 12.0, "longest_mm": 12.0}),
        ("SKN-01", {"0-10 scale": "6"}, {"itch": 6.0}),
        ("PER-16", {LASTING: "3"}, {"lasting_days": 3.0, "present_days": 3.0}),
        ("LUN-01", {"rate": "36", "setting": "here"}, {"rate": 36.0}),
        ("LUN-01", {"rate": "36", "setting": "asleep at home"}, {"rate": 36.0, "sleeping_rate": 36.0}),
        ("EAR-02", {"colour": "brown"}, {}),
    ],
)
def test_numbers_become_facts_under_the_names_that_conditions_use(code, told, expected) -> None:
    assert facts(walk().qualifiers, code, told) == expected


@pytest.mark.parametrize(
    ("line", "code", "more", "letter"),
    [
        ("SKN.skin|-", "SKN-01", {"qualifiers": {"0-10 scale": "4"}}, "R"),
        ("SKN.skin|-", "SKN-01", {"qualifiers": {"0-10 scale": "5"}}, "T"),
        ("LUN.pattern|-", "LUN-01", {"qualifiers": {"rate": "36", "setting": "asleep at home"}}, "T"),
        ("LUN.pattern|-", "LUN-01", {"circumstances": ["effort"]}, "E"),
        ("PER.faeces|-", "PER-16", {"qualifiers": {LASTING: "2"}}, "R"),
        ("PER.faeces|-", "PER-16", {"qualifiers": {LASTING: "3"}}, "T"),
        # not eating makes an animal unwell, which is what the condition asks
        ("LYM.mandibular|left", "LYM-01", {"circumstances": ["not_eating"]}, "T"),
        ("EAR.canal|left", "EAR-02", {"circumstances": ["returns"]}, "R"),
        ("EYE.vision|left", "EYE-27", {"qualifiers": {"sudden / gradual": "sudden"}}, "E"),
    ],
)
def test_what_is_said_of_a_finding_moves_its_class(line, code, more, letter) -> None:
    state, outcome = tap(start(), line, "set_abnormal", found(code, **more))
    assert outcome.accepted, outcome.words
    assert judged(state, walk(), {"age_months": 60.0})[0].urgency.letter == letter


def test_every_number_that_a_condition_asks_can_be_said_somewhere() -> None:
    """Otherwise a class would have a rule that never holds."""
    of_animal = {"age_days", "age_weeks", "age_months", "species", "severity", "grade"}
    measured = {"temperature_c", "heart_rate", "refill_s", "systolic_mmhg"}
    for f in walk().finding.values():
        own = {q.fact for n in f.qualifiers if (q := how(walk().qualifiers, f.code, n)).fact}
        own |= {"longest_mm"} if "mm" in own else set()
        own |= {"sleeping_rate"} if "rate" in own else set()
        names = [n for n, _ in asked(walk(), f, [])]
        own |= {"lasting_days", "present_days"} if LASTING in names else set()
        for change in f.change:
            for condition in change.all:
                name = condition.split()[0]
                if len(condition.split()) == 3:
                    assert name in of_animal | measured | own, (f.code, condition)
        assert all(isinstance(c, ClassChange) for c in f.change)


def test_the_page_asks_nothing_that_is_known_already() -> None:
    ways: list = []
    assert [n for n, _ in asked(walk(), walk().finding["LYM-02"], ways)] == []  # its line holds the size
    assert [n for n, _ in asked(walk(), walk().finding["HRT-02"], ways)] == [
        "timing",
        "loudest point",
        "thrill",
    ]
    pressure = {n for n, _ in asked(walk(), walk().finding["VIT-15"], ways)}
    assert not {"device", "cuff", "site"} & pressure
    assert all(w["kind"] in (*CLOSED, "number", "sizes", "total", "text") for w in ways)


@pytest.mark.parametrize(
    ("code", "name", "value", "words"),
    [
        ("EAR-13", "mm", "12", "12 mm"),
        ("SKN-27", "mm x mm x mm", "14 x 11 x 8", "14 × 11 × 8 mm"),
        ("EAR-14", "% of pinna", "40", "40%"),
        ("SKN-14", "count", "3", "how many 3"),
        ("PER-16", LASTING, "3", "lasts for 3 days"),
        ("NOS-11", "hot", "yes", "hot"),
        ("HRT-02", "thrill", "no", "thrill: no"),
        ("EAR-02", "colour", "brown", "brown"),
    ],
)
def test_the_record_says_a_number_with_its_unit(code, name, value, words) -> None:
    assert in_words(walk().qualifiers, code, name, value) == words


def test_a_class_set_by_hand_says_why_in_the_record_and_needs_a_reason() -> None:
    bare = found("EAR-05", urgency="M")
    _, outcome = tap(start(), "EAR.canal|left", "set_abnormal", bare)
    assert outcome.reason == "urgency"
    told = found("EAR-05", urgency="M", urgency_why="treated since Monday")
    state, _ = tap(start(), "EAR.canal|left", "set_abnormal", told)
    said = for_record(walk(), dog()["EAR.canal|left"], state.answers["EAR.canal|left"])
    assert said == "left: purulent exudate; taken as monitor: treated since Monday"


def test_a_total_is_read_from_its_words() -> None:
    assert total_of("Modified Glasgow coma scale 14 of 18: motor 5, brainstem 5, consciousness 4") == (14, 18)
    assert total_of("mild") is None


def test_onset_and_severity_are_facts_too() -> None:
    entry = FindingEntry(
        "EYE-22", severity="severe", qualifiers={"onset": "sudden"}, circumstances=("painful",)
    )
    assert facts_of_entry(walk(), entry) == {"painful": True, "severity": "severe", "sudden": True}
