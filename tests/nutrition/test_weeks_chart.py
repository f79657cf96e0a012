"""The chart of a programme: what it holds, and what it says in words."""

import re
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest

import clinic.letters
from nutrition.programme import expected
from nutrition.weeks_chart import HEIGHT, LOW, TYPE, weeks_chart
from tests.nutrition.builders import FACTORS
from tests.nutrition.test_programme import START, programme


def drawn(made=None, **more):
    made = made or programme()
    facts = {"name": "Pomfret", "weighed": made.weighed, "band": expected(made, FACTORS)}
    return weeks_chart(**facts, target_kg=made.target_kg, **more)


def test_it_says_in_words_what_it_shows():
    alt = drawn().alt
    assert "40 kg on 2 March, 38.96 kg on 16 March" in alt
    assert "Hoped for on 25 May 2026: 33.0 to 37.6 kg. The target is 33 kg." in alt


def test_a_doubtful_weight_is_hollow_named_and_off_the_line():
    day = START + timedelta(weeks=6)
    chart = drawn(doubtful=[day])
    assert "The weight of 13 April fits no line through the others." in chart.alt
    assert "36.88 kg ?" in chart.svg
    line = re.search(r'<path d="M([^"]+)" fill="none"', chart.svg).group(1)
    assert line.count("L") == 2


@pytest.mark.parametrize("height", [HEIGHT, LOW])
@pytest.mark.parametrize("weeks", [(0,), (0, 1), tuple(range(0, 30, 2)), (0, 40, 80)])
def test_everything_lies_inside_the_drawing(weeks, height):
    made = programme(0.2, weeks=weeks)
    chart = drawn(made, height=height, ideal_kg=(30.8, 35.0), scores=[(START, 8)])
    assert f'viewBox="0 0 1005 {height}"' in chart.svg
    root = ElementTree.fromstring(chart.svg)
    for each in root.iter():
        for name, most in (("x", 1005), ("y", height), ("cx", 1005), ("cy", height)):
            if name in each.attrib:
                assert 0 <= float(each.attrib[name]) <= most
    # words that end at the right edge stand under one another, a line of type apart
    ends = sorted({float(each.attrib["y"]) for each in root.iter() if each.attrib.get("text-anchor") == "end"
                   and float(each.attrib["x"]) > 900})  # fmt: skip
    assert all(b - a >= TYPE for a, b in pairwise(ends))


def test_dates_have_room():
    made = programme(0.3, weeks=(0, 30))
    root = ElementTree.fromstring(drawn(made).svg)
    xs = [float(each.attrib["x"]) for each in root.iter() if each.attrib.get("y") == "440"]
    assert min(b - a for a, b in pairwise(xs)) >= 90


def test_it_needs_no_style_and_hides_no_name():
    chart = drawn(programme(), doubtful=[])
    assert "style" not in chart.svg
    assert "&lt;b&gt;" in weeks_chart(
        name="<b>", weighed=programme().weighed, band=expected(programme(), FACTORS), target_kg=33
    ).svg  # fmt: skip


def test_its_type_is_twelve_point_on_the_sheet():
    sheet = (Path(clinic.letters.__file__).parent / "sheet/letter.css").read_text()
    (rem,) = re.findall(r"^\.wide svg \{[^}]*width: ([\d.]+)rem", sheet, re.M)
    (units,) = re.findall(r' font-size="(\d+)"', drawn().svg)
    assert int(units) / 1005 * float(rem) * 12 >= 12
