"""What goes over the wire comes back unchanged."""

import json

from exams.operations import operation_from_json, operation_to_json, version_of
from exams.state import (
    HeadsUp,
    answer_from_json,
    answer_to_json,
    outcome_from_json,
    outcome_to_json,
    shown,
    start,
)
from exams.wire import state_json, walk_json
from tests.exams.walkhelp import dog, found, listed, op, queen, tap, walk


def through_json(value):
    return json.loads(json.dumps(value))


def test_an_operation_survives_the_log() -> None:
    one = op("EAR.canal|left", "set_abnormal", found("EAR-02", severity="mild"), follows="before")
    again = operation_from_json(through_json(operation_to_json(one)), person=one.person, role=one.role)
    assert again == one


def test_an_answer_survives_its_column() -> None:
    payload = found("EAR-02", severity="mild", qualifiers={"colour": "brown"}, circumstances=["returns"])
    state, _ = tap(start(), "EAR.canal|left", "set_abnormal", payload)
    answer = shown(state, dog(), "EAR.canal|left")
    assert answer_from_json(through_json(answer_to_json(answer))) == answer


def test_an_outcome_survives_its_column() -> None:
    _, outcome = tap(start(), "EAR", "station_all_normal", listed(dog(), "EAR"))
    assert outcome_from_json(through_json(outcome_to_json(outcome))) == outcome


def test_the_page_is_given_every_line_that_is_not_hidden_and_every_finding_it_offers() -> None:
    told = through_json(walk_json(walk(), queen()))
    lines = [line for station in told["stations"] for line in station["lines"]]
    assert {x["key"] for x in lines} == {x.key for x in queen() if not x.hidden}
    assert all(c in told["findings"] for line in lines for c in (*line["codes"], *line["limits"]))
    assert told["scales"]["bcs-9"]["grades"][0]["wording"].startswith("ribs seen in short-haired cat")


def test_the_page_is_given_the_version_that_its_next_tap_follows() -> None:
    state, outcome = tap(start((HeadsUp("h1", "EYE", "squints"),)), "EAR.canal|left", "set_normal")
    told = through_json(state_json(state, dog()))
    assert told["lines"]["EAR.canal|left"]["version"] == outcome.key
    assert told["lines"]["EAR.canal|left"]["state"] == "normal"
    assert told["lines"]["GUM.testes|left"] == {
        "state": "not-applicable",
        "why": "neutered",
        "version": "",
        "answer": None,
    }
    assert told["heads_ups"][0]["id"] == "h1"
    assert told["stations"]["EAR"] == version_of(state, dog(), "EAR")
