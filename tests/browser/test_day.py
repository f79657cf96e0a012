"""A day, played as people play it: from the door to the letter in the owner's mailbox and its PDF.

The server is the real one, the worker is a process of its own under the application role, the mail goes over
SMTP, and the PDF is judged by a validator that is not ours.
"""

import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage
from io import BytesIO
from pathlib import Path

import page as pdf_validator
import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Message as KeepsMessages
from dateutil.relativedelta import relativedelta
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect
from pypdf import PdfReader

from clinic.models import Patient, Staff
from clinic.people.actor import Actor
from nutrition.actions import load_foods
from nutrition.foods import read as read_foods
from preventive.models import Lot
from tests import medicines, people
from tests.browser.conftest import PHONE, TABLET, Opens, give_pin, sign_in
from tests.preventive.room import stock

ROOT = Path(__file__).resolve().parents[2]
WORDS = "He scratches his left ear."
HEADS_UP = "Shakes his head, the left ear smells"
FOOD = "Tarrock adult dry"
LOOK = """async code => {
  for (const line of document.querySelectorAll(`#${code} .line, #${code} .station-foot`)) {
    line.scrollIntoView({ block: 'center' });
    await new Promise(done => requestAnimationFrame(() => setTimeout(done, 20)));
  }
}"""

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Mailbox(KeepsMessages):
    """What the mail server was given, and when."""

    def __init__(self) -> None:
        super().__init__()
        self.mails: list[tuple[float, EmailMessage]] = []

    def prepare_message(self, session, envelope):
        self.mails.append(
            (time.monotonic(), message_from_bytes(envelope.original_content, policy=policy.default))
        )
        return super().prepare_message(session, envelope)

    def handle_message(self, message) -> None:
        """Kept already, as its bytes came."""


@pytest.fixture
def mailbox() -> Iterator[Controller]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    controller = Controller(Mailbox(), hostname="127.0.0.1", port=port)
    controller.start()
    yield controller
    controller.stop()


@pytest.fixture
def worker(app_dsn: str, mailbox: Controller, settings) -> Iterator[subprocess.Popen]:
    """As the clinic runs it: another process, neither owner nor superuser of the database."""
    process = subprocess.Popen(
        [sys.executable, "manage.py", "worker"],
        cwd=ROOT,
        env={
            **os.environ,
            "DATABASE_URL": app_dsn,
            "EMAIL_URL": f"smtp://127.0.0.1:{mailbox.port}",
            "VAR_DIR": str(Path(settings.MEDIA_ROOT).parent),
        },
    )
    yield process
    process.terminate()
    process.wait(timeout=30)


@dataclass
class House:
    people: people.People
    patient: Patient
    lot: Lot


@pytest.fixture
def house(transactional_db) -> House:
    """The people with their PINs, a dog expected by nobody, foods on the list and vaccines in the cold."""
    people.clinic_details()
    made = people.people()
    for each in (made.clinician, made.technician):
        give_pin(each)
    manager = Actor.of(made.manager)
    load_foods(actor=manager, now=timezone.now(), foods=read_foods(ROOT / "fixtures" / "foods.toml"))
    medicines.keep_list(manager)
    lot = stock(manager)["rabisal-3"].lots.get()
    lot.expires_on = timezone.localdate() + timedelta(days=300)
    lot.save()
    return House(made, people.patient("Pomfret"), lot)


