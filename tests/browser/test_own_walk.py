"""Each person's own order on the exam page, parts that are gone, and looks that stand at two stations."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.templatetags.static import static
from playwright.sync_api import Page, expect

from clinic.models import LastingFact, Staff, Visit
from exams.lines import Lines, applicable
from exams.models import Finding, Operation
from exams.operations import apply
from exams.state import shown, start
from exams.versions import composed
from exams.wire import walk_json
from tests import people
from tests.browser.conftest import give_pin, in_use
from tests.browser.exam_room import all_saved, corner, kept_here, open_again, open_exam, signed_in
from tests.exams.walkhelp import op, walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PATIENCE = 30_000  # ms: several whole pages, one after the other
CANAL = '.choice[data-key="EAR.canal|left"]'
HIP = '.choice[data-key="HLB.hip|left"]'
MINE = ["EAR", *[s.code for s in walk().stations if s.code != "EAR"]]


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    made = people.people()
    give_pin(made.clinician)
    give_pin(made.colleague)
    return made


@pytest.fixture
def visit(house) -> Visit:
    return people.visit_here(clinician=house.clinician)


@pytest.fixture(scope="module")
def service_workers() -> str:
    return "allow"


@pytest.fixture
def page(tablet: Page, live_server, house) -> Iterator[Page]:
    """The clinician's tablet, with nothing opened."""
    with in_use(tablet, live_server.url, house.clinician):
        tablet.set_default_timeout(PATIENCE)
        yield tablet


def in_mine(staff: Staff) -> None:
    Staff.objects.filter(pk=staff.pk).update(station_order=MINE)


def rail(page: Page) -> list[str]:
    return page.locator(".rail [data-rail]:not([data-rail=close])").evaluate_all(
        "links => links.map(link => link.dataset.rail)"
    )


# ---- My order


def test_stations_are_moved_with_buttons_and_the_exam_follows(page, live_server, visit, house) -> None:
    open_exam(page, live_server.url, visit)
    page.get_by_role("link", name="My order of the walk").click()
    ears = page.locator("li", has=page.locator('input[value="EAR"]'))
    for _ in range(4):
        ears.get_by_role("button", name="Up").click()
    expect(page.locator("[data-moved]")).to_contain_text("number 1 of 21")
    focus = page.evaluate("document.activeElement.textContent")
    assert focus.startswith("Down"), "at the top Up ends, and the focus stays with its station"
    house.clinician.refresh_from_db()
    assert house.clinician.station_order == []
    page.get_by_role("button", name="Walk like this").last.click()
    page.wait_for_selector(".station[open] .lines")
    assert rail(page) == MINE
    assert page.locator("#walk > .station").first.get_attribute("id") == "EAR"
    assert page.locator("#EAR [data-do=next]").text_content() == "Go on: measured"
    page.locator(f"{CANAL} input").first.focus()
    page.keyboard.press("]")
    expect(page.locator("#VIT[open]")).to_be_visible()


def test_the_whole_order_is_moved_by_keyboard(page, live_server, house) -> None:
    page.goto(f"{live_server.url}/me/walk/")
    page.locator('button[value="GEN:up"]').focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Walk like this").last.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("Kept.")
    house.clinician.refresh_from_db()
    assert house.clinician.station_order[:2] == ["GEN", "VIT"]


