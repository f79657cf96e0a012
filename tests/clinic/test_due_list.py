"""Who is overdue for what, who is left out and why, how they are reached. Rules: common practice."""

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from random import Random

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks import actions, listing, narrowing, queries, totals
from clinic.callbacks.models import AskedItem, Asking, ReminderStop
from clinic.callbacks.pages import due_list
from clinic.callbacks.queries import Wanted
from clinic.callbacks.reasons import again_on, left_out_words, over_run, over_words, sentence, waiting_words
from clinic.models import CallBack, LifestyleAnswer, NextVisit, Owner, Patient, Visit
from tests import people

TODAY = people.TODAY


# --- Pure ---------------------------------------------------------------------------------------------------


def test_overdue_begins_the_day_after_it_was_due() -> None:
    """Due on the day, overdue after it: common practice."""
    assert over_words(TODAY, TODAY) == "today"
    assert over_words(TODAY - timedelta(days=1), TODAY) == "1 day"
    assert over_words(TODAY + timedelta(days=12), TODAY) == "in 12 days"
    for due_on, words in (
        (date(2026, 1, 12), "58 days"),
        (date(2026, 1, 11), "2 months"),
        (date(2025, 3, 12), "11 months"),
        (date(2025, 3, 11), "1 year"),
        (date(2025, 2, 11), "1 year 1 month"),
        (date(2024, 3, 12), "1 year 11 months"),
        (date(2024, 3, 11), "2 years"),
        (date(2023, 1, 11), "3 years"),
        (date(2026, 8, 30), "in 5 months"),
    ):
        assert over_words(due_on, TODAY) == words


def test_the_bar_grows_with_the_days_and_ends_with_its_ruler() -> None:
    runs = [over_run(TODAY - timedelta(days=days), TODAY) for days in (-3, 0, 60, 120, 4000)]
    assert runs == [2, 2, 38, 74, 126]


@pytest.mark.parametrize(
    ("outcome", "days"), [("not-reached", 2), ("asked", 30), ("will-call", 14), ("elsewhere", 30)]
)
def test_how_long_they_are_left_in_peace(outcome: str, days: int) -> None:
    """30 days between steps (common practice); the shorter ones are ours."""
    assert again_on(outcome, today=TODAY) == TODAY + timedelta(days=days)
    assert again_on(outcome, today=TODAY, wished=date(2026, 5, 4)) == date(2026, 5, 4)


def test_the_sentence_counts_and_says_why() -> None:
    said = sentence(things=3, patients=2, reach={"mail": 1, "telephone": 1})
    assert said == "3 things are overdue for 2 patients of 2 households: 1 by e-mail and 1 by telephone only."
    assert sentence(things=0, patients=0, reach={}) == "Nobody has to be asked about anything."
    assert left_out_words({"booked": 2, "died": 1}) == ("Left out: 3 things", "(1 died and 2 booked).")
    assert left_out_words({}) == ("", "")
    days = [TODAY, TODAY - timedelta(days=1), TODAY + timedelta(days=2)]
    assert waiting_words(days, today=TODAY) == "3 messages wait: 2 for today, 1 for 13 March"
    assert waiting_words(days[:1], today=TODAY) == "1 message waits"


# --- Rows ---------------------------------------------------------------------------------------------------


@pytest.fixture
def house(db: None) -> people.People:
    people.clinic_details()
    return people.people()


def overdue(
    patient: Patient, *, days: int = 41, label: str = "Rabies vaccine", key: str = "rabies"
) -> CallBack:
    return CallBack.objects.create(
        patient=patient, source="dues", key=key, label=label,
        due_on=TODAY - timedelta(days=days), refreshed_at=people.NOW,
    )  # fmt: skip


@pytest.fixture
def row(house: people.People) -> CallBack:
    return overdue(people.patient())


def asked(row: CallBack, by: people.People, *, outcome: str = "asked", again: date, times: int = 1) -> None:
    owner = row.patient.ownerships.get().owner
    for _ in range(times):
        asking = Asking.objects.create(
            owner=owner, how="call", outcome=outcome, again_on=again, by=by.assistant, at=people.NOW
        )
        AskedItem.objects.create(
            asking=asking, patient=row.patient, source=row.source, key=row.key, label=row.label,
            due_on=row.due_on,
        )  # fmt: skip


