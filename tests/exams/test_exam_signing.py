"""What the exam asks before a signature, and what the signature keeps of it."""

import pytest

from clinic.care.actions import add_plan_line, open_problem
from clinic.care.sources import all_facts, all_matters
from clinic.letters.composition import compose
from clinic.models import Measurement, Record
from clinic.patients.actions import strike_measurement
from clinic.visits.actions import set_kind
from exams.models import Finding, Lump, LumpMeasure
from exams.plugs import ExamAnswered, ExamStep, KeepExam, LastExam
from exams.queries import standing
from tests import people
from tests.browser.exam_room import measured_at_intake
from tests.exams.house import Tablet, exam_here

pytestmark = pytest.mark.django_db

MITES = {"findings": [{"code": "EAR-03", "severity": "mild"}]}


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
    found = ExamAnswered().missing(record_of(tablet), actor=tablet.actor)
    return {each.code: each.sentence for each in found if each.blocks}


def answer_everything(tablet: Tablet) -> None:
    for station in standing(tablet.exam).walk.stations:
        tablet.all_normal(station.code)
        tablet.tap(station.code, "station_rest_not_examined", {"reason": "not-needed"})


def keep(tablet: Tablet) -> None:
    KeepExam().run(record_of(tablet), actor=tablet.actor, now=people.NOW)


def words_of_walk(tablet: Tablet) -> list[str]:
    document = compose(record_of(tablet), today=people.TODAY)
    walk = next(s for s in document.sections if s.name == "walk")
    return [line.label.text for line in walk.blocks[0].lines]


def test_an_unanswered_station_is_named_with_its_link(tablet) -> None:
    found = ExamAnswered().missing(record_of(tablet), actor=tablet.actor)
    ears = next(each for each in found if each.code == "exam-routine:EAR")
    assert ears.blocks
    assert ears.url.endswith("/exam/#EAR")
    assert "not looked at" in ears.sentence


def test_a_whole_normal_walk_asks_for_nothing(tablet) -> None:
    answer_everything(tablet)
    assert missing(tablet) == {}


def test_a_value_that_nobody_took_reminds_and_the_letter_calls_it_no_normal(tablet) -> None:
    answer_everything(tablet)
    reminds = next(x for x in ExamAnswered().missing(record_of(tablet), actor=tablet.actor) if not x.blocks)
    assert "Pain" in reminds.sentence
    assert "Capillary refill" in reminds.sentence
    told = words_of_walk(tablet)
    assert any("he rest of the general look" in each for each in told)
    assert any("pain" in each.lower() and each.endswith("not examined.") for each in told)


def test_an_urgent_finding_asks_for_a_plan_until_its_line_is_covered(tablet, house) -> None:
    tablet.tap("EAR.canal|left", "set_abnormal", MITES)
    answer_everything(tablet)
    assert list(missing(tablet)) == ["exam-plan:EAR-03"]
    vet = {"actor": tablet.actor, "now": people.NOW}
    visit = record_of(tablet).visit
    problem = open_problem(
        patient=visit.patient, visit=visit, title="Mites", lines=("EAR.canal|left",), **vet
    )
    add_plan_line(record=record_of(tablet), problem=problem, kind="home-care", text="Clean the ear", **vet)
    assert missing(tablet) == {}


def test_not_examined_without_a_reason_is_asked_for(tablet) -> None:
    tablet.tap("EAR.canal|left", "set_not_examined")
    answer_everything(tablet)
    assert list(missing(tablet)) == ["exam-reason"]


def test_a_focused_exam_asks_for_no_other_station_and_the_signature_answers_them(tablet) -> None:
    set_kind(
        visit=record_of(tablet).visit, kind="focused", reason="recheck", actor=tablet.actor, now=people.NOW
    )
    tablet.all_normal("EAR")
    assert missing(tablet) == {}
    keep(tablet)
    told = Finding.objects.filter(station="EYE").values_list("status", "reason", "together").distinct()
    assert list(told) == [("not-examined", "not-part", True)]
    assert set(Finding.objects.filter(line__startswith="EAR.canal").values_list("status", flat=True)) == {
        "normal"
    }


def test_a_station_that_a_visit_was_for_is_asked_after_and_not_in_the_way(tablet) -> None:
    chosen = {"kind": "focused", "stations": ["EAR", "SKN"], "reason": "itches"}
    assert tablet.tap("exam", "set_kind", chosen)["result"] == "accepted"
    tablet.all_normal("SKN")
    found = ExamAnswered().missing(record_of(tablet), actor=tablet.actor)
    asked = [each for each in found if "chosen" in each.sentence]
    assert [(each.url[-3:], each.blocks) for each in asked] == [("EAR", False)]
    assert asked[0].sentence.startswith("Ears, chosen for this visit: 4 not looked at (pinna")


def test_signing_confirms_a_technicians_grades(tablet, house) -> None:
    Tablet(tablet.exam, house.actor("technician")).tap("EAR.canal|left", "set_abnormal", MITES)
    keep(tablet)
    row = Finding.objects.get(line="EAR.canal|left")
    assert (row.person, row.confirmed_by) == (house.technician, house.clinician)


