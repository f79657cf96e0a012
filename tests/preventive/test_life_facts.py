"""What the schedule goes by besides the record: life stage, expected lifespan, days that dates count from."""

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
from preventive.life_facts import ASKED, as_facts, checked
from preventive.life_models import LifeFact
from tests.preventive.build import cat, day, dog, due, history, under
from tests.preventive.room import room

OLD = dog("2015-03-01")


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


def test_what_is_typed_is_read_as_its_kind_and_nothing_else():
    def read(code, typed, species=Species.CAT):
        rules = under().rules
        return checked(
            code, typed, rules=rules, species=species, born_on=day("2025-01-06"), on=day("2026-01-10")
        )

    assert read("acquired", " 2025-03-01 ") == "2025-03-01"
    assert read("lifespan", "09", Species.DOG) == "9"
    assert as_facts([("acquired", "2025-03-01"), ("lifespan", "9")]) == {
        "acquired_on": day("2025-03-01"),
        "lifespan_years": 9.0,
    }
    for code, typed, species in (
        ("acquired", "2025-01-05", Species.CAT),  # before its birth
        ("weaned", "2026-01-11", Species.CAT),
        ("exposure", "lately", Species.CAT),
        ("exposure", "2025-03-01", Species.DOG),  # not asked of a dog
        ("lifespan", "31", Species.DOG),
        ("lifespan", "0", Species.DOG),
        ("stage", "kitten", Species.DOG),
        ("colour", "red", Species.DOG),
    ):
        with pytest.raises(ValueError, match=r"\.|\?"):
            read(code, typed, species)


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
