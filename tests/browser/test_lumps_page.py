"""Lumps in a browser: put on the map by tap or keys, measured, shown at the next visit, also offline."""

from __future__ import annotations

from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect

from clinic.models import Record, Visit
from exams.models import Finding, Lump, LumpMeasure, LumpSample
from tests import people
from tests.browser.exam_room import all_saved, corner, open_exam
from tests.browser.eyes import in_both_themes

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SKIN = "#SKN"
CARD = f"{SKIN} .lump-list > li"


@pytest.fixture
def station() -> str:
    return SKIN


def tap_region(page: Page, region: str) -> None:
    """A finger on the middle of a region of the drawing that is shown."""
    path = page.locator(f'.lump-map .region[data-region="{region}"]')
    path.scroll_into_view_if_needed()
    box = path.bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def open_map(page: Page) -> None:
    page.click(f"{SKIN} .lump-put")
    page.wait_for_selector(".lump-map .region")


def put(page: Page, region: str = "flank-left") -> None:
    open_map(page)
    tap_region(page, region)
    page.click(".lump-ask .button-main")


def size(page: Page, *axes: str) -> None:
    for field, mm in zip(page.locator(f"{CARD} .lump-axes input").all(), axes, strict=False):
        field.fill(mm)
    page.click(f"{CARD} .lump-size .button-main")


def next_visit(visit: Visit, house: people.People, *, days: int = 60) -> Visit:
    Record.objects.filter(visit=visit).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )
    Visit.objects.filter(pk=visit.pk).update(place="gone-home")
    again = people.visit_here(visit.patient, clinician=house.clinician)
    Record.objects.filter(visit=again).update(opened_at=people.NOW + timedelta(days=days))
    return again


def test_a_lump_is_put_by_a_tap_measured_and_numbered(page) -> None:
    put(page)
    expect(page.locator(f"{CARD} .lump-badge")).to_have_text("1")
    expect(page.locator(f"{SKIN} .station-foot p")).to_contain_text("Needs its own answer: lumps")
    page.locator(f"{CARD} .lump-axes input").first.fill("8")
    page.click("[data-rail=EYE]")
    expect(page.locator("#close-list")).to_contain_text("8 mm, not kept yet")
    page.reload()
    page.click("[data-rail=SKN]")
    expect(page.locator(f"{CARD} .lump-unkept")).to_have_text("8 mm, not kept yet")
    assert page.locator(f"{CARD} .lump-axes input").first.input_value() == "8"
    size(page, "8", "14", "11")
    all_saved(page)
    expect(page.locator(f"{CARD} .lump-unkept")).to_be_empty()
    row = LumpMeasure.objects.select_related("lump").get()
    assert (row.lump.number, row.lump.region, row.length_mm) == (1, "flank-left", 14)
    expect(page.locator(f"{CARD} .lump-now")).to_contain_text("14 × 11 × 8 mm (put longest first)")
    assert page.is_checked('.choice[data-key="SKN.lumps|-"] input[value=abnormal]')
    assert Finding.objects.get(line="SKN.lumps|-").findings[0]["code"] == "SKN-27"


def test_the_side_is_shown_and_can_be_turned_round(page) -> None:
    open_map(page)
    tap_region(page, "elbow-left")
    expect(page.locator(".lump-side b")).to_have_text("left")
    page.click(".lump-side .button")
    expect(page.locator(".lump-side b")).to_have_text("right")
    page.click(".lump-ask .button-main")
    all_saved(page)
    lump = Lump.objects.get()
    assert (lump.drawing, lump.region, lump.side) == ("dog-right", "elbow-right", "right")


def test_the_whole_of_it_goes_by_keys(page) -> None:
    open_map(page)
    page.locator('.lump-map .region[tabindex="0"]').focus()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.locator(".lump-ask .button-main").focus()
    page.keyboard.press("Enter")
    expect(page.locator(f"{CARD} .lump-axes input").first).to_be_focused()
    page.keyboard.type("14")
    page.keyboard.press("Tab")
    page.keyboard.type("11")
    page.keyboard.press("Enter")
    all_saved(page)
    assert (LumpMeasure.objects.get().length_mm, LumpMeasure.objects.get().width_mm) == (14, 11)


def test_a_place_is_chosen_by_name(page) -> None:
    open_map(page)
    page.select_option(".lump-names select", "dog-left rump")
    page.click(".lump-ask .button-main")
    expect(page.locator(".lump-ask .field-error")).to_have_text("Left, right or in the middle?")
    page.click('.lump-ask .pick:has-text("in the middle")')
    page.click(".lump-ask .button-main")
    all_saved(page)
    assert (Lump.objects.get().region, Lump.objects.get().side) == ("rump", "midline")


