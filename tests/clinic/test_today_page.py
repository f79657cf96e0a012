"""Today: who must be seen, who waits, what is owed; and it looks again without changing anything."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.models import Visit
from clinic.visits import actions
from tests import people

pytestmark = pytest.mark.django_db
POLL = {"headers": {"HX-Request": "true"}}


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def desk(house: people.People) -> dict:
    """The desk's person, at this very hour: the page asks the clock."""
    return {"actor": house.actor("assistant"), "now": timezone.now()}


@pytest.fixture
def page(client: Client, house: people.People) -> Client:
    client.force_login(house.clinician)
    return client


def came(desk: dict, *names: str, see_now: bool = False, **when) -> list[Visit]:
    owner = people.owner(f"Owner {names[0]}", email=f"{names[0].lower()}@example.com")
    patients = [people.patient(name, of=owner) for name in names]
    arrival = actions.check_in(owner=owner, patients=patients, see_now=see_now, **(desk | when))
    return list(arrival.visits.order_by("pk"))


def seen(page: Client) -> str:
    return page.get(reverse("today")).content.decode()


def test_an_empty_day_says_what_to_do_first(page: Client) -> None:
    text = seen(page)
    assert "Nobody waits" in text
    assert "Someone came in" in text


def test_see_now_stands_before_who_waits(page: Client, desk: dict) -> None:
    came(desk, "Grit")
    came(desk, "Thimble", see_now=True)
    text = seen(page)
    assert text.index("Thimble") < text.index("Grit")
    assert "nobody has it yet" in text


def test_who_has_it_is_said_by_name(page: Client, desk: dict, house: people.People) -> None:
    (visit,) = came(desk, "Thimble", see_now=True)
    page.post(reverse("see-now-take", args=[visit.pk]))
    assert "Dr Maren Oduya has it" in seen(page)


def test_see_now_leaves_the_top_by_two_taps_until_a_clinician_has_it(page: Client, desk: dict) -> None:
    (visit,) = came(desk, "Thimble", see_now=True)
    url = reverse("see-now-withdraw", args=[visit.pk])
    folded = re.findall(r"<details[^>]*>(.*?)</details>", seen(page), re.DOTALL)
    assert [f'action="{url}"' in part for part in folded].count(True) == 1
    assert seen(page).count(url) == 1, "it stands in the fold alone: the first tap only opens it"
    assert page.get(url).status_code == 405, "a link followed by mistake takes nothing off"
    page.post(url)
    assert "nobody has it yet" not in seen(page)
    visit.refresh_from_db()
    assert visit.see_now_at is None

    actions.mark_see_now(visit=visit, **desk)
    page.post(reverse("see-now-take", args=[visit.pk]))
    page.post(url)
    visit.refresh_from_db()
    assert visit.see_now_at, "who has it is not left with an animal that nobody called urgent"


def test_a_household_stands_together_with_its_wait(page: Client, desk: dict) -> None:
    came(desk, "Saffi", "Dot", now=timezone.now() - timedelta(minutes=9))
    text = seen(page)
    assert "one arrival" in text
    assert "9 min waiting" in text


def test_a_long_wait_is_marked_by_word_and_shape(page: Client, desk: dict) -> None:
    came(desk, "Saffi", now=timezone.now() - timedelta(minutes=31))
    assert "wait-long" in seen(page)


def test_gone_home_and_not_signed_is_said(page: Client, desk: dict) -> None:
    (visit,) = came(desk, "Brisket")
    actions.go_home(visit=visit, **desk)
    assert "not signed" in seen(page)


def test_a_record_left_open_yesterday_is_listed(page: Client, desk: dict) -> None:
    yesterday = {"actor": desk["actor"], "now": desk["now"] - timedelta(days=1)}
    (visit,) = came(yesterday, "Juniper")
    actions.go_home(visit=visit, **yesterday)
    text = seen(page)
    assert "Records not signed" in text
    assert "yesterday" in text


def test_booked_and_planned_stand_under_still_to_come(page: Client, desk: dict) -> None:
    noon = timezone.localtime().replace(hour=23, minute=50)
    actions.book(patient=people.patient("Wren"), expected_at=noon, booked_for="cough", **desk)
    actions.plan_next_visit(
        patient=people.patient("Tarn", of=people.owner("Kasimir Holloway", "k@example.com")),
        record=None, on=timezone.localdate(), kind="focused", reason="last vaccine", **desk,
    )  # fmt: skip
    text = seen(page)
    assert "cough" in text
    assert "last vaccine" in text


