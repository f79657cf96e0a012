"""A person's order of the stations: complete, whatever the walk gains or loses."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exams.own_order import NotAnOrder, checked, moved, ordered

WALK = ("VIT", "GEN", "EYE", "NOS")


@pytest.mark.parametrize(
    ("own", "order"),
    [
        ((), WALK),
        (("NOS", "EYE", "GEN", "VIT"), ("NOS", "EYE", "GEN", "VIT")),
        (("NOS", "VIT", "GEN"), ("NOS", "VIT", "GEN", "EYE")),
        (("EYE", "NOS", "GEN"), ("VIT", "EYE", "NOS", "GEN")),
        (("OLD", "EYE", "VIT", "NOS", "GEN"), ("EYE", "VIT", "NOS", "GEN")),
    ],
)
def test_a_new_station_stands_after_its_neighbour_and_a_lost_one_goes(own, order) -> None:
    assert ordered(WALK, own) == order


@given(st.lists(st.sampled_from([*WALK, "OLD"]), max_size=8))
def test_every_station_is_there_once_whatever_was_kept(own) -> None:
    assert sorted(ordered(WALK, own)) == sorted(WALK)


@given(st.permutations(WALK), st.sampled_from([*WALK, "OLD"]), st.sampled_from(["up", "down"]))
def test_moving_loses_nothing_and_moves_one_place_at_most(order, code, way) -> None:
    after = moved(order, code, way)
    assert sorted(after) == sorted(order)
    assert sum(a != b for a, b in zip(order, after, strict=True)) in (0, 2)


def test_the_published_order_is_kept_as_none() -> None:
    assert checked(WALK, list(WALK)) == ()
    with pytest.raises(NotAnOrder):
        checked(WALK, ["VIT"])
