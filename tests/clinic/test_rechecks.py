"""Rechecks that were agreed on are call-backs until somebody came for them or closed them."""

from datetime import timedelta

import pytest
from django.utils import timezone

from clinic.callbacks.models import CallBack
from clinic.callbacks.refreshing import refresh_patient
from clinic.callbacks.reminder_words import thing_in
from clinic.models import PlanLine, PlanProgress, Record, Visit
from clinic.promises import actions
from clinic.promises.queries import find_promise
from tests import people

pytestmark = pytest.mark.django_db
TODAY, NOW = people.TODAY, people.NOW
LATER = TODAY + timedelta(days=30)


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def line(house: people.People) -> PlanLine:
    visit = people.visit_here()
    made = visit.record.plan_lines.create(
        kind="recheck", text="Ears: cytology again", for_owner="Look at the ears again.",
        answerable=house.clinician, due_on=TODAY + timedelta(days=14), by=house.clinician, at=NOW,
    )  # fmt: skip
    visit.record.plan_lines.create(
        kind="call", text="call", answerable=house.clinician, due_on=TODAY, by=house.clinician, at=NOW
    )
    Visit.objects.filter(pk=visit.pk).update(place="gone-home", arrived_at=NOW, gone_at=NOW)
    return made


def sign(line: PlanLine) -> None:
    Record.objects.filter(pk=line.record_id).update(
        signed_at=NOW, signed_by=line.by, signed_name="Dr Maren Oduya", seal="x" * 64
    )


def rows(line: PlanLine) -> list[tuple[str, str, str]]:
    patient = line.record.visit.patient_id
    refresh_patient(patient_id=patient, today=LATER, now=NOW + timedelta(days=30))
    found = CallBack.objects.filter(source="recheck")
    return [(each.label, each.due_on.isoformat(), each.nature) for each in found]


def test_a_recheck_is_called_back_for_from_the_signature_on_in_the_owner_s_words(line: PlanLine) -> None:
    assert rows(line) == []
    sign(line)
    (found,) = rows(line)
    assert found == ("Recheck: Look at the ears again", line.due_on.isoformat(), "agreed")
    assert thing_in(found[0], "en", "US") == found[0]
    assert thing_in("Recheck: Faecal test", "en", "US") == "Recheck: Faecal test", "staff's own words"
    assert (
        thing_in(found[0], "es", "US") == "Revisión de control"
    )  # staff's own words are in another language


def test_moved_it_is_due_then_and_done_it_is_no_more(line: PlanLine, house: people.People) -> None:
    sign(line)
    actor = house.actor("clinician")
    promise = find_promise("plan-line", str(line.pk), actor=actor)
    actions.move(promise=promise, to=TODAY + timedelta(days=20), words="they are away", actor=actor, now=NOW)
    assert [due_on for _, due_on, _ in rows(line)] == [(TODAY + timedelta(days=20)).isoformat()]
    PlanProgress.objects.create(line=line, standing="done", by=house.clinician, at=NOW)
    assert rows(line) == []


@pytest.mark.parametrize(("days", "stands"), [(6, True), (7, False), (25, False)])
def test_whoever_came_near_the_day_has_been_here_for_it(line: PlanLine, days: int, stands: bool) -> None:
    """A week before the day, or later (ours)."""
    sign(line)
    at = NOW + timedelta(days=days)
    Visit.objects.create(
        patient=line.record.visit.patient, place="gone-home", place_since=at, made_at=at, arrived_at=at,
        gone_at=at,
    )  # fmt: skip
    assert timezone.localdate(at) == TODAY + timedelta(days=days)
    assert bool(rows(line)) == stands