def test_who_did_not_come_can_be_called(page: Client, desk: dict) -> None:
    actions.book(
        patient=people.patient("Nettle"),
        expected_at=desk["now"] - timedelta(days=1),
        booked_for="eye",
        **desk,
    )
    text = seen(page)
    assert "did not come" in text
    assert "Call 555-0142" in text


def test_a_promise_of_today_is_listed_until_it_is_done(
    page: Client, desk: dict, house: people.People
) -> None:
    record = came(desk, "Pomfret")[0].record
    line = record.plan_lines.create(
        kind="call", text="call with the blood result", due_on=timezone.localdate(),
        answerable=house.clinician, by=house.clinician, at=desk["now"],
    )  # fmt: skip
    assert "call with the blood result" in seen(page)
    line.progress.create(standing="done", by=house.clinician, at=desk["now"])
    assert "call with the blood result" not in seen(page)


def test_a_promise_put_off_is_not_due(page: Client, desk: dict, house: people.People) -> None:
    record = came(desk, "Pomfret")[0].record
    line = record.plan_lines.create(
        kind="call", text="call them", answerable=house.clinician, due_on=timezone.localdate(),
        by=house.clinician, at=desk["now"],
    )  # fmt: skip
    later = timezone.localdate() + timedelta(days=2)
    line.progress.create(standing="advised", due_on=later, by=house.clinician, at=desk["now"])
    assert "call them" not in seen(page)


def test_a_result_nobody_read_is_listed(page: Client, desk: dict, house: people.People) -> None:
    visit = came(desk, "Pomfret")[0]
    test = visit.record.tests.create(
        patient=visit.patient, kind="blood", title="Blood chemistry", ordered_by=house.clinician,
        ordered_at=desk["now"],
    )  # fmt: skip
    result = test.results.create(
        value="7", meaning="high", resulted_at=desk["now"], entered_by=house.technician
    )
    assert "Blood chemistry" in seen(page)
    test.results.filter(pk=result.pk).update(read_by=house.clinician, read_at=desk["now"])
    assert "Blood chemistry" not in seen(page)


def _fill(desk: dict, house: people.People, start: int, count: int) -> None:
    """`count` of everything that Today can show."""
    earlier = {"actor": desk["actor"], "now": desk["now"] - timedelta(days=1)}
    late = timezone.localtime().replace(hour=23, minute=50)
    for number in range(start, start + count):
        here = came(desk, f"Here{number}")[0]
        came(desk, f"Now{number}", see_now=True)
        gone = came(desk, f"Gone{number}")[0]
        actions.go_home(visit=gone, **desk)
        old = came(earlier, f"Old{number}")[0]
        actions.go_home(visit=old, **earlier)
        owner = people.owner(f"Coming {number}", email=f"c{number}@example.com")
        actions.book(patient=people.patient(f"C{number}", of=owner), expected_at=late, booked_for="x", **desk)
        actions.book(
            patient=people.patient(f"M{number}", of=owner), expected_at=earlier["now"], booked_for="x", **desk
        )
        actions.plan_next_visit(
            patient=people.patient(f"P{number}", of=owner), record=None, on=timezone.localdate(),
            kind="focused", reason="ear", **desk,
        )  # fmt: skip
        here.record.plan_lines.create(
            kind="call", text="call", answerable=house.clinician, due_on=timezone.localdate(),
            by=house.clinician, at=desk["now"],
        )  # fmt: skip
        test = here.record.tests.create(
            patient=here.patient, kind="b", title="b", ordered_by=house.clinician, ordered_at=desk["now"]
        )
        test.results.create(value="7", meaning="high", resulted_at=desk["now"], entered_by=house.technician)


