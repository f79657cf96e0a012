"""Did asking help, and the due list as a file."""

import csv
import io
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from clinic.callbacks.export import safe
from clinic.callbacks.helped import NARROW, WIDE, Share, plot
from clinic.callbacks.helped_queries import count_lately, helped, lately
from clinic.callbacks.manager_models import Unasked
from clinic.callbacks.models import AskedItem, Asking, AskingTakenBack
from clinic.models import CallBack, Visit
from tests import people


@pytest.mark.parametrize(
    ("came", "asked", "low", "high"),
    [(0, 10, 0.0, 0.2775), (5, 10, 0.2366, 0.7634), (81, 263, 0.2553, 0.3662)],
)
def test_the_interval_is_wilson_s(came: int, asked: int, low: float, high: float) -> None:
    """81 of 263: Newcombe, R. G. (1998), Stat. Med. 17: 857-872, from memory; the others by hand."""
    assert Share(came, asked).interval == pytest.approx((low, high), abs=5e-4)


@given(asked=st.integers(1, 5000), part=st.floats(0, 1))
def test_the_interval_holds_the_share_and_stays_between_none_and_all(asked: int, part: float) -> None:
    share = Share(round(part * asked), asked)
    low, high = share.interval
    assert 0 <= low <= share.came / asked + 1e-9
    assert share.came / asked <= high + 1e-9 <= 1 + 1e-9


@given(st.text())
def test_no_cell_is_run_by_a_spreadsheet(text: str) -> None:
    assert not safe(text).lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r"))
    assert safe(text).endswith(text)


@pytest.mark.django_db
def test_who_came_in_time_counts_once_an_asking() -> None:
    house, now = people.people(), people.NOW
    for number, (days_later, ago) in enumerate([(10, 200), (61, 200), (None, 200), (5, 20)]):
        patient = people.patient(f"P{number}", of=people.owner(f"A B{number}", f"b{number}@example.com"))
        at = now - timedelta(days=ago)
        asking = Asking.objects.create(
            owner=patient.ownerships.get().owner, how="mail", outcome="asked", again_on=now.date(), at=at,
            by=house.manager,
        )  # fmt: skip
        for key in ("a", "b"):
            AskedItem.objects.create(
                asking=asking, patient=patient, source="dues", key=key, label=key, due_on=at.date()
            )
        if days_later:
            Visit.objects.create(
                patient=patient, place="gone-home", place_since=now, made_at=now,
                arrived_at=at + timedelta(days=days_later),
            )  # fmt: skip
    (row,) = helped(now=now).asked
    assert (row.how, row.when) == ("by e-mail", "on the day")
    assert (row.share.came, row.share.asked) == (1, 3)
    (row,) = helped(now=now, within=timedelta(days=90)).asked
    assert (row.share.came, row.share.asked) == (2, 3)
    AskingTakenBack.objects.create(asking=Asking.objects.earliest("pk"), by=house.manager, at=now)
    (row,) = helped(now=now).asked
    assert (row.share.came, row.share.asked) == (0, 2)


@pytest.mark.django_db
def test_what_became_of_those_asked_lately_is_counted_once_a_day_by_household() -> None:
    house, now = people.people(), people.NOW
    assert lately() is None
    for number, (ago, came, booked) in enumerate(
        [(9, True, True), (9, False, True), (9, False, False), (61, True, False)]
    ):
        patient = people.patient(f"P{number}", of=people.owner(f"A B{number}", f"b{number}@example.com"))
        at = now - timedelta(days=ago)
        for outcome in ("asked", "not-reached") if number else ("asked",):
            asking = Asking.objects.create(
                owner=patient.ownerships.get().owner, how="mail", outcome=outcome, again_on=now.date(), at=at,
                by=house.manager,
            )  # fmt: skip
            for key in ("a", "b"):
                asking.items.create(patient=patient, source="dues", key=key, label=key, due_on=at.date())
        if came:
            Visit.objects.create(
                patient=patient, place="gone-home", place_since=now, made_at=now,
                arrived_at=at + timedelta(days=1),
            )  # fmt: skip
        if booked:
            Visit.objects.create(
                patient=patient, place="expected", place_since=now, made_at=now,
                expected_at=now + timedelta(days=3),
            )  # fmt: skip
    for _again in range(2):
        count_lately(now=now)
    found = lately()
    assert found is not None
    assert (found.asked, found.came, found.booked, found.neither) == (3, 1, 1, 1)
    assert (found.came_to, found.booked_to, found.width) == (80, 160, 240)


@pytest.mark.django_db
def test_the_due_and_not_asked_stand_beside_and_texts_apart() -> None:
    """What was asked about after all within the days is no longer unasked."""
    house, now = people.people(), people.NOW
    at = now - timedelta(days=200)
    for number, (why, came, asked_too) in enumerate(
        [("held-out", True, False), ("held-out", False, False), ("no-mail", False, True)]
    ):
        patient = people.patient(f"P{number}", of=people.owner(f"A B{number}", f"b{number}@example.com"))
        owner = patient.ownerships.get().owner
        thing = {"patient": patient, "source": "dues", "key": "k", "label": "Exam", "due_on": at.date()}
        for step in (-30, 0):  # one thing, though it is noted at each step
            Unasked.objects.create(owner=owner, step=step, why=why, at=at, **thing)
        if asked_too:
            asking = Asking.objects.create(
                owner=owner, how="mail", outcome="asked", again_on=now.date(), text="Kind words.",
                at=at + timedelta(days=5), by=house.manager,
            )  # fmt: skip
            AskedItem.objects.create(asking=asking, **thing)
        if came:
            Visit.objects.create(
                patient=patient, place="gone-home", place_since=now, made_at=now,
                arrived_at=at + timedelta(days=9),
            )  # fmt: skip
    found = helped(now=now)
    (held,) = found.unasked
    assert (held.when, held.share.came, held.share.asked) == ("held out by lot", 1, 2)
    (text,) = found.texts
    assert (text.when, text.share.asked) == ("Kind words.", 1)
    for sheet in (WIDE, NARROW):
        drawn = plot([*found.asked, *found.unasked], sheet)
        assert [row.unasked for row in drawn.rows] == [False, True]
        assert "held out by lot: 50 in 100" in drawn.said
        assert all(sheet.left <= row.low <= row.at <= row.high <= drawn.width for row in drawn.rows)
        assert all(0 < row.words_at[1] <= row.y + 5 < drawn.height for row in drawn.rows)


@pytest.mark.django_db
def test_the_file_has_the_list_s_rows_and_no_formulas() -> None:
    people.clinic_details()
    patient = people.patient("=1+1")
    CallBack.objects.create(
        patient=patient, source="dues", key="rabies", label="Rabies vaccine", refreshed_at=people.NOW,
        due_on=timezone.localdate() - timedelta(days=3),
    )  # fmt: skip
    client = Client()
    client.force_login(people.people().manager)
    answer = client.get(reverse("due-file"))
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    heads, row = csv.reader(io.StringIO(text))
    assert dict(zip(heads, row, strict=True)) == {
        "Household": "Henrike Dovale", "Patient": "'=1+1", "What": "Rabies vaccine",
        "Due on": (timezone.localdate() - timedelta(days=3)).isoformat(), "Reached": "e-mail",
        "E-mail": "henrike@example.com", "Telephone": "555-0142", "Left out": "", "Asked last": "",
    }  # fmt: skip
