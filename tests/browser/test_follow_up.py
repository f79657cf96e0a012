"""What follows from an exam, in the browser: a sore ear to its recheck, a late result, a declined test."""

import io
import re
from datetime import timedelta

import pytest
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Page, expect

from clinic.care import actions
from clinic.models import Letter, Medicine, Message, PlanLine, Problem, ResultFile, TestResult, Visit
from clinic.promises.queries import open_promises
from clinic.visits.actions import sign
from tests import people
from tests.browser.conftest import PHONE, Opens, bring_session, give_pin

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def now():
    return timezone.now()


def about(what: str, whom: str) -> re.Pattern[str]:
    """A link's name with what it is about; a browser may read a blank before the colon."""
    return re.compile(rf"^{re.escape(what)} ?: {re.escape(whom)}")


def as_somebody(screen: Opens, live_server, staff, *size) -> Page:
    context = screen(*size)
    bring_session(context, staff, live_server.url)
    return context.new_page()


def seen_earlier(house: people.People, days: int, **fields: object) -> tuple[Visit, dict]:
    """A visit by telephone of `days` ago, and who acts in it when."""
    then = timezone.now() - timedelta(days=days)
    visit = people.visit_here(clinician=house.clinician, kind="telephone", **fields)
    Visit.objects.filter(pk=visit.pk).update(arrived_at=then)
    record = visit.record
    record.opened_at, record.no_weight_reason, record.no_bcs_reason = then, "by telephone", "by telephone"
    record.save()
    return visit, {"actor": house.actor("clinician"), "now": then}


@pytest.fixture(autouse=True)
def a_refused_form_is_no_fault(request, muttered: list[str]):
    """What a guard or a field asks is answered 422, which the browser notes as well."""
    yield
    muttered[:] = [each for each in muttered if "422" not in each]


def gone(visit: Visit) -> None:
    Visit.objects.filter(pk=visit.pk).update(place="home", gone_at=timezone.now())


def test_a_sore_ear_from_the_sample_to_the_recheck(screen, live_server, house: people.People, now) -> None:
    visit = people.visit_here(clinician=house.clinician)
    page = as_somebody(screen, live_server, house.clinician)
    page.goto(f"/visits/{visit.pk}/plan/")
    page.get_by_label("What to call it").fill("Red left ear")
    page.get_by_role("button", name="Open a problem").click()
    page.get_by_label("Assessment", exact=True).fill("Otitis externa")
    page.get_by_role("button", name="Record the assessment").click()

    # the sample, in two taps
    page.get_by_role("link", name=re.compile("^Test +for Red left ear")).click()
    page.get_by_role("button", name="Ear sample, left ear").click()
    page.get_by_role("group", name=about("Result", "Ear sample, left ear")).get_by_role(
        "button", name="yeast", exact=True
    ).click()
    expect(page.get_by_text("yeast: positive")).to_be_visible()

    # drops behind a drum that nobody saw whole: asked, and answered with a reason
    page.get_by_role("link", name=re.compile("^Medicine +for Red left ear")).click()
    page.get_by_label("Medicine", exact=True).fill("Millrace ear drops")
    page.get_by_label("Active ingredients").fill("miconazole")
    page.get_by_label("Strength").fill("10 mg in 1 ml")
    page.get_by_label("How much each time").fill("5 drops")
    page.get_by_label("Route").select_option("into the ear")
    page.get_by_role("group", name="Side").locator("label", has_text="left").click()
    page.get_by_label("How often").fill("morning and evening for 7 days")
    page.get_by_label("What it is for").fill("yeast in the left ear")
    page.get_by_role("button", name="Record the medicine").click()
    page.get_by_label("Your reason to go on").fill("Drum seen whole after cleaning.")
    page.get_by_role("button", name="Record it with these reasons").click()
    expect(page.get_by_text("Drum seen whole after cleaning.")).to_be_visible()

    # who looks again, and when
    page.get_by_role("link", name=re.compile("^Plan +for Red left ear")).click()
    page.get_by_label("What is to be done").fill("Look into the ear again")
    page.get_by_label("By when").fill((now + timedelta(days=8)).date().isoformat())
    page.get_by_role("button", name="Put it on the plan").click()
    expect(page.get_by_text("Look into the ear again").first).to_be_visible()
    gone(visit)

    # eight days later
    again = people.visit_here(visit.patient, clinician=house.clinician)
    page.goto(f"/visits/{again.pk}/plan/")
    page.get_by_role("link", name=about("what became of it", "Look into the ear again")).click()
    page.get_by_label("What became of it").select_option("done")
    page.get_by_label("In a few words").fill("canal pale, drum whole")
    page.get_by_role("button", name="Record it").click()
    page.get_by_role("link", name=re.compile("^Close +Red left ear")).click()
    page.get_by_label("Why it is closed").fill("healed")
    page.get_by_role("button", name="Close “Red left ear”").click()
    page.get_by_role("link", name="Red left ear", exact=True).click()
    told = page.locator(".events")
    for words in ("Otitis externa", "yeast (positive)", "5 drops into the left ear", "canal pale", "healed"):
        expect(told).to_contain_text(words)
    assert Problem.objects.get().closed_reason == "healed"
    assert Medicine.objects.get().answers[0]["reason"] == "Drum seen whole after cleaning."


