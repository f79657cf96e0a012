"""The exam spoken aloud, on the page: said, heard, confirmed by taps; without a network; on two tablets."""

from __future__ import annotations

import json
from contextlib import suppress

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from playwright.sync_api import TimeoutError as Late

from clinic.letters.composition import compose
from clinic.models import Letter, PlanLine, Record
from clinic.visits.actions.signing import missing_of
from exams.models import Exam, Finding, HeardItem, Operation, SpokenForm, TalkLine
from exams.versions import published
from nutrition.actions import keep_feeding
from tests import people
from tests.browser.conftest import DESK, PHONE, PORTRAIT, TABLET, WAITS, give_pin, in_use
from tests.browser.exam_room import (
    KEEPS_PAGES,
    all_saved,
    corner,
    exam_page,
    kept_here,
    open_again,
    open_exam,
    signed_in,
)
from tests.exams.house import exam_here

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_TAPS = 24  # what it needs by now
EAR = "Left ear canal red, mild. Right ear canal normal."
# what plain names do not say as a clinician would
SAID = """
Behaviour normal. Hydration normal, eyes not sunken. Whisker pads normal, both sides.
Pinnae normal, both sides. No smell from the ears. Gingiva, tongue, palate normal. Breath fine, no drooling.
Parotid nodes normal. Front nails normal. No fleas. No ticks. No lumps. No murmur. No extra sounds.
Breathing easily, breathing pattern normal. Lungs clear on both sides. No cough.
Skin under the collar and whole neck normal.
Voice and odour normal. Posture normal, head level. Neck moves up, down and sideways.
Front toes normal. Hind paws normal.
Muscles over the skull and pelvis normal. Even in front. Even behind. Heart sounds normal.
No nystagmus. Four limb gait normal.
Groins flat. Femoral pulses strong. Kidneys smooth and even. Abdominal tuck normal.
"""
UNLIKE_SPEECH = (
    "BEH",
    "odour",
    "breath",
    "murmur",
    "extra",
    "effort",
    "cough",
    "eye position",
    "lumps",
    "gums",
    "kidney",
    "tuck",
)
UNLIKE_SPEECH += ("behaviour", "whisker", "pinna", "parotid", "nails", "lung sounds", "rate and pattern")

# Answers brought in sight by the shortest way of which another thing takes the touch at their corner.
COVERED = """() => [...document.querySelectorAll('.station[open] :is(.pick, button)')].filter(each => {
  scrollTo({top: 0, behavior: 'instant'});
  each.scrollIntoView({block: 'nearest', behavior: 'instant'});
  const { right, bottom, width } = each.getBoundingClientRect();
  return width && !each.contains(document.elementFromPoint(right - 4, bottom - 4));
}).map(each => each.textContent)"""


@pytest.fixture
def station() -> str:
    return "#EAR"


def say(page: Page, text: str) -> None:
    if not page.locator("#talk[open]").count():
        page.click("#talk-go")
    page.fill("#talk-words", text)
    page.click("#talk-hear")


def heard(page: Page, words: str):
    return page.locator(f'#talk-heard .heard-item:has-text("{words}")')


def narration() -> str:
    """Every structure of a full walk by its own name, as far as people say it so."""
    lines = []
    for structure in published().structure.values():
        name = structure.name.partition(" (")[0].lower()
        if (
            structure.asked == "every"
            and structure.depth != "measured"
            and not any(u in name for u in UNLIKE_SPEECH)
            and structure.code != "EAR.canal"  # said by EAR
        ):
            both = structure.sided not in ("", "none", "-")
            lines.append(f"{'Both ' if both else ''}{name} normal.")
    return "\n".join(lines)


