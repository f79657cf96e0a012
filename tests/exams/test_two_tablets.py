"""Two tablets, offline and resending, in any order: properties of the operations.

Each tablet queues taps against what it last saw, sends them when it likes and again when it likes. Whatever
happens, the exam is what some order of the acknowledged taps makes, and nothing else.
"""

from __future__ import annotations

import dataclasses
import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from exams.operations import Operation, apply, replay, version_of
from exams.state import NORMAL, HeadsUp, shown, standing, start
from tests.examples import examples
from tests.exams.walkhelp import dog, found, op, walk

LINES = (
    "EAR.canal|left",
    "EAR.canal|right",
    "EAR.pinna|left",
    "GEN.gait|-",
    "FLB.gait|left",
    "NEU.gait|LF",
    "NEU.gait|RH",
    "EYE.vision|left",
    "NEU.menace|left",
    "HER.scrotum|left",
    "GUM.scrotum|-",
    "NOS.nares|left",
    "NOS.planum|-",
    "NOS.bridge|right",
)
FINDING = {
    "EAR": ("EAR-02", "EAR-20"),
    "GEN": ("GEN-11", "GEN-12"),
    "FLB": ("FLB-01",),
    "NEU": ("NEU-17",),
    "EYE": ("EYE-27",),
    "HER": ("HER-06",),
    "GUM": ("GUM-20",),
    "NOS": ("NOS-13",),
}
STATIONS = ("EAR", "EYE", "FLB|left", "GUM", "NEU")
HEADS_UP = HeadsUp("h1", "NOS", "Sneezed twice")


@st.composite
def taps(draw) -> tuple[str, str, dict]:
    kind = draw(st.sampled_from(["line"] * 12 + ["station", "station", "rest", "back", "back", "heads-up"]))
    if kind == "station":
        place = draw(st.sampled_from(STATIONS))
        keys = [line.key for line in dog().at(place)]
        return place, "station_all_normal", {"lines": draw(st.lists(st.sampled_from(keys), unique=True))}
    if kind == "rest":
        return (
            draw(st.sampled_from(STATIONS)),
            "station_rest_not_examined",
            {"reason": "no-time", "all": True},
        )
    if kind == "back":
        return draw(st.sampled_from((*LINES, *STATIONS))), "take_back", {}
    if kind == "heads-up":
        return "h1", "answer_heads_up", {"answer": "nothing"}
    target = draw(st.sampled_from(LINES))
    what = draw(st.sampled_from(["set_normal", "set_abnormal", "set_not_examined", "clear"]))
    payload = {"set_abnormal": found(draw(st.sampled_from(FINDING[target[:3]])))}.get(what, {})
    return target, what, payload


script = st.lists(
    st.tuples(
        st.sampled_from("AB"), st.sampled_from(["tap", "tap", "tap", "send", "resend", "look"]), taps()
    ),
    min_size=4,
    max_size=40,
)


class Tablet:
    """Knows what it last saw and its own unsent taps; never what the other one does."""

    def __init__(self, name: str, state) -> None:
        self.name, self.seen, self.queue, self.sent = name, state, [], []
        self.numbers = itertools.count(1)

    def tap(self, target: str, what: str, payload: dict) -> None:
        if what == "take_back":
            payload = {"operation": self.seen.versions.get(target, "none")}
        made = op(
            target,
            what,
            payload,
            key=f"{self.name}{next(self.numbers)}",
            person=self.name,
            follows=version_of(self.seen, dog(), target),
        )
        self.queue.append(made)
        self.seen, _ = apply(self.seen, made, walk(), dog())


def play(steps):
    """The server's state, and every acknowledged operation in the order of the acknowledgements."""
    server = start((HEADS_UP,))
    tablets = {name: Tablet(name, server) for name in "AB"}
    log: list[Operation] = []

    def send(one: Operation) -> None:
        nonlocal server
        server, outcome = apply(server, one, walk(), dog())
        if not outcome.repeated:
            log.append(one)

    for name, action, tap in steps:
        tablet = tablets[name]
        if action == "tap":
            tablet.tap(*tap)
        elif action == "send" and tablet.queue:
            tablet.sent.append(tablet.queue.pop(0))
            send(tablet.sent[-1])
        elif action == "resend" and tablet.sent:
            send(tablet.sent[len(steps) % len(tablet.sent)])
        elif action == "look":
            tablet.seen = server
            for waiting in tablet.queue:
                tablet.seen, _ = apply(tablet.seen, waiting, walk(), dog())
    for tablet in tablets.values():
        for one in (*tablet.queue, *tablet.sent):
            send(one)
    return server, log