def test_abnormal_on_the_line_of_lumps_opens_the_map(page) -> None:
    page.click('.choice[data-key="SKN.lumps|-"] .pick-abnormal')
    expect(page.locator(".lump-place")).to_be_visible()


def test_a_tap_beside_a_lump_asks_whether_it_is_that_one(page) -> None:
    put(page)
    all_saved(page)
    open_map(page)
    tap_region(page, "flank-left")
    page.click('.lump-ask button:has-text("It is lump 1")')
    expect(page.locator(f"{CARD} .lump-axes input").first).to_be_focused()
    assert Lump.objects.count() == 1


def test_a_lump_and_its_size_wait_for_the_network_and_arrive_once(page) -> None:
    open_map(page)
    page.route("**/exam/operations/", lambda route: route.abort())
    tap_region(page, "flank-left")
    page.click(".lump-ask .button-main")
    expect(page.locator(f"{CARD} .lump-badge")).to_have_text("new")
    size(page, "14", "11")
    corner(page, "^2 waiting for the network$")
    assert page.is_checked('.choice[data-key="SKN.lumps|-"] input[value=abnormal]')
    page.reload()
    page.wait_for_selector(f"{CARD}")
    expect(page.locator(f"{CARD} .lump-now")).to_contain_text("14 × 11 mm")
    assert not Lump.objects.exists()
    page.unroute("**/exam/operations/")
    all_saved(page)
    expect(page.locator(f"{CARD} .lump-badge")).to_have_text("1")
    assert LumpMeasure.objects.get().length_mm == 14


def test_take_back_takes_the_size_and_then_the_lump(page) -> None:
    put(page)
    size(page, "14", "11")
    all_saved(page)
    page.click("#back")
    all_saved(page)
    assert not LumpMeasure.objects.exists()
    page.click("#back")
    all_saved(page)
    assert Lump.objects.get().withdrawn
    expect(page.locator(CARD)).to_have_count(0)


def test_looks_and_a_sample_are_kept_with_the_size(page) -> None:
    put(page)
    size(page, "14", "11")
    page.click(f"{CARD} .lump-looks > summary")
    page.click(f'{CARD} .lump-looks .pick:has-text("ulcerated")')
    page.click(f'{CARD} .lump-looks .pick:has-text("soft")')
    all_saved(page)
    expect(page.locator(f"{CARD} .lump-asks")).to_contain_text(
        "Ulcerated or bleeding: sample common practice"
    )
    page.click(f'{CARD} .pick:has-text("needle sample")')
    all_saved(page)
    assert LumpMeasure.objects.get().description == {"surface": "ulcerated", "firmness": "soft"}
    assert LumpSample.objects.get().method == "needle"
    expect(page.locator(f"{CARD} .lump-asks")).to_have_count(0)


def test_the_next_visit_asks_for_each_known_lump(live_server, house, visit, page) -> None:
    put(page)
    size(page, "14", "11", "8")
    all_saved(page)
    again = next_visit(visit, house)
    later = open_exam(page, live_server.url, again, "#ABD")
    row = later.locator("#ABD .lump")
    expect(row).to_contain_text("14 × 11 × 8 mm on 11 Mar 2026")
    expect(later.locator("#close-list")).to_contain_text("Lump 1: measured, gone or not looked at?")
    row.locator('button:has-text("measure")').click()
    for field, mm in zip(row.locator(".lump-axes input").all(), ("20", "15", "11"), strict=True):
        field.fill(mm)
    row.locator(".lump-size .button-main").click()
    all_saved(later)
    expect(row.locator(".lump-now")).to_contain_text("+43% in length")
    expect(row.locator(".lump-now")).to_contain_text("Growing: sample")
    expect(later.locator("#close-list")).not_to_contain_text("Lump 1: measured")


@pytest.mark.parametrize("how", ["gone", "not-looked"])
def test_a_known_lump_is_gone_or_not_looked_at(live_server, house, visit, page, how) -> None:
    put(page)
    size(page, "14", "11", "8")
    all_saved(page)
    again = next_visit(visit, house)
    later = open_exam(page, live_server.url, again, SKIN)
    later.click(f'{CARD} button:has-text("measure")')
    if how == "gone":
        later.click(f'{CARD} button:has-text("Gone")')
        later.click(f'{CARD} button:has-text("Not felt any more")')
    else:
        later.click(f'{CARD} button:has-text("Not looked at")')
        later.click(f"{CARD} .lump-why button >> nth=0")
    all_saved(later)
    assert LumpMeasure.objects.get(record__visit=again).said == how
    assert bool(Lump.objects.get().gone_on) == (how == "gone")


def test_axe_finds_nothing_at_the_map_and_the_card(page) -> None:
    put(page)
    size(page, "14", "11")
    page.click(f"{CARD} .lump-looks > summary")
    open_map(page)
    tap_region(page, "forepaw-left")
    all_saved(page)
    assert in_both_themes(page) == []
