"""Which step is due, when messages leave, what a reminder says. No database."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.callbacks import composing, planning
from clinic.callbacks.plan_words import PlanWords
from clinic.callbacks.planning import Hours, Item, Steps, asked_today, leaves_at, not_quiet, step_today
from clinic.callbacks.reminder_words import by_animal
from clinic.owner_page.texts import every

TODAY = date(2026, 3, 11)
ALL = Steps("", (-30, 0, 30), (-7, -1))
HOURS = Hours(time(17), time(20), time(8), frozenset({6}))
MADRID = ZoneInfo("Europe/Madrid")


def item(due_on: date, label: str = "Rabies vaccine", *, soon: bool = False) -> Item:
    return Item(1, "dues", "rabies", label, due_on, soon)


def test_each_day_of_a_plan_asks_once() -> None:
    taken: set[int] = set()
    asked = []
    for number in range(-60, 120):
        found = step_today(item(TODAY), ALL.days, taken=taken, today=TODAY + timedelta(days=number))
        if found:
            taken |= {found.step, *found.skipped}
            asked.append((number, found.step))
    assert asked == [(-30, -30), (0, 0), (30, 30)]


def test_after_a_weekend_off_the_newest_step_asks_and_the_older_is_skipped() -> None:
    due = TODAY + timedelta(days=1)
    found = step_today(item(due), (-7, -1, 0), taken=set(), today=due + timedelta(days=1))
    assert found
    assert (found.step, found.skipped) == (0, (-7, -1))


def test_what_was_missed_for_long_is_not_caught_up_with() -> None:
    """A plan that is approved today does not write to everybody who was due in the last years."""
    assert step_today(item(TODAY), (0,), taken=set(), today=TODAY + timedelta(days=14))
    assert step_today(item(TODAY), (0,), taken=set(), today=TODAY + timedelta(days=15)) is None


def test_a_kind_has_its_own_plan_and_a_series_its_own_days() -> None:
    own = Steps("Rabies vaccine", (-60,), (-2,))
    assert planning.plan_for(item(TODAY, "Rabies vaccine: three years"), [ALL, own]) is own
    assert planning.plan_for(item(TODAY, "Stool sample"), [ALL, own]) is ALL
    (asked,) = asked_today(
        [item(TODAY + timedelta(days=7), "Core vaccine", soon=True)], [ALL, own], taken={}, today=TODAY
    )
    assert asked.step == -7


@pytest.mark.parametrize(
    ("days", "said"),
    [((), "at least"), ((1, 2, 3, 4), "At most 3"), ((1, 1), "twice"), ((400,), "365"), ((-30, 0, 30), "")],
)
def test_what_a_plan_may_be(days: tuple[int, ...], said: str) -> None:
    wrong = planning.wrong_days(days)
    assert said in wrong if said else wrong == ""


steps = st.lists(st.integers(-90, 90), min_size=1, max_size=3, unique=True).map(tuple)


@given(
    days=steps,
    series=steps,
    dues=st.lists(st.tuples(st.integers(1, 3), st.integers(0, 400), st.booleans()), max_size=8),
    awake=st.lists(st.booleans(), min_size=420, max_size=420),
)
def test_over_a_year_no_step_twice_at_most_three_and_never_too_early(days, series, dues, awake) -> None:
    """Whatever days the machine is off: no key twice, at most three for a due date, none before its day."""
    plan = Steps("", days, series)
    start = date(2025, 1, 1)
    things = [
        Item(patient, "dues", f"k{number}", "x", start + timedelta(days=due), is_series)
        for number, (patient, due, is_series) in enumerate(dues)
    ]
    taken: dict = {}
    sent = []
    for number, on in enumerate(awake):
        today = start + timedelta(days=number)
        for asked in asked_today(things, [plan], taken=taken, today=today) if on else ():
            assert today >= asked.item.due_on + timedelta(days=asked.step)
            assert asked.step in plan.of(asked.item)
            taken.setdefault(asked.item.once, set()).update({asked.step, *asked.skipped})
            sent.append((asked.item.once, asked.step))
    assert len(sent) == len(set(sent))
    assert all(sum(once == each.once for once, _ in sent) <= 3 for each in things)


# --- Hours --------------------------------------------------------------------------------------------------


def at(*clock: int, zone: ZoneInfo = MADRID) -> datetime:
    return datetime(*clock, tzinfo=zone)  # type: ignore[arg-type]


def test_messages_leave_at_the_hour_or_now_and_not_in_quiet_hours() -> None:
    assert leaves_at(at(2026, 3, 11, 4), HOURS, MADRID) == at(2026, 3, 11, 17)
    assert leaves_at(at(2026, 3, 11, 18), HOURS, MADRID) == at(2026, 3, 11, 18)
    assert leaves_at(at(2026, 3, 11, 21), HOURS, MADRID) is None
    assert leaves_at(at(2026, 3, 15, 9), HOURS, MADRID) is None  # a Sunday
    assert not_quiet(at(2026, 3, 14, 21), HOURS, MADRID) == at(2026, 3, 16, 8)


def test_the_hour_is_the_clinic_s_across_the_change_of_clocks() -> None:
    early = Hours(time(2, 30), time(22), time(1), frozenset())
    spring, autumn = date(2026, 3, 29), date(2026, 10, 25)
    for day in (spring, autumn):
        before = leaves_at(
            at(day.year, day.month, day.day, 0),
            HOURS.__class__(time(17), time(20), time(8), frozenset()),
            MADRID,
        )
        assert before
        assert (before.hour, before.date()) == (17, day)
    missing = leaves_at(at(2026, 3, 29, 1), early, MADRID)
    assert missing
    assert (missing.hour, missing.minute) == (3, 30)
    twice = leaves_at(at(2026, 10, 25, 1), early, MADRID)
    assert twice
    assert twice.astimezone(UTC).hour == 0


@given(
    moment=st.datetimes(datetime(2025, 1, 1), datetime(2027, 1, 1), timezones=st.just(UTC)),
    start=st.integers(0, 23),
    end=st.integers(0, 23),
    quiet_days=st.frozensets(st.integers(0, 6), max_size=6),
    zone=st.sampled_from(["Europe/Madrid", "America/New_York", "Australia/Lord_Howe", "UTC"]),
)
def test_nothing_leaves_in_quiet_hours_in_any_zone(moment, start, end, quiet_days, zone) -> None:
    hours = Hours(time(end), time(start), time(end), quiet_days)
    there = ZoneInfo(zone)
    when = not_quiet(moment, hours, there)
    assert when >= moment
    assert not hours.quiet(when.astimezone(there))
    assert when - moment <= timedelta(days=8)


# --- Words --------------------------------------------------------------------------------------------------


def written(country: str = "GB", link: str = "", answer: str = "", language: str = "en") -> composing.Written:
    return composing.write(
        to="Henrike Dovale",
        about=[
            composing.About(
                "Pomfret", "Rabies vaccine <3 years>", TODAY - timedelta(days=3), "", "Be quick."
            ),
            composing.About(
                "Grit", "Stool sample", TODAY + timedelta(days=9), "There is time for {animals}."
            ),
        ],
        sender=composing.Sender("Quillwater", "4 Weir Lane, Quillwater", "555-0100", country),
        ways=composing.Ways("desk@quillwater.example", link, answer),
        language=language,
        today=TODAY,
    )


def test_one_message_names_all_animals_and_things_and_how_to_answer_and_stop() -> None:
    told = written()
    assert told.subject == "A reminder for Pomfret and Grit"
    for words in (
        "Pomfret: Rabies vaccine <3 years>, was due on 8 March 2026",
        "Grit: Stool sample, due on 20 March 2026",
        "call us to agree on a day: 555-0100", "4 Weir Lane", "desk@quillwater.example with the word “stop”",
        "There is time for Pomfret and Grit.", "Be quick.",
        "You still get our letters, results and safety warnings",
    ):  # fmt: skip
        assert words in told.body
    assert "&lt;3 years&gt;" in told.html
    assert "<3 years>" not in told.html


def test_only_where_it_is_commercial_it_says_that_it_is_an_advertisement() -> None:
    """US CAN-SPAM, 15 USC 7704(a)(5); a neutral service message elsewhere (UK PECR, reg. 22)."""
    assert "advertisement" in written("US").body
    assert "advertisement" not in written("GB").body


def test_in_spanish_nothing_but_names_is_english() -> None:
    told = written("US", "https://letters.example/s", "https://letters.example/l/x", "es")
    assert told.subject == "Un aviso para Pomfret y Grit"
    for words in ("tocaba el 8 de marzo de 2026", "Conteste", "publicidad", "Para no recibir más avisos"):
        assert words in told.body + told.html
    assert not {"the", "your", "you", "please"} & set(told.body.lower().split())
    assert '<html lang="es">' in told.html


@pytest.mark.parametrize("language", sorted(every()))
def test_what_was_never_recorded_is_not_said_to_have_been_due_on_a_day(language: str) -> None:
    told = composing.write(
        to="Henrike Dovale",
        about=[
            composing.About("Pomfret", label, TODAY - timedelta(days=3000), never=True)
            for label in ("Rabies vaccine", "Exam")
        ],
        sender=composing.Sender("Quillwater", "4 Weir Lane", "555-0100", "GB"),
        ways=composing.Ways("desk@quillwater.example"),
        language=language,
        today=TODAY,
    )
    assert f"Pomfret, {every()[language].reminder['never']}: Rabies vaccine; Exam\n" in told.body
    assert "2017" not in told.body


def test_what_is_said_of_one_animal_stands_together() -> None:
    said = [("Pomfret", "Rabies"), ("Grit", "Exam"), ("Pomfret", "Faecal test")]
    assert by_animal(said) == ("Pomfret: Rabies; Faecal test", "Grit: Exam")


def test_the_page_s_button_has_words_and_its_stop_link_is_one() -> None:
    told = written("GB", "https://letters.example/s", "https://letters.example/l/x")
    assert ">Answer us here</a>" in told.html
    assert 'href="https://letters.example/s"' in told.html


@pytest.mark.parametrize(
    ("text", "right"),
    [("For {animals}.", True), ("Call {phone}, {owner}.", True), ("", True), ("For {pet}.", False),
     ("{", False), ("{animals!r}", False), ("{clinic.name}", False),
     ("{animals:>99999}", False), ("{}", False)],
)  # fmt: skip
def test_a_plan_s_words_hold_only_what_can_be_put_in(text: str, right: bool) -> None:
    assert (composing.wrong_words(text) == "") is right


def test_words_are_of_the_thing_s_own_plan_and_never_in_a_language_not_the_owner_s() -> None:
    words = PlanWords({"": {"en": ("a", "b")}, "Rabies": {"en": ("c", "d"), "es": ("e", "")}})
    assert words.of("Rabies: 3 years", "en") == ("c", "d")
    assert words.of("Rabies", "es") == ("e", "")
    assert words.of("Stool", "en") == ("a", "b")
    assert words.of("Stool", "es")[0].startswith("Aún hay tiempo")
    assert PlanWords({}).of("Stool", "es") == ("", "")