def test_the_day(house: House, screen: Opens, worker, mailbox: Controller, record_property) -> None:
    phone = sign_in(screen(PHONE, has_touch=True), house.people.technician)
    checks_in(phone)
    takes_in(phone)

    tablet = sign_in(screen(TABLET, has_touch=True), house.people.technician)
    somebody_else_signs_in(tablet, house.people.clinician)
    takes_over(tablet, house.people.technician)
    tablet.get_by_role("link", name="Pomfret").first.click()
    takes_over(tablet, house.people.clinician)
    tablet.get_by_role("link", name="Today").click()
    tablet.get_by_role("button", name="To the exam").click()

    examines(tablet)
    plans(tablet)
    feeds(tablet)
    vaccinates(tablet, house.lot)
    signed_at = signs(tablet)

    arrived_at, mail = arrives(mailbox.handler)
    record_property("seconds from signing to the mail", round(arrived_at - signed_at, 1))
    says_the_main_points(mail)
    is_the_letter(attached_pdf(mail), house.lot)


def choose(place: Page | Locator, name: str | re.Pattern[str], role: str = "radio") -> None:
    """Tap on a choice where a finger would: its words."""
    page = place if isinstance(place, Page) else place.page
    place.locator("label").filter(has=page.get_by_role(role, name=name, exact=True)).click()


def step(tablet: Page, name: str) -> None:
    tablet.get_by_role("navigation", name="This visit").get_by_role("link", name=name).click()
    expect(tablet.get_by_role("link", name=name).and_(tablet.locator("[aria-current=page]"))).to_be_attached()


# --- the technician, on a phone ---------------------------------------------------------------------------


def checks_in(phone: Page) -> None:
    phone.get_by_role("link", name="Someone came in").click()
    phone.get_by_label("Animal, owner, telephone or chip").fill("pomf")
    phone.get_by_role("checkbox", name="Pomfret").check(force=True)
    phone.get_by_role("button", name="Came in, waits").click()
    phone.get_by_role("button", name=re.compile("Begin the intake|Take to intake|intake", re.I)).first.click()
    phone.get_by_role("heading", name="Intake of Pomfret").wait_for(state="attached")


def takes_in(phone: Page) -> None:
    phone.get_by_label("Reason, in the owner’s words").fill(WORDS)
    pins_a_heads_up(phone)
    measures(phone, "Weight", "27.4")
    measures(phone, "Temperature", "38.6")
    measures(phone, "Body condition", "5")
    expect(phone.locator("#kept")).to_contain_text("all saved")
    expect(phone.locator("#bar-facts")).to_contain_text("27.4 kg today")
    pain = phone.get_by_role("group", name="Pain").locator("label", has_text="none")
    pain.click()
    phone.get_by_role("button", name="Intake done: waits for the clinician").click()
    expect(phone.get_by_text("Entered and not kept: pain")).to_be_in_viewport()
    phone.get_by_role("button", name=re.compile(r"Keep\s*: Pain")).click()
    expect(phone.locator("form[data-unkept]")).to_have_count(0)
    phone.get_by_role("button", name="Intake done: waits for the clinician").click()
    phone.get_by_role("heading", name="Waiting for somebody").wait_for()


def pins_a_heads_up(phone: Page) -> None:
    flags = phone.get_by_role("region", name="What caught your eye?")
    choose(flags, "Head")
    choose(flags, "Ears")
    flags.get_by_label("Side").select_option("left")
    flags.get_by_label("One sentence, as you saw it").fill(HEADS_UP)
    flags.get_by_role("button", name="Pin it").click()
    expect(phone.locator("#flags")).to_contain_text(f"{HEADS_UP}")


def measures(phone: Page, name: str, value: str) -> None:
    measured = phone.get_by_role("region", name="Measured")
    measured.get_by_role("textbox", name=name).fill(value)
    measured.get_by_role("button", name=re.compile(f"^Keep ?: {name}")).click()
    expect(measured.get_by_role("listitem").filter(has_text=name).first).to_contain_text("Inés Varga")


# --- the tablet goes from hand to hand --------------------------------------------------------------------