def test_twenty_of_everything_need_no_more_queries_than_two(
    page: Client, desk: dict, house: people.People, django_assert_num_queries, django_assert_max_num_queries
) -> None:
    _fill(desk, house, 0, 2)
    with django_assert_max_num_queries(30) as two:
        seen(page)
    for_two = len(two)  # asked now: the next request empties the log it is counted from
    _fill(desk, house, 2, 18)
    seen(page)  # a tablet is noted as in use every 20 seconds: not in what is counted
    with django_assert_num_queries(for_two):
        text = seen(page)
    assert "Here19" in text
    assert "M19" in text


def test_a_poll_that_finds_nothing_new_gets_nothing(page: Client, desk: dict, monkeypatch) -> None:
    from clinic.visits import day
    from clinic.visits.views import today

    fixed = desk["now"].replace(second=10)
    monkeypatch.setattr(today.timezone, "now", lambda: fixed)
    known = day.fingerprint(fixed)
    answer = page.get(reverse("today"), {"seen": known}, **POLL)
    assert (answer.status_code, answer.content) == (204, b"")


@pytest.mark.parametrize("change", ["came", "moved", "see-now", "planned"])
def test_the_fingerprint_changes_with_the_day(desk: dict, change: str) -> None:
    from clinic.visits.day import fingerprint

    now = desk["now"]
    visit = came(desk, "Grit")[0]
    before = fingerprint(now)
    {
        "came": lambda: came(desk, "Dot"),
        "moved": lambda: actions.move(visit=visit, to="with-technician", **desk),
        "see-now": lambda: actions.mark_see_now(visit=visit, **desk),
        "planned": lambda: actions.plan_next_visit(
            patient=visit.patient, record=None, on=timezone.localdate(), kind="focused", reason="x", **desk
        ),
    }[change]()
    assert fingerprint(now) != before


def test_the_fingerprint_is_one_query(desk: dict, django_assert_num_queries) -> None:
    from clinic.visits.day import fingerprint

    with django_assert_num_queries(1):
        fingerprint(desk["now"])


def test_a_poll_gets_only_the_moving_part(page: Client) -> None:
    answer = page.get(reverse("today"), {"seen": "old"}, **POLL)
    assert answer.content.lstrip().startswith(b'<div id="day"')
    assert "HX-Request" in answer["Vary"]


def test_looking_changes_nothing(page: Client, desk: dict) -> None:
    actions.plan_next_visit(
        patient=people.patient(), record=None, on=timezone.localdate(), kind="focused", reason="x", **desk
    )
    seen(page)
    assert Visit.objects.count() == 0


@pytest.mark.parametrize(("role", "status"), [("assistant", 200), ("technician", 200), ("manager", 200)])
def test_all_staff_see_it(client: Client, house: people.People, role: str, status: int) -> None:
    client.force_login(getattr(house, role))
    assert client.get(reverse("today")).status_code == status


def test_a_stranger_is_asked_to_sign_in(client: Client, house: people.People) -> None:
    assert client.get(reverse("today")).status_code == 302


def test_taking_an_animal_leads_to_its_intake(client: Client, desk: dict, house: people.People) -> None:
    visit = came(desk, "Grit")[0]
    client.force_login(house.technician)
    answer = client.post(
        reverse("visit-move", args=[visit.pk]), {"to": "with-technician", "seen": "arrived", "take": "yes"}
    )
    assert answer["Location"] == reverse("visit-intake", args=[visit.pk])


def test_a_tap_on_a_stale_page_says_where_it_is(page: Client, desk: dict, house: people.People) -> None:
    visit = came(desk, "Grit")[0]
    actions.move(visit=visit, to="with-clinician", actor=house.actor("colleague"), now=desk["now"])
    answer = page.post(
        reverse("visit-move", args=[visit.pk]), {"to": "with-technician", "seen": "arrived"}, follow=True
    )
    assert "moved on another tablet meanwhile: with clinician" in answer.content.decode()


def test_an_unknown_visit_is_not_found(page: Client) -> None:
    assert page.post(reverse("visit-move", args=[999]), {"to": "arrived"}).status_code == 404


def test_an_assistant_cannot_say_that_it_died(client: Client, desk: dict, house: people.People) -> None:
    visit = came(desk, "Grit")[0]
    client.force_login(house.assistant)
    answer = client.post(reverse("visit-home", args=[visit.pk]), {"outcome": "died", "seen": "arrived"})
    assert answer.status_code == 422
    assert "A clinician says that" in answer.content.decode()
