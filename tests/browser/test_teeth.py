"""Teeth in a browser: the chart by tap and by keyboard, what it asks, and what it never says by itself."""

from __future__ import annotations

import os
import re
from contextlib import ExitStack
from datetime import date, timedelta

import pytest
from playwright.sync_api import Page, ViewportSize, expect

from clinic.models import Record, Staff, Visit
from exams.models import Exam, ExamPhoto, Finding
from tests import people
from tests.browser.conftest import in_use
from tests.browser.exam_room import all_saved, exam_page, measured_at_intake, open_exam, signed_in
from tests.browser.eyes import in_both_themes
from tests.browser.test_photos import from_camera
from tests.exams.house import exam_here

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TEETH = "MTH.teeth"
FLAT = {"width": 1180, "height": 820}
DESK = {"width": 1440, "height": 900}  # the whole mouth, each tooth a finger wide
PICTURES = os.environ.get("BROWSER_PICTURES")


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


def visit_of(house: people.People, **facts: object) -> Visit:
    made = people.visit_here(people.patient(**facts), clinician=house.clinician, owners_words="bad breath")
    measured_at_intake(made, house.technician)
    return made


@pytest.fixture
def opens(tablet, browser, live_server, house):
    """The mouth's station of a patient's exam: on the file's tablet, or beside it on one of its own."""
    opened, devices = [], ExitStack()

    def opens_one(visit: Visit, by: Staff | None = None, viewport: ViewportSize = FLAT) -> Page:
        staff = by or house.clinician
        if opened:
            context = devices.enter_context(signed_in(browser, live_server.url, staff, viewport=viewport))
            page = exam_page(context, live_server.url, visit, "#MTH")
        else:
            page = devices.enter_context(in_use(tablet, live_server.url, staff))
            page.set_viewport_size(viewport)
            open_exam(page, live_server.url, visit, "#MTH")
        page.wait_for_selector("#MTH .tooth-chart .tooth[role=button]")
        opened.append(page)
        return page

    with devices:
        yield opens_one
        for number, page in enumerate(opened):
            if PICTURES:
                page.screenshot(path=f"{PICTURES}/teeth-{number}.png", full_page=True)
            assert page.thrown == []


def tooth(page: Page, number: int):
    return page.locator(f"#MTH .teeth-box > .teeth-scroll [data-tooth='{number}']")


def face(page: Page, name: str):
    return page.locator(f".tooth-panel label.pick:has(input[data-id='{name}'])")


def choice(row, words: str):
    return row.locator("label.pick").filter(has_text=re.compile(f"^{words}$"))


def under_anaesthetic(page: Page, with_what: str = "propofol") -> None:
    page.click("#awake-change")
    page.locator("#awake-form label:has([value=anaesthetised])").click()
    page.fill("#awake-form [name=by_what]", with_what)
    page.click("#awake-form [value=save]")


def said(line: int) -> Finding:
    return Finding.objects.get(line=f"{TEETH}|{line}")


def test_a_tooth_is_charted_by_tap(opens, house) -> None:
    page = opens(visit_of(house), viewport=DESK)
    assert page.locator("#MTH .teeth-box .tooth").count() == 42
    tooth(page, 108).click()
    expect(page.locator(".panel h3")).to_contain_text("108, upper right fourth premolar")
    face(page, "broken-MTH-09-crown").click()
    face(page, "MTH-02-2").click()
    all_saved(page)
    row = said(108)
    assert {f["code"] for f in row.findings} == {"MTH-09", "MTH-02"}
    name = tooth(page, 108).get_attribute("aria-label")
    assert name.startswith("108, upper right fourth premolar: fractured tooth, pulp exposed")
    assert tooth(page, 108).get_attribute("data-state") == "abnormal"
    assert Finding.objects.filter(structure=TEETH).count() == 1  # no other tooth became anything
    assert "F!" in page.locator("#MTH .tooth-marks").text_content()


def test_where_the_whole_mouth_is_too_small_a_tap_brings_its_quarter_nearer(opens, house) -> None:
    page = opens(visit_of(house), viewport={"width": 820, "height": 1180})
    before = tooth(page, 108).bounding_box()["width"]
    tooth(page, 108).click()
    expect(page.locator(".teeth-views label:has(:checked)")).to_have_text("Upper right")
    assert page.locator(".panel").count() == 0
    assert before < tooth(page, 108).bounding_box()["width"]
    widths = page.evaluate(
        "[...document.querySelectorAll('#MTH .teeth-box > .teeth-scroll .hit')]"
        ".map(n => n.getBoundingClientRect().width)"
    )
    assert min(widths) >= 44
    tooth(page, 108).click()
    expect(page.locator(".panel h3")).to_contain_text("108")


