"""The patient's own picture: kept square and without what the file told, shown over every visit."""

import io

import pytest
from django.test import Client
from PIL import Image

from clinic.models import Visit
from clinic.platform.files import read
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def visit(house) -> Visit:
    return people.visit_here(clinician=house.clinician)


@pytest.fixture
def assistant(client: Client, house) -> Client:
    client.force_login(house.assistant)
    return client


def sent(content: bytes) -> io.BytesIO:
    file = io.BytesIO(content)
    file.name = "IMG_1.jpg"
    return file


def from_camera() -> bytes:
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 17.5)})
    out = io.BytesIO()
    Image.new("RGB", (900, 600), (120, 90, 60)).save(out, "JPEG", exif=exif)
    return out.getvalue()


def test_it_is_kept_square_without_its_place_and_shown_over_the_visit(assistant, visit):
    url = f"/patients/{visit.patient_id}/picture/set/"
    assert assistant.post(url, {"picture": sent(from_camera())}).status_code == 302
    visit.patient.refresh_from_db()
    sha = visit.patient.photo_sha256
    kept = read(f"{sha[:2]}/{sha}.jpg")
    assert Image.open(io.BytesIO(kept)).size == (480, 480)
    assert b"Exif" not in kept
    address = f"/patients/{visit.patient_id}/picture/?v={sha[:12]}"
    assert f'src="{address}"' in assistant.get(f"/visits/{visit.pk}/intake/").content.decode()
    answer = assistant.get(address)
    assert answer.content == kept
    assert answer.headers["Cache-Control"] == "private, max-age=31536000, immutable"
    assert assistant.get(address.partition("?")[0]).headers["Cache-Control"] == "private, no-cache"


def test_what_is_no_picture_changes_nothing_and_is_told(assistant, visit):
    url = f"/patients/{visit.patient_id}/picture/set/"
    assistant.post(url, {"picture": sent(from_camera())})
    before = type(visit.patient).objects.get(pk=visit.patient_id).photo_sha256
    page = assistant.post(url, {"picture": sent(b"%PDF")}, follow=True).content.decode()
    assert "The picture was not changed." in page
    assert "No picture came with it" in assistant.post(url, {}, follow=True).content.decode()
    assert type(visit.patient).objects.get(pk=visit.patient_id).photo_sha256 == before


def test_removed_the_species_stands_there_again(assistant, visit):
    url = f"/patients/{visit.patient_id}/picture/set/"
    assistant.post(url, {"picture": sent(from_camera())})
    assistant.post(url, {"remove": "1"})
    assert 'aria-label="dog, no picture yet"' in assistant.get(f"/visits/{visit.pk}/intake/").content.decode()
    assert assistant.get(f"/patients/{visit.patient_id}/picture/").status_code == 404