def somebody_else_signs_in(tablet: Page, who: Staff) -> None:
    """Over the open page, with the password, once a day."""
    tablet.get_by_role("link", name=re.compile(r"\bchange$")).click()
    dialog = tablet.get_by_role("dialog")
    dialog.get_by_role("link", name="Somebody else signs in").click()
    dialog.get_by_label("E-mail").fill(who.email)
    dialog.get_by_label("Password").fill(people.PASSWORD)
    dialog.get_by_role("button", name="Sign in and take the tablet").click()
    dialog.get_by_role("button", name="Go on").click()
    expect(tablet.locator("[data-works-here]")).to_have_text(who.full_name)


def takes_over(tablet: Page, who: Staff) -> None:
    """By PIN: four digits, and it sends itself."""
    tablet.get_by_role("link", name=re.compile(r"\bchange$")).click()
    dialog = tablet.get_by_role("dialog")
    choose(dialog, re.compile(f"^{who.full_name}"))
    for digit in people.PIN:
        dialog.get_by_role("button", name=digit, exact=True).click()
    dialog.get_by_role("button", name="Go on").click()
    expect(tablet.locator("[data-works-here]")).to_have_text(who.full_name)


# --- the clinician ----------------------------------------------------------------------------------------


def examines(tablet: Page) -> None:
    step(tablet, "Exam")
    codes = tablet.locator(".station").evaluate_all("all => all.map(each => each.id)")
    for code in codes:
        expect(tablet.locator(f"#{code}")).to_have_attribute("open", "")
        if code == "EAR":
            finds_one_red_ear(tablet)
        looks_at_every_line(tablet, code)
        answers_the_routine_and_the_rest(tablet, code)
    expect(tablet.locator("#kept")).to_contain_text("all saved")
    expect(tablet.get_by_role("list").filter(has_text="Everything is answered.")).to_be_visible()


def finds_one_red_ear(tablet: Page) -> None:
    """Four taps for the ear; its drum is looked at because drops will follow; the heads-up is answered."""
    ears = tablet.locator("#EAR")
    canal = ears.get_by_role("group", name="Canal by otoscope, left")
    choose(canal, "Abnormal")
    choose(ears, "Erythema of pinna or canal", "checkbox")
    choose(ears, "moderate")
    ears.get_by_role("button", name="Done").click()
    expect(canal).to_contain_text("erythema of pinna or canal, moderate")
    choose(ears, "found, recorded below")
    choose(ears.get_by_role("group", name="Tympanic membrane, left"), "Normal")
    choose(ears.get_by_role("group", name="Tympanic membrane, right"), "Normal")


def looks_at_every_line(tablet: Page, code: str) -> None:
    tablet.evaluate(LOOK, code)


def answers_the_routine_and_the_rest(tablet: Page, code: str) -> None:
    """At most two taps on the station's button; what was not measured gets its reason."""
    station = tablet.locator(f"#{code}")
    fill = station.locator("[data-do=fill]")
    for stage in ("normal", "rest"):
        while is_open(station) and fill.is_visible() and stage == fill.get_attribute("data-stage"):
            expect(fill).to_have_attribute("aria-disabled", "false")
            fill.click()
            tablet.wait_for_timeout(50)  # a double tap does not count: then once more
    while is_open(station):
        unmeasured = station.locator(".choice-measured[data-state=new]:not([data-absent])")
        if not unmeasured.count():
            station.locator("[data-do=next]").click()
            return
        choose(unmeasured.first, "Not examined")
        choose(station.locator(".panel"), "not needed today")
        station.get_by_role("button", name="Done").click()


def is_open(station: Locator) -> bool:
    return station.get_attribute("open") is not None


