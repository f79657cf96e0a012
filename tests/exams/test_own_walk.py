"""What a clinic may change of the walk, and that it cannot make it say what nobody did."""

import pytest

from exams.lines import applicable
from exams.operations import apply
from exams.own_walk import (
    NONE,
    CannotChange,
    changes_from_json,
    changes_to_json,
    composed_with,
    offered_at,
    own_finding,
    shortest_first,
    with_change,
)
from exams.own_words import change_words, differences
from exams.sentences import for_owner
from exams.state import FindingEntry, start
from exams.walk import from_json, to_json
from exams.walk_texts import faults_of, is_a_test
from tests.exams.walkhelp import ADULT_DAYS, found, op, walk
from tests.house import OWN_FINDING


def changed(*changes, before=NONE):
    for change in changes:
        before = with_change(walk(), before, change)
    return before


def asked(structure, when="every"):
    return {"kind": "asked", "structure": structure, "asked": when}


def finding(**more):
    return {**OWN_FINDING, **more}


def walked(*changes):
    return composed_with(walk(), changed(*changes))


def test_nothing_changed_is_the_published_walk_to_the_byte() -> None:
    assert composed_with(walk(), NONE).sha256 == walk().sha256
    assert "first" not in to_json(walk())["stations"][0]["structures"][0]


def test_eye_pressure_can_be_part_of_every_exam_and_stays_measured() -> None:
    pressure = walked(asked("EYE.pressure")).structure["EYE.pressure"]
    assert (pressure.depth, pressure.asked) == ("measured", "every")
    assert walk().structure["EYE.pressure"].asked == "called-for"


def test_a_look_on_indication_becomes_routine_and_back() -> None:
    airflow = walked(asked("NOS.airflow")).structure["NOS.airflow"]
    assert (airflow.depth, airflow.asked) == ("routine", "every")
    back = changed(asked("NOS.airflow"), asked("NOS.airflow", "called-for"))
    assert not back.asked


def test_a_test_made_part_of_every_exam_is_never_said_by_one_tap_for_many() -> None:
    own = walked(asked("HLB.ortolani"))
    line = own.structure["HLB.ortolani"]
    assert is_a_test(line)
    assert (line.depth, line.asked) == ("indication", "every")
    lines = applicable(own, "dog", "male", True, 60)
    told = tap_all_normal(own, lines, "HLB")
    assert not any(k.startswith("HLB.ortolani") for k in told.answers)


def tap_all_normal(own, lines, station):

    listed = {"lines": [x.key for x in lines.at(station)]}
    state, outcome = apply(
        start(), op(station, "station_all_normal", listed, walk_version=own.sha256), own, lines
    )
    assert outcome.accepted, outcome.words
    return state


def test_a_twin_moves_with_its_home_whichever_is_named() -> None:
    own = walked(asked("FLB.gait", "called-for"))
    for code in ("GEN.gait", "FLB.gait", "HLB.gait", "NEU.gait"):
        assert own.structure[code].asked == "called-for", code


def test_what_comes_first_is_kept_as_the_least_that_says_it() -> None:
    usual = offered_at(walk(), "EAR.canal")
    wanted = [usual[3], *usual[:3], *usual[4:]]
    after = changed({"kind": "first", "structure": "EAR.canal", "order": wanted})
    assert after.first == {"EAR.canal": (usual[3],)}
    assert list(offered_at(composed_with(walk(), after), "EAR.canal")) == wanted
    back = changed({"kind": "first", "structure": "EAR.canal", "order": list(usual)}, before=after)
    assert back == NONE


def test_the_page_of_an_animal_offers_them_in_the_clinics_order() -> None:
    usual = offered_at(walk(), "EAR.canal")
    own = walked({"kind": "first", "structure": "EAR.canal", "order": [usual[4], usual[0]]})
    line = applicable(own, "dog")["EAR.canal|left"]
    assert line.codes[:2] == (usual[4], usual[0])


@pytest.mark.parametrize(
    ("wanted", "usual", "first"),
    [("abc", "abc", ""), ("bac", "abc", "b"), ("cba", "abc", "cb"), ("acb", "abc", "ac")],
)
def test_the_shortest_beginning(wanted, usual, first) -> None:
    assert "".join(shortest_first(wanted, usual)) == first


def test_an_order_cannot_name_what_is_not_offered_there() -> None:
    with pytest.raises(CannotChange):
        changed({"kind": "first", "structure": "EAR.canal", "order": ["EYE-01"]})


def test_an_own_finding_is_recorded_and_said_like_the_published_ones() -> None:
    own = walked(finding())
    lines = applicable(own, "cat", "female", False, ADULT_DAYS)
    line = lines["EAR.canal|left"]
    assert "own-1" in line.codes

    said = found("own-1", severity="mild")
    state, outcome = apply(start(), op(line.key, "set_abnormal", said, walk_version=own.sha256), own, lines)
    assert outcome.accepted, outcome.words
    entry = state.answers[line.key].findings[0]
    assert "grass seed" in for_owner(own, line, entry, pet="Quill", species="cat").text
    assert "your pet" not in for_owner(own, line, entry, pet="Quill", species="cat").text.lower()


