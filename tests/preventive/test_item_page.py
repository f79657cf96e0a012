"""One item explained: the line in time, and what if on another day."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, strategies

from preventive import actions
from preventive.timeline import APART, EDGE, NARROW, WIDE, Given, timeline
from tests import people
from tests.people import NOW
from tests.preventive.build import core, dog, dose, due, history
from tests.preventive.room import room


def shown(line):
    return [(mark.kind, mark.on.isoformat()) for mark in line.marks]


# prev-D02 (A): dose 2 from 2025-03-17 to 2025-03-31
def test_the_line_holds_the_dose_the_window_and_today():
    item = due(dog("2025-01-06"), history(*core("2025-03-03")), "2025-03-03", "dog_core:CPV")
    line = timeline(item, [Given(date(2025, 3, 3))], date(2025, 3, 3))
    assert shown(line)[:2] == [("dose", "2025-03-03"), ("today", "2025-03-03")]
    assert ("earliest", "2025-03-17") in shown(line)
    assert ("target", "2025-03-31") in shown(line)
    assert len(line.bands) == 1


# prev-L04 (A): back after 50 days, the series begins again; dose 2 from 2025-06-03 to 2025-06-17
def test_what_comes_after_a_dose_on_that_day_stands_on_a_row_of_its_own():
    animal, first = dog("2025-01-06"), dose("2025-03-31", "Leptospira", kind="inactivated")
    again = dose("2025-05-20", "Leptospira", kind="inactivated")
    now = due(animal, history(first), "2025-05-20", "dog_leptospira")
    after = due(animal, history(first, again), "2025-05-20", "dog_leptospira")
    line = timeline(now, [Given(date(2025, 3, 31))], date(2025, 5, 20), if_given=(date(2025, 5, 20), after))
    assert ("given", "2025-05-20") in shown(line)
    (following,) = [mark for mark in line.marks if mark.kind == "next"]
    assert following.on.isoformat() in {"2025-06-03", "2025-06-17"}
    upper = {mark.y for mark in line.marks if mark.kind in {"dose", "target"}}
    assert following.y not in upper


@given(
    days=strategies.lists(strategies.integers(-900, 0), max_size=8, unique=True),
    born=strategies.integers(30, 4000),
)
def test_no_two_numbers_lie_on_each_other_and_none_leaves_the_drawing(days, born):
    today = date(2025, 6, 1)
    item = due(dog((today - timedelta(born)).isoformat()), history(), today.isoformat(), "rabies")
    given = [Given(today + timedelta(each)) for each in days]
    for width in (WIDE, NARROW):
        line = timeline(item, given, today, if_given=(today, item), width=width)
        assert [mark.number for mark in line.marks] == list(range(1, len(line.marks) + 1))
        assert [mark.on for mark in line.marks] == sorted(mark.on for mark in line.marks)
        assert all(EDGE <= mark.x <= width - EDGE and mark.y < line.axis for mark in line.marks)
        for one in line.marks:
            for other in line.marks:
                assert one is other or one.y != other.y or abs(one.x - other.x) >= APART
        assert all(after.x - before.x > 60 for before, after in pairwise(line.ticks))


def test_the_last_dose_stands_on_the_line_however_long_ago_it_was():
    item = due(dog("2020-01-06"), history(), "2025-06-01", "rabies")
    line = timeline(item, [Given(date(2020, 5, 1)), Given(date(2021, 5, 1))], date(2025, 6, 1))
    assert [on for kind, on in shown(line) if kind == "dose"] == ["2021-05-01"]


def test_a_dose_that_does_not_count_says_why():
    item = due(dog("2025-01-06"), history(), "2025-03-10", "rabies")
    line = timeline(item, [Given(date(2025, 3, 10), "Given below the minimum age.")], date(2025, 3, 12))
    (mark,) = [each for each in line.marks if each.kind == "uncounted"]
    assert mark.words == "10 March 2025: given, not counted: Given below the minimum age."


@pytest.fixture
def puppy(db):
    return room(birth_date=timezone.localdate() - timedelta(weeks=9))


def look(puppy, code, **query):
    client = Client()
    client.force_login(puppy.people.assistant)
    return client.get(reverse("prevention-item", args=[puppy.patient.pk, code]), query)


def test_the_page_says_why_and_what_if(puppy):
    text = look(puppy, "dog_core:CPV").content.decode()
    assert "AAHA 2022" in text
    assert "If Corvane" in text
    later = timezone.localdate() + timedelta(30)
    text = look(puppy, "dog_core:CPV", on=later.isoformat()).content.decode()
    assert f"As of {later.day} {later:%B %Y}" in text
    assert f"{later.day} {later:%B %Y}: the day asked about" in text
    assert ": today<" not in text


def test_what_if_asks_of_the_product_it_had_last(puppy):
    """A three-year product before is not suddenly a one-year product."""
    grown = puppy
    grown.patient.birth_date = timezone.localdate() - timedelta(weeks=20)
    grown.patient.save()
    assert "If Rabisal one-year" in look(grown, "rabies").content.decode()
    lot = grown.lot("rabisal-3")
    lot.expires_on = timezone.localdate() + timedelta(300)
    lot.save()
    grown.give("rabisal-3", lot=lot, site="RH-D", now=timezone.now())
    later = timezone.localdate() + timedelta(360)
    assert "If Rabisal three-year" in look(grown, "rabies", on=later.isoformat()).content.decode()


def test_the_page_tells_the_steps_in_order_and_the_notes_apart(puppy):
    """NASPHV 2016 (A): the first booster a year later; rabies is law and differs by place."""
    puppy.patient.birth_date = timezone.localdate() - timedelta(weeks=30)
    puppy.patient.save()
    puppy.give("rabisal-3", site="RH-D", now=timezone.now())
    text = look(puppy, "rabies").content.decode()
    steps, _, rest = text.partition('<ol class="chain">')[2].partition("</ol>")
    said = ["Last dose that counts:", "First dose: booster 12 months later", "This gives: due"]
    at = [steps.index(words) for words in said]
    assert at == sorted(at)
    assert steps.count("<small>") == steps.count("<li>")
    note = "Rabies is law and differs by place"
    assert note not in steps
    assert note in rest.partition("To know besides")[2]


def test_a_day_that_is_none_is_said_and_stays(puppy):
    text = look(puppy, "dog_core:CPV", on="2026-02-31").content.decode()
    assert "A day within ten years" in text
    assert "2026-02-31" in text


@pytest.mark.parametrize("code", ["cat_leukaemia", "nothing"])
def test_another_species_item_is_not_there(puppy, code):
    assert look(puppy, code).status_code == 404


def test_looking_writes_nothing_and_asks_as_much_for_ten_doses_as_for_one(puppy):
    def queries():
        look(puppy, "rabies")
        with CaptureQueriesContext(connection) as asked:
            look(puppy, "rabies")
        return len(asked)

    few = queries()
    for number in range(10):
        actions.record_outside_dose(
            actor=people.Actor.of(puppy.people.clinician),
            now=NOW,
            patient=puppy.patient,
            antigens=["Rabies"],
            given_on=people.TODAY - timedelta(number),
        )
    assert queries() == few
