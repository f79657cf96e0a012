"""The prompt to scan the microchip. Source of the guard: AHRQ PSNet 2023, copy-and-paste cases (a wrong
patient's record): a scan at the visit, asked for and never in the way."""

from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clinic.models import ChipScan, Visit
from clinic.patients.actions import add_microchip
from clinic.visits.actions import scan_chip
from clinic.visits.chips import chip_prompt
from clinic.visits.errors import NeedsWords, NotOpen, SentBefore
from tests import people

pytestmark = pytest.mark.django_db
MINE, THEIRS, NOBODYS = "985141000123456", "985141000654321", "985141000111222"


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def visit(house: people.People) -> Visit:
    return people.visit_here(clinician=house.clinician)


@pytest.fixture
def tech(house: people.People) -> dict:
    return {"actor": house.actor("technician"), "now": people.NOW}


@pytest.fixture
def chipped(visit: Visit, tech: dict) -> Visit:
    add_microchip(patient=visit.patient, number=MINE, **tech)
    add_microchip(patient=people.patient("Grit"), number=THEIRS, **tech)
    return visit


def test_a_chip_on_record_that_was_not_scanned_is_asked_for(chipped, tech) -> None:
    said = chip_prompt(chipped.patient, chipped.record)
    assert said == "Microchip 985 141 000 123 456 is on record and was not scanned at this visit: scan it."
    scan_chip(record=chipped.record, number=MINE, **tech)
    assert chip_prompt(chipped.patient, chipped.record) == ""


def test_no_chip_on_record_asks_to_look_for_one(visit, tech) -> None:
    assert chip_prompt(visit.patient, visit.record).startswith("No microchip is on record")
    scan_chip(record=visit.record, number="", none_found=True, **tech)
    assert chip_prompt(visit.patient, visit.record) == ""


@pytest.mark.parametrize(("number", "answer"), [(MINE, "matches"), (THEIRS, "other"), (NOBODYS, "new")])
def test_it_says_at_once_whose_chip_was_read(chipped, tech, number, answer) -> None:
    grouped = f"{number[:3]}-{number[3:9]} {number[9:]}"
    assert scan_chip(record=chipped.record, number=grouped, **tech).answer == answer


@pytest.mark.parametrize("number", ["", "98514100012345", "999000000000001"])
def test_what_no_chip_can_say_is_not_kept(visit, tech, number) -> None:
    with pytest.raises(NeedsWords):
        scan_chip(record=visit.record, number=number, **tech)
    assert not ChipScan.objects.exists()


def test_sent_twice_it_stands_once(chipped, tech) -> None:
    once = uuid4()
    scan_chip(record=chipped.record, number=MINE, once=once, **tech)
    with pytest.raises(SentBefore):
        scan_chip(record=chipped.record, number=MINE, once=once, **tech)
    assert ChipScan.objects.count() == 1


def test_a_signed_record_takes_no_scan(chipped, tech, house) -> None:
    record = chipped.record
    record.signed_at, record.signed_by, record.signed_name = people.NOW, house.clinician, "Dr Maren Oduya"
    record.save()
    with pytest.raises(NotOpen):
        scan_chip(record=record, number=MINE, **tech)
    with pytest.raises(IntegrityError, match="refused"), transaction.atomic():
        ChipScan.objects.create(record=record, number=MINE, answer="new", by=house.technician, at=people.NOW)


def test_intake_asks_shows_whose_it_was_and_leads_to_the_way_out(client: Client, house, chipped) -> None:
    client.force_login(house.technician)
    intake, send = (reverse(name, args=[chipped.pk]) for name in ("visit-intake", "intake-chip"))
    assert "was not scanned at this visit" in client.get(intake).content.decode()
    answer = client.post(send, {"number": THEIRS, "once": str(uuid4())}, follow=True)
    text = answer.content.decode()
    assert f"it is Grit’s. Is this {chipped.patient.name}?" in text
    assert text.count(reverse("wrong-patient", args=[chipped.pk])) == 2  # beside the scan, and in the foot
    assert "was not scanned" not in text
    wrong = client.post(send, {"number": "12"}, follow=True)
    assert "“12”" in wrong.content.decode(), "what was read is said again with the reason"


def test_more_scans_cost_no_more_queries_while_they_match(client: Client, house, chipped, tech) -> None:
    client.force_login(house.technician)
    counts = []
    for _ in range(2):
        scan_chip(record=chipped.record, number=MINE, **tech)
        scan_chip(record=chipped.record, number=MINE, **tech)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            client.get(reverse("visit-intake", args=[chipped.pk]))
        counts.append(len(asked))
    assert counts[0] == counts[1]
