"""The curve: a value never stands on its own line."""

import re
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.letters.figures import Measured, curve_figure
from clinic.letters.wording import EN
from clinic.models import Measurement
from clinic.patients.letter import _change

TODAY = date(2026, 3, 11)
YEARS = [date(2024, 3, 1), date(2025, 3, 1), TODAY]
TYPE = 11.5
DIGIT = 6.4  # units a sign is wide at that size, a little more than measured


def drawn(*values: float):
    figure = curve_figure([Measured(on, v) for on, v in zip(YEARS, values, strict=False)], today=TODAY)
    assert figure is not None
    return figure.svg


def line_of(svg: str) -> list[tuple[float, float]]:
    path = re.search(r'<path d="M([^"]+)" fill="none"', svg)[1]
    return [tuple(map(float, each.split())) for each in path.split("L")]


def last_label(svg: str, words: str) -> tuple[float, float]:
    return tuple(map(float, re.findall(rf'x="([\d.]+)" y="([\d.]+)"[^>]*>{words}</text>', svg)[-1]))


@given(st.lists(st.integers(20, 60), min_size=3, max_size=3))
def test_the_last_value_stands_clear_of_the_line(values):
    svg = drawn(*[v / 10 for v in values])
    points = line_of(svg)
    x, y = last_label(svg, f"{values[-1] / 10:g} kg")
    left = x - DIGIT * len(f"{values[-1] / 10:g} kg")
    (x0, y0), (x1, y1) = points[-2:]
    for step in range(101):
        px, py = x0 + (x1 - x0) * step / 100, y0 + (y1 - y0) * step / 100
        assert not (left < px < x and y - 8 < py < y), (px, py, left, x, y)


@pytest.mark.parametrize("values", [(4.2, 4.1, 3.6), (3.6, 4.1, 4.2), (4, 4, 4), (4.2, 3.6, 4.2)])
def test_every_value_is_inside_the_drawing_and_above_the_dates(values):
    svg = drawn(*values)
    labels = [
        float(y) for y in re.findall(r'<text x="[\d.]+" y="([\d.]+)" text-anchor="\w+"(?! fill="#fff")', svg)
    ]
    assert all(8 <= y <= 96 - 10 for y in labels if y != 96.0), labels


@pytest.mark.parametrize(
    ("before", "words"),
    [
        (datetime(2025, 12, 1, tzinfo=UTC), "The same as on 1 December 2025."),
        (datetime(2025, 11, 30, tzinfo=UTC), "The same as in November 2025."),
        (datetime(2024, 12, 1, tzinfo=UTC), "The same as in December 2024."),
    ],
)
def test_a_weight_of_the_month_in_hand_is_named_by_its_day(before, words):
    now, last = (
        Measurement(value=Decimal("4.26"), measured_at=at)
        for at in (datetime(2025, 12, 18, tzinfo=UTC), before)
    )
    assert _change(now, last, "", "kg", EN).text.replace("\N{NO-BREAK SPACE}", " ") == words
