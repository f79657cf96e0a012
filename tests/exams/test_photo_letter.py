"""Photographs a clinician chose stand in the letter by their place, two dates side by side, with words."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from django.test import Client
from pypdf import PdfReader

from clinic.letters.composition import compose
from clinic.letters.document import Photos, from_json, to_json
from clinic.letters.pdf import UnfitForPaper, render
from clinic.letters.sheet import mail_body
from clinic.models import Record, Visit
from clinic.platform.files import content_name
from exams.errors import PhotoRefused
from exams.models import ExamPhoto
from exams.photo_actions import describe_photo, strike_photo
from tests import people
from tests.accessible import faults
from tests.exams.house import exam_here
from tests.exams.test_lump_taps import FLANK, measured, placed
from tests.exams.test_photos import earlier_visit, jpeg, take

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def visit(house) -> Visit:
    return people.visit_here(clinician=house.clinician)


def choose(house, photo: ExamPhoto, *, put: bool = True) -> ExamPhoto:
    return describe_photo(photo=photo, in_letter=put, actor=house.actor("clinician"), now=people.NOW)


def letter(visit: Visit):
    record = Record.objects.select_related("visit__patient").get(visit=visit)
    return compose(record, today=people.TODAY)


def shown(visit: Visit) -> list[list[str]]:
    sections = [s for s in letter(visit).sections if s.name == "pictures"]
    return [[p.caption.text for p in block.photos] for s in sections for block in s.blocks]


def test_only_what_a_clinician_chose_and_nobody_struck_out_stands_in_it(house, visit) -> None:
    take(house, visit)
    chosen = choose(house, take(house, visit, note="wax at the bottom.", content=jpeg((90, 90, 60))))
    assert shown(visit) == [["Left ear, 11 March 2026: wax at the bottom."]]
    strike_photo(photo=chosen, reason="blurred", actor=house.actor("clinician"), now=people.NOW)
    assert shown(visit) == []


def test_the_one_of_an_earlier_letter_stands_before_it(house, visit) -> None:
    earlier_visit(house, visit, chosen=True)
    choose(house, take(house, visit))
    assert shown(visit) == [["Left ear, 3 February 2026.", "Left ear, 11 March 2026."]]


def test_one_that_was_in_no_letter_stays_out_of_this_one(house, visit) -> None:
    earlier_visit(house, visit)
    choose(house, take(house, visit))
    assert shown(visit) == [["Left ear, 11 March 2026."]]


def test_a_lump_is_named_by_its_number_and_place(house, visit) -> None:
    tablet = exam_here(house.actor("clinician"), visit)
    key = placed(tablet)
    measured(tablet, key, 14, 11)
    choose(house, take(house, visit, target=key))
    assert shown(visit) == [["Lump 1, left flank, 11 March 2026."]]
    assert FLANK["region"] == "flank-left"


def test_a_fifth_is_refused_and_says_what_to_do(house, visit) -> None:
    photos = [take(house, visit, content=jpeg((n * 20, 90, 60))) for n in range(5)]
    for photo in photos[:4]:
        choose(house, photo)
    with pytest.raises(PhotoRefused, match="A letter holds 4 photographs: take another one out first"):
        choose(house, photos[4])
    choose(house, photos[0], put=False)
    choose(house, photos[4])
    assert len(shown(visit)[0]) == 4


def test_it_goes_through_json_and_into_the_mail_s_words(house, visit) -> None:
    choose(house, take(house, visit, note="wax"))
    document = letter(visit)
    assert from_json(to_json(document)) == document
    assert "wax" not in mail_body(document)  # the body says the main points; pictures are in the PDF


@pytest.mark.parametrize("large", [False, True], ids=["12pt", "large"])
def test_on_paper_it_has_a_text_and_is_pdf_ua_1(house, visit, large) -> None:
    for n in range(3):
        choose(house, take(house, visit, note="wax", content=jpeg((90, 30 * n, 60), size=(1600, 1200))))
    made = render(replace(letter(visit), large_print=large))
    assert faults(made.content) == []
    reader = PdfReader(io.BytesIO(made.content))
    assert len({image.data for each in reader.pages for image in each.images}) == 3
    assert "Left ear, 11 March 2026: wax." in " ".join(
        " ".join(each.extract_text() for each in reader.pages).split()
    )
    assert len(made.content) < 400_000


def test_a_letter_whose_picture_is_gone_or_changed_is_not_rendered(house, visit, settings) -> None:
    photo = choose(house, take(house, visit))
    document = letter(visit)
    (settings.MEDIA_ROOT / photo.sha256[:2] / f"{photo.sha256}.jpg").write_bytes(jpeg((1, 2, 3)))
    with pytest.raises(UnfitForPaper):
        render(document)
    assert content_name(jpeg((1, 2, 3)), ".jpg") != f"{photo.sha256[:2]}/{photo.sha256}.jpg"


def test_the_preview_shows_it_with_its_text(client: Client, house, visit) -> None:
    photo = choose(house, take(house, visit, note="wax"))
    client.force_login(house.clinician)
    text = client.get(f"/visits/{visit.pk}/sign/").content.decode()
    assert f'<img src="/photographs/{photo.pk}/" alt="Photograph: Left ear: wax, 11 March 2026"' in text


def test_blocks_are_by_place(house, visit) -> None:
    choose(house, take(house, visit))
    choose(house, take(house, visit, target="EAR.canal|right", content=jpeg((9, 9, 9))))
    section = next(s for s in letter(visit).sections if s.name == "pictures")
    assert [type(b) for b in section.blocks] == [Photos, Photos]