@given(script)
@settings(max_examples=examples(150), deadline=None)
def test_the_exam_is_what_the_accepted_taps_make_in_their_order(steps) -> None:
    server, log = play(steps)
    accepted = [one for one in log if server.outcomes[one.key].accepted]
    again = replay(start((HEADS_UP,)), accepted, walk(), dog())
    assert again.answers == server.answers
    assert again.versions == server.versions
    assert again.heads_ups == server.heads_ups
    assert all(again.outcomes[one.key].accepted for one in accepted)


@given(script)
@settings(max_examples=examples(100), deadline=None)
def test_nothing_is_applied_twice_and_every_tap_has_one_answer(steps) -> None:
    server, log = play(steps)
    assert len({one.key for one in log}) == len(log) == len(server.outcomes)
    followed = [(one.target, one.follows) for one in log if server.outcomes[one.key].accepted and one.follows]
    assert len(set(followed)) == len(followed), "two taps on one target follow the same answer"
    again = replay(server, log, walk(), dog())
    assert again is server


@given(script)
@settings(max_examples=examples(150), deadline=None)
def test_no_answer_is_overwritten_by_somebody_who_had_not_seen_it(steps) -> None:
    server, log = play(steps)
    last: dict[str, str] = {}
    before = start((HEADS_UP,))
    for one in log:
        outcome = server.outcomes[one.key]
        if not outcome.accepted:
            continue
        if one.what.startswith("station_"):
            assert not set(outcome.changed) & set(before.answers), "marked together over an answer"
        before, _ = apply(before, one, walk(), dog())
        if "|" in one.target and one.what != "station_all_normal" and "." in one.target:
            seen = [last.get(key, "") for key in dog()[one.target].stored_at]
            assert one.follows in (seen[0], "+".join(v or "-" for v in seen)), (one, last)
        last |= dict.fromkeys(outcome.changed, one.key)


@given(script)
@settings(max_examples=examples(150), deadline=None)
def test_nothing_reads_normal_that_no_tap_named_or_listed(steps) -> None:
    server, log = play(steps)
    by_key = {one.key: one for one in log}
    for line in dog():
        answer = shown(server, dog(), line.key)
        if answer is None or answer.status != NORMAL:
            continue
        cause = by_key[answer.operation]
        if cause.what == "station_all_normal":
            named = set(cause.payload["lines"])
        else:
            assert cause.what == "set_normal"
            named = {cause.target}
        stored = {k for key in named for k in dog()[key].stored_at}
        assert stored & {*line.stored_at, line.covered_by}, (line.key, cause)


@given(script)
@settings(max_examples=examples(100), deadline=None)
def test_nothing_is_normal_at_a_heads_ups_station_before_it_is_answered(steps) -> None:
    server, _ = play(steps)
    if not server.heads_ups["h1"].answer:
        assert not [k for k, a in server.answers.items() if k.startswith("NOS.") and a.status == NORMAL]


@given(script)
@settings(max_examples=examples(60), deadline=None)
def test_a_measured_line_is_never_normal_by_a_tap(steps) -> None:
    server, _ = play(steps)
    told = {standing(server, dog(), x.key)[0] for x in dog() if x.depth == "measured" and x.applies}
    assert told <= {"not-yet", "not-examined"}


def test_the_properties_would_notice_a_tap_applied_twice() -> None:
    """The replay above is only worth something if a broken guard breaks it."""
    first = op("EAR.canal|left", "set_normal", key="A1")
    state, _ = apply(start(), first, walk(), dog())
    forgetful = dataclasses.replace(state, outcomes={})
    again, outcome = apply(forgetful, first, walk(), dog())
    assert outcome.reason == "stale"
    assert again.answers == state.answers
