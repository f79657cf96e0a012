"""One promise from the plan to Today, late, handed to a colleague, and closed by what happened."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from clinic.models import Contact, PlanLine, PromiseStep, Visit
from tests import people
from tests.browser.conftest import bring_session

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
TEXT = "Call with the blood result"


def test_from_the_plan_to_its_end(screen, live_server, house: people.People, visit: Visit) -> None:
    visit.patient.problems.create(title="Thirsty", opened_at=people.NOW, opened_by=house.clinician)
    context = screen()
    bring_session(context, house.clinician, live_server.url)
    page = context.new_page()
    today = timezone.localdate()

    # planned, with a person and a day
    problem = visit.patient.problems.get()
    page.goto(f"/visits/{visit.pk}/plan/?do=line&problem={problem.pk}")
    form = page.locator(f"form[action*='/problems/{problem.pk}/lines/']")
    form.locator("select[name=kind]").select_option("call")
    form.locator("[name=text]").fill(TEXT)
    form.locator("select[name=answerable]").select_option(label=house.clinician.full_name)
    form.locator("[name=due_on]").fill(today.isoformat())
    form.locator("button.button-main").click()
    page.wait_for_load_state()
    line = PlanLine.objects.get()

    # due on Today, and late the days after
    page.goto("/")
    row = page.locator("li", has_text=TEXT)
    expect(row).to_contain_text("today")
    expect(row).to_contain_text("yours")
    PlanLine.objects.filter(pk=line.pk).update(due_on=today - timedelta(days=2))
    page.goto("/")
    expect(row).to_contain_text("late, 2 days")
    expect(row.locator(".is-danger svg")).to_be_visible()

    # handed to a colleague, with a word
    row.get_by_role("link", name=visit.patient.name).click()
    page.get_by_label("To whom").select_option(label=house.colleague.full_name)
    page.get_by_label("A word to them").fill("You know her best")
    page.get_by_role("button", name="Hand it on").click()
    expect(page.get_by_text("You know her best")).to_be_visible()

    # the colleague sees it first, and closes it by the call that was made
    other = screen()
    bring_session(other, house.colleague, live_server.url)
    theirs = other.new_page()
    theirs.goto("/")
    handed = theirs.locator("li", has_text=TEXT)
    expect(handed).to_contain_text("You know her best")
    expect(handed).to_contain_text("yours")
    handed.get_by_role("link", name=visit.patient.name).click()
    theirs.get_by_role("link", name="Note a call or mail that closes it").click()
    theirs.get_by_label("What was said").fill("Kidney values are inside the interval; she was glad.")
    theirs.get_by_label("The owner knows the result now").check()
    theirs.get_by_role("button", name="Note it").dblclick()
    expect(theirs.get_by_role("heading", name="Contacts about")).to_be_visible()
    expect(theirs.get_by_text("Closed a promise: done")).to_be_visible()
    page.goto("/")
    expect(page.get_by_text(TEXT)).to_have_count(0)
    assert Contact.objects.count() == 1
    assert [each.what for each in PromiseStep.objects.order_by("number")] == ["handed", "closed"]