def test_it_survives_storage_with_the_same_number() -> None:
    own = walked(finding(), asked("EYE.pressure"))
    again = from_json(to_json(own))
    assert (again, again.sha256) == (own, own.sha256)
    changes = changed(finding(), asked("EYE.pressure"))
    assert changes_from_json(changes_to_json(changes)) == changes


def test_an_own_code_never_collides_and_never_comes_again() -> None:
    changes = changed(
        finding(), {"kind": "retire", "code": "own-1", "retired": True}, finding(name="Another")
    )
    assert list(changes.findings) == ["own-1", "own-2"]
    assert not set(changes.findings) & set(walk().finding)
    after = changed({"kind": "undo"}, finding(name="A third"), before=changes)
    assert list(after.findings) == ["own-1", "own-2", "own-3"]


def test_a_retired_finding_is_offered_no_longer_and_still_read() -> None:
    own = walked(finding(), {"kind": "retire", "code": "own-1", "retired": True})
    assert "own-1" not in applicable(own, "dog")["EAR.canal|left"].codes
    line = applicable(own, "dog")["EAR.canal|left"]
    assert for_owner(own, line, FindingEntry("own-1"), pet="Pomfret", species="dog").text


def test_a_changed_finding_stays_retired_until_it_is_offered_again() -> None:
    retired = changed(finding(), {"kind": "retire", "code": "own-1", "retired": True})
    assert changed(finding(code="own-1", name="Awn"), before=retired).findings["own-1"].retired


@pytest.mark.parametrize(
    ("more", "where"),
    [
        ({"name": " "}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"structures": []}, "structures"),
        ({"structures": ["EAR.canal", "EYE.cornea"]}, "structures"),
        ({"structures": ["EAR.nothing"]}, "structures"),
        ({"species": []}, "species"),
        ({"side": "somewhere"}, "side"),
        ({"urgency": "X"}, "urgency"),
        ({"urgency_reason": ""}, "urgency_reason"),
        ({"owner_line": ""}, "owner_line"),
        ({"owner_line": "A grass seed"}, "owner_line"),
        ({"owner_line": "Your pet may die of this."}, "owner_line"),
        ({"owner_line": " ".join(["word"] * 33) + "."}, "owner_line"),
        ({"spoken": ["a"] * 1 + [str(n) for n in range(9)]}, "spoken"),
    ],
)
def test_an_own_finding_is_refused_at_the_field_that_is_wrong(more, where) -> None:
    with pytest.raises(CannotChange) as refused:
        own_finding(walk(), "own-1", finding(**more))
    assert refused.value.where == where


def test_a_name_that_the_station_has_is_refused() -> None:
    name = next(f.name for f in walk().finding.values() if f.station == "EAR")
    with pytest.raises(CannotChange) as refused:
        changed(finding(name=name.upper()))
    assert refused.value.where == "name"


def test_a_cats_line_takes_no_dogs_finding() -> None:
    dogs_only = next(s for s in walk().structure.values() if s.species == ("dog",))
    with pytest.raises(CannotChange) as refused:
        changed(finding(structures=[dogs_only.code], species=["cat"]))
    assert refused.value.where == "species"


@pytest.mark.parametrize(
    "change",
    [
        {"kind": "normal", "structure": "EYE.cornea", "words": "fine"},
        {"kind": "asked", "structure": "EYE.none", "asked": "every"},
        {"kind": "asked", "structure": "EYE.cornea", "asked": "never"},
        {"kind": "retire", "code": "EAR-02"},
        finding(code="EAR-02"),
    ],
)
def test_nothing_else_can_be_changed(change) -> None:
    with pytest.raises(CannotChange):
        changed(change)


def test_undoing_gives_the_published_order_and_depths_back() -> None:
    own = composed_with(walk(), changed(asked("EYE.pressure"), finding(), {"kind": "undo"}))
    assert own.structure["EYE.pressure"].asked == "called-for"
    assert not any("own-1" in line.codes for line in applicable(own, "dog"))


def test_every_line_moved_at_once_still_keeps_every_rule() -> None:
    """Whatever a clinic makes routine, no text of what normal means names a test that was not done."""
    changes = NONE
    for s in walk().structure.values():
        if not s.twin and s.asked != "every":
            changes = with_change(walk(), changes, asked(s.code))
    own = composed_with(walk(), changes)
    assert list(faults_of(own)) == []
    assert all(s.asked == "every" for s in own.structure.values())


def test_it_is_said_in_words_and_listed_where_it_differs() -> None:
    changes = changed(asked("EYE.pressure"), finding())
    own = composed_with(walk(), changes)
    told = differences(walk(), own, changes)
    assert [(d.kind, d.code) for d in told] == [("asked", "EYE.pressure"), ("finding", "own-1")]
    assert change_words(walk(), asked("EYE.pressure")).endswith("part of every exam")
    assert differences(walk(), walk(), NONE) == ()


def test_the_usual_animals_are_offered_what_they_were_before() -> None:
    """A finding of the clinic's own stands behind the published ones until somebody puts it first."""
    for species in ("dog", "cat"):
        before = applicable(walk(), species)["EAR.canal|left"].codes
        after = applicable(walked(finding()), species)["EAR.canal|left"].codes
        assert [c for c in after if c != "own-1"] == list(before)
        assert after.index("own-1") > 0