def why(row: CallBack) -> str:
    return queries.call_backs(today=TODAY, until=TODAY).get(pk=row.pk).why


def test_somebody_of_whom_nothing_is_known_may_be_asked(row: CallBack) -> None:
    assert why(row) == ""
    (found,) = due_list(Wanted(), after=None, today=TODAY).households
    assert [(line.patient, line.label, line.over, line.left_out) for line in found.lines] == [
        ("Pomfret", "Rabies vaccine", "41 days", None)
    ]


def test_due_today_is_not_overdue(house: people.People) -> None:
    overdue(people.patient(), days=0)
    assert due_list(Wanted(), after=None, today=TODAY).households == ()


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"deceased_on": TODAY, "deceased_how": "died"}, "died"),
        ({"left_practice_on": TODAY}, "moved"),
        ({"made_at": datetime(2020, 1, 1, tzinfo=UTC)}, "inactive"),
    ],
)
def test_left_out_for_what_the_patient_is(row: CallBack, fields: dict, reason: str) -> None:
    """Deceased, transferred, inactive: common practice."""
    Patient.objects.filter(pk=row.patient_id).update(**fields)
    assert why(row) == reason


def test_somebody_seen_within_three_years_is_not_inactive(row: CallBack) -> None:
    Patient.objects.filter(pk=row.patient_id).update(made_at=datetime(2020, 1, 1, tzinfo=UTC))
    Visit.objects.create(
        patient=row.patient, place="gone-home", place_since=people.NOW, made_at=people.NOW,
        arrived_at=people.NOW - timedelta(days=1000),
    )  # fmt: skip
    assert why(row) == ""


def test_left_out_while_a_visit_stands(row: CallBack, house: people.People) -> None:
    visit = Visit.objects.create(
        patient=row.patient, place="expected", place_since=people.NOW, made_at=people.NOW,
        expected_at=people.NOW + timedelta(days=3),
    )  # fmt: skip
    assert why(row) == "booked"
    Visit.objects.filter(pk=visit.pk).update(place="cancelled")
    assert why(row) == ""
    Visit.objects.filter(pk=visit.pk).update(place="arrived", arrived_at=people.NOW)
    assert why(row) == "here"


def test_a_next_visit_counts_until_its_week_is_over(row: CallBack, house: people.People) -> None:
    plan = NextVisit.objects.create(
        patient=row.patient, on=TODAY - timedelta(days=2), week_of=True, kind="focused", reason="weigh",
        by=house.clinician, made_at=people.NOW,
    )  # fmt: skip
    assert why(row) == "booked"  # Monday's week; today is Wednesday
    NextVisit.objects.filter(pk=plan.pk).update(week_of=False)
    assert why(row) == ""


@pytest.mark.parametrize("booked", [True, False])
def test_a_visit_covers_what_is_due_within_a_month_of_it(row: CallBack, house, booked: bool) -> None:
    """A check-up planned for next year says nothing of a booster that is due in three weeks (ours)."""
    if booked:
        visit = Visit.objects.create(
            patient=row.patient, place="expected", place_since=people.NOW, made_at=people.NOW,
            expected_at=people.NOW + timedelta(days=30),
        )  # fmt: skip
    else:
        visit = NextVisit.objects.create(
            patient=row.patient, on=TODAY + timedelta(days=30), kind="full", reason="a year",
            by=house.clinician, made_at=people.NOW,
        )  # fmt: skip
    assert why(row) == "booked"  # it is overdue: a month from today
    later = {"expected_at": people.NOW + timedelta(days=31)} if booked else {"on": TODAY + timedelta(days=31)}
    type(visit).objects.filter(pk=visit.pk).update(**later)
    assert why(row) == ""
    CallBack.objects.filter(pk=row.pk).update(due_on=TODAY + timedelta(days=1))
    assert queries.call_backs(today=TODAY, until=TODAY + timedelta(days=1)).get().why == "booked"


