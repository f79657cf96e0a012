"""Lumps, photographs and tooth charting entered on the wrong patient go to the right one in the same step."""

from __future__ import annotations

import pytest

from clinic.models import PutRight, Record
from clinic.visits.errors import ShownOtherwise
from exams.models import (
    Exam,
    ExamPhoto,
    Finding,
    HeardItem,
    Lump,
    LumpMeasure,
    LumpSample,
    Operation,
    TalkLine,
)
from exams.photo_actions import describe_photo
from tests import people
from tests.exams.house import Tablet, exam_here, state_of
from tests.exams.test_lump_taps import FLANK, measured, next_visit, placed, today
from tests.exams.test_photos import CANAL, take
from tests.exams.test_wrong_patient import move, rows_of

pytestmark = pytest.mark.django_db

TOOTH = "MTH.teeth|108"


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def dog(house) -> Tablet:
    return exam_here(house.actor("clinician"))


@pytest.fixture
def right(house, dog) -> Record:
    """Another dog of the same owner, in the next room."""
    owner = dog.exam.record.visit.patient.owners.get()
    return people.visit_here(people.patient("Sorrel", of=owner), clinician=house.colleague).record


def offered(dog: Tablet, right: Record, starts: str):
    rows = rows_of(dog.exam.record, right, dog.actor).items()
    return next(row for name, row in rows if name.startswith(starts))


# ---- Lumps


def test_a_new_lump_goes_from_one_map_to_the_other_with_all_that_was_said(dog, right, house) -> None:
    key = placed(dog)
    measured(dog, key, 14, 11, 8, looks={"firmness": "soft", "surface": ["haired", "smooth"]})
    dog.tap(key, "lump_sample", {"method": "needle"})
    row = offered(dog, right, "Lump 1")
    assert row.words == "14 × 11 × 8 mm; haired, smooth, soft; sample: needle"
    assert row.asks == "It becomes Sorrel’s new lump 1."
    move(dog.exam.record, right, dog.actor, "Lump 1")
    assert today(dog, key) is None
    assert Lump.objects.get(patient=dog.exam.record.visit.patient).withdrawn
    there = Lump.objects.get(patient=right.visit.patient)
    assert (there.number, there.region, there.withdrawn) == (1, "flank-left", False)
    size = LumpMeasure.objects.get()
    assert (size.lump, size.record, size.length_mm, size.height_mm) == (there, right, 14, 8)
    assert size.description == {"firmness": "soft", "surface": "haired, smooth"}
    assert LumpSample.objects.get().lump == there
    assert [(r.record, r.came) for r in PutRight.objects.order_by("came")] == [
        (dog.exam.record, False),
        (right, True),
    ]


def test_the_line_of_a_lump_goes_with_it_and_is_not_offered_by_itself(dog, right) -> None:
    measured(dog, placed(dog), 14, 11)
    assert [name for name in rows_of(dog.exam.record, right, dog.actor) if "14" not in name] == []
    move(dog.exam.record, right, dog.actor, "Lump 1")
    assert "SKN.lumps|-" not in state_of(dog.exam).answers
    assert Finding.objects.get(record=right).status == "abnormal"


def test_both_logs_name_the_other_patient(dog, right) -> None:
    key = placed(dog)
    move(dog.exam.record, right, dog.actor, "Lump 1")
    struck = Operation.objects.get(record=dog.exam.record, what="clear")
    assert (struck.target, struck.payload) == (key, {"wrong_patient": right.visit.patient_id})
    entered = Operation.objects.get(record=right, what="lump_place")
    assert entered.payload["first_entered_on"] == dog.exam.record.visit.patient_id


def test_two_new_lumps_get_two_numbers_of_the_right_patient(dog, right) -> None:
    placed(dog)
    placed(dog, x=0.3)
    asks = [offered(dog, right, f"Lump {n}").asks for n in (1, 2)]
    assert asks == ["It becomes Sorrel’s new lump 1.", "It becomes Sorrel’s new lump 2."]
    move(dog.exam.record, right, dog.actor, "Lump")
    assert sorted(Lump.objects.filter(patient=right.visit.patient).values_list("number", flat=True)) == [1, 2]


