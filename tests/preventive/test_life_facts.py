"""What the schedule goes by besides the record: life stage, expected lifespan, days that dates count from."""

import re
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks.models import CallBack
from preventive.actions import note_life_facts, refresh_call_backs
from preventive.case import Case
from preventive.dates import PartialDate, Precision
from preventive.errors import Incomplete
from preventive.facts import Birth, Species
from preventive.knowing import history_of
from preventive.life_facts import ASKED, as_facts, asked_of, checked, stages, value_words
from preventive.life_models import LifeFact
from tests.preventive.build import cat, day, dog, due, history, under
from tests.preventive.room import room

OLD = dog("2015-03-01")
YEARS = "A whole number of years, 30 at most."


def exam(who, on="2026-01-10"):
    return due(who, history(exams=(day("2026-01-05"),)), on, "dog_exam")


def test_a_dog_is_senior_in_the_last_quarter_of_its_lifespan_or_by_the_staff():
    open_still = exam(OLD)
    assert open_still.target == day("2027-01-05")
    assert [each.text for each in open_still.changes] == [
        "If senior, every 6 months: note the life stage, or the expected lifespan."
    ]
    for told in ([("lifespan", "14")], [("stage", "senior")], [("stage", "end_of_life"), ("lifespan", "30")]):
        known = exam(dog("2015-03-01", **as_facts(told)))
        assert (known.target, known.changes) == (day("2026-07-05"), ())
    assert exam(dog("2015-03-01", **as_facts([("lifespan", "16")]))).target == day("2027-01-05")


def read(code, typed, species=Species.CAT, born_on="2025-01-06"):
    born = day(born_on) if born_on else None
    return checked(code, typed, rules=under().rules, species=species, born_on=born, on=day("2026-01-10"))


def test_what_is_typed_is_read_as_its_kind():
    for code, typed, species, kept, words in (
        ("acquired", " 2025-01-06 ", Species.CAT, "2025-01-06", "6 January 2025"),  # the day it was born
        ("weaned", "2026-01-10", Species.DOG, "2026-01-10", "10 January 2026"),
        ("lifespan", "01", Species.DOG, "1", "1 year"),
        ("lifespan", "30", Species.DOG, "30", "30 years"),
        ("stage", "senior", Species.DOG, "senior", "Senior"),
        ("stage", "kitten", Species.CAT, "kitten", "Kitten"),
    ):
        assert read(code, typed, species) == kept
        assert value_words(code, kept, rules=under().rules, species=species) == words
    assert read("exposure", "2019-03-01", born_on=None) == "2019-03-01"
    assert as_facts([("acquired", "2025-03-01"), ("lifespan", "9")]) == {
        "acquired_on": day("2025-03-01"),
        "lifespan_years": 9.0,
    }


def test_what_is_no_such_thing_is_refused_with_a_sentence():
    for code, typed, species, sentence in (
        ("acquired", "2025-01-05", Species.CAT, "That is before its birth."),
        ("weaned", "2026-01-11", Species.CAT, "This day has not come yet."),
        ("exposure", "lately", Species.CAT, "Which day?"),
        ("exposure", "2025-03-01", Species.DOG, "That is not asked of this animal."),
        ("lifespan", "31", Species.DOG, YEARS),
        ("lifespan", "0", Species.DOG, YEARS),
        ("lifespan", "١", Species.DOG, YEARS),  # the digit one in Arabic
        ("lifespan", "-9", Species.DOG, YEARS),
        ("stage", "kitten", Species.DOG, "Which life stage?"),
        ("colour", "red", Species.DOG, "That is not asked of this animal."),
    ):
        with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
            read(code, typed, species)


def test_each_species_is_asked_its_own_and_its_stages_in_the_order_of_a_life():
    assert [each.code for each in asked_of(Species.DOG)] == ["stage", "lifespan", "weaned"]
    assert [each.code for each in asked_of(Species.CAT)] == ["stage", "acquired", "exposure", "weaned"]
    dogs = ["puppy", "young_adult", "mature_adult", "senior", "end_of_life"]
    assert [code for code, _ in stages(under().rules, Species.DOG)] == dogs


def test_it_was_born_before_it_came():
    """Where only the year of birth is known."""
    plain = Birth(PartialDate(day("2025-01-01"), Precision.YEAR))
    for told, youngest in (({}, "2025-12-31"), ({"acquired_on": day("2025-03-01")}, "2025-03-01")):
        who = replace(cat(None), birth=plain, **told)
        assert Case(who, history(), under(), day("2026-01-10")).youngest_birth == day(youngest)


def test_every_field_asked_is_one_that_the_schedule_reads():
    animal = cat("2020-01-06")
    assert all(hasattr(animal, asked.field) for asked in ASKED)


@pytest.mark.django_db
def test_noted_on_the_page_it_moves_the_dates_and_is_struck_out_by_the_next():
    made, client = room(weeks=11 * 52), Client()
    client.force_login(made.people.technician)
    page = reverse("patient-prevention", args=[made.patient.pk])

    def send(**fields):
        return client.post(f"{page}life/", {"once": str(uuid4()), "stage": "", "lifespan": "", **fields})

    def exam_on():
        return CallBack.objects.get(patient=made.patient, key="dog_exam").due_on

    made.visit.place = "gone-home"
    made.visit.save()
    refresh_call_backs(patient=made.patient, today=timezone.localdate(), now=timezone.now())
    yearly = exam_on()
    assert "or senior already: the expected lifespan is not known" in client.get(page).content.decode()
    wrong = send(lifespan="100")
    assert wrong.status_code == 422
    assert "30 at most" in wrong.content.decode()
    assert 'value="100"' in wrong.content.decode()
    assert not LifeFact.objects.exists()
    assert send(lifespan="12").status_code == 302
    assert exam_on() < yearly - timedelta(days=150)
    shown = client.get(page).content.decode()
    assert f"12 years<small>{made.people.technician.full_name}" in shown
    assert send(lifespan="12").status_code == 302  # as it was: nothing is written
    assert send(stage="mature_adult", lifespan="12").status_code == 302
    assert exam_on() == yearly
    assert send(lifespan="").status_code == 302
    struck = LifeFact.objects.filter(struck_by=made.people.technician, struck_reason="Taken back.")
    assert sorted(row.code for row in struck) == ["lifespan", "stage"]
    assert LifeFact.objects.count() == 2
    assert history_of(made.patient, today=timezone.localdate()).animal.lifespan_years is None
    with pytest.raises(Incomplete):
        note_life_facts(
            actor=made.actor(), now=timezone.now(), patient=made.patient, told={"exposure": "2026-01-01"}
        )