def test_a_stop_is_of_one_thing_or_of_all(row: CallBack, house: people.People) -> None:
    owner = row.patient.ownerships.get().owner
    other = overdue(row.patient, key="exam", label="Yearly examination")
    stop = ReminderStop.objects.create(
        owner=owner, patient=row.patient, source="dues", key="rabies", by=house.manager, at=people.NOW
    )
    assert (why(row), why(other)) == ("stopped-item", "")
    ReminderStop.objects.create(owner=owner, by=house.manager, at=people.NOW)
    assert (why(row), why(other)) == ("stopped", "stopped")
    ReminderStop.objects.filter(patient=None).update(lifted_by=house.manager, lifted_at=people.NOW)
    ReminderStop.objects.filter(pk=stop.pk).update(lifted_by=house.manager, lifted_at=people.NOW)
    assert (why(row), why(other)) == ("", "")


def test_a_stop_goes_with_its_owner_not_with_the_animal(row: CallBack, house: people.People) -> None:
    """The owner changed: common practice."""
    holding = row.patient.ownerships.get()
    ReminderStop.objects.create(owner=holding.owner, by=house.manager, at=people.NOW)
    holding.until, holding.is_first = TODAY, False
    holding.save()
    row.patient.ownerships.create(
        owner=people.owner("Ada Lunt", "ada@example.com"), is_first=True, since=TODAY
    )
    assert why(row) == ""


def test_asked_lately_until_the_day_that_was_agreed(row: CallBack, house: people.People) -> None:
    asked(row, house, again=TODAY + timedelta(days=1))
    assert why(row) == "lately"
    asked(row, house, again=TODAY)  # the newest counts
    assert why(row) == ""


def test_after_three_times_nobody_asks_any_more(row: CallBack, house: people.People) -> None:
    """Stop after 3, common practice; a telephone that nobody answered is not counted."""
    asked(row, house, again=TODAY, outcome="not-reached", times=5)
    asked(row, house, again=TODAY, times=2)
    assert why(row) == ""
    asked(row, house, again=TODAY)
    assert why(row) == "often"


def test_done_elsewhere_stands_for_that_date_alone(row: CallBack, house: people.People) -> None:
    asked(row, house, again=TODAY, outcome="elsewhere")
    assert why(row) == "elsewhere"
    CallBack.objects.filter(pk=row.pk).update(due_on=TODAY - timedelta(days=2))
    assert why(row) == ""


@pytest.mark.parametrize(
    ("fields", "phone", "reach"),
    [
        ({}, True, "mail"),
        ({"email_state": "works"}, False, "mail"),
        ({"email_state": "bounced"}, True, "bounced"),
        ({"letters_by": "paper", "street": "2 Weir Lane"}, True, "paper"),
        ({"letters_by": "paper"}, True, "telephone"),
        ({"email": "", "email_state": "none"}, True, "telephone"),
        ({"email": "", "email_state": "none", "street": "2 Weir Lane"}, False, "paper"),
        ({"email": "", "email_state": "none"}, False, "nothing"),
    ],
)
def test_how_a_household_is_reached(row: CallBack, fields: dict, phone: bool, reach: str) -> None:
    owner = row.patient.ownerships.get().owner
    Owner.objects.filter(pk=owner.pk).update(**fields)
    if not phone:
        owner.phones.all().delete()
    assert queries.call_backs(today=TODAY, until=TODAY).get(pk=row.pk).reach == reach
    assert queries.owners([owner.pk])[owner.pk].reach == reach


# --- The list -----------------------------------------------------------------------------------------------


def names(wanted: Wanted = Wanted(), after: queries.After | None = None) -> list[str]:  # noqa: B008
    return [each.name for each in due_list(wanted, after=after, today=TODAY).households]


def test_one_household_stands_once_with_all_it_has_to_come_for(house: people.People) -> None:
    owner = people.owner()
    overdue(people.patient("Pomfret", of=owner), days=10)
    overdue(people.patient("Grit", of=owner), days=90, label="Heartworm test", key="hw")
    (found,) = due_list(Wanted(over=30), after=None, today=TODAY).households
    assert [line.patient for line in found.lines] == ["Grit", "Pomfret"]