def test_the_size_of_a_known_lump_becomes_that_of_the_one_at_the_same_place(dog, right, house) -> None:
    """Both dogs have a lump at the left flank; the wrong one's was opened."""
    key = placed(dog)
    measured(dog, key, 10, 9)
    dog = next_visit(dog, days=60)
    there = exam_here(house.actor("colleague"), right.visit)
    own = placed(there)
    measured(there, own, 20, 18)
    there = next_visit(there, days=60)
    measured(dog, key, 22, 19)
    row = offered(dog, there.exam.record, "Lump 1")
    assert row.asks == "It becomes today’s size of Sorrel’s lump 1, at the same place."
    move(dog.exam.record, there.exam.record, dog.actor, "Lump 1")
    assert Lump.objects.filter(patient=right.visit.patient).count() == 1
    assert today(there, own).axes_mm == (22, 19)
    assert not LumpMeasure.objects.filter(record=dog.exam.record).exists()
    assert not Lump.objects.get(patient=dog.exam.record.visit.patient).withdrawn


def test_that_a_lump_is_gone_speaks_of_its_own_patient_and_stays(dog, right) -> None:
    key = placed(dog)
    measured(dog, key, 10, 9)
    dog = next_visit(dog, days=60)
    dog.tap(key, "lump_gone", {"how": "not-felt"})
    assert offered(dog, right, "Lump 1").hinder.startswith("It speaks of a lump this patient has had")


def test_a_place_the_other_animal_does_not_have_keeps_the_lump_where_it_is(dog, house) -> None:
    owner = dog.exam.record.visit.patient.owners.get()
    cat = people.patient("Sorrel", of=owner, species="cat", breed="house cat")
    right = people.visit_here(cat, clinician=house.colleague).record
    below = {"drawing": "dog-below", "region": "gland-dog-5-left", "x": 0.4, "y": 0.7}
    key = f"lump:{'0' * 8}-0000-4000-8000-{'0' * 12}"
    assert dog.tap(key, "lump_place", FLANK | below)["result"] == "accepted"
    assert offered(dog, right, "Lump 1").hinder
    with pytest.raises(ShownOtherwise):
        move(dog.exam.record, right, dog.actor, "Lump 1")
    assert today(dog, key)


def test_photographs_of_a_lump_go_with_it(dog, right, house) -> None:
    key = placed(dog)
    photo = take(house, dog.exam.record.visit, target=key, note="under the hair")
    move(dog.exam.record, right, dog.actor, "Lump 1")
    photo.refresh_from_db()
    assert photo.struck_reason == "wrong patient: belongs to Sorrel"
    there = ExamPhoto.objects.get(record=right)
    assert there.target == f"lump:{Lump.objects.get(patient=right.visit.patient).key}"
    assert (there.sha256, there.by, there.note) == (photo.sha256, photo.by, "under the hair")


# ---- Photographs


def test_a_photograph_goes_with_its_taker_and_its_picture(dog, right, house) -> None:
    photo = take(house, dog.exam.record.visit, by="technician", note="wax")
    before = Exam.objects.get(pk=dog.exam.pk).photo_changes
    move(dog.exam.record, right, dog.actor, "Ears")
    photo.refresh_from_db()
    there = ExamPhoto.objects.get(record=right)
    assert (there.sha256, there.small_sha256, there.by) == (
        photo.sha256,
        photo.small_sha256,
        house.technician,
    )
    assert (there.target, there.struck_at, there.taken_at) == (CANAL, None, photo.taken_at)
    assert (photo.struck_by, photo.struck_reason) == (house.clinician, "wrong patient: belongs to Sorrel")
    assert Exam.objects.get(pk=dog.exam.pk).photo_changes == before + 1
    assert {r.words for r in PutRight.objects.all()} == {"wax"}