def test_it_works_without_its_script(browser, live_server, house) -> None:
    context = signed_in(browser, live_server.url, house.clinician, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/me/walk/")
    page.locator('button[value="GEN:up"]').click()
    page.locator(".own-keep button").first.click()
    house.clinician.refresh_from_db()
    assert house.clinician.station_order[:2] == ["GEN", "VIT"]
    context.close()


def test_a_tablet_handed_over_shows_the_order_of_who_works_now_after_a_reload(
    page, live_server, visit, house
) -> None:
    in_mine(house.clinician)
    open_exam(page, live_server.url, visit)
    page.route("**/exam/operations/", lambda route: route.abort())
    page.click(f"{CANAL} .pick-normal")
    corner(page, "^1 waiting")
    sign_in_over(page, house.colleague)
    assert rail(page) == MINE  # nothing jumps under a finger
    page.reload()
    page.wait_for_selector(".station[open] .lines")
    assert rail(page) == [s.code for s in walk().stations]
    corner(page, "^1 waiting")
    page.unroute("**/exam/operations/")
    all_saved(page)
    assert Operation.objects.get().person == house.clinician


def sign_in_over(page: Page, staff: Staff) -> None:
    """Another person's full sign-in on this tablet, over the open page."""
    page.locator(".who-change").click()
    page.get_by_role("link", name="Somebody else signs in").click()
    page.get_by_label("E-mail").fill(staff.email)
    page.get_by_label("Password").fill(people.PASSWORD)
    page.get_by_role("button", name="Sign in and take the tablet").click()
    page.locator("#handover").get_by_role("button", name="Go on").click()
    expect(page.locator("[data-works-here]")).to_have_text(staff.full_name)


def test_the_page_kept_for_no_network_has_the_order_it_had(page, live_server, visit, house) -> None:
    in_mine(house.clinician)
    kept_here(open_exam(page, live_server.url, visit))
    Staff.objects.filter(pk=house.clinician.pk).update(station_order=[])  # at a desk, meanwhile
    page.context.set_offline(True)
    open_again(page)
    assert rail(page) == MINE
    page.click(f"{CANAL} .pick-normal")
    corner(page, "^1 waiting")
    page.context.set_offline(False)
    all_saved(page)
    assert Finding.objects.get().line == "EAR.canal|left"


# ---- There is none of it


def open_unseen(page: Page) -> None:
    page.click(f"{HIP} .pick-unseen")
    page.click('.panel .pick:has-text("there is none: removed")')


def test_a_leg_that_is_gone_from_the_tap_to_the_way_back(page, live_server, visit, house) -> None:
    open_exam(page, live_server.url, visit, "#HLB")
    page.context.set_offline(True)
    open_unseen(page)
    page.click('.panel .pick:has-text("the whole leg")')
    page.click('.panel .pick:has(span:text-is("amputated"))')
    expect(page.locator(f"{HIP} .field-error")).to_contain_text("so it cannot wait on this tablet")
    assert not LastingFact.objects.exists()
    page.context.set_offline(False)
    all_saved(page)
    page.click('.panel .pick:has(span:text-is("amputated"))')  # the same reason again
    expect(page.locator(f"{HIP} .said")).to_contain_text("not applicable: amputated")
    assert LastingFact.objects.get().words == "left hind leg"
    back = page.locator(f"{HIP} .gone-back")
    back.get_by_role("button", name="it is there after all").click()
    back.get_by_role("button", name="Strike it out").click()
    expect(back.locator(".field-error")).to_have_text("Say why it is struck out.")
    back.get_by_label("Why it is struck out").fill("the other leg")
    back.get_by_role("button", name="Strike it out").click()
    page.wait_for_selector(f"{HIP} .choice-set:visible")
    assert LastingFact.objects.get().struck_reason == "the other leg"


def test_species_sex_and_age_have_no_way_back(page, live_server, visit) -> None:
    open_exam(page, live_server.url, visit, "#GUM")
    expect(page.locator('.choice[data-key="GUM.testes|left"] .said')).to_contain_text("neutered")
    assert page.locator("#GUM .gone-back").count() == 0


# ---- One look, two stations


def twins_of(lines: Lines) -> list[tuple[str, str]]:
    """Every line that is the same look as one of another station, with that one."""
    found = []
    for line in lines:
        s = walk().structure.get(line.structure)
        if s and s.twin and line.applies:
            found += [(line.key, home.key) for home in lines if home.structure == s.twin and home.applies]
    return found


def taps_at(lines: Lines, key: str) -> Iterator[tuple[str, dict]]:
    line = lines[key]
    if line.depth == "measured":
        yield "measure", {"value": "96", "unit": line.value, "flag": "inside"}
    else:
        yield "set_normal", {}
        code = next((c for c in line.codes if not walk().finding[c].variant), "")
        if code:
            side = walk().finding[code].side_text.startswith("L/R") and line.side == "-"
            more = {"qualifiers": {"side": "left"}} if side else {}
            yield "set_abnormal", {"findings": [{"code": code, **more}]}
    yield "set_not_examined", {"reason": "too-painful", "words": ""}


MODEL = """async ([at, told, cases]) => {
  const { Model } = await import(at);
  return cases.map(({ target, what, payload, keys }) => {
    const state = { pulse: '1', answers: {}, versions: {}, notes: {}, heads_ups: [], kind: 'full',
                    stations: [], kind_reason: '', people: {} };
    const me = { staff: 'oduya', grant: '', role: 'clinician', name: 'Dr Maren Oduya' };
    const model = new Model({ walk: told, state, me, lumps: { known: {} } });
    model.put(model.make(target, what, payload));
    return keys.map(key => {
      const answer = model.shown(key);
      return answer ? [answer.status, (answer.findings ?? []).map(f => f.code)] : null;
    });
  });
}"""


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_every_twin_line_reads_on_the_page_as_the_rules_say(page, live_server, species) -> None:
    """Whatever is tapped at one of the two stations, and both read alike what the server will say."""
    lines = applicable(walk(), species, "male", False, 2000)
    cases, expected = [], []
    for pair in twins_of(lines):
        for key in pair:
            for what, payload in taps_at(lines, key):
                state, outcome = apply(start(), op(key, what, payload), walk(), lines)
                assert outcome.accepted, (key, what, outcome.words)
                told = [shown(state, lines, k) for k in pair]
                cases.append({"target": key, "what": what, "payload": payload, "keys": list(pair)})
                expected.append([a and [a.status, [f.code for f in a.findings]] for a in told])
    page.goto(f"{live_server.url}/me/")
    module = live_server.url + static("exams/model.js")
    seen = page.evaluate(MODEL, [module, walk_json(walk(), lines), cases])
    wrong = [(c, s, e) for c, s, e in zip(cases, seen, expected, strict=True) if s != e]
    assert not wrong, wrong[:5]
    homes = {walk().structure[k.partition("|")[0]].twin for k, _ in twins_of(lines)}
    here = {s.twin for s in walk().structure.values() if s.twin and species in s.species}
    assert homes == here  # no twin of the data was left out


@pytest.mark.parametrize("species", ["dog", pytest.param("cat", marks=pytest.mark.long)])
def test_a_look_answered_once_is_shown_at_both_stations(page, live_server, house, species) -> None:
    patient = people.patient("Quill", species=species, breed="", neutered="no")
    visit = people.visit_here(patient, clinician=house.clinician)
    open_exam(page, live_server.url, visit)
    lines = applicable(walk(), species, "male", False, 2000)
    pairs = [(a, b) for a, b in twins_of(lines) if lines[a].depth != "measured"]
    for twin in dict.fromkeys(a for a, _ in pairs):
        for home in [b for a, b in pairs if a == twin]:  # an unpaired twin reads both sides of its home
            page.click(f'[data-rail="{home.partition(".")[0]}"]')
            page.locator(f'.choice[data-key="{home}"] .pick-normal').click()
        page.click(f'[data-rail="{twin.partition(".")[0]}"]')
        expect(page.locator(f'.choice[data-key="{twin}"]')).to_have_attribute("data-state", "normal")
    all_saved(page)
    stored = {k for a, b in pairs for k in (*lines[b].stored_at,)}
    assert set(Finding.objects.filter(status="normal").values_list("line", flat=True)) == stored


def test_the_walk_of_these_tests_is_the_one_in_force() -> None:
    assert composed().sha256 == walk().sha256