def test_things_of_which_the_same_is_said_stand_on_one_line(house: people.People) -> None:
    patient = people.patient()
    for days, label in ((90, "Heartworm test"), (50, "Rabies vaccine"), (20, "Faecal test")):
        row = overdue(patient, days=days, label=label, key=label)
    asked(row, house, again=TODAY + timedelta(days=9))
    (found,) = due_list(Wanted(), after=None, today=TODAY).households
    assert [(group.labels, group.due) for group in found.groups] == [
        ("Heartworm test; Rabies vaccine", "due 11 December 2025 to 20 January"),
        ("Faecal test", "due 19 February"),
    ]


def test_the_filters(house: people.People) -> None:
    for name, days, label in (
        ("Ada Lunt", 10, "Rabies vaccine"),
        ("Bo Tarn", 50, "Missed visit: nails"),
        ("Cy Ross", 99, "Rabies vaccine"),
    ):
        patient = people.patient(name.split()[0], of=people.owner(name, f"{name[:2].lower()}@example.com"))
        overdue(patient, days=days, label=label)
    Owner.objects.filter(family_name="Tarn").update(email="", email_state="none")
    people.visit_here(Patient.objects.get(name="Cy"), clinician=house.colleague)
    Visit.objects.update(place="gone-home")
    assert names() == ["Cy Ross", "Bo Tarn", "Ada Lunt"]
    assert names(Wanted(what="Missed visit")) == ["Bo Tarn"]
    assert names(Wanted(over=30)) == ["Cy Ross", "Bo Tarn"]
    assert names(Wanted(reach="telephone")) == ["Bo Tarn"]
    assert names(Wanted(clinician=house.colleague.pk)) == ["Cy Ross"]
    assert names(Wanted(clinician=house.clinician.pk)) == []


def test_the_counts_match_the_rows(row: CallBack, house: people.People) -> None:
    dead = overdue(people.patient("Grit", of=people.owner("Ada Lunt", "a@example.com")))
    Patient.objects.filter(pk=dead.patient_id).update(deceased_on=TODAY, deceased_how="died")
    found = queries.counts(queries.overdue(Wanted(), today=TODAY))
    assert found == queries.Counts(1, 1, {"mail": 1}, {"died": 1})
    assert names() == ["Henrike Dovale"]
    assert names(Wanted(why="any")) == names(Wanted(why="died")) == ["Ada Lunt"]


def many(count: int) -> None:
    made = Owner.objects.bulk_create(
        Owner(family_name=f"Tarn {n:04}", email=f"t{n}@example.com", email_state="works", made_at=people.NOW)
        for n in range(count)
    )
    animals = Patient.objects.bulk_create(
        Patient(name=f"Pet {n}", species="dog", sex="male", neutered="yes", made_at=people.NOW)
        for n in range(count)
    )
    holdings = Patient.ownerships.rel.related_model
    holdings.objects.bulk_create(
        holdings(patient=pet, owner=owner, is_first=True, since=TODAY)
        for pet, owner in zip(animals, made, strict=True)
    )
    CallBack.objects.bulk_create(
        CallBack(
            patient=pet, source="dues", key="rabies", label="Rabies vaccine",
            due_on=TODAY - timedelta(days=1 + n % 7), refreshed_at=people.NOW,
        )
        for n, pet in enumerate(animals)
    )  # fmt: skip


FILTERS = [
    Wanted(), Wanted(what="Exam"), Wanted(over=9), Wanted(species="cat"), Wanted(life="boarding"),
    Wanted(asked="0"), Wanted(asked="1"), Wanted(asked="2"), Wanted(why="any"), Wanted(why="died"),
    Wanted(why="stopped"), Wanted(why="lately"), Wanted(reach="bounced"), Wanted(reach="mail", species="cat"),
    Wanted(what="Exam", reach="bounced", why="any"), Wanted(species="cat", life="boarding"),
]  # fmt: skip


