"""Plans that ask by letter or by telephone: nothing is mailed, and a person finds it on a list until done."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks import actions, pages, posting, queries, reminder_actions, reminder_pages, reminding
from clinic.callbacks.by_hand import steps_in_force
from clinic.callbacks.manager_models import DueTotals
from clinic.callbacks.models import Asking, CallBack
from clinic.callbacks.reminder_models import AskingPlan, HouseholdReminder, ReminderItem, ReminderSettings
from clinic.callbacks.still_true import take_out
from clinic.models import Owner, Patient
from tests import people
from tests.clinic.test_reminders import due, house, plan  # noqa: F401 - `house` is a fixture

pytestmark = pytest.mark.django_db
TODAY, NOW = people.TODAY, people.NOW


def of_its_own(house, way: str, days=(-7, 3)) -> AskingPlan:  # noqa: F811
    made = reminder_actions.propose_plan(
        what="Rabies vaccine",
        way=way,
        days=list(days),
        series_days=[-1],
        actor=house.actor("manager"),
        now=NOW,
    )
    reminder_actions.approve_plan(plan=made, actor=house.actor("manager"), now=NOW)
    return made


def called(today) -> list[str]:
    return [each.name for each in pages.calls_of_plans(today=today)[0]]


def test_by_telephone_it_stands_on_the_list_from_each_step_on_until_somebody_called(house) -> None:  # noqa: F811
    row = due(people.patient(), days=-7)
    of_its_own(house, "call")
    assert plan() == 0  # the plan for all would have written 30 days before: this kind has its own
    assert called(TODAY - timedelta(days=1)) == []
    assert called(TODAY) == called(TODAY + timedelta(days=6)) == ["Henrike Dovale"]
    (house_,), more = pages.calls_of_plans(today=TODAY)
    assert (house_.lines[0].label, house_.lines[0].is_over, more) == ("Rabies vaccine", False, False)
    facts = {"owner": Owner.objects.get(), "rows": [row], "how": "call", "actor": house.actor("assistant")}
    actions.note_asking(outcome="not-reached", now=NOW, **facts)
    assert called(TODAY + timedelta(days=2)) == ["Henrike Dovale"]  # nobody heard it
    actions.note_asking(outcome="asked", again=TODAY + timedelta(days=5), now=NOW, **facts)
    assert called(TODAY + timedelta(days=6)) == []
    assert called(TODAY + timedelta(days=10)) == ["Henrike Dovale"]  # three days after it was due
    assert called(TODAY + timedelta(days=25)) == []  # two weeks late: nobody catches up with it


def test_by_letter_it_is_printed_also_for_whom_an_e_mail_reaches(house) -> None:  # noqa: F811
    due(people.patient(), days=-7)
    Owner.objects.update(street="3 Mill Row")
    due(people.patient("Grit", of=people.owner("No Street", "n@example.com")), days=-7)
    assert posting.how_many(plans=steps_in_force(), today=TODAY) == 0
    proposed = of_its_own(house, "letter")
    assert [each.owner for each in reminder_pages.preview(proposed, today=TODAY)[1]] == ["Henrike Dovale"]
    assert posting.how_many(plans=steps_in_force(), today=TODAY) == 1
    (letter,) = posting.letters_by_post(today=TODAY)
    assert letter.about == ("Pomfret: Rabies vaccine",)
    posting.print_letters(owner_ids=[letter.owner_id], actor=house.actor("assistant"), now=NOW)
    assert Asking.objects.get().how == "letter"
    assert posting.how_many(plans=steps_in_force(), today=TODAY) == 0
    assert plan() == 0


def test_what_waits_as_a_mail_falls_when_its_kind_is_asked_about_in_another_way(house) -> None:  # noqa: F811
    due(people.patient())
    plan()
    of_its_own(house, "call")
    reminder = HouseholdReminder.objects.get()
    assert take_out(reminder, now=NOW) == []
    assert ReminderItem.objects.get(skipped=False).fell == "asked about by telephone now"


def test_a_plan_for_all_is_shown_without_what_has_a_plan_of_its_own(house) -> None:  # noqa: F811
    owner = people.owner()
    due(people.patient(of=owner))
    due(people.patient("Grit", of=people.owner("Ada Lunt", "ada@example.com")), key="x", label="Stool sample")
    of_its_own(house, "mail", days=(0,))
    anew = reminder_actions.propose_plan(
        what="", days=[0], series_days=[-1], actor=house.actor("manager"), now=NOW
    )
    assert [each.owner for each in reminder_pages.preview(anew, today=TODAY)[1]] == ["Ada Lunt"]


def test_the_page_lists_whom_to_call_and_a_change_begins_as_the_plan_stands(house, client: Client) -> None:  # noqa: F811
    today = timezone.localdate()
    CallBack.objects.create(
        patient=people.patient(), source="dues", key="rabies", label="Rabies vaccine",
        due_on=today + timedelta(days=7), refreshed_at=NOW,
    )  # fmt: skip
    made = of_its_own(house, "call")
    client.force_login(house.manager)
    assert "By telephone, as planned: 1" in client.get(reverse("due-list")).content.decode()
    text = client.get(reverse("due-calls"), {"of": "plans"}).content.decode()
    assert "Rabies vaccine, due " in text
    text = client.get(reverse("due-plans"), {"like": made.pk}).content.decode()
    assert '<option value="call" selected>' in text
    assert 'value="-7, 3"' in text


def test_after_how_long_an_animal_is_asked_about_no_more_is_the_clinic_s(house) -> None:  # noqa: F811
    row = due(people.patient(), days=9)
    Patient.objects.update(made_at=NOW - timedelta(days=800))

    def why() -> str:
        return queries.call_backs(today=TODAY, until=TODAY).get(pk=row.pk).why

    assert why() == ""  # 36 months, common practice
    DueTotals.objects.create(pk=1, day=TODAY, made_at=NOW)
    hours = ReminderSettings.objects.get()
    reminder_actions.change_settings(
        rehearsal=False, inactive_months=24, sends_at=hours.sends_at, quiet_from=hours.quiet_from,
        quiet_until=hours.quiet_until, quiet_days=[], actor=house.actor("manager"), now=NOW,
    )  # fmt: skip
    assert why() == "inactive"
    assert not DueTotals.objects.exists()  # its sums are not true any more
    ReminderSettings.objects.all().delete()
    assert why() == ""
    assert reminding.plan_batch(after=0, today=TODAY, now=NOW).asked == 0  # a new house rehearses
