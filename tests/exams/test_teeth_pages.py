"""The teeth in the letter, on the signed page, and one tooth over the visits."""

import pytest
from django.test import Client

from clinic.models import LastingFact, Record, Visit
from exams.history import structure_page
from exams.letter import ExamInLetter
from exams.plugs import KeepExam
from tests import people
from tests.exams.house import Tablet, exam_here

pytestmark = pytest.mark.django_db
T108, T208 = "MTH.teeth|108", "MTH.teeth|208"
HOW = "known extraction / never seen / unknown"


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def tablet(house) -> Tablet:
    return exam_here(house.actor("clinician"))


def sections(tablet: Tablet) -> dict:
    record = Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)
    part = ExamInLetter().part(record, language="en", today=people.TODAY)
    return {s.name: s for s in part.sections}


def abnormal(tablet: Tablet, line: str, code: str, **more: object) -> None:
    assert tablet.tap(line, "set_abnormal", {"findings": [{"code": code, **more}]})["result"] == "accepted"


def sign(tablet: Tablet, house: people.People) -> None:
    record = Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)
    KeepExam().run(record, actor=house.actor("clinician"), now=people.NOW)
    Record.objects.filter(pk=record.pk).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )
    Visit.objects.filter(pk=record.visit_id).update(gone_at=people.NOW, place="gone-home", outcome="home")


def test_a_normal_mouth_has_no_chart_in_the_letter(tablet) -> None:
    tablet.all_normal("MTH")
    assert "teeth" not in sections(tablet)


def test_the_same_finding_on_several_teeth_is_said_once(tablet) -> None:
    for line in (T108, T208):
        abnormal(tablet, line, "MTH-02", grade="2")
    told = sections(tablet)
    labels = [line.label.text for block in told["walk"].blocks for line in block.lines]
    assert labels[0].startswith("Teeth 108 and 208: there is tartar")
    (figures,) = told["teeth"].blocks
    assert [[cell.text for cell in row] for row in figures.table.rows] == [
        ["1,\u00a02", "Upper right fourth premolar (108); upper left fourth premolar (208)", "tartar"]
    ]
    assert figures.figures[0].alt.startswith("Tooth chart of a dog. 1,\u00a02: Upper right fourth premolar")
    assert f"<title>{figures.figures[0].alt}</title>" in figures.figures[0].svg
    assert "the animal’s right" in figures.figures[0].svg


def test_a_tooth_known_to_be_out_is_not_looked_for_under_the_gum(tablet) -> None:
    abnormal(tablet, T108, "MTH-07", qualifiers={HOW: "known extraction"})
    abnormal(tablet, T208, "MTH-07", qualifiers={HOW: "never seen"}, circumstances=["unexplained"])
    walked = [line for block in sections(tablet)["walk"].blocks for line in block.lines]
    labels = [" ".join(each.text for each in (line.label, *line.sentences[:1])) for line in walked]
    told = "Tooth 108 (upper right fourth premolar): a tooth is missing. It was taken out before."
    assert labels[0] == told  # in the middle of a sentence an "A" is small
    assert labels[1].endswith("It may be under the gum, so an X-ray may be needed.")


def test_a_stage_seen_awake_is_a_first_impression_in_the_letter(tablet) -> None:
    abnormal(tablet, T108, "MTH-05", grade="2")
    told = sections(tablet)
    said = " ".join(s.text for block in told["walk"].blocks for line in block.lines for s in line.sentences)
    assert "This is a first impression; the teeth are staged under an anaesthetic." in said
    (figures,) = told["teeth"].blocks
    assert figures.table.rows[0][2].text == "gum disease, stage 2 of 4 (first impression)"
    assert figures.sentences[0].text == "Looked at awake."


def test_a_stage_under_the_anaesthetic_is_told_as_it_is(tablet) -> None:
    tablet.tap("exam", "set_awake", {"awake": "anaesthetised", "by_what": "propofol"})
    abnormal(tablet, T108, "MTH-05", grade="2")
    (figures,) = sections(tablet)["teeth"].blocks
    assert figures.table.rows[0][2].text == "gum disease, stage 2 of 4"
    assert [s.text for s in figures.sentences] == ["Looked at anaesthetised (propofol)."]


def test_teeth_that_are_out_are_facts_of_the_patient_after_signing(tablet, house) -> None:
    abnormal(tablet, T108, "MTH-07", qualifiers={HOW: "known extraction"})
    tablet.tap("exam", "set_awake", {"awake": "anaesthetised", "by_what": "propofol"})
    tablet.tap(T208, "set_normal", {"charted": {"extracted": [208]}})
    sign(tablet, house)
    facts = LastingFact.objects.order_by("structure").values_list("structure", "why")
    assert list(facts) == [("tooth:108", "extracted before"), ("tooth:208", "extracted")]
    again = exam_here(house.actor("clinician"), people.visit_here(tablet.exam.record.visit.patient))
    assert again.tap(T108, "set_normal")["reason"] == "not-applicable"


def test_one_tooth_is_followed_over_the_visits(tablet, house) -> None:
    abnormal(tablet, T108, "MTH-02", grade="2")
    abnormal(tablet, T208, "MTH-02", grade="1")
    sign(tablet, house)
    page = structure_page(tablet.exam.record.visit.patient, T108)
    assert page.name == "Teeth: 108, upper right fourth premolar"
    assert [s.words for look in page.looks for s in look.said] == [
        "108, upper right fourth premolar: calculus (tartar), grade 2, tooth 108"
    ]


def test_a_tooth_that_this_animal_does_not_have_has_no_page(tablet, house) -> None:
    client = Client()
    client.force_login(house.clinician)
    patient = tablet.exam.record.visit.patient_id
    assert client.get(f"/patients/{patient}/walk/MTH.teeth%7C111/").status_code == 404
    assert client.get(f"/patients/{patient}/walk/MTH.teeth%7C108/").status_code == 200


def test_the_signed_page_shows_the_chart_with_its_letters(tablet, house) -> None:
    tablet.tap("exam", "set_awake", {"awake": "sedated", "by_what": "medetomidine"})
    abnormal(tablet, T108, "MTH-05", grade="3")
    sign(tablet, house)
    client = Client()
    client.force_login(house.clinician)
    page = client.get(f"/visits/{tablet.exam.record.visit_id}/exam/").content.decode()
    assert "Tooth chart: 1 abnormal" in page
    assert "P3?" in page
    assert "? first impression, not under an anaesthetic" in page
    assert "as it was signed; sedated (medetomidine)" in page
    assert page.index("the animal’s right") < page.index("its left")  # at the sides of the chart
