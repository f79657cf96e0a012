"""What feeding says elsewhere: before the signature, in the letter, on the patient's page, for call-backs."""

from datetime import timedelta

import pytest

from clinic.care import actions as care
from clinic.letters.document import Table
from clinic.visits.frame import visit_frame
from nutrition.letter import FeedingInLetter
from nutrition.plugs import EveryPatientIsAdvised, FeedingPanel, FeedingStep, PlansOut, WeighIns
from tests import people
from tests.nutrition.clinic_rows import DRY, LIGHT, advise, eats, house_with_foods, ill, keep, weighed

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    return house_with_foods()


@pytest.fixture
def record(house):
    return weighed(house)


def part(record, language="en"):
    return FeedingInLetter().part(record, language=language, today=people.TODAY)


def said(record, language: str = "en") -> str:
    blocks = [block for section in part(record, language).sections for block in section.blocks]
    cells = [
        cell
        for block in blocks
        for cell in (
            [cell for row in block.rows for cell in row] if isinstance(block, Table) else block.sentences
        )
    ]
    return " ".join(cell.text for cell in cells)


def missing(house, record):
    return EveryPatientIsAdvised().missing(record, actor=house.actor("clinician"))


@pytest.mark.parametrize(
    ("kind", "blocks"),
    [("full", True), ("emergency", True), ("focused", False), ("technician", False), ("telephone", False)],
)
def test_a_full_walk_does_not_leave_without_food_advice(house, kind, blocks):
    assert [each.blocks for each in missing(house, weighed(house, kind=kind))] == [blocks]


@pytest.mark.parametrize("outcome", ["died", "euthanised"])
def test_after_a_death_nobody_is_asked_for_food_advice(house, outcome):
    assert missing(house, weighed(house, outcome=outcome)) == []


def test_a_death_noted_on_the_patient_alone_counts_too(house, record):
    record.visit.patient.deceased_on = people.TODAY
    assert missing(house, record) == []


def test_advice_of_either_kind_is_enough(house, record):
    keep(house, record)
    assert missing(house, record) == []
    advise(house, record)
    assert missing(house, record) == []


def test_the_step_says_how_it_stands(house, record):
    def words() -> str:
        frame = visit_frame(record.visit, current="", today=people.TODAY, actor=house.actor("clinician"))
        return next(step.words for step in frame.steps if step.title == FeedingStep.title)

    assert words() == "not advised"
    advise(house, record)
    assert words().endswith(" kcal")
    keep(house, record)
    assert words() == "as now"


def test_the_letter_lists_each_day_treats_and_weigh_in(house, record):
    plan = advise(house, record, shares={DRY: 60.0, LIGHT: 40.0}, treats_kcal=60.0)
    table = part(record).sections[0].blocks[1]
    assert [row[0].text for row in table.rows] == ["Each day", "And", "Treats", "Weigh-in"]
    first = plan.content["portions"][0]
    assert f"{round(first['grams'])} g, a little under 2 cups," in table.rows[0][1].text
    assert "No more than 60 kcal a day" in table.rows[2][1].text
    assert [each.on for each in part(record).next_things] == [plan.weigh_in_on]


def test_a_weigh_in_that_the_plan_asks_for_stands_there_alone(house, record):
    plan = advise(house, record)
    me = {"actor": house.actor("clinician"), "now": people.NOW}
    facts = {"patient": record.visit.patient, "visit": record.visit}
    thin = care.open_problem(title="Thin", lines=["BCM.score|-"], **facts, **me)
    line = care.add_plan_line(
        record=record, problem=thin, kind="recheck", text="Weigh in", due_on=plan.weigh_in_on,
        answerable=house.clinician, **me,
    )  # fmt: skip
    assert part(record).next_things == ()
    type(line).objects.filter(pk=line.pk).update(due_on=plan.weigh_in_on + timedelta(days=1))
    assert [each.on for each in part(record).next_things] == [plan.weigh_in_on]


def test_who_is_to_lose_weight_is_not_told_to_call_about_some_of_it(house, record):
    record = weighed(house, "40", "7")
    advise(house, record, shares={LIGHT: 100.0}, aim="lose", target_weight_kg=35.0)
    record.visit.place = "gone-home"
    record.visit.save(update_fields=["place"])
    later = people.visit_here(record.visit.patient, clinician=house.clinician).record
    keep(house, later)
    assert "stops eating or vomits, or if more than 2 % of the weight goes in one week." in said(later)
    assert "loses weight" not in said(later)


