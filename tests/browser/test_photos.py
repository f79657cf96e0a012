"""Photographs in a browser: small and upright before they leave the tablet, and on the server once."""

from __future__ import annotations

import io
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import BrowserContext, Page, expect

from clinic.models import Record, Visit
from clinic.platform.files import read
from exams.models import ExamPhoto
from tests import people
from tests.browser.conftest import WAITS
from tests.browser.exam_room import (
    all_saved,
    corner,
    exam_page,
    kept_here,
    open_again,
    signed_in,
)
from tests.exams.test_photos import earlier_visit, take

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

CANAL = '.choice[data-key="EAR.canal|left"]'
STRIP = ".panel .photos"


CAMERA = (3000, 2000)


def from_camera(width: int = 900, height: int = 600) -> dict:
    """As a tablet held upright writes it, only smaller: on its side, with its place. Red is its top."""
    image = Image.new("RGB", (width, height), (30, 30, 200))
    image.paste((200, 30, 30), (0, 0, width // 2, height))
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 17.5), 3: "E", 4: (0.0, 7.0, 12.0)})
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif)
    return {"name": "IMG_0001.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def visit(house) -> Visit:
    return people.visit_here(clinician=house.clinician, owners_words="the yearly check")


@pytest.fixture(scope="module")
def service_workers() -> str:
    return "allow"


@pytest.fixture
def station() -> str:
    return "#EAR"


@pytest.fixture
def context(page: Page) -> BrowserContext:
    return page.context


def open_panel(page: Page) -> None:
    page.click(f"{CANAL} .pick-abnormal")
    page.wait_for_selector(STRIP)


def photograph(page: Page, *size: int) -> None:
    page.set_input_files(f"{STRIP} input[type=file]", from_camera(*size))


def thumbs(page: Page, count: int, where: str = STRIP) -> None:
    expect(page.locator(f"{where} .photo-thumb")).to_have_count(count, timeout=WAITS)


def arrived(count: int, page: Page) -> None:
    shown = "() => document.querySelector('.photo-thumb') && !document.querySelector('.photo-mark')"
    page.wait_for_function(shown, timeout=WAITS)
    all_saved(page)
    assert ExamPhoto.objects.count() == count


def test_it_leaves_the_tablet_small_upright_and_without_its_place(page) -> None:
    page.evaluate(
        """() => { window.sent = []; const append = FormData.prototype.append;
          FormData.prototype.append = function (name, value, ...rest) {
            if (value instanceof Blob)
              value.arrayBuffer().then(all => { window.sent = [...new Uint8Array(all)]; });
            return append.call(this, name, value, ...rest);
          }; }"""
    )
    open_panel(page)
    photograph(page, *CAMERA)
    thumbs(page, 1)
    arrived(1, page)
    body = bytes(page.evaluate("() => window.sent"))
    assert body.startswith(b"\xff\xd8\xff")
    assert b"Exif" not in body
    assert b"Exif" in from_camera()["buffer"]
    assert len(body) < 400_000
    kept = ExamPhoto.objects.get()
    assert (kept.width, kept.height) == (1333, 2000)
    image = Image.open(io.BytesIO(read(f"{kept.sha256[:2]}/{kept.sha256}.jpg")))
    top, bottom = image.getpixel((600, 100)), image.getpixel((600, 1900))
    assert top[0] > 150 > top[2]
    assert bottom[2] > 150 > bottom[0]


def test_without_a_network_it_waits_through_a_reload_and_arrives_once(page, context) -> None:
    kept_here(page)
    context.set_offline(True)
    open_panel(page)
    photograph(page)
    expect(page.locator(f"{STRIP} .photo-mark")).to_have_text("today, waiting")
    corner(page, "^2 waiting for the network$")
    open_again(page)
    thumbs(page, 1, CANAL)
    expect(page.locator(f"{CANAL} .photo-mark")).to_have_text("today, waiting")
    assert page.evaluate(f"document.querySelector('{CANAL} .photo-thumb img').naturalWidth") == 600
    assert not ExamPhoto.objects.exists()
    context.set_offline(False)
    arrived(1, page)
    page.wait_for_timeout(500)
    open_again(page)
    thumbs(page, 1, CANAL)
    assert ExamPhoto.objects.count() == 1


def test_an_answer_that_was_never_heard_does_not_double_it(page) -> None:
    """The server took it, the network went before its answer came: sent again, kept once."""
    lost = []

    def loses(route) -> None:
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    page.route("**/exam/photos/", loses)
    open_panel(page)
    photograph(page)
    arrived(1, page)
    assert lost == [200]


def test_what_is_no_picture_is_said_beside_the_button_and_nothing_else_is_lost(page) -> None:
    open_panel(page)
    page.click('.panel .toggles .pick:has-text("Excess wax")')
    page.set_input_files(
        f"{STRIP} input[type=file]", {"name": "x.jpg", "mimeType": "image/jpeg", "buffer": b"%PDF-1.7"}
    )
    expect(page.locator(f"{STRIP} .field-error")).to_contain_text("not a picture that this tablet can read")
    all_saved(page)
    thumbs(page, 0)
    assert page.is_checked('.panel .toggles .pick:has-text("Excess wax") input')


def test_signed_out_it_waits_and_goes_under_the_same_name(page, context, live_server, house) -> None:
    cookies = context.cookies()
    context.clear_cookies(name="sessionid")
    open_panel(page)
    photograph(page)
    expect(page.locator("[data-trouble=photos]")).to_contain_text("You are signed out")
    assert not ExamPhoto.objects.exists()
    context.add_cookies(cookies)
    page.evaluate("dispatchEvent(new Event('online'))")
    arrived(1, page)
    assert ExamPhoto.objects.get().by == house.clinician
    expect(page.locator("[data-trouble=photos]")).to_have_count(0)


def test_another_tablet_sees_it_within_seconds(page, browser, live_server, house, visit) -> None:
    other = signed_in(browser, live_server.url, house.colleague)
    theirs = exam_page(other, live_server.url, visit, "#EAR")
    open_panel(page)
    photograph(page)
    thumbs(theirs, 1, CANAL)
    other.close()


def test_two_dates_stand_side_by_side_by_keyboard(page, house, visit, live_server) -> None:
    earlier_visit(house, visit)
    take(house, visit, note="less wax")
    page.reload()
    page.wait_for_selector(f"{CANAL} .photo-thumb")
    thumbs(page, 2, CANAL)
    page.locator(f"{CANAL} .photo-thumb").first.focus()
    page.keyboard.press("Enter")
    dialog = page.locator("dialog.photo-view")
    expect(dialog.locator("figure")).to_have_count(1)
    expect(dialog.locator("figcaption b")).to_have_text("Today")
    page.keyboard.press("ArrowLeft")
    expect(dialog.locator("figcaption b")).to_have_text("Feb 3, 2026")
    dialog.get_by_role("button", name="Beside it: today, less wax").press("Enter")
    expect(dialog.locator("figure")).to_have_count(2)
    expect(dialog.locator("figcaption b")).to_have_text(["Feb 3, 2026", "Today"])
    assert Axe().run(page).generate_report(violation_id=None).startswith("Found 0")
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)
    assert page.evaluate("document.activeElement.classList.contains('photo-thumb')")


