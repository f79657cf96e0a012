"""What became of a finding since last time: said only where both exams stand on one scale."""

from __future__ import annotations

import pytest

from exams.changes import changes, compare
from exams.state import ExamState, FindingEntry, LineAnswer, start
from tests.exams.walkhelp import dog, found, tap, walk

CANAL = "EAR.canal|left"


def entry(code: str = "EAR-02", **more: object) -> FindingEntry:
    return FindingEntry(code, **more)


def exam(*taps: tuple[str, str, dict[str, object]]) -> ExamState:
    state = start()
    for target, what, payload in taps:
        state, outcome = tap(state, target, what, payload)
        assert outcome.accepted, outcome.words
    return state


def became(before: ExamState | None, now: ExamState) -> dict[str, str]:
    told = changes(before.answers if before else None, now, walk(), dog())
    return {f"{c.line.key} {c.code}": c.how for c in told}


def wax(severity: str = "mild") -> ExamState:
    return exam((CANAL, "set_abnormal", found("EAR-02", severity=severity)))


@pytest.mark.parametrize(
    ("before", "now", "how"),
    [
        ("mild", "severe", "worse"),
        ("severe", "moderate", "better"),
        ("mild", "mild", "same"),
    ],
)
def test_severity_decides_where_both_have_one(before, now, how) -> None:
    assert became(wax(before), wax(now)) == {f"{CANAL} EAR-02": how}


def test_a_severity_that_only_one_exam_has_is_changed_not_better() -> None:
    assert compare(entry(), entry(severity="mild"), walk()) == "changed"


def test_a_murmur_that_got_louder_is_worse_though_its_code_is_another() -> None:
    codes = [f for f in walk().finding.values() if f.grade_scale == "murmur-6"]
    low = next(f for f in codes if "2" in f.grades)
    high = next(f for f in codes if "4" in f.grades)
    assert low.code != high.code
    line = next(x for x in dog() if low.code in x.codes and high.code in x.codes).key
    then = exam((line, "set_abnormal", found(low.code, grade="2")))
    now = exam((line, "set_abnormal", found(high.code, grade="4")))
    assert became(then, now) == {f"{line} {high.code}": "worse"}


def test_condition_has_two_ends_and_is_never_called_better() -> None:
    then, now = entry("BCM-05", grade="7", scale="bcs-9"), entry("BCM-04", grade="6", scale="bcs-9")
    assert compare(then, now, walk()) == "changed"


@pytest.mark.parametrize(("old", "new", "how"), [("8", "12", "worse"), ("12", "8", "better")])
def test_one_size_in_one_unit_decides(old, new, how) -> None:
    assert compare(entry(qualifiers={"mm": old}), entry(qualifiers={"mm": new}), walk()) == how


def test_sizes_in_words_or_in_other_units_are_not_compared() -> None:
    assert compare(entry(qualifiers={"mm": "8"}), entry(qualifiers={"cm": "1"}), walk()) == "changed"
    assert compare(entry(qualifiers={"mm": "8 x 4"}), entry(qualifiers={"mm": "9"}), walk()) == "changed"


def test_better_in_one_way_and_worse_in_another_is_changed() -> None:
    then = entry(severity="mild", qualifiers={"mm": "12"})
    assert compare(then, entry(severity="severe", qualifiers={"mm": "4"}), walk()) == "changed"


def test_what_somebody_said_themselves_goes_first() -> None:
    now = entry(severity="severe", qualifiers={"change": "better"})
    assert compare(entry(severity="mild"), now, walk()) == "better"


def test_what_was_not_there_last_time_is_new() -> None:
    assert became(exam((CANAL, "set_normal", {})), wax()) == {f"{CANAL} EAR-02": "new"}


def test_what_is_normal_now_is_gone() -> None:
    assert became(wax(), exam((CANAL, "set_normal", {}))) == {f"{CANAL} EAR-02": "gone"}


@pytest.mark.parametrize(
    "now",
    [
        (),
        ((CANAL, "set_not_examined", {"reason": "too-painful"}),),
        ((CANAL, "set_in_part", {"status": "normal", "reason": "would-not-allow"}),),
    ],
)
def test_nothing_is_gone_where_nobody_looked_or_saw_all(now) -> None:
    assert became(wax(), exam(*now)) == {f"{CANAL} EAR-02": "not looked at again"}


def test_the_other_side_is_another_line() -> None:
    right = exam(
        ("EAR.canal|right", "set_abnormal", found("EAR-02", severity="mild")), (CANAL, "set_normal", {})
    )
    assert became(wax(), right) == {f"{CANAL} EAR-02": "gone", "EAR.canal|right EAR-02": "new"}


def test_without_an_earlier_exam_everything_is_new() -> None:
    assert set(became(None, wax()).values()) == {"new"}


def test_two_lines_that_are_one_look_are_told_once() -> None:
    twins = [x for x in dog() if x.stored_at != (x.key,) and len(x.stored_at) == 1 and not x.hidden]
    assert twins
    for line in twins[:3]:
        code = next((c for c in line.codes if not walk().finding[c].variant), None)
        if code is None:
            continue
        before = {line.stored_at[0]: LineAnswer("abnormal", (FindingEntry(code),))}
        assert len(changes(before, start(), walk(), dog())) == 1