def test_somebody_elses_photograph_is_moved_by_a_clinician_or_its_taker(dog, right, house) -> None:
    take(house, dog.exam.record.visit)
    technician = house.actor("technician")
    row = next(r for n, r in rows_of(dog.exam.record, right, technician).items() if n.startswith("Ears"))
    assert row.hinder == "Only Dr Maren Oduya or a clinician takes this out."


def test_a_photograph_of_a_lump_that_nothing_was_said_of_stays_and_says_why(dog, right, house) -> None:
    key = placed(dog)
    measured(dog, key, 10, 9)
    dog = next_visit(dog, days=60)
    photo = take(house, dog.exam.record.visit, target=key)
    assert offered(dog, right, "Lump 1").hinder.startswith("It shows a lump of this patient")
    assert photo.struck_at is None


def test_a_choice_for_one_letter_is_none_for_another(dog, right, house) -> None:
    photo = take(house, dog.exam.record.visit)
    describe_photo(photo=photo, in_letter=True, actor=house.actor("clinician"), now=people.NOW)
    move(dog.exam.record, right, dog.actor, "Ears")
    assert not ExamPhoto.objects.get(record=right).in_letter


# ---- Teeth


def asleep(tablet: Tablet) -> None:
    said = tablet.tap("exam", "set_awake", {"awake": "anaesthetised", "by_what": "propofol"})
    assert said["result"] == "accepted"


def charted(tablet: Tablet) -> None:
    told = {"charted": {"pockets": {"mb": "5"}}, "findings": [{"code": "MTH-05", "grade": "3"}]}
    assert tablet.tap(TOOTH, "set_abnormal", told)["result"] == "accepted"


def test_what_was_charted_of_a_tooth_goes_with_its_findings(dog, right, house) -> None:
    asleep(dog)
    charted(dog)
    asleep(exam_here(house.actor("colleague"), right.visit))
    move(dog.exam.record, right, dog.actor, "Mouth")
    row = Finding.objects.get(record=right)
    assert (row.line, row.charted) == (TOOTH, {"pockets": {"mb": "5"}})
    assert row.findings[0]["made_in"] == "anaesthetised"
    assert "awake_estimate" not in row.findings[0] or not row.findings[0]["awake_estimate"]
    assert TOOTH not in state_of(dog.exam).answers


def test_what_was_probed_asleep_waits_until_the_right_one_is_said_to_be_asleep(dog, right) -> None:
    asleep(dog)
    charted(dog)
    assert offered(dog, right, "Mouth").hinder == "Say first that it is anaesthetised, and with what."


def test_what_was_said_aloud_goes_unkept_and_is_heard_for_the_right_animal(dog, right, house) -> None:
    said = "Left ear canal red, mild. Hips move freely."
    dog.send(dog.operation("talk", "say", {"text": said}))
    actor = house.actor("clinician")
    assert move(dog.exam.record, right, actor, "Said aloud")
    line = TalkLine.objects.get()
    assert (line.record, line.text, line.by) == (right, said, house.clinician)
    assert not HeardItem.objects.filter(record=dog.exam.record).exists()
    heard = HeardItem.objects.filter(record=right, state="open")
    assert {row.said["structure"] for row in heard} >= {"EAR.canal", "HLB.hip"}
    kept = {row.words for row in PutRight.objects.all()}
    assert kept == {"8 words"}, "what was said can be forgotten: no record of the move keeps it"


def test_what_was_confirmed_and_moved_is_not_asked_again_of_its_words(dog, right, house) -> None:
    dog.send(dog.operation("talk", "say", {"text": "Left ear canal normal."}))
    dog.tap("EAR.canal|left", "set_normal", {})
    move(dog.exam.record, right, house.actor("clinician"), "Ears", "Said aloud")
    assert Finding.objects.get(record=right).line == "EAR.canal|left"
    assert not HeardItem.objects.filter(record=right, state="open").exists()


def test_somebody_elses_talk_is_moved_by_a_clinician_or_whoever_entered_it(dog, right, house) -> None:
    dog.send(dog.operation("talk", "say", {"text": "Ears clean."}))
    [row] = [r for n, r in rows_of(dog.exam.record, right, house.actor("technician")).items() if "Said" in n]
    assert row.hinder