def plans(tablet: Page) -> None:
    step(tablet, "Plan")
    tablet.get_by_role("checkbox", name=re.compile("Canal", re.I)).first.check()
    tablet.get_by_label("What to call it").fill("red left ear")
    tablet.get_by_role("button", name="Open a problem").click()
    tablet.get_by_role("link", name="Assess").click()
    tablet.get_by_label("Assessment", exact=True).fill("Otitis externa, left")
    tablet.get_by_label("The same for the owner").fill("The left ear is inflamed.")
    tablet.get_by_role("button", name="Record the assessment").click()
    tablet.get_by_role("link", name=re.compile("^Medicine")).click()
    tablet.get_by_label("Medicine", exact=True).fill("Millrace ear drops")
    tablet.get_by_label("How much each time").fill("5 drops")
    tablet.get_by_label("Route").select_option("into the ear")
    choose(tablet.get_by_role("group", name="Side"), "left")
    tablet.get_by_label("How often").fill("once a day for 7 days")
    tablet.get_by_label("First dose").fill("this evening")
    tablet.get_by_label("What it is for").fill("the red left ear")
    tablet.get_by_role("button", name="Record the medicine").click()
    expect(tablet.locator("#problem-1, .problem").first).to_contain_text("Millrace ear drops")


def feeds(tablet: Page) -> None:
    step(tablet, "Feeding")
    tablet.get_by_label("Food", exact=True).select_option("tarrock-adult-dry")
    expect(tablet.locator("#reckoned")).to_contain_text(" g")
    tablet.get_by_role("button", name="Put this plan in the letter").click()
    expect(tablet.get_by_role("heading", name="Stands in the letter")).to_be_visible()


def vaccinates(tablet: Page, lot: Lot) -> None:
    step(tablet, "Prevention")
    choose(tablet.get_by_role("group", name="Ill or feverish today?"), "no, well")
    tablet.get_by_role("radio", name=re.compile(lot.number)).check()
    tablet.get_by_role("button", name=re.compile("^right", re.I)).first.click()
    tablet.get_by_label("Who agreed, and how").fill("Henrike Dovale, in words")
    tablet.get_by_role("button", name="Record one dose").click()
    expect(tablet.get_by_role("region", name="Recorded at this visit")).to_contain_text(lot.number)


def signs(tablet: Page) -> float:
    step(tablet, "Letter")
    tablet.get_by_label("PIN").fill(people.PIN)
    tablet.get_by_role("button", name="Sign as Dr Maren Oduya").click()
    at = time.monotonic()
    expect(tablet.get_by_text("Signed by Dr Maren Oduya").first).to_be_visible()
    return at


# --- the owner --------------------------------------------------------------------------------------------


def arrives(mailbox: Mailbox, within: float = 60) -> tuple[float, EmailMessage]:
    deadline = time.monotonic() + within
    while not mailbox.mails and time.monotonic() < deadline:
        time.sleep(0.05)
    assert len(mailbox.mails) == 1, "one letter, one mail"
    return mailbox.mails[0]


def says_the_main_points(mail: EmailMessage) -> None:
    assert mail["To"] == "henrike@example.com"
    body = mail.get_body(("plain",)).get_content()
    assert "Pomfret" in body
    assert "ear" in body


def attached_pdf(mail: EmailMessage) -> bytes:
    (attachment,) = mail.iter_attachments()
    assert attachment.get_content_type() == "application/pdf"
    return attachment.get_content()


def is_the_letter(pdf: bytes, lot: Lot) -> None:
    text = " ".join(" ".join(sheet.extract_text() for sheet in PdfReader(BytesIO(pdf)).pages).split())
    in_a_year = timezone.localdate() + relativedelta(years=1)
    due = f"{in_a_year:%-d %B %Y}"  # after a first dose, whatever the label's years
    words_of_all = ("Pomfret", "by Dr Maren Oduya", "Left ear", "red", "Millrace ear drops", FOOD, "Rabies")
    for words in (*words_of_all, lot.number, due):
        assert words in text, f"“{words}” is not in the letter: {text}"
    assert re.search(r"\d+ g, about ", text), text
    report = pdf_validator.validate_pdf_bytes(pdf, profile=pdf_validator.ValidationProfile.PDF_UA_1)
    assert report.is_compliant, [(each.rule_id, each.message) for each in report.failures]
