"""One finding in the open panel: what qualifies it, how urgent it is, the other side, its published scale."""

from __future__ import annotations

import json

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from clinic.models import Measurement, Record, Visit
from exams.digest import facts_of_entry
from exams.models import Finding
from exams.state import FindingEntry
from exams.urgency import effective, facts_of
from exams.versions import composed
from tests import people
from tests.browser.exam_room import all_saved, exam_page, signed_in
from tests.exams.house import exam_here

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DATA = "({ walk: JSON.parse(document.querySelector('#walk-data').textContent) })"
LEFT, RIGHT = ('.choice[data-key="EAR.canal|left"]', '.choice[data-key="EAR.canal|right"]')


def abnormal(page: Page, line: str, *names: str) -> None:
    station = line.partition(".")[0]
    if not page.locator(f"#{station}[open]").count():
        page.click(f"[data-rail={station}]")
    page.click(f'.choice[data-key="{line}"] .pick-abnormal')
    for name in names:
        if not page.locator(f'.panel .pick:has-text("{name}")').count():
            page.click('.panel .toggles .button:has-text("more")')
        page.click(f'.panel .pick:has-text("{name}")')


def finding(line: str) -> dict:
    return Finding.objects.get(line=line).findings[0]


def test_qualifiers_are_toggles_and_numbers_with_their_unit(page) -> None:
    abnormal(page, "EAR.canal|left", "Purulent exudate")
    page.click('.told .pick:has-text("a lot")')
    page.click('.told .pick:has-text("yellow")')
    page.click('.told .pick:has-text("brown")')
    all_saved(page)
    assert finding("EAR.canal|left")["qualifiers"] == {"amount": "a lot", "colour": "brown"}
    page.click('.told .pick:has-text("brown")')
    all_saved(page)
    assert finding("EAR.canal|left")["qualifiers"] == {"amount": "a lot"}
    page.click('.panel .toggles .button:has-text("more")')
    page.click('.panel .pick:has-text("Mass or polyp")')
    size = page.get_by_label("Mass or polyp in canal: Size, mm")
    size.fill("big")
    size.press("Tab")
    expect(page.locator(".told .field-error", has_text="a number, please")).to_be_visible()
    size.fill("12,5")
    size.press("Tab")
    all_saved(page)
    told = Finding.objects.get(line="EAR.canal|left").findings
    assert [f["qualifiers"] for f in told] == [{"amount": "a lot"}, {"mm": "12,5"}]
    assert page.inner_text(f"{LEFT} .said, .panel .told-head") != ""


def test_a_circumstance_moves_the_class_and_says_why(page) -> None:
    abnormal(page, "EAR.canal|left", "Excess wax")
    row = page.locator('.told [data-code="EAR-02"]')
    expect(row.locator(".told-class")).to_have_text("Monitor")
    row.locator('.pick:has-text("comes back")').click()
    expect(row.locator(".told-class")).to_have_text("Recheck")
    expect(row.locator(".told-why")).to_contain_text("Usually monitor; recheck here: comes back.")
    all_saved(page)
    assert finding("EAR.canal|left")["circumstances"] == ["returns"]


def test_another_finding_of_today_moves_the_class_too(page) -> None:
    abnormal(page, "EAR.canal|left", "Erythema", "Pain on palpation")
    row = page.locator('.told [data-code="EAR-01"]')
    expect(row.locator(".told-class")).to_have_text("Treat soon")
    expect(row.locator(".told-why")).to_contain_text("pain on palpation or exam")


def test_a_clinicians_own_class_waits_for_its_reason(page) -> None:
    abnormal(page, "EAR.canal|left", "Purulent exudate")
    row = page.locator('.told [data-code="EAR-05"]')
    row.get_by_text("Another class").click()
    row.locator('.told-own .pick:has-text("Monitor")').click()
    expect(row.locator(".told-own .field-error")).to_contain_text("Say why")
    expect(row.locator(".told-class")).to_have_text("Treat soon")
    row.locator('.pick:has-text("known and under treatment")').click()
    expect(row.locator(".told-class")).to_have_text("Monitor")
    all_saved(page)
    told = finding("EAR.canal|left")
    assert (told["urgency"], told["urgency_why"]) == ("M", "known and under treatment")


def test_a_technician_is_not_offered_another_class(browser, live_server, house, visit) -> None:
    context = signed_in(browser, live_server.url, house.technician)
    page = exam_page(context, live_server.url, visit)
    abnormal(page, "EAR.canal|left", "Excess wax")
    assert page.locator(".told-own").count() == 0
    context.close()