def test_a_programme_names_its_target_in_both_units(house):
    record = weighed(house, "40", "7")
    advise(house, record, shares={LIGHT: 100.0}, aim="lose", target_weight_kg=35.0)
    assert "35.0 kg (77.2 lb). That is 5.0 kg to lose, slowly." in said(record)
    assert "then every 28 days" in said(record)


def test_the_cautions_stand_in_the_letter(house, record):
    advise(house, record)
    assert "What one animal needs may differ by about half" in said(record)


@pytest.mark.parametrize("until", ["until we call with the result.", "we call with the result"])
def test_keep_feeding_says_until_when_as_one_sentence(house, record, until):
    keep(house, record, until)
    assert "Keep feeding as now until we call with the result." in said(record)
    assert "Call us before that if Pomfret stops eating, vomits or loses weight." in said(record)


@pytest.mark.parametrize("until", ["the next visit", "until the next visit.", "Until  the next visit"])
def test_a_known_ending_is_said_in_the_owner_s_language(house, record, until):
    keep(house, record, until)
    assert "Siga con la comida de ahora hasta la próxima visita." in said(record, "es")
    assert "next visit" not in said(record, "es")


def test_another_ending_stays_as_it_was_written(house, record):
    keep(house, record, "the X-ray on Friday")
    assert "hasta: \u2068the X-ray on Friday\u2069." in said(record, "es")


def test_keep_feeding_repeats_what_was_told(house, record):
    eats(record, house)
    keep(house, record)
    assert "You told us: Tarrock adult dry, 175 g a day." in said(record)


def test_an_animal_that_does_not_eat_is_not_told_to_go_on_so(house, record):
    ill(record, "not_eating", house)
    keep(house, record)
    assert "Keep feeding as now" not in said(record)
    assert "Pomfret eats too little to wait: call us today" in said(record)


def test_on_insulin_food_and_insulin_go_together(house, record):
    ill(record, "insulin_diabetes", house)
    keep(house, record)
    assert "Change neither without us" in said(record)


def test_own_words_stand_in_the_letter(house, record):
    keep(house, record, own_words="Warm the food a little.")
    assert "Warm the food a little." in said(record)


def test_every_key_stands_once(house, record):
    advise(house, record, shares={DRY: 60.0, LIGHT: 40.0}, treats_kcal=60.0)
    found = part(record)
    keys = [
        cell.key
        for block in found.sections[0].blocks
        for cell in (
            [cell for row in block.rows for cell in row] if isinstance(block, Table) else block.sentences
        )
    ] + [each.what.key for each in found.next_things]
    assert len(keys) == len(set(keys))


def test_without_advice_the_letter_has_no_feeding(record):
    assert part(record).sections == ()


def test_a_weigh_in_is_called_back_until_somebody_weighs(house, record):
    plan = advise(house, record)
    patient = record.visit.patient
    rows = WeighIns().rows(patient, today=people.TODAY)
    assert [row.due_on for row in rows] == [plan.weigh_in_on]
    weight = patient.measurements.get(kind="weight")
    weight.pk, weight.measured_at = None, people.NOW + timedelta(days=40)
    weight.save()
    assert WeighIns().rows(patient, today=people.TODAY) == []


def test_nobody_calls_back_for_an_animal_that_died(house, record):
    advise(house, record)
    record.visit.patient.deceased_on = people.TODAY
    assert WeighIns().rows(record.visit.patient, today=people.TODAY) == []


def test_the_patients_page_says_what_is_fed(house, record):
    context = {"actor": house.actor("clinician"), "today": people.TODAY}
    assert FeedingPanel().context(record.visit.patient, **context)["words"] == ""
    advise(house, record)
    assert "Tarrock adult dry" in FeedingPanel().context(record.visit.patient, **context)["words"]
    keep(house, record, until="the next visit")
    assert FeedingPanel().context(record.visit.patient, **context)["words"] == "As now until the next visit"


def test_plans_go_out_whole(house, record):
    plan = advise(house, record)
    (row,) = PlansOut().rows(record.visit.patient)
    assert (row["energy_kcal"], row["content"]) == (plan.energy_kcal, plan.content)


def test_owners_are_not_told_what_a_clinician_does_about_a_slow_loss(house):
    record = weighed(house, "40", "7")
    advise(house, record, shares={LIGHT: 100.0}, aim="lose", target_weight_kg=35.0)
    for language, call in (("en", "Call us if more than 2 %"), ("es", "Llámenos si baja más de 2 %")):
        printed = FeedingInLetter().part(record, language=language, today=people.TODAY)
        assert call in str(printed)
        assert "clinician's reason" not in str(printed)