def test_it_is_described_and_struck_out_with_a_reason(page) -> None:
    open_panel(page)
    photograph(page)
    arrived(1, page)
    page.click(f"{STRIP} .photo-thumb")
    page.get_by_label("What it shows").fill("wax at the bottom")
    page.keyboard.press("Tab")
    expect(page.locator("dialog.photo-view .photo-note")).to_have_text("wax at the bottom")
    with page.expect_response("**/describe/"):
        page.get_by_label("In the letter").check(force=True)
    page.wait_for_timeout(200)
    expect(page.get_by_label("In the letter")).to_be_checked()
    page.get_by_role("button", name="Strike out").click()
    expect(page.locator("dialog.photo-view .field-error")).to_have_text("Say why it is struck out.")
    assert ExamPhoto.objects.get().in_letter
    page.get_by_label("Strike it out, because").fill("the wrong ear")
    page.get_by_role("button", name="Strike out").click()
    thumbs(page, 0)
    kept = ExamPhoto.objects.get()
    assert (kept.note, kept.struck_reason) == ("wax at the bottom", "the wrong ear")


def test_one_that_comes_after_the_signature_stays_on_the_tablet_for_somebody_to_decide(
    page, context, house, visit, live_server
) -> None:
    page.route("**/exam/photos/", lambda route: route.abort())
    open_panel(page)
    photograph(page)
    expect(page.locator(f"{STRIP} .photo-mark")).to_have_text("today, waiting")
    all_but_photos = re.compile("^1 photograph waiting")
    corner(page, all_but_photos.pattern)
    Record.objects.filter(visit=visit).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )
    page.unroute("**/exam/photos/")
    page.goto(f"{live_server.url}/visits/{visit.pk}/exam/")
    left = page.locator("#photos-left .notice")
    expect(left).to_contain_text("on this tablet only")
    expect(left).to_contain_text("The record is signed")
    assert left.get_by_role("link", name="Keep it as a file").get_attribute("download").endswith(".jpg")
    assert not ExamPhoto.objects.exists()
    left.get_by_role("button", name="Discard it").click()
    expect(left).to_have_count(0)


def test_a_photograph_that_waits_goes_from_every_page(page, live_server) -> None:
    page.route("**/exam/photos/", lambda route: route.abort())
    open_panel(page)
    photograph(page)
    corner(page, "1 photograph waiting")
    page.unroute("**/exam/photos/")
    page.goto(f"{live_server.url}/")
    for _ in range(40):
        if ExamPhoto.objects.exists():
            break
        page.wait_for_timeout(200)
    assert ExamPhoto.objects.count() == 1


def test_the_patients_own_picture_is_taken_on_its_page_and_stands_over_every_visit(
    page, live_server, visit
) -> None:
    page.goto(f"{live_server.url}/patients/{visit.patient_id}/")
    page.set_input_files("[data-portrait] input[type=file]", from_camera())
    page.wait_for_selector("img.portrait")
    visit.patient.refresh_from_db()
    assert visit.patient.photo_sha256
    page.goto(f"{live_server.url}/visits/{visit.pk}/exam/")
    assert page.evaluate("document.querySelector('.bar img.portrait').naturalWidth") == 480