def test_the_other_side_is_the_same_by_an_explicit_tap_and_then_its_own(page) -> None:
    """exam-R07: both ears red, right severe, left mild: two entries with different severity."""
    abnormal(page, "EAR.canal|left", "Erythema")
    page.click('.told .pick:has-text("mild")')
    page.click(".panel [data-do=same]")
    all_saved(page)
    assert finding("EAR.canal|right")["severity"] == "mild"
    page.click('.other-side .button:has-text("Change it there")')
    expect(page.locator("#panel-title")).to_contain_text("Right")
    page.click('.told .pick:has-text("severe")')
    all_saved(page)
    assert (finding("EAR.canal|left")["severity"], finding("EAR.canal|right")["severity"]) == (
        "mild",
        "severe",
    )


def test_what_stands_on_the_other_side_is_shown_before_it_is_replaced(page) -> None:
    page.click("[data-rail=EAR]")
    page.click(f"{RIGHT} .pick-normal")
    abnormal(page, "EAR.canal|left", "Erythema")
    page.click(".panel [data-do=same]")
    expect(page.locator(".other-side")).to_contain_text("says: normal")
    page.click('.other-side .button:has-text("Leave it")')
    all_saved(page)
    assert Finding.objects.get(line="EAR.canal|right").status == "normal"


def test_a_variant_stays_with_normal(page) -> None:
    abnormal(page, "EYE.lens|left")
    page.click('.panel .pick-normal:has-text("Nuclear")')
    all_saved(page)
    assert Finding.objects.get(line="EYE.lens|left").status == "normal"


def test_what_was_abnormal_last_time_is_answered_by_itself(page, house, visit) -> None:
    """One tap for a whole station never says of it that it is normal now."""
    before = people.visit_here(people.patient("Bramble"), clinician=house.clinician)
    Visit.objects.filter(pk=before.pk).update(patient=visit.patient, place="gone-home")
    Record.objects.filter(visit=before).update(opened_at="2026-02-03T09:00:00Z")
    tablet = exam_here(house.actor("clinician"), before)
    tablet.tap("EAR.canal|left", "set_abnormal", {"findings": [{"code": "EAR-02"}]})
    Record.objects.filter(visit=before).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="x"
    )
    page.reload()
    page.click("[data-rail=EAR]")
    page.wait_for_selector("#EAR[open] .lines")
    for line in page.locator("#EAR .line").all():
        line.scroll_into_view_if_needed()
    foot = page.locator("#EAR .station-foot")
    foot.scroll_into_view_if_needed()
    expect(foot.locator("p")).to_contain_text(
        "Not normal last time, so it needs its own answer: canal by otoscope."
    )
    foot.locator("[data-do=fill]").click()
    all_saved(page)
    assert Finding.objects.get(line="EAR.canal|right").status == "normal"
    assert not Finding.objects.filter(exam__record__visit=visit, line="EAR.canal|left").exists()


def test_normal_tapped_again_offers_what_goes_with_it(page) -> None:
    lens = '.choice[data-key="EYE.lens|left"]'
    page.click("[data-rail=EYE]")
    page.click(f"{lens} .pick-normal")
    all_saved(page)
    assert page.locator(".panel").count() == 0
    page.focus(f"{lens} input[value=normal]")
    page.keyboard.press("n")
    page.click('.panel-normal .pick:has-text("Nuclear")')
    all_saved(page)
    row = Finding.objects.get(line="EYE.lens|left")
    assert (row.status, len(row.findings)) == ("normal", 1)
    page.click('.panel-normal .pick:has-text("Nuclear")')
    all_saved(page)
    row = Finding.objects.get(line="EYE.lens|left")
    assert (row.status, row.findings) == ("normal", [])


def test_a_line_with_nothing_of_the_kind_opens_nothing_at_a_second_tap(page) -> None:
    cornea = '.choice[data-key="EYE.cornea|left"]'
    page.click("[data-rail=EYE]")
    page.click(f"{cornea} .pick-normal")
    page.click(f"{cornea} .pick-normal")
    assert page.locator(".panel").count() == 0