def test_an_old_cats_blood_comes_two_days_later(screen, live_server, house: people.People) -> None:
    give_pin(house.clinician)
    visit, then = seen_earlier(house, 2)
    problem = actions.open_problem(patient=visit.patient, visit=visit, title="Drinks more", **then)
    day = timezone.localdate() + timedelta(days=1)
    actions.send_out(
        record=visit.record,
        problem=problem,
        title="Blood profile",
        laboratory="Fenwater laboratory",
        answerable=house.clinician,
        due_on=day,
        **then,
    )
    sign(record=visit.record, **then)
    gone(visit)

    # a technician copies what the laboratory reported, on a telephone, with its paper
    phone = as_somebody(screen, live_server, house.technician, PHONE)
    phone.goto(f"/patients/{visit.patient_id}/results/")
    phone.get_by_role("link", name=about("to its visit", "Blood profile")).click()
    phone.get_by_role("link", name=about("enter a result", "Blood profile")).click()
    lines = phone.get_by_role("group", name="Value")
    for number, (what, value, unit, usual) in enumerate(
        (("Creatinine", "248", "µmol/l", "70-165"), ("Urea", "9.1", "mmol/l", "5.4-10.7"))
    ):
        line = lines.nth(number)
        line.get_by_label("What was measured").fill(what)
        line.get_by_label("Result").fill(value)
        line.get_by_label("Unit").fill(unit)
        line.get_by_label("The laboratory’s interval").fill(usual)
    paper = io.BytesIO()
    Image.new("RGB", (600, 800), "white").save(paper, "JPEG")
    phone.get_by_label("The laboratory’s report").set_input_files(
        {"name": "fenwater.jpg", "mimeType": "image/jpeg", "buffer": paper.getvalue()}
    )
    phone.get_by_role("button", name="Record the result").dblclick()
    expect(phone.get_by_text("Creatinine 248 µmol/l: high")).to_be_visible()
    assert TestResult.objects.count() == 2
    assert ResultFile.objects.count() == 1

    # the clinician finds it on Today, reads it, and writes
    desk = as_somebody(screen, live_server, house.clinician)
    desk.goto("/")
    desk.get_by_role("region", name="Results nobody has read").get_by_role("link").first.click()
    desk.get_by_role("link", name=about("Read it", "Blood profile")).click()
    desk.get_by_label("In one sentence for the owner").fill("The kidneys are weaker than they should be.")
    desk.get_by_role("button", name="I have read it").click()
    desk.get_by_role("link", name="Write the result letter").click()
    desk.get_by_role("textbox", name="What happens now").fill(
        "Please come on Friday to talk about food and water."
    )
    desk.get_by_role("button", name="See it in the letter").click()
    expect(desk.locator(".paper")).to_contain_text("Please come on Friday")
    desk.get_by_label("Your PIN").fill(people.PIN)
    desk.get_by_role("button", name="Sign the letter and let it go").click()
    expect(desk.get_by_role("heading", name=re.compile("Pomfret’s test result"))).to_be_visible()
    letter = Letter.objects.get(kind="result")
    assert Message.objects.get(letter=letter).state == "waiting"
    assert open_promises(patient=visit.patient) == []


def test_a_declined_test_is_offered_again_in_a_year(screen, live_server, house: people.People) -> None:
    visit, then = seen_earlier(house, 365)
    problem = actions.open_problem(patient=visit.patient, visit=visit, title="Cough", **then)
    actions.add_plan_line(
        record=visit.record,
        problem=problem,
        kind="test",
        text="X-rays of the chest",
        standing="declined",
        declined_why="wants to wait",
        risks_explained="a weak heart is found late",
        explained_by=house.clinician,
        come_back="at once when breathing is hard",
        offer_again_on=timezone.localdate(),
        **then,
    )
    sign(record=visit.record, **then)
    gone(visit)

    today = people.visit_here(visit.patient, clinician=house.clinician)
    phone = as_somebody(screen, live_server, house.technician, PHONE)
    phone.goto(f"/visits/{today.pk}/intake/")
    panel = phone.get_by_role("region", name="Declined earlier, offered again today")
    expect(panel).to_contain_text("X-rays of the chest")

    desk = as_somebody(screen, live_server, house.clinician)
    desk.goto("/")
    expect(desk.get_by_text("offer again: X-rays of the chest")).to_be_visible()
    desk.goto(f"/visits/{today.pk}/plan/")
    desk.get_by_role("link", name=about("Offer it again", "X-rays of the chest")).click()
    expect(desk.get_by_label("What is to be done")).to_have_value("X-rays of the chest")
    desk.get_by_role("group", name="Where it stands").locator("label", has_text="consented").click()
    desk.get_by_label("Who agreed").fill("Henrike Dovale")
    desk.get_by_role("button", name="Put it on the plan").click()
    expect(desk.get_by_text("say who agreed, and whether in words or in writing")).to_be_visible()
    expect(desk.get_by_label("Who agreed")).to_have_value("Henrike Dovale")
    desk.get_by_role("group", name="How", exact=True).locator("label", has_text="in words").click()
    desk.get_by_role("button", name="Put it on the plan").click()
    expect(desk.get_by_text("agreed: Henrike Dovale, in words")).to_be_visible()
    expect(desk.get_by_role("region", name="Declined earlier")).to_have_count(0)
    line = PlanLine.objects.get(standing="consented")
    assert line.again_of.standing == "declined"
    assert open_promises(patient=visit.patient) == []
