"""The exam page says of every line what the server says, before the server has heard of the tap.

The page's model (model.js) runs as it is, in Node, beside the rules of exams/taps.py and exams/state.py. A
tap that the rules accept is given to both; after each, every line, version and count has to read alike.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exams.digest import digest
from exams.operations import Operation, apply, operation_to_json, version_of
from exams.state import ExamState, answer_to_json, shown, standing, start
from exams.wire import packed, walk_json
from tests.exams.walkhelp import dog, found, op, queen, walk

ROOT = Path(__file__).resolve().parents[2]
HARNESS = Path(__file__).with_name("page_model.mjs")
NODE = shutil.which("node")

LINES = (
    *("EAR.canal|left", "EAR.canal|right", "EAR.canal|both", "NOS.nares|left", "NOS.nares|right"),
    *("GEN.gait|-", "FLB.gait|left", "HLB.gait|right", "NEU.gait|LF", "NEU.gait|RH", "FLB.gait|both"),
    *("EYE.vision|left", "NEU.menace|left", "EYE.vision|both", "HER.scrotum|left", "GUM.scrotum|-"),
    *("FLB.*|left", "HLB.*|right", "HLB.hip|right", "LYM.popliteal|right", "MTH.teeth|108", "VIT.weight|-"),
)
FINDING = {
    "EAR": ("EAR-02", "EAR-20"),
    "NOS": ("NOS-06", "NOS-13"),
    "GEN": ("GEN-11", "GEN-12"),
    "FLB": ("FLB-01", "FLB-27"),
    "HLB": ("HLB-28", "HLB-01"),
    "NEU": ("NEU-17",),
    "HER": ("HER-06",),
    "EYE": ("EYE-27", "EYE-19"),
    "GUM": ("GUM-20",),
    "LYM": ("LYM-01",),
    "MTH": ("MTH-13",),
    "VIT": ("VIT-01",),
}
PLACES = ("EAR", "EYE", "NOS", "FLB", "FLB|left", "HLB", "GUM", "NEU", "MTH.teeth", "LYM")
TARGETS = (*LINES, *PLACES, "exam")


class Page:
    """The model of one open page."""

    def __init__(self) -> None:
        assert NODE, "the page's model runs in Node"
        self.process = subprocess.Popen(
            [
                *(NODE, "--experimental-default-type=module", "--no-warnings", str(HARNESS)),
                (ROOT / "exams/static/exams/model.js").as_uri(),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.ask("walk", data=page_data())

    def ask(self, what: str, **more: Any) -> Any:
        assert self.process.stdin
        assert self.process.stdout
        self.process.stdin.write(json.dumps({"do": what, **more}) + "\n")
        self.process.stdin.flush()
        told = self.process.stdout.readline()
        assert told, "the page's model threw"
        return json.loads(told)

    def end(self) -> None:
        self.process.stdin.close()
        self.process.wait(10)


def page_data() -> dict[str, Any]:
    return {
        "walk": walk_json(walk(), dog()),
        "state": live(start()),
        "me": {"staff": "oduya", "grant": "", "role": "clinician", "name": "Dr Maren Oduya"},
        "lumps": {"known": {}},
    }


def live(state: ExamState) -> dict[str, Any]:
    """What exams/live.py tells the page of the answers."""
    return {
        "pulse": "1",
        "answers": {k: answer_to_json(a) for k, a in state.answers.items()},
        "versions": dict(state.versions),
        "notes": dict(state.notes),
        "heads_ups": [],
        "lumps": {},
        "people": {},
        "facts": {},
        "kind": "full",
        "stations": [],
        "kind_reason": "",
        "awake": "",
        "awake_log": [],
    }


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    opened = Page()
    yield opened
    opened.end()


def test_the_tablet_puts_together_what_the_server_packed(page: Page) -> None:
    for lines in (dog(), queen()):
        told = walk_json(walk(), lines)
        sent = json.dumps(packed(told))
        assert page.ask("unpacked", walk=json.loads(sent)) == json.loads(json.dumps(told))
        assert len(sent) < 0.75 * len(json.dumps(told))


def server_reads(state: ExamState) -> dict[str, Any]:
    lines = {}
    for line in dog():
        if line.hidden:
            continue
        word, answer = standing(state, dog(), line.key)
        codes = sorted(f.code for f in answer.findings) if answer else []
        lines[line.key] = [word, codes, bool(answer and answer.in_part), answer.reason if answer else ""]
    return {
        "lines": lines,
        "versions": {target: version_of(state, dog(), target) for target in TARGETS},
        "stations": {s.code: [s.standing, s.structures_left] for s in digest(state, walk(), dog()).stations},
        "notes": dict(state.notes),
    }


def differences(one: dict[str, Any], other: dict[str, Any]) -> dict[str, Any]:
    return {
        f"{part}: {key}": (one[part].get(key), other[part].get(key))
        for part in one
        for key in {**one[part], **other[part]}
        if one[part].get(key) != other[part].get(key)
    }


@st.composite
def taps(draw) -> tuple[str, str, dict[str, Any]]:
    what = draw(
        st.sampled_from(
            [
                *["set_normal", "set_abnormal", "set_abnormal", "set_not_examined"] * 3,
                *["station_all_normal", "station_rest_not_examined", "take_back", "take_back"],
                *["clear", "note", "in part"],
            ]
        )
    )
    if what == "station_all_normal":
        place = draw(st.sampled_from(PLACES))
        keys = [line.key for line in dog().at(place)]
        listed = keys if draw(st.booleans()) else draw(st.lists(st.sampled_from(keys), unique=True))
        return place, what, {"lines": listed}
    if what == "station_rest_not_examined":
        place = draw(st.sampled_from((*PLACES, "exam")))
        return place, what, {"reason": "no-time", "all": draw(st.booleans())}
    if what == "take_back":
        return "", what, {"nth": draw(st.integers(1, 3))}
    target = draw(st.sampled_from(LINES))
    code = draw(st.sampled_from(FINDING[target[:3]]))
    if what == "in part":
        return target, "set_abnormal", {**found(code), "in_part": {"reason": "would-not-allow", "words": ""}}
    payload: dict[str, Any] = {
        "set_abnormal": found(code),
        "set_not_examined": {"reason": draw(st.sampled_from(["no-time", ""])), "words": ""},
        "note": {"text": draw(st.sampled_from(["sour", ""]))},
    }.get(what, {})
    if what == "set_abnormal" and target.endswith("|both") and draw(st.booleans()):
        payload = {"left": found(code), "right": {"findings": []}}
    return target, what, payload


def made(
    state: ExamState, accepted: list[Operation], tap: tuple[str, str, dict[str, Any]]
) -> Operation | None:
    """The tap as the page makes it: it follows what stands; a take-back names a tap of before."""
    target, what, payload = tap
    if what == "take_back":
        can = [each for each in accepted if each.what != "note"]  # the page takes no note back
        if len(can) < payload["nth"]:
            return None
        back = can[-payload["nth"]]
        target, payload = back.target, {"operation": back.key}
    return op(target, what, payload, follows=version_of(state, dog(), target))


@given(st.lists(taps(), min_size=1, max_size=14))
@settings(deadline=None)
def test_the_page_shows_what_the_server_will_say(page, script) -> None:
    page.ask("begin")
    state, accepted = start(), []
    for tap in script:
        one = made(state, accepted, tap)
        if one is None:
            continue
        state, outcome = apply(state, one, walk(), dog())
        if not outcome.accepted:
            continue  # the page hears of it and shows again what the server says
        accepted.append(one)
        page.ask("tap", op=operation_to_json(one) | {"payload": dict(one.payload)})
        told = page.ask("stands", targets=list(TARGETS))
        assert differences(told, server_reads(state)) == {}, (one.what, one.target, one.payload)


@given(st.lists(taps(), min_size=1, max_size=8), st.lists(taps(), min_size=1, max_size=4))
@settings(deadline=None)
def test_taps_on_top_of_what_the_server_said_read_alike(page, before, after) -> None:
    """A page that was told how things stand, whole or as the part that changed, taps on from there."""
    page.ask("begin")
    state, accepted = start(), []
    for script in (before, after):
        known = state
        for tap in script:
            one = made(state, accepted, tap)
            if one and (result := apply(state, one, walk(), dog()))[1].accepted:
                state = result[0]
                accepted.append(one)
        page.ask("take", state=part_of(known, state))
        told = page.ask("stands", targets=list(TARGETS))
        assert differences(told, server_reads(state)) == {}


def part_of(known: ExamState, state: ExamState) -> dict[str, Any]:
    whole = live(state)
    return {
        **whole,
        "part": True,
        "gone": [k for k in known.answers if k not in state.answers],
        "answers": {
            k: a for k, a in whole["answers"].items() if state.answers[k] is not known.answers.get(k)
        },
        "versions": {k: v for k, v in whole["versions"].items() if known.versions.get(k) != v},
    }


def test_a_difference_would_be_noticed(page) -> None:
    page.ask("begin")
    page.ask("tap", op=operation_to_json(op("EAR.canal|left", "set_normal")))
    told = page.ask("stands", targets=list(TARGETS))
    assert shown(start(), dog(), "EAR.canal|left") is None
    assert "lines: EAR.canal|left" in differences(told, server_reads(start()))
