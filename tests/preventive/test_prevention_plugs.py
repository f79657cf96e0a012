"""What prevention adds to the visit, the signature, the letter and the patient's page."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from clinic.letters.composition import compose
from clinic.letters.document import Mark, Table, Text, Walk, sentences
from clinic.models import CallBack
from clinic.platform.registries import (
    call_back_sources,
    exports,
    letter_parts,
    merges,
    patient_panels,
    sign_checks,
    sign_steps,
    visit_steps,
)
from clinic.visits.frame import visit_frame
from preventive import actions
from preventive.knowing import histories_of
from preventive.letter import _inside
from preventive.plugs import (
    DuesCallBack,
    DuesInPatient,
    MergeDues,
    PreventionAnswered,
    PreventionExport,
    PreventionStep,
    RefreshDues,
)
from preventive.queries import dues_of
from tests import people
from tests.preventive.room import NOW, TODAY, Room, room, weeks_old

pytestmark = pytest.mark.django_db


@pytest.fixture
def puppy() -> Room:
    return room()


def section(puppy: Room):
    document = compose(puppy.visit.record, today=TODAY)
    return next((each for each in document.sections if each.name == "vaccines"), None), document


def texts(block) -> str:
    return " ".join(sentence.text for sentence in block.sentences)


def said(document) -> str:
    return " ".join(sentence.text for sentence in sentences(document))


def test_everything_is_registered():
    for registry in (letter_parts, merges, exports, patient_panels, visit_steps):
        assert "prevention" in registry.names()
    assert "prevention" in sign_checks.names()
    assert "dues" in sign_steps.names()
    assert "dues" in call_back_sources.names()


def test_the_letter_names_antigen_lot_place_and_next_day(puppy):
    puppy.give(site="RSH")
    part, _ = section(puppy)
    table = part.blocks[0]
    assert isinstance(table, Table)
    assert [cell.text.replace("\N{NO-BREAK SPACE}", " ") for cell in table.rows[0]] == [
        "Distemper, adenovirus (hepatitis), parvovirus (Corvane Three, live)",
        "QX4471",
        "Right shoulder",
        "8 April 2026",
    ]
    assert (part.title, part.order) == ("Prevention", 70)


def test_every_sentence_of_the_letter_has_its_origin_and_its_own_key(puppy):
    puppy.give()
    puppy.hand_out(count=2)
    _, document = section(puppy)
    keys = [each.key for each in sentences(document)]
    assert len(keys) == len(set(keys))
    assert all(each.origin for each in sentences(document))


def test_the_letter_says_what_to_watch_for_after_a_vaccine(puppy):
    puppy.give()
    _, document = section(puppy)
    assert "face swells" in document.call_now[0].text
    assert "still there after 3 months" in said(document)


def test_a_rabies_vaccine_points_to_local_law():
    grown = room(200)
    grown.give("rabisal-3")
    _, document = section(grown)
    assert "Local law says" in said(document)
    assert "11 March 2027" in said(document).replace("\N{NO-BREAK SPACE}", " ")


def test_a_chew_is_worded_backwards_and_never_as_protection(puppy):
    puppy.hand_out(count=3, first_on=date(2026, 3, 31))
    _, document = section(puppy)
    assert "Last chew on 31 May 2026; the next is due 30 June 2026." in said(document)
    assert "protected until" not in said(document)


def test_an_isoxazoline_says_when_to_call(puppy):
    puppy.hand_out("ticklode-chew-dog", answers={"isoxazoline_history": "never"})
    _, document = section(puppy)
    assert "trembles, staggers or has a fit" in said(document)


def test_a_cats_spot_on_warns_of_what_is_made_for_dogs():
    cat = room(60, kg="4.2", species="cat")
    cat.hand_out("selavane-spot-cat", count=3)
    _, document = section(cat)
    assert "Put nothing made for dogs on Tarn: some of it kills cats." in said(document)
    assert "feline leukemia test; feline immunodeficiency test" in said(document)


def test_days_alone_still_say_who_decides_about_them():
    newborn = room(1)
    part, document = section(newborn)
    assert document.next_things
    assert texts(part.blocks[0]).startswith("The days under “What comes next” follow guides")


def test_a_name_keeps_its_capital_within_a_sentence():
    assert [_inside(each) for each in ("Lyme disease", "FIV test", "Rabies")] == [
        "Lyme disease", "FIV test", "rabies"
    ]  # fmt: skip


def test_a_decline_and_a_deferral_are_said_by_their_names(puppy):
    common = {"actor": puppy.actor(), "now": NOW, "patient": puppy.patient, "visit": puppy.visit}
    actions.decline(**common, code="dog_core", reason="afraid of a reaction")
    actions.defer(**common, code="dog_deworming", reason="unwell", until=TODAY + timedelta(days=14))
    part, _ = section(puppy)
    walk = next(block for block in part.blocks if isinstance(block, Walk))
    assert [line.mark for line in walk.lines] == [Mark.DECLINED, Mark.PENDING]
    assert walk.lines[0].label.text == "Distemper, adenovirus, parvovirus: declined today."
    assert "dog_" not in said(section(puppy)[1])


def test_a_struck_dose_is_not_in_the_letter(puppy):
    dose = puppy.give()
    actions.strike_dose(actor=puppy.actor(), now=NOW, dose=dose, reason="wrong animal")
    _, document = section(puppy)
    assert "QX4471" not in said(document)


def test_what_is_due_and_not_done_is_said(puppy):
    part, _ = section(puppy)
    block = next(each for each in part.blocks if isinstance(each, Text) and each.mark is Mark.ABNORMAL)
    assert "distemper, adenovirus, parvovirus vaccine" in texts(block)


def test_what_comes_next_lies_ahead_and_within_thirteen_months(puppy):
    puppy.give()
    _, document = section(puppy)
    days = [each.on for each in document.next_things]
    assert date(2026, 4, 8) in days
    assert all(TODAY < each <= date(2027, 4, 11) for each in days)
    assert len(days) == len(set(days))


def test_nothing_is_promised_for_one_that_died_today(puppy):
    puppy.give()
    puppy.visit.record.visit.outcome = "euthanised"
    puppy.visit.record.visit.save()
    part, document = section(puppy)
    assert part is None
    assert document.next_things == ()


def test_the_step_says_how_much_was_recorded(puppy):
    def shown() -> tuple[str, str]:
        frame = visit_frame(puppy.visit, current="", today=TODAY, actor=puppy.actor())
        return next((step.shape, step.words) for step in frame.steps if step.title == PreventionStep.title)

    assert shown() == ("new", "nothing yet")
    actions.refresh_call_backs(patient=puppy.patient, today=TODAY, now=NOW)
    assert shown()[0] == "flag"
    puppy.give()
    assert shown()[1] == "1 recorded"


def test_before_the_signature_what_nobody_answered_is_counted_and_never_in_the_way(puppy):
    check = PreventionAnswered()
    (missing,) = check.missing(puppy.visit.record, actor=puppy.actor())
    assert not missing.blocks
    assert "parvovirus vaccine" in missing.sentence
    puppy.give()
    (missing,) = check.missing(puppy.visit.record, actor=puppy.actor())
    assert "parvovirus" not in missing.sentence
    puppy.hand_out()
    (missing,) = check.missing(puppy.visit.record, actor=puppy.actor())
    assert "Heartworm prevention" not in missing.sentence


def test_a_focused_visit_is_not_asked(puppy):
    record = puppy.visit.record
    record.visit.kind = "focused"
    assert PreventionAnswered().missing(record, actor=puppy.actor()) == []


def test_signing_reckons_the_dues_with_the_examination_of_today(puppy):
    RefreshDues().run(puppy.visit.record, actor=puppy.actor(), now=NOW)
    assert CallBack.objects.get(source="dues", key="dog_exam").due_on > TODAY


def test_signing_for_the_dead_clears_the_dues(puppy):
    actions.refresh_call_backs(patient=puppy.patient, today=TODAY, now=NOW)
    puppy.visit.record.visit.outcome = "died"
    RefreshDues().run(puppy.visit.record, actor=puppy.actor(), now=NOW)
    assert not CallBack.objects.filter(source="dues").exists()


def test_the_cache_equals_what_the_core_says(puppy):
    puppy.give()
    stored = set(CallBack.objects.filter(source="dues").values_list("key", "due_on", "latest_on"))
    rows = DuesCallBack().rows(puppy.patient, today=TODAY)
    assert stored == {(each.key, each.due_on, each.latest_on) for each in rows}


def test_the_panel_puts_what_presses_first(puppy):
    rows = DuesInPatient().context(puppy.patient, actor=puppy.actor(), today=TODAY)["rows"]
    assert rows[0].words.endswith("over")
    puppy.patient.deceased_on = TODAY
    assert DuesInPatient().context(puppy.patient, actor=puppy.actor(), today=TODAY)["rows"] == ()


def test_a_merged_patient_s_doses_count_for_the_one_that_stays(puppy):
    dose = puppy.give()
    kept = people.patient("Tarn the second", of=puppy.patient.owners.get(), birth_date=weeks_old(9))
    puppy.patient.merged_into = kept
    puppy.patient.save()
    MergeDues().merge(puppy.patient, into=kept, actor=puppy.actor("manager"), now=NOW)
    due = next(each for each in dues_of(kept, today=TODAY) if each.code == "dog_core:CPV")
    assert due.last_on == dose.given_on
    assert not CallBack.objects.filter(patient=puppy.patient, source="dues").exists()


def test_the_export_holds_struck_rows_too(puppy):
    dose = puppy.give()
    actions.strike_dose(actor=puppy.actor(), now=NOW, dose=dose, reason="wrong animal")
    (row,) = PreventionExport().rows(puppy.patient)
    assert (row["row"], row["struck_reason"]) == ("dose", "wrong animal")


def test_many_patients_ask_as_often_as_one(puppy, django_assert_num_queries):
    others = [puppy.patient, *(people.patient(f"Pup {n}", of=puppy.patient.owners.get()) for n in range(5))]
    for each in others[1:]:
        each.merged_into = None
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as one:
        histories_of(others[:1], today=timezone.localdate())
    with django_assert_num_queries(len(one)):
        known = histories_of(others, today=timezone.localdate())
    assert len(known) == 6