def test_a_value_struck_out_later_still_stands_in_the_signed_exam(tablet, house) -> None:
    people.weigh(record_of(tablet).visit, "27.4", by=house.technician)
    keep(tablet)
    Record.objects.filter(pk=tablet.exam.record_id).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="x"
    )
    weight = Measurement.objects.get()
    strike_measurement(measurement=weight, reason="wrong scale", actor=tablet.actor, now=people.NOW)
    tablet.exam.record.refresh_from_db()
    assert standing(tablet.exam).state.answers["VIT.weight|-"].value == "27.4"


def test_the_letter_says_a_normal_walk_in_a_few_lines(tablet) -> None:
    answer_everything(tablet)
    # what nobody measured is left out, so that the whole is not called good health
    assert compose(record_of(tablet), today=people.TODAY).headline.text.startswith("We examined Pomfret")
    measured_at_intake(record_of(tablet).visit, tablet.actor.staff)
    words = words_of_walk(tablet)
    assert 1 <= len(words) <= 14
    assert all(text.endswith("normal.") for text in words)
    headline = compose(record_of(tablet), today=people.TODAY).headline.text
    assert headline.startswith("Pomfret is in good health today.")


def test_a_finding_in_a_problem_that_nobody_assessed_stands_in_short_once_in_the_owners_words(tablet) -> None:
    tablet.tap("EAR.canal|left", "set_abnormal", {"findings": [{"code": "EAR-03", "severity": "mild"}]})
    record, me = record_of(tablet), {"actor": tablet.actor, "now": people.NOW}
    problem = open_problem(
        patient=record.visit.patient, visit=record.visit, title="Otitis, left", lines=["EAR.canal|left"], **me
    )
    add_plan_line(record=record, problem=problem, kind="procedure", text="clean the ear", **me)
    [point] = compose(record, today=people.TODAY).points
    assert point.what.text.startswith("Left ear: ")
    assert (point.do.text, point.urgency) == ("clean the ear.", "T")


def test_the_letter_says_each_finding_under_its_side_and_the_rest_joined(tablet) -> None:
    tablet.tap("EAR.canal|left", "set_abnormal", MITES)
    tablet.tap("PER.rectum|-", "set_not_examined", {"reason": "would-not-allow"})
    answer_everything(tablet)
    words = words_of_walk(tablet)
    assert any(text.startswith("Left ear: ") for text in words)
    assert any(text.startswith("The rest of the ears") for text in words)
    assert "Rectum: not examined." in words


def test_the_same_on_both_sides_is_said_once(tablet) -> None:
    tablet.tap("EAR.canal|both", "set_abnormal", MITES)
    assert next(w for w in words_of_walk(tablet) if "ears" in w).startswith("Both ears: ")


def test_a_finding_is_worth_a_problem_and_an_unseen_drum_is_told(tablet) -> None:
    tablet.tap("EAR.canal|left", "set_abnormal", MITES)
    tablet.tap("EAR.tympanum|right", "set_normal")
    matter = next(each for each in all_matters(record_of(tablet)) if each.station == "EAR")
    assert (matter.line_keys, matter.urgency) == (("EAR.canal|left",), "T")
    assert all_facts(record_of(tablet))["ear-drum-seen-whole"] == {"left": False, "right": True}


def test_the_step_counts_what_is_left(tablet) -> None:
    assert ExamStep().state(record_of(tablet).visit, {}).words == "not begun"
    tablet.all_normal("EAR")
    assert ExamStep().state(record_of(tablet).visit, {}).words.endswith(" left")


def test_the_patients_page_says_what_was_abnormal_last_time(tablet, house) -> None:
    tablet.tap("EAR.canal|left", "set_abnormal", MITES)
    answer_everything(tablet)
    Record.objects.filter(pk=tablet.exam.record_id).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="x"
    )
    patient = record_of(tablet).visit.patient
    rows = LastExam().context(patient, actor=tablet.actor, today=people.TODAY)["rows"]
    assert [(r.station, r.name) for r in rows] == [("Ears", "Canal by otoscope, left")]


def test_a_lump_stands_in_the_letter_with_its_map_and_size(tablet, house) -> None:
    answer_everything(tablet)
    record = record_of(tablet)
    lump = Lump.objects.create(
        patient=record.visit.patient,
        number=1,
        drawing="dog-left",
        x=0.5,
        y=0.5,
        region="flank-left",
        side="left",
        first_seen=people.TODAY,
        by=house.clinician,
        made_at=people.NOW,
    )
    LumpMeasure.objects.create(
        lump=lump, record=record, length_mm=14, width_mm=12, height_mm=8, by=house.clinician, at=people.NOW
    )
    section = next(s for s in compose(record, today=people.TODAY).sections if s.name == "lumps")
    figures = section.blocks[0]
    assert "left flank" in figures.figures[0].alt
    assert figures.table.rows[0][2].text == "14 × 12 × 8 mm"
