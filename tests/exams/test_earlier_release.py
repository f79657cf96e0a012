"""A tablet that was away while a new release came: its taps count for 30 days, and no longer."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.test import Client

from clinic.models import Visit
from clinic.platform.models import DataVersion
from exams.models import Exam, Finding, Operation
from exams.versions import composed, is_taken, keep_version, published
from exams.walk import from_json, to_json
from tests import people
from tests.exams.test_exam_endpoints import operation, send

pytestmark = pytest.mark.django_db

MONTH = timedelta(days=30)


def walk_of_before() -> str:
    """The number of a walk that asked in other words, used by an earlier release."""
    body = to_json(published())
    body["stations"][0]["intro"] = "As it was put before."
    walk = from_json(body)
    keep_version(walk, now=people.NOW)
    return walk.sha256


@pytest.fixture
def before() -> str:
    return walk_of_before()


@pytest.fixture
def visit(db) -> Visit:
    people.clinic_details()
    return people.visit_here(clinician=people.people().clinician)


@pytest.fixture
def clinician(client: Client, visit) -> Client:
    client.force_login(visit.clinician)
    return client


def result(client: Client, visit: Visit, **more: str) -> tuple[str, str]:
    answer = send(client, visit, operation(client, **more)).json()["answers"][0]
    return answer["result"], answer.get("reason", "")


def test_the_walk_in_force_is_taken(db) -> None:
    assert is_taken(composed().sha256, now=people.NOW)


def test_a_walk_that_never_was_is_not(db) -> None:
    assert not is_taken("0" * 64, now=people.NOW)


def test_an_earlier_one_is_taken_until_thirty_days_after_it_was_replaced(before) -> None:
    keep_version(published(), now=people.NOW + 40 * MONTH)
    replaced = people.NOW + 40 * MONTH
    assert is_taken(before, now=replaced + MONTH - timedelta(seconds=1))
    assert not is_taken(before, now=replaced + MONTH)


def test_nothing_of_a_walk_that_was_replaced_long_ago_begins_an_exam(clinician, visit, before) -> None:
    keep_version(published(), now=people.NOW + timedelta(days=1))
    assert result(clinician, visit, walk_version=before) == ("refused", "other-walk")
    assert Exam.objects.get().walk_id == composed().sha256
    assert not Finding.objects.exists()


def test_the_first_tap_begins_the_exam_with_the_walk_that_its_page_showed(clinician, visit, before) -> None:
    assert result(clinician, visit, walk_version=before) == ("accepted", "")
    assert Exam.objects.get().walk_id == before


def test_taps_on_an_exam_that_was_begun_with_the_new_walk_are_taken_and_kept_as_sent(
    clinician, visit, before
) -> None:
    assert result(clinician, visit, target="EAR.pinna|left") == ("accepted", "")
    assert result(clinician, visit, walk_version=before) == ("accepted", "")
    assert Exam.objects.get().walk_id == composed().sha256
    assert Operation.objects.get(target="EAR.canal|left").walk_version == before


def test_a_line_that_this_walk_no_longer_has_is_refused_by_itself(clinician, visit, before) -> None:
    assert result(clinician, visit, target="EAR.pinna|left") == ("accepted", "")
    gone = result(clinician, visit, target="EAR.gone|left", walk_version=before)
    assert gone == ("refused", "no-such-line")


def test_a_release_keeps_its_walk_before_the_first_exam(db) -> None:
    assert not DataVersion.objects.exists()
    call_command("keep_walk")
    call_command("keep_walk")
    assert [row.sha256 for row in DataVersion.objects.all()] == [published().sha256]
