"""How long the core takes: an answer with its explanation, a whole plan, a plot."""

import time
from collections.abc import Callable

import pytest

from nutrition import energy
from nutrition.plan import compose
from nutrition.programme import course, expected
from nutrition.weeks_chart import weeks_chart
from tests.nutrition.builders import FACTORS, heavy_dog
from tests.nutrition.test_programme import programme

pytestmark = pytest.mark.alone


def seconds(once: Callable[[], object], times: int = 50) -> float:
    """The median of so many calls, warm."""
    once()
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        once()
        taken.append(time.perf_counter() - start)
    return sorted(taken)[times // 2]


def test_a_need_with_its_explanation_takes_less_than_a_millisecond():
    def need() -> object:
        return energy.adult_need(
            weight_kg=27.4, multiples_code="dog.neutered", body_size_code="dog.inactive", family="multiples",
            factors=FACTORS,
        )  # fmt: skip

    assert seconds(need) < 0.001
    assert seconds(lambda: compose(heavy_dog(), FACTORS)) < 0.005


def test_a_programme_and_its_plot_take_a_moment():
    made = programme(0.5, weeks=tuple(range(40)))

    def plot() -> object:
        return weeks_chart(
            name="Pomfret", weighed=made.weighed, band=expected(made, FACTORS), target_kg=made.target_kg,
            scores=[(on, 7) for on, _ in made.weighed], ideal_kg=(30, 34),
        )  # fmt: skip

    assert seconds(plot) < 0.005
    last = made.weighed[-1][0]
    assert seconds(lambda: course(made, last, FACTORS)) < 0.15