def test_the_chart_works_by_keyboard(opens, house) -> None:
    page = opens(visit_of(house), viewport=DESK)
    tooth(page, 101).focus()
    for key in ("ArrowRight", "ArrowRight", "ArrowDown"):
        page.keyboard.press(key)
    assert page.evaluate("document.activeElement.dataset.tooth") == "302"
    page.keyboard.press("n")
    all_saved(page)
    assert said(302).status == "normal"
    assert Finding.objects.filter(structure=TEETH).count() == 1
    page.keyboard.press("Enter")
    page.locator(".tooth-panel input[data-id='missing']").focus()
    page.keyboard.press("Space")
    all_saved(page)
    assert [f["code"] for f in said(302).findings] == ["MTH-07"]
    page.keyboard.press("Escape")
    expect(page.locator(".panel")).to_have_count(0)
    assert page.evaluate("document.activeElement.dataset.tooth") == "302"
    assert "missing tooth" in page.evaluate("document.activeElement.getAttribute('aria-label')")


def test_the_worse_column_is_offered_and_waits_for_a_tap(opens, house) -> None:
    page = opens(visit_of(house), viewport=DESK)
    tooth(page, 309).click()
    face(page, "MTH-04-2").click()
    expect(page.locator(".tooth-panel .notice")).to_contain_text("furcation 2: PD 3")
    all_saved(page)
    assert [f["code"] for f in said(309).findings] == ["MTH-04"]
    page.click(".tooth-panel [data-id=take-stage]")
    all_saved(page)
    stage = next(f for f in said(309).findings if f["code"] == "MTH-05")
    assert (stage["grade"], stage["awake_estimate"]) == ("3", True)
    assert "P3?" in page.locator("#MTH .tooth-marks").text_content()


def test_awake_first_then_under_the_anaesthetic(opens, house) -> None:
    page = opens(visit_of(house), viewport=DESK)
    tooth(page, 108).click()
    face(page, "MTH-05-2").click()
    assert "Probed under an anaesthetic only" in page.inner_text(".tooth-panel")
    under_anaesthetic(page)
    expect(page.locator("#awake-words")).to_contain_text("Anaesthetised: propofol, since")
    all_saved(page)
    assert said(108).findings[0]["awake_estimate"]
    page.keyboard.press("Escape")
    tooth(page, 108).click()
    page.fill(".tooth-panel [data-id=pocket-b]", "5")
    page.keyboard.press("Tab")
    page.click(".tooth-panel [data-id=stage-again]")
    face(page, "out-108").click()
    all_saved(page)
    row = said(108)
    assert not row.findings[0].get("awake_estimate")
    assert row.made_in == "anaesthetised"
    assert row.charted == {"pockets": {"b": "5"}, "extracted": [108]}
    assert "XX" in page.locator("#MTH .tooth-marks").text_content()


def test_a_puppys_late_teeth_are_asked_about_never_recorded(opens, house) -> None:
    born = date.today() - timedelta(days=250)
    page = opens(visit_of(house, birth_date=born), viewport=DESK)
    tooth(page, 104).click()
    page.get_by_role("button", name="A baby tooth (504) stands here").click()
    face(page, "there-504-104").click()
    expect(page.locator(".tooth-panel .notice")).to_contain_text("waits here")
    face(page, "normal").click()
    ask = page.locator(".teeth-asks .notice")
    expect(ask).to_contain_text("504 still stands beside 104 at 8 months. A retained baby tooth?")
    all_saved(page)
    assert (said(104).status, said(104).findings) == ("normal", [])
    ask.get_by_role("button", name="Yes, record it").click()
    all_saved(page)
    assert [(f["code"], f["tooth"]) for f in said(104).findings] == [("MTH-12", 504)]
    expect(ask).to_have_count(0)


def test_a_cat_and_a_young_puppy_have_their_own_charts(opens, house) -> None:
    page = opens(visit_of(house, species="cat", breed="tabby"))
    assert page.locator("#MTH .teeth-box .tooth").count() == 30
    born = date.today() - timedelta(days=60)
    page = opens(visit_of(house, name="Wisp", birth_date=born))
    assert page.locator("#MTH .teeth-box .tooth").count() == 28
    assert page.locator("[data-tooth='504']").get_attribute("aria-label").startswith("504, deciduous upper")


def test_the_last_chart_stands_under_todays(opens, house) -> None:
    patient = people.patient()
    before = people.visit_here(patient, clinician=house.clinician)
    tablet = exam_here(house.actor("clinician"), before)
    tablet.tap("MTH.teeth|108", "set_abnormal", {"findings": [{"code": "MTH-02", "grade": "2"}]})
    then = people.NOW - timedelta(days=200)
    Record.objects.filter(visit=before).update(
        opened_at=then, signed_at=then, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )
    Visit.objects.filter(pk=before.pk).update(gone_at=then, place="gone-home", outcome="home")
    visit = people.visit_here(patient, clinician=house.clinician)
    page = opens(visit)
    expect(page.locator(".teeth-last .last")).to_contain_text("108 calculus (tartar), grade 2")
    page.get_by_role("button", name="Chart of 23 Aug 2025").click()
    assert "C2" in page.locator(".teeth-last-chart .tooth-marks").text_content()
    assert page.locator(".teeth-last-chart [role=button]").count() == 0
    assert Exam.objects.count() == 1