@pytest.mark.parametrize("few", [0, 4, 1000])
def test_narrowed_a_list_is_the_same_as_by_looking_at_all(
    few: int, house: people.People, long_run: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By sums that are true, by those that some changes outdated, and without any."""
    monkeypatch.setattr(narrowing, "FEW", few)
    monkeypatch.setattr(queries, "WINDOW", 7)
    monkeypatch.setattr(queries, "PAGE", 5)
    monkeypatch.setattr(listing, "ASKED", 3)
    random = Random(few)
    many(40)

    def change() -> None:
        pets = list(Patient.objects.order_by("pk"))
        for pet in random.sample(pets, 12):
            CallBack.objects.get_or_create(
                patient=pet, source="dues", key="exam",
                defaults={
                    "label": "Exam: yearly", "due_on": TODAY - timedelta(days=random.randrange(1, 30)),
                    "refreshed_at": people.NOW,
                },
            )  # fmt: skip
            LifestyleAnswer.objects.update_or_create(
                patient=pet, code="boarding",
                defaults={
                    "answer": random.choice(["yes", "no"]), "answered_at": people.NOW, "review_on": TODAY,
                    "entered_by": house.clinician,
                },
            )  # fmt: skip
        Patient.objects.filter(pk__in=[each.pk for each in random.sample(pets, 6)]).update(species="cat")
        Patient.objects.filter(pk=random.choice(pets).pk).update(deceased_on=TODAY, deceased_how="died")
        owners = list(Owner.objects.exclude(email="").order_by("pk"))
        Owner.objects.filter(pk=random.choice(owners).pk).update(email_state="bounced")
        actions.stop_reminders(owner=random.choice(owners), actor=house.actor("manager"), now=people.NOW)
        row = random.choice(list(CallBack.objects.all()))
        asking = Asking.objects.create(
            owner=row.patient.ownerships.get().owner, how="call", outcome="asked", at=people.NOW,
            again_on=TODAY + timedelta(days=random.choice([-5, 5])), by=house.assistant,
        )  # fmt: skip
        AskedItem.objects.create(
            asking=asking, patient=row.patient, source=row.source, key=row.key, due_on=row.due_on
        )

    def agree() -> None:
        for wanted in FILTERS if long_run else random.sample(FILTERS, 5):
            rows = queries.shown(queries.overdue(wanted, today=TODAY), wanted.why)
            looked: list[list[int]] = []
            listed: list[list[int]] = []
            after = None
            while not looked or after:
                ids, after = queries.households(rows, until=TODAY, after=after)
                looked.append(ids)
            while not listed or after:
                ids, after = listing.page(wanted, after=after, today=TODAY)
                listed.append(ids)
            assert listed == looked, wanted

    change()
    agree()
    totals.fold(now=people.NOW)
    agree()
    change()
    agree()


def test_every_household_stands_on_one_page(house: people.People) -> None:
    many(60)
    seen: list[str] = []
    after = None
    for _ in range(3):
        rows = queries.shown(queries.overdue(Wanted(), today=TODAY), None)
        ids, more = queries.households(rows, until=TODAY, after=after)
        seen += [str(each) for each in ids]
        after = more
    assert after is None
    assert len(seen) == len(set(seen)) == 60


def test_small_windows_give_the_same_pages_as_one_look_at_all(
    house: people.People, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where a household has several things of different days, on this page and behind it."""
    many(60)
    for n, pet in enumerate(Patient.objects.order_by("pk")[:40]):
        CallBack.objects.create(
            patient=pet, source="dues", key="exam", label="Exam",
            due_on=TODAY - timedelta(days=1 + (n * 5) % 11), refreshed_at=people.NOW,
        )  # fmt: skip
    rows = queries.shown(queries.overdue(Wanted(), today=TODAY), None)

    def pages() -> list[list[int]]:
        found, after = [], None
        while not found or after:
            ids, after = queries.households(rows, until=TODAY, after=after)
            found.append(ids)
        return found

    whole = pages()
    monkeypatch.setattr(queries, "WINDOW", 3)
    assert pages() == whole
    assert len({each for page in whole for each in page}) == sum(map(len, whole)) == 60


def plans_of(asked: Callable[[], object]) -> list[str]:
    """What the database does for each question that is asked."""
    with CaptureQueriesContext(connection) as captured:
        asked()
    plans = []
    for query in captured.captured_queries:
        with connection.cursor() as cursor:
            cursor.execute(f"EXPLAIN {query['sql']}")
            plans.append("\n".join(line for (line,) in cursor.fetchall()))
    return plans


@pytest.mark.parametrize(
    ("what", "index"), [("", "call_back_listed"), ("Rabies vaccine", "call_backs_by_name")]
)
def test_a_page_reads_call_backs_patients_and_owners_by_index(
    what: str, index: str, house: people.People, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However many there are: neither whole tables are read, nor all rows put in order for the first few.

    Of a few hundred rows it is cheaper to read all, whatever there is to look them up by: here it may not.
    """
    many(200)
    monkeypatch.setattr(queries, "WINDOW", 20)
    monkeypatch.setattr(queries, "PAGE", 5)
    # several days of one label among others, so that a day is less than a window
    rows = list(CallBack.objects.order_by("pk"))
    for n, row in enumerate(rows):
        row.due_on, row.label = TODAY - timedelta(days=1 + n), row.label if n % 3 else "Exam"
    CallBack.objects.bulk_update(rows, ["due_on", "label"])
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE clinic_callback, clinic_patient, clinic_ownership")
        cursor.execute("SET LOCAL enable_seqscan = off")
        cursor.execute("SET LOCAL enable_hashjoin = off")
    listed = queries.shown(queries.overdue(Wanted(what=what), today=TODAY), None)
    near, window = plans_of(lambda: queries.households(listed, until=TODAY - timedelta(days=1), what=what))
    assert f"Index Scan using {index}" in near or f"Index Only Scan using {index}" in near
    assert "Sort" not in near
    for table in ("clinic_callback", "clinic_patient", "clinic_ownership"):
        assert f"Seq Scan on {table}" not in near + window
        assert re.search(rf"Index (Only )?Scan using \w+ on {table}", window), window


def test_hardly_more_queries_for_2000_households_than_for_20(client: Client, house: people.People) -> None:
    client.force_login(house.manager)
    taken = []
    for count in (20, 1980):
        many_from = Owner.objects.count()
        many(count)
        assert Owner.objects.count() == many_from + count
        with CaptureQueriesContext(
            connection,
        ) as made:
            page = client.get(reverse("due-list"))
        assert page.status_code == 200
        taken.append(len(made))
        shown = page.context["page"]
        assert (*shown.at_once, *shown.folded) == shown.households
        assert f"{len(shown.folded)} more households" in page.content.decode()
        Owner.objects.filter(family_name__startswith="Tarn").update(family_name="Ross")
    assert taken[0] <= taken[1] <= taken[0] + 1 <= 25, taken  # one more where they are many


# --- The page -----------------------------------------------------------------------------------------------


def test_the_page_shows_whom_to_call_and_why_not(client: Client, house: people.People) -> None:
    today = timezone.localdate()
    owner = people.owner()
    for name, key in (("Pomfret", "rabies"), ("Grit", "exam")):
        CallBack.objects.create(
            patient=people.patient(name, of=owner), source="dues", key=key, label=key,
            due_on=today - timedelta(days=33), refreshed_at=people.NOW,
        )  # fmt: skip
    grit = Patient.objects.get(name="Grit")
    at = timezone.make_aware(datetime.combine(today + timedelta(days=1), time(9, 30)))
    Visit.objects.create(
        patient=grit, place="expected", place_since=people.NOW, made_at=people.NOW, expected_at=at
    )
    CallBack.objects.create(
        patient=Patient.objects.get(name="Pomfret"), source="dues", key="teeth", label="teeth", never=True,
        due_on=today - timedelta(days=20), refreshed_at=people.NOW,
    )  # fmt: skip
    client.force_login(house.assistant)
    text = client.get(reverse("due-list")).content.decode()
    assert "2 things are overdue for 1 patient of 1 household: 1 by e-mail." in text
    assert re.findall(r'<th scope="row">(<a|<span class="vh">)', text).count("<a") == 2, (
        "each animal named once"
    )
    assert "tel:5550142" in text
    assert "booked, " in text
    assert ", 09:30" in text


def test_a_filter_or_a_page_that_is_none_shows_the_list(
    client: Client, row: CallBack, house: people.People
) -> None:
    client.force_login(house.manager)
    for query in ("after=nonsense", "over=x&what=none&reach=7&clinician=z&why=y", "after=2026-03-01.x"):
        assert client.get(f"{reverse('due-list')}?{query}").status_code == 200


def test_an_empty_list_says_what_fills_it(client: Client, house: people.People) -> None:
    client.force_login(house.manager)
    assert "Nothing is overdue" in client.get(reverse("due-list")).content.decode()
    assert "No household fits" in client.get(f"{reverse('due-list')}?over=30").content.decode()
