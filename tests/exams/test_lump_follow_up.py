"""A lump after the tap: what a signature waits for, letter, patient's page, what a sample showed."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied
from django.db import Error, connection, transaction
from django.template.loader import render_to_string
from django.test.utils import CaptureQueriesContext

from clinic.care.actions import assess, enter_result, open_problem, order_test
from clinic.letters.composition import compose
from clinic.models import Record
from clinic.visits.actions import set_kind
from exams.lump_actions import NoResult, OtherPatient, enter_sample_result, strike_sample_result
from exams.lump_call_backs import LumpsAgain, LumpWords
from exams.lump_pages import lumps_json
from exams.lump_plugs import ExportLumps, LumpPanel, LumpsAnswered, MoveLumps
from exams.models import Lump, LumpResult, LumpSample
from exams.queries import standing
from tests import people
from tests.exams.house import Tablet, exam_here
from tests.exams.test_lump_taps import measured, next_visit, placed, told

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def tablet(house) -> Tablet:
    return exam_here(house.actor("clinician"))


def record_of(tablet: Tablet) -> Record:
    return Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)


def missing(tablet: Tablet) -> dict[str, str]:
    found = LumpsAnswered().missing(record_of(tablet), actor=tablet.actor)
    return {each.code: each.sentence for each in found}


def follow(tablet: Tablet, *sizes: tuple[int, tuple[float, ...]]) -> tuple[Tablet, str]:
    """One lump, measured at visits so many days from now, the first of them today."""
    key = placed(tablet)
    measured(tablet, key, *sizes[0][1])
    for days, axes in sizes[1:]:
        tablet = next_visit(tablet, days=days)
        measured(tablet, key, *axes)
    return tablet, key


# ---- Before the signature


def test_a_known_lump_without_a_word_stands_against_the_signature_of_a_full_walk(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 14, 11)
    assert missing(tablet) == {}
    again = next_visit(tablet, days=60)
    assert missing(again) == {"lump:1": "Lump 1, left flank: measured, gone or not looked at?"}
    again.tap(key, "lump_not_looked", {"reason": "would-not-allow"})
    assert missing(again) == {}


def test_a_focused_visit_need_not_measure_what_it_did_not_come_for(tablet) -> None:
    measured(tablet, placed(tablet), 14, 11)
    again = next_visit(tablet, days=60)
    visit = record_of(again).visit
    set_kind(visit=visit, kind="focused", reason="the ear", actor=again.actor, now=people.NOW)
    assert missing(again) == {}


def test_a_lump_that_is_gone_is_not_asked_for_again(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 14, 11)
    again = next_visit(tablet, days=60)
    again.tap(key, "lump_gone", {"how": "not-felt"})
    assert missing(next_visit(again, days=120)) == {}


def test_a_lump_without_a_size_stands_against_the_signature(tablet) -> None:
    key = placed(tablet)
    assert missing(tablet) == {"lump-size:1": "Lump 1, left flank, has no size yet."}
    measured(tablet, key, 14, 11)
    assert missing(tablet) == {}


def test_a_lump_that_was_only_ticked_is_asked_onto_the_map_and_blocks_nothing(tablet) -> None:
    tablet.tap("SKN.lumps|-", "set_abnormal", {"findings": [{"code": "SKN-27"}]})
    [found] = LumpsAnswered().missing(record_of(tablet), actor=tablet.actor)
    assert (found.code, found.blocks) == ("lump-nowhere", False)


def say(tablet: Tablet, words: str) -> None:
    record = record_of(tablet)
    vet = {"actor": tablet.actor, "now": people.NOW}
    visit = record.visit
    problem = open_problem(
        patient=visit.patient, visit=visit, title="Lump", lines=["SKN.lumps|-"], urgency="R", **vet
    )
    assess(record=record, problem=problem, text="Soft, free", for_owner=words, **vet)


@pytest.mark.parametrize(
    "words",
    [
        pytest.param("This is a fatty lump.", id="exam-L13 fatty lump"),
        pytest.param("The lump is benign.", id="exam-L13 benign"),
    ],
)
def test_a_letter_that_says_what_a_lump_is_before_a_result_does_is_not_signed(tablet, words) -> None:
    """Source: common practice, looks and feel cannot tell."""
    key = placed(tablet)
    measured(tablet, key, 14, 11)
    tablet.tap(key, "lump_sample", {"method": "needle"})
    say(tablet, words)
    assert "looks and feel cannot tell" in missing(tablet)["lump-named"]


def test_after_a_result_the_letter_may_say_it(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 14, 11)
    tablet.tap(key, "lump_sample", {"method": "needle"})
    again = next_visit(tablet, days=20)
    result(tablet, "fat cells, no other cells")
    measured(again, key, 14, 11)
    say(again, "This is a fatty lump.")
    assert missing(again) == {}


def test_an_ordinary_sentence_passes(tablet) -> None:
    measured(tablet, placed(tablet), 14, 11)
    say(tablet, "There is a soft lump under the skin. We measure it again.")
    assert missing(tablet) == {}


# ---- In the letter


def lumps_in_letter(tablet: Tablet):
    record = record_of(tablet)
    day = record.opened_at.date()
    return next((s for s in compose(record, today=day).sections if s.name == "lumps"), None)


def test_the_letter_draws_growth_from_three_measures_on(tablet) -> None:
    two, _ = follow(tablet, (0, (12, 10, 8)), (60, (16, 12, 9)))
    assert [len(b.figures) for b in lumps_in_letter(two).blocks] == [1]
    three = next_visit(two, days=120)
    measured(three, f"lump:{Lump.objects.get().key}", 20, 15, 11)
    _, growth = lumps_in_letter(three).blocks
    assert growth.figures[0].alt == (
        "Length of lump 1: 12 mm in March 2026, 16 mm in May 2026, 20 mm in July 2026."
    )


def test_the_letter_says_which_lump_is_gone_or_was_not_looked_at(tablet) -> None:
    one, two = placed(tablet), placed(tablet, x=0.3)
    for key in (one, two):
        measured(tablet, key, 12, 10)
    again = next_visit(tablet, days=60)
    again.tap(one, "lump_gone", {"how": "removed", "words": "elsewhere in May"})
    again.tap(two, "lump_not_looked", {"reason": "would-not-allow"})
    again.all_normal("SKN")
    [block] = lumps_in_letter(again).blocks
    assert [s.text for s in block.sentences] == [
        "Lump 1, left flank: removed by surgery, elsewhere in May.",
        "Lump 2, left flank: not looked at today. Pomfret would not allow it.",
    ]


def test_the_letter_says_what_was_sampled_and_what_it_showed(tablet) -> None:
    key = placed(tablet)
    measured(tablet, key, 12, 10)
    tablet.tap(key, "lump_sample", {"method": "needle"})
    words = " ".join(each.text for each in lumps_in_letter(tablet).blocks[-1].sentences)
    assert words == "Lump 1: needle sample taken today. We wait for the result."
    result(tablet, "fat cells, no other cells")
    words = " ".join(each.text for each in lumps_in_letter(tablet).blocks[-1].sentences)
    assert words == "Lump 1: needle sample taken today. It showed: fat cells, no other cells."


# ---- Results


def result(tablet: Tablet, words: str, **more: object) -> LumpResult:
    sample = LumpSample.objects.select_related("lump").get()
    return enter_sample_result(sample=sample, words=words, actor=tablet.actor, now=people.NOW, **more)


def sampled(tablet: Tablet) -> LumpSample:
    key = placed(tablet)
    measured(tablet, key, 12, 10)
    tablet.tap(key, "lump_sample", {"method": "needle"})
    return LumpSample.objects.select_related("lump").get()


def test_a_result_is_taken_over_from_the_test_that_reported_it(tablet) -> None:
    sampled(tablet)
    vet = {"actor": tablet.actor, "now": people.NOW}
    test = order_test(record=record_of(tablet), kind="cytology", title="Cells of lump 1", **vet)
    with pytest.raises(NoResult):
        result(tablet, "", test=test)
    enter_result(test=test, value="fat cells", meaning="negative", **vet)
    assert result(tablet, "", test=test).words == "fat cells"


def test_a_result_comes_after_the_signature_and_is_struck_never_erased(tablet, house) -> None:
    sampled(tablet)
    next_visit(tablet, days=10)
    row = result(tablet, "fat cells")
    with pytest.raises(Error, match="struck out"), transaction.atomic():
        LumpResult.objects.update(words="else")
    with pytest.raises(PermissionDenied):
        strike_sample_result(result=row, reason="x", actor=house.actor("technician"), now=people.NOW)
    strike_sample_result(result=row, reason="another lump", actor=house.actor("colleague"), now=people.NOW)
    patient = record_of(tablet).visit.patient
    [lump] = LumpPanel().context(patient, actor=tablet.actor, today=people.TODAY)["rows"]
    assert lump.samples[0].results == ()


def test_another_patients_test_is_no_result(tablet, house) -> None:
    sampled(tablet)
    other = people.visit_here(people.patient("Other", of=people.owner("Ann Other", "a@example.com")))
    test = order_test(record=other.record, kind="x", title="x", actor=tablet.actor, now=people.NOW)
    with pytest.raises(OtherPatient):
        result(tablet, "fat cells", test=test)


def test_the_result_is_entered_from_the_patients_page(client, tablet, house) -> None:
    sample = sampled(tablet)
    patient = record_of(tablet).visit.patient
    client.force_login(house.technician)
    page = client.get(f"/patients/{patient.pk}/").content.decode()
    assert "no result yet" in page
    client.post(f"/patients/{patient.pk}/lump-samples/{sample.pk}/result/", {"words": "fat cells"})
    assert "fat cells" in client.get(f"/patients/{patient.pk}/").content.decode()


# ---- On the patient's page, and on the next exam's


def test_the_panel_draws_a_lump_and_says_how_fast_it_grew(tablet) -> None:
    tablet, _ = follow(tablet, (0, (12, 10, 8)), (45, (16, 13, 10)))
    patient = record_of(tablet).visit.patient
    [row] = LumpPanel().context(patient, actor=tablet.actor, today=people.TODAY)["rows"]
    assert row.now == "16 × 13 × 10 mm on 25 Apr 2026"
    assert "Doubles in about 40 days" in row.grown
    assert row.picture.alt == "Length of lump 1 from March 2026 to April 2026: 12 mm at first, now 16 mm."
    assert [s.size for s in row.sizes] == ["16 × 13 × 10 mm", "12 × 10 × 8 mm"]


def test_a_lump_withdrawn_is_shown_nowhere(tablet) -> None:
    key = placed(tablet)
    tablet.tap(key, "take_back", {"operation": told(tablet).versions[key]})
    patient = record_of(tablet).visit.patient
    assert LumpPanel().context(patient, actor=tablet.actor, today=people.TODAY)["rows"] == []
    assert lumps_json(record_of(next_visit(tablet, days=9)), standing(tablet.exam).lines)["known"] == {}


def test_the_exam_page_is_told_each_known_lump_with_its_last_size(tablet) -> None:
    key = placed(tablet, first_seen="2026-01-05", first_words="about, the owner")
    measured(tablet, key, 14, 11, looks={"firmness": "soft"})
    again = next_visit(tablet, days=60)
    [known] = lumps_json(record_of(again), standing(again.exam).lines)["known"].values()
    assert known["words"] == "14 × 11 mm on 11 Mar 2026, soft; first seen 5 Jan 2026 (about, the owner)"
    assert (known["number"], known["gone"]) == (1, False)


def queries_of(work) -> int:
    with CaptureQueriesContext(connection) as asked:
        work()
    return len(asked)


def questions(tablet: Tablet, *, lumps: int) -> list[int]:
    """Asked of the database for so many lumps with a sample each: next page, panel, check, template."""
    for step in range(lumps):
        key = placed(tablet)
        measured(tablet, key, 12 + step, 10)
        tablet.tap(key, "lump_sample", {"method": "needle"})
    again = next_visit(tablet, days=30)
    record, lines = record_of(again), standing(again.exam).lines
    patient = record.visit.patient
    context = LumpPanel().context(patient, actor=again.actor, today=people.TODAY)
    return [
        queries_of(lambda: lumps_json(record, lines)),
        queries_of(lambda: LumpPanel().context(patient, actor=again.actor, today=people.TODAY)),
        queries_of(lambda: LumpsAnswered().missing(record, actor=again.actor)),
        queries_of(lambda: render_to_string("exams/panel_lumps.html", {"panel": context})),
    ]


def test_many_lumps_ask_no_more_questions_than_one(tablet) -> None:
    other = people.visit_here(people.patient("Other", of=people.owner("Ann Other", "a@example.com")))
    few = questions(tablet, lumps=1)
    assert few[-1] == 0
    assert questions(exam_here(tablet.actor, other), lumps=9) == few


def test_everything_said_of_a_lump_is_exported(tablet) -> None:
    sampled(tablet)
    result(tablet, "fat cells")
    rows = ExportLumps().rows(record_of(tablet).visit.patient)
    assert [(r["lump"], r["said"], r["words"]) for r in rows] == [
        (1, "measured", ""),
        (1, "sample", "fat cells"),
    ]
    assert (rows[0]["size"], rows[0]["place"]) == ("12 × 10 mm", "left flank")


def test_lumps_of_a_double_get_free_numbers(tablet, house) -> None:
    placed(tablet)
    keeps = people.patient("Double", of=people.owner("Ann Other", "a@example.com"))
    Lump.objects.create(
        patient=keeps, number=1, drawing="dog-left", x=0.1, y=0.1, region="rump", side="midline",
        first_seen=people.TODAY, by=house.clinician, made_at=people.NOW,
    )  # fmt: skip
    MoveLumps().merge(
        record_of(tablet).visit.patient, into=keeps, actor=house.actor("manager"), now=people.NOW
    )
    assert sorted(Lump.objects.filter(patient=keeps).values_list("number", flat=True)) == [1, 2]


def test_a_lump_without_a_sample_is_called_back_for_after_twelve_weeks(tablet) -> None:
    """Class R: 2 to 12 weeks (common practice)."""
    tablet, key = follow(tablet, (0, (12, 10)), (45, (13, 10)))
    patient = record_of(tablet).visit.patient

    def due() -> list[int]:
        rows = LumpsAgain().rows(patient, today=people.TODAY)
        assert {row.label for row in rows} <= {"Lump: measure again, no. 1, left flank"}
        return [(row.due_on - people.TODAY).days for row in rows]

    assert due() == [12 * 7]  # the exam of day 45 is not signed yet
    again = next_visit(tablet, days=90)
    assert due() == [45 + 12 * 7]
    measured(again, key, 13, 10)
    again.tap(key, "lump_sample", {"method": "needle"})
    assert due() == []
    assert LumpWords().say("Lump: measure again, no. 1, left flank", "es") == "Bulto 1: volver a medirlo"
    assert LumpWords().say("Rabies", "es") == ""