def test_a_murmur_takes_its_grade_from_the_scale_with_source_and_refuses_a_contradiction(page) -> None:
    abnormal(page, "HRT.murmur|-")
    page.click(".panel .scale .scale-open")
    sheet = page.locator("dialog.scale-sheet")
    expect(sheet).to_contain_text("Veterinary Cardiovascular Society")
    expect(sheet).to_contain_text("A heart stage (ACVIM) is not offered here")
    expect(sheet).to_contain_text("For comparison")
    sheet.locator('.pick:has-text("IV")').first.click()
    expect(sheet).to_have_count(0)
    page.click('.told .pick:has-text("systolic")')
    page.click('.told .pick:has-text("left apex")')
    all_saved(page)
    told = finding("HRT.murmur|-")
    assert (told["code"], told["grade"]) == ("HRT-02", "4")
    assert told["qualifiers"] == {"timing": "systolic", "loudest point": "left apex"}
    page.get_by_role("group", name="Thrill").locator(".pick", has_text="yes").click()
    expect(page.locator(".told-name small")).to_contain_text("with a thrill V or VI")


def test_the_coma_scale_is_summed_from_its_parts_with_band_and_caution(page) -> None:
    abnormal(page, "GEN.consciousness|-")
    page.click('.panel .scale .pick:has-text("dull or obtunded")')
    page.click('.told .button:has-text("Modified Glasgow coma scale")')
    sheet = page.locator("dialog.scale-sheet")
    expect(sheet).to_contain_text("From memory, to be checked")
    expect(sheet.locator(".scale-total")).to_contain_text("Not every part")
    for part, step in (("Motor", "5"), ("Brainstem", "5"), ("Consciousness", "4")):
        sheet.get_by_role("group", name=part).locator(f'.pick:has(b:text-is("{step}"))').click()
    expect(sheet.locator(".scale-total")).to_have_text("14 of 18. Band 9 to 14: guarded.")
    sheet.locator('.button:has-text("Keep this total")').click()
    all_saved(page)
    said = finding("GEN.consciousness|-")["qualifiers"]["coma scale"]
    assert said == "Modified Glasgow coma scale 14 of 18: motor 5, brainstem 5, consciousness 4"


def test_a_licensed_pain_scale_asks_its_total_alone(page) -> None:
    page.click("[data-rail=GEN]")
    page.click('.choice[data-key="GEN.pain|-"] .scale-open:has-text("published")')
    page.click('dialog.scale-sheet .button:has-text("Glasgow composite")')
    sheet = page.locator("dialog.scale-sheet")
    assert sheet.locator(".pick").count() == 0
    expect(sheet).to_contain_text("the form is not shown")
    sheet.get_by_label("Total").fill("6")
    expect(sheet.locator(".scale-total")).to_contain_text("6 of 24. The scale suggests pain relief")
    sheet.locator("select").select_option("20")
    sheet.get_by_label("Total").fill("4")
    expect(sheet.locator(".scale-total")).to_have_text("4 of 20.")
    sheet.locator('.button:has-text("Keep this total")').click()
    all_saved(page)
    expect(page.locator('.choice[data-key="GEN.pain|-"]')).to_contain_text("short form 4 of 20")


def test_body_condition_is_scored_beside_its_picture(page) -> None:
    page.click("[data-rail=BCM]")
    score = page.locator('.choice[data-key="BCM.score|-"]')
    score.locator(".scale-open").click()
    sheet = page.locator("dialog.scale-sheet")
    assert page.evaluate("document.querySelector('.scale-picture img').decode().then(() => true)")
    expect(sheet).to_contain_text("ribs felt without excess fat")
    sheet.locator('.pick:has(b:text-is("7"))').click()
    all_saved(page)
    assert Measurement.objects.filter(kind="bcs").latest("pk").value == 7


def test_large_lymph_nodes_offer_a_finding_and_record_none_unasked(page) -> None:
    """exam-G30, exam-G31. Source: Blois, Clinical Medicine 1, University of Guelph 2021; common practice."""
    page.click("[data-rail=LYM]")
    size = page.get_by_label("Mandibular, left: long axis, mm")
    size.fill("8")
    size.press("Tab")
    all_saved(page)
    assert Finding.objects.get(line="LYM.mandibular|left").status == "normal"
    assert page.locator(".suggested .notice").count() == 0
    for node, mm in (("Mandibular", "22"), ("Popliteal", "18")):
        field = page.get_by_label(f"{node}, left: long axis, mm")
        field.fill(mm)
        field.press("Tab")
    expect(page.locator(".suggested .notice")).to_contain_text("10 mm or more in 2 regions")
    assert not [f for row in Finding.objects.filter(station="LYM") for f in row.findings]
    page.click('.suggested .button:has-text("Record it")')
    all_saved(page)
    assert finding("LYM.*|-")["code"] == "LYM-04"
    expect(page.locator(".suggested .notice")).to_have_count(0)