def test_a_normal_exam_is_spoken_confirmed_in_few_taps_and_its_letter_says_so(page, visit, house) -> None:
    give_pin(house.clinician)
    say(page, f"{narration()}\n{SAID}\n{EAR}\nRecheck in two weeks.")
    taps = 1  # the field; dictating itself needs none
    all_saved(page)
    expect(page.locator("#talk-heard .heard-all").first).to_be_visible()
    assert not Finding.objects.exists()
    for words in ("Erythema", "Recheck"):
        heard(page, words).locator(".heard-yes").click()
        taps += 1
        expect(heard(page, words)).to_have_count(0)
    all_saved(page)
    rows = page.locator("#talk-heard .heard-item")
    for name in rows.evaluate_all("rows => rows.map(row => row.dataset.item)"):  # what was not meant so
        one = page.locator(f'#talk-heard [data-item="{name}"]')
        with suppress(Late):  # what the server has settled meanwhile goes by itself, without a tap
            one.get_by_role("button", name="Discard").click(timeout=WAITS // 5)
            taps += 1
        expect(one).to_have_count(0)
    while page.locator("#talk-heard .heard-all").count():
        group = page.locator("#talk-heard .heard:has(.heard-all)").first
        place = group.get_attribute("data-heard")
        group.locator(".heard-all").click()
        taps += 1
        expect(page.locator(f"#talk-heard [data-heard={place}] .heard-all")).to_have_count(0)
    all_saved(page)
    assert page.inner_text("#left-total") == "0", page.inner_text("#close-list")
    assert taps <= MOST_TAPS, taps
    spoken = Finding.objects.filter(spoken=True)
    assert spoken.count() > 100
    assert [row.line for row in spoken.exclude(status="normal")] == ["EAR.canal|left"]

    record = Record.objects.get(visit=visit)
    keep_feeding(record=record, until="until we call", actor=people.Actor.of(house.clinician), now=people.NOW)
    assert [m.sentence for m in missing_of(record, actor=people.Actor.of(house.clinician)) if m.blocks] == []
    page.goto(f"{page.url.partition('/exam/')[0]}/sign/")
    page.get_by_label("PIN").fill(people.PIN)
    page.get_by_role("button", name="Sign as").click()
    expect(page.get_by_text("Signed by").first).to_be_visible()
    letter = json.dumps(Letter.objects.get().content)
    assert "the ear is red and irritated" in letter
    assert "Recheck in two weeks" in letter
    assert not TalkLine.objects.exists(), "words are forgotten at the signature"


def test_which_tooth_is_asked_by_quadrant_and_answered_from_the_keyboard(page) -> None:
    say(page, "Moderate tartar.")
    row = heard(page, "Calculus")
    expect(row.locator(".heard-taps").first.get_by_role("button")).to_have_count(5)  # quadrants, Discard
    quadrant = row.locator('.heard-taps [aria-expanded]:has-text("upper left")')
    quadrant.press("Enter")
    expect(quadrant).to_have_attribute("aria-expanded", "true")
    expect(quadrant).to_be_focused()
    assert Axe().run(page, context="#talk").response["violations"] == []
    row.locator(".heard-which").get_by_role("button", name="208").press("Enter")
    expect(page.locator("#talk-count")).to_have_text("all answered")
    all_saved(page)
    assert Finding.objects.get(line="MTH.teeth|208").status == "abnormal"


def test_the_way_to_talk_lies_over_no_answer(page) -> None:
    for width, height in (TABLET, PORTRAIT, PHONE, DESK):
        page.set_viewport_size({"width": width, "height": height})
        expect(page.locator("#talk-go")).to_be_in_viewport(ratio=1)
        assert page.evaluate(COVERED) == [], (width, height)


def test_an_abnormal_ear_is_confirmed_with_its_words_and_the_letter_says_it(page, visit, house) -> None:
    say(page, EAR + " Recheck in two weeks.")
    row = heard(page, "Erythema")
    row.locator(".heard-words").click()
    expect(row.locator("mark").first).to_contain_text("Left ear canal")
    expect(row.locator(".heard-why")).to_contain_text("Why:")
    assert Axe().run(page, context="#talk").response["violations"] == []
    row.get_by_role("button", name="Confirm").click()
    page.locator("#EAR .heard-here .heard-all").click()
    heard(page, "Recheck").locator(".heard-yes").click()
    expect(page.locator("#talk-count")).to_have_text("all answered")
    all_saved(page)
    assert Finding.objects.get(line="EAR.canal|left").findings[0]["severity"] == "mild"
    assert Finding.objects.get(line="EAR.canal|right").status == "normal"
    assert PlanLine.objects.get().kind == "recheck"
    record = Record.objects.get(visit=visit)
    letter = repr(compose(record, today=people.TODAY))
    assert "the ear is red and irritated" in letter
    assert "Recheck in two weeks" in letter


def test_what_is_heard_and_not_confirmed_stands_in_the_way_of_signing_one_tap_away(
    page, visit, live_server
) -> None:
    say(page, EAR)
    expect(heard(page, "Erythema")).to_be_visible()
    page.goto(f"{live_server.url}/visits/{visit.pk}/sign/")
    page.get_by_role("link", name="2 things heard and not confirmed").or_(
        page.locator('a[href$="/exam/#talk"]')
    ).first.click()
    expect(heard(page, "Erythema")).to_be_visible()
    heard(page, "Erythema").get_by_role("button", name="Discard").click()
    page.locator("#talk-heard .heard-all").click()
    all_saved(page)
    record = Record.objects.get(visit=visit)
    actor = people.Actor.of(visit.clinician or record.visit.clinician)
    assert not [m for m in missing_of(record, actor=actor) if m.code == "heard"]
    assert Finding.objects.filter(spoken=True).count() == 1


def test_one_tap_for_many_normals_is_taken_back_by_one(page) -> None:
    say(page, "Both pinnae normal. Both ear canals normal.")
    page.locator("#talk-heard .heard-all").click()
    all_saved(page)
    assert Finding.objects.count() == 4
    page.click("#back")
    all_saved(page)
    expect(page.locator("#talk-heard .heard-all")).to_be_visible()
    assert not Finding.objects.exists()


def test_a_thing_confirmed_on_one_tablet_is_gone_on_the_other(
    page, browser, live_server, visit, house
) -> None:
    other = signed_in(browser, live_server.url, house.colleague)
    theirs = exam_page(other, live_server.url, visit, "#talk")
    say(page, EAR)
    expect(heard(theirs, "Erythema")).to_be_visible()
    heard(page, "Erythema").get_by_role("button", name="Confirm").dblclick()
    expect(heard(theirs, "Erythema")).to_have_count(0)
    all_saved(page)
    assert Operation.objects.filter(what="set_abnormal").count() == 1
    assert theirs.thrown == []
    other.close()


def test_an_odd_number_is_asked_about_beside_its_proposal_and_both_sides_keep_what_stands(
    tablet, live_server, visit, house
) -> None:
    clinician = people.Actor.of(house.clinician)
    hand = exam_here(clinician, visit)
    hand.tap("EAR.canal|left", "set_abnormal", {"findings": [{"code": "EAR-01", "severity": "mild"}]})
    hand.send(hand.operation("talk", "say", {"text": "Temperature 43. Right ear canal waxy."}))
    row = HeardItem.objects.get(kind="line")
    row.said = {**row.said, "side": "none"}  # as where nobody said a side
    row.save()
    with in_use(tablet, live_server.url, house.clinician) as page:
        open_exam(page, live_server.url, visit, "#talk")
        number = heard(page, "temperature")
        number.get_by_role("button", name="Confirm").click()
        expect(number).to_contain_text("Is this right?")
        expect(number.get_by_role("button", name="Confirm")).to_have_count(0)
        assert Axe().run(page, context="#talk").response["violations"] == []
        number.get_by_role("button", name="Yes, I looked twice").click()
        expect(number).to_have_count(0)
        heard(page, "Excess wax").get_by_role("button", name="both").click()
        expect(page.locator("#talk-count")).to_have_text("all answered")
        all_saved(page)
        found = {
            f.line: [x["code"] for x in f.findings] for f in Finding.objects.filter(line__startswith="EAR.c")
        }
        assert found == {"EAR.canal|left": ["EAR-01", "EAR-02"], "EAR.canal|right": ["EAR-02"]}


def test_talk_waits_for_the_network_through_a_reload_and_is_heard_once(
    browser, live_server, house, visit
) -> None:
    context = signed_in(browser, live_server.url, house.clinician, **KEEPS_PAGES)
    page = kept_here(exam_page(context, live_server.url, visit, "#EAR"))
    context.set_offline(True)
    say(page, EAR)
    corner(page, "^1 waiting for the network$")
    open_again(page)
    corner(page, "^1 waiting")
    page.click("#talk-go")
    page.click("#talk-said summary")
    expect(page.locator("#talk-lines")).to_contain_text("not heard yet")
    context.set_offline(False)
    all_saved(page)
    expect(heard(page, "Erythema")).to_be_visible()
    assert TalkLine.objects.get().text == EAR
    assert HeardItem.objects.count() == 2
    assert Exam.objects.get().talk_changes
    context.close()


def test_what_corrections_taught_is_accepted_by_hand_and_fits_a_telephone(page, live_server, house) -> None:
    row = SpokenForm.objects.create(
        kind="finding",
        words="porridge ear",
        means="EAR-02",
        heard_as="x",
        recorded_as="y",
        noted_at=people.NOW,
    )
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    page.goto(f"{live_server.url}/records/spoken/")
    assert Axe().run(page).response["violations"] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
    page.fill(f"#words-{row.pk}", " ")
    page.click("text=Listen for it")
    expect(page.locator(".field-error")).to_contain_text("Say the words")
    page.fill(f"#words-{row.pk}", "porridge in the ear")
    page.click("text=Listen for it")
    expect(page.locator("#acc-h ~ ul")).to_contain_text("porridge in the ear")
    row.refresh_from_db()
    assert (row.state, row.decided_by) == ("accepted", house.clinician)