def test_charting_waits_for_the_network_and_arrives_once(opens, house) -> None:
    page = opens(visit_of(house), viewport=DESK)
    page.route("**/exam/operations/", lambda route: route.abort())
    under_anaesthetic(page)
    tooth(page, 208).click()
    face(page, "MTH-06-3").click()
    expect(page.locator("#kept span")).to_contain_text("2 waiting")
    page.reload()
    page.wait_for_selector("#MTH .tooth-chart .tooth[role=button]")
    assert "tooth" in tooth(page, 208).get_attribute("aria-label")
    assert tooth(page, 208).get_attribute("data-state") == "abnormal"
    page.unroute("**/exam/operations/")
    all_saved(page)
    row = said(208)
    assert (row.findings[0]["grade"], row.made_in) == ("3", "anaesthetised")
    assert Exam.objects.get().awake == "anaesthetised"


def test_how_urgent_a_finding_is_stands_in_the_panel_and_a_clinician_may_say_otherwise(opens, house) -> None:
    page = opens(visit_of(house), viewport=DESK)
    tooth(page, 108).click()
    face(page, "MTH-02-2").click()
    row = page.locator(".tooth-panel .told li[data-code='MTH-02']")
    expect(row.locator(".told-class")).to_have_text("Recheck")
    face(page, "MTH-02-3").click()
    expect(row.locator(".told-class")).to_have_text("Treat soon")
    row.get_by_text("Another class").click()
    choice(row, "Monitor").click()
    expect(row).to_contain_text("until then the usual class stands")
    all_saved(page)
    assert "urgency" not in said(108).findings[0]
    choice(row, "known and under treatment").click()
    expect(row.locator(".told-class")).to_have_text("Monitor")
    all_saved(page)
    told = said(108).findings[0]
    assert (told["urgency"], told["urgency_why"]) == ("M", "known and under treatment")
    assert told["grade"] == "3"  # nothing else of it was lost


def test_what_no_face_asks_stands_in_the_findings_row(opens, house) -> None:
    page = opens(visit_of(house), viewport=DESK)
    tooth(page, 404).click()
    face(page, "broken-MTH-08-enamel only").click()
    row = page.locator(".tooth-panel .told li[data-code='MTH-08']")
    row.locator(".told-number input").fill("3")
    page.keyboard.press("Tab")
    row.get_by_text("More: since when").click()
    choice(row, "new").click()
    all_saved(page)
    told = said(404).findings[0]["qualifiers"]
    assert (told["mm"], told["change"]) == ("3", "new")
    assert told["enamel only / enamel and dentine / crown and root"] == "enamel only"
    assert row.locator(".told-parts").first.locator("fieldset").count() == 0  # asked once, above


def test_two_tablets_at_one_tooth_show_that_they_differ(opens, house) -> None:
    visit = visit_of(house)
    mine, theirs = opens(visit, viewport=DESK), opens(visit, by=house.technician, viewport=DESK)
    for page in (mine, theirs):
        page.route("**/exam/operations/", lambda route: route.abort())
    tooth(mine, 108).click()
    face(mine, "MTH-02-3").click()
    tooth(theirs, 108).click()
    face(theirs, "MTH-02-1").click()
    mine.unroute("**/exam/operations/")
    all_saved(mine)
    theirs.unroute("**/exam/operations/")
    expect(theirs.locator("#clashes")).to_contain_text("108, upper right fourth premolar")
    assert [f["grade"] for f in said(108).findings] == ["3"]  # neither is thrown away unseen


def test_a_photograph_is_taken_at_one_tooth(opens, house) -> None:
    page = opens(visit_of(house), viewport=DESK)
    tooth(page, 108).click()
    page.set_input_files(".tooth-panel .photos input[type=file]", from_camera())
    expect(page.locator(".tooth-panel .photo-thumb")).to_have_count(1)
    page.wait_for_function("() => !document.querySelector('.photo-mark')")
    all_saved(page)
    assert ExamPhoto.objects.get().target == f"{TEETH}|108"
    face(page, "MTH-02-2").click()  # a new drawing of the panel keeps it
    expect(page.locator(".tooth-panel .photo-thumb")).to_have_count(1)


def test_axe_finds_nothing_on_the_chart_and_in_a_tooths_panel(opens, house) -> None:
    page = opens(visit_of(house), viewport=DESK)
    tooth(page, 108).click()
    for name in ("broken-MTH-09-crown", "MTH-05-2", "MTH-02-3"):
        face(page, name).click()
    page.locator(".tooth-panel .told-more summary").first.click()
    all_saved(page)
    assert in_both_themes(page) == []