def test_the_whole_panel_goes_by_keyboard(page) -> None:
    page.click("[data-rail=EAR]")
    page.locator(f"{LEFT} input[value=normal]").focus()
    page.keyboard.press("a")
    page.keyboard.press("Enter")
    first = page.evaluate("document.activeElement.closest('.panel') !== null")
    assert first
    for _ in range(40):
        if page.evaluate("document.activeElement.closest('.pick')?.textContent") == "Excess wax":
            break
        page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert page.evaluate("document.activeElement.closest('.pick')?.textContent") == "Excess wax"
    for _ in range(60):
        if page.evaluate("document.activeElement.closest('.told .pick')?.textContent ?? ''") == "mild":
            break
        page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert page.evaluate("document.activeElement.closest('.told .pick').textContent") == "mild"
    page.keyboard.press("s")
    all_saved(page)
    assert finding("EAR.canal|right")["severity"] == "mild"
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.closest('.choice')?.dataset.key") == "EAR.canal|left"


def test_the_tablet_and_the_server_read_every_rule_of_urgency_alike(page) -> None:
    """Every finding, every rule of it alone and each rule with one condition missing."""
    walk, cases = composed(), []
    for code in page.evaluate(f"Object.keys({DATA}.walk.findings)"):
        change = walk.finding[code].change
        for conditions in [(), *(c.all for c in change), *(c.all[1:] for c in change if len(c.all) > 1)]:
            cases.append(case_of(code, conditions))
    told = page.evaluate(
        f"""async cases => {{
          const app = document.querySelector('script[src*="exams/exam"]').src;
          const {{ effective, factsFor }} = await import(app.replace(/exam(\\.\\w+)?\\.js.*/, 'urgency.js'));
          const data = {DATA};
          return cases.map(({{ entry, facts, codes }}) => {{
            const answers = new Map([['x', {{ findings: codes.map(code => ({{ code }})) }}]]);
            const model = {{ walk: data.walk, server: {{ facts }}, answers }};
            return effective(data.walk.findings[entry.code], factsFor(model, entry)).letter;
          }});
        }}""",
        cases,
    )
    expected = [letter_of(each) for each in cases]
    wrong = [(c, t, e) for c, t, e in zip(cases, told, expected, strict=True) if t != e]
    assert not wrong, json.dumps(wrong[:5], indent=1)
    assert len({*expected}) == 4
    assert len(cases) > 500


def case_of(code: str, conditions: tuple[str, ...]) -> dict:
    """An entry, the animal's facts and today's other findings in which these conditions hold."""
    entry = {"code": code, "circumstances": [], "qualifiers": {}}
    facts = {"species": "dog", "age_months": 60.0, "age_days": 1826.0, "age_weeks": 260.0}
    codes = []
    for condition in conditions:
        words = condition.split()
        if condition.startswith("finding:"):
            codes.append(condition.removeprefix("finding:"))
        elif len(words) == 1:
            entry["circumstances"].append(condition)
        elif words[0] == "severity":
            entry["severity"] = words[2]
        elif words[1] == "==" and words[0] == "species":
            facts["species"] = words[2]
        elif words[0] == "grade":
            entry["grade"] = words[2]
        else:
            facts[words[0]] = float(words[2]) + {">": 1, "<": -1}.get(words[1], 0)
    return {"entry": entry, "facts": facts, "codes": codes}


def letter_of(case: dict) -> str:
    walk, entry = composed(), case["entry"]
    said = FindingEntry(
        entry["code"],
        severity=entry.get("severity", ""),
        grade=entry.get("grade", ""),
        circumstances=tuple(entry["circumstances"]),
    )
    codes = {*case["codes"], entry["code"]}
    facts = {**facts_of(walk, species="dog", codes=codes), **case["facts"]}
    return effective(walk.finding[entry["code"]], {**facts, **facts_of_entry(walk, said)}).letter


def test_an_open_panel_and_its_scale_are_accessible(page) -> None:
    abnormal(page, "HRT.murmur|-")
    page.click('.panel .scale .pick:has-text("about as loud")')
    page.locator(".told-more summary").click()
    page.locator(".told-own summary").click()
    assert violations(page, ".panel") == []
    page.click(".panel .scale .scale-open")
    page.wait_for_selector("dialog.scale-sheet")
    assert violations(page, "dialog.scale-sheet") == []


def violations(page: Page, place: str) -> list[str]:
    found = Axe().run(page, context={"include": [[place]]}).response["violations"]
    return [f"{v['id']}: {n['html'][:160]}" for v in found for n in v["nodes"]]
