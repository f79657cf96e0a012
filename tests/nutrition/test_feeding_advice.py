"""Food advice as recorded: from today's weight and condition, frozen with the record, said in the letter."""

from pathlib import Path

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from clinic.models import Record
from clinic.people.actor import NotAllowed
from nutrition import actions
from nutrition.choices import Choices
from nutrition.foods import read
from nutrition.letter import FeedingInLetter
from nutrition.models import Plan
from nutrition.plan import PlanRefused
from nutrition.plugs import EveryPatientIsAdvised
from tests import people

pytestmark = pytest.mark.django_db
FOODS = Path(__file__).parents[2] / "fixtures" / "foods.toml"
DRY = "tarrock-adult-dry"


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    made = people.people()
    actions.load_foods(actor=made.actor("manager"), now=people.NOW, foods=read(FOODS))
    return made


@pytest.fixture
def record(house: people.People) -> Record:
    visit = people.visit_here(clinician=house.clinician)
    people.weigh(visit, "27.4", by=house.technician)
    score(visit, "5", house)
    return visit.record


def score(visit, points: str, house: people.People) -> None:
    visit.patient.measurements.create(
        visit=visit, kind="bcs", typed=points, unit="bcs-9", value=points, measured_at=people.NOW,
        recorded_at=people.NOW, observed_by=house.clinician, entered_by=house.clinician,
    )  # fmt: skip


def advise(house: people.People, record: Record, who: str = "clinician", **choices: object) -> Plan:
    facts = {"shares": {DRY: 100.0}} | choices
    return actions.make_plan(actor=house.actor(who), now=people.NOW, record=record, choices=Choices(**facts))


def sentences(record: Record) -> str:
    part = FeedingInLetter().part(record, language="en", today=people.TODAY)
    cells = []
    for block in (block for section in part.sections for block in section.blocks):
        cells += block.sentences if block.kind == "text" else [cell for row in block.rows for cell in row]
    return " ".join(each.text for each in cells)


def test_a_plan_has_energy_grams_and_a_weigh_in(house: people.People, record: Record) -> None:
    plan = advise(house, record)
    grams = plan.content["portions"][0]["grams"]
    assert plan.energy_kcal
    assert grams == pytest.approx(plan.energy_kcal / 3720 * 1000, rel=0.001)
    assert plan.weigh_in_on > people.TODAY


def test_a_second_plan_replaces_the_first(house: people.People, record: Record) -> None:
    advise(house, record)
    advise(house, record, treats_kcal=50.0)
    assert Plan.objects.get().content["treats_kcal"] == 50


def test_a_technician_does_not_advise(house: people.People, record: Record) -> None:
    with pytest.raises(NotAllowed):
        advise(house, record, who="technician")


def test_without_a_weight_nothing_is_reckoned(house: people.People) -> None:
    record = people.visit_here(clinician=house.clinician).record
    with pytest.raises(PlanRefused) as refused:
        advise(house, record)
    assert "weight_missing" in {item.code for item in refused.value.items}


def test_kidney_disease_leaves_no_formula_but_the_clinicians_own_number(house, record) -> None:
    record.visit.patient.conditions.create(
        code="kidney_disease", since=people.TODAY, entered_by=house.clinician, entered_at=people.NOW
    )
    with pytest.raises(PlanRefused):
        advise(house, record)
    own = advise(house, record, energy="own", own_kcal=900.0, reason="as before", answered=frozenset())
    assert own.energy_kcal == 900


def test_keep_feeding_says_until_when(house: people.People, record: Record) -> None:
    with pytest.raises(actions.UntilMissing):
        actions.keep_feeding(actor=house.actor("clinician"), now=people.NOW, record=record, until=" ")


def test_keep_feeding_is_a_complete_answer(house: people.People, record: Record) -> None:
    check = EveryPatientIsAdvised()
    assert check.missing(record, actor=house.actor("clinician"))[0].blocks
    actions.keep_feeding(actor=house.actor("clinician"), now=people.NOW, record=record, until="until we call")
    assert not check.missing(record, actor=house.actor("clinician"))
    assert "Keep feeding as now until we call." in sentences(record)


def test_the_letter_says_grams_before_cups_and_when_to_weigh(house: people.People, record: Record) -> None:
    advise(house, record)
    said = sentences(record)
    assert " g, about " in said
    assert "of Tarrock adult dry, in 2 meals of" in said
    assert "Weigh-in" in said


def test_a_signed_record_keeps_its_advice(house: people.People, record: Record) -> None:
    advise(house, record)
    record.signed_at, record.signed_by, record.signed_name = people.NOW, house.clinician, "Dr Maren Oduya"
    record.save()
    with pytest.raises(actions.RecordSigned):
        advise(house, record)
    with pytest.raises(IntegrityError, match="refused"), transaction.atomic():
        Plan.objects.update(energy_kcal=1)


def visitor(house: people.People, who: str = "clinician") -> Client:
    client = Client()
    client.force_login(getattr(house, who))
    return client


def test_the_page_recounts_without_writing(house: people.People, record: Record) -> None:
    page = visitor(house).get(f"/visits/{record.visit_id}/feeding/", {"food": DRY, "share": "100"})
    assert "Tarrock adult dry" in page.content.decode()
    assert not Plan.objects.exists()


def test_what_was_typed_stays_when_it_cannot_be_read(house: people.People, record: Record) -> None:
    sent = {"food": DRY, "share": "", "treats_kcal": "some", "do": "plan"}
    page = visitor(house).post(f"/visits/{record.visit_id}/feeding/", sent)
    text = page.content.decode()
    assert (page.status_code, Plan.objects.count()) == (422, 0)
    assert 'value="some"' in text
    assert "This is not a number." in text


def test_a_sent_plan_stands_in_the_letter(house: people.People, record: Record) -> None:
    page = visitor(house).post(
        f"/visits/{record.visit_id}/feeding/", {"food": DRY, "share": "", "do": "plan"}
    )
    assert (page.status_code, Plan.objects.count()) == (302, 1)


def test_shares_make_a_hundred(house: people.People, record: Record) -> None:
    sent = {"food": [DRY, "tarrock-light-dry"], "share": ["50", "20"], "do": "plan"}
    page = visitor(house).post(f"/visits/{record.visit_id}/feeding/", sent)
    assert "The shares make 70 %, not 100." in page.content.decode()
