"""Photographs of an exam: in once, under the right name, safe to keep, frozen by the signature."""

import io
import uuid
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.db import IntegrityError, connection, transaction
from django.db.utils import DatabaseError
from django.test import Client
from django.test.utils import CaptureQueriesContext
from PIL import Image

from clinic.models import Grant, Record, Tablet, Visit
from clinic.people.actor import NotAllowed
from clinic.people.queries import TABLET
from clinic.platform.csp import PICTURE
from clinic.platform.files import read
from exams.actions import begin_exam
from exams.errors import PhotoRefused, RecordSigned
from exams.models import Exam, ExamPhoto
from exams.photo_actions import add_photo, describe_photo, strike_photo
from tests import people

pytestmark = pytest.mark.django_db
CANAL, OTHER = "EAR.canal|left", "EAR.canal|right"


def jpeg(colour: tuple[int, int, int] = (150, 60, 60), size: tuple[int, int] = (640, 480), **more) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG", **more)
    return out.getvalue()


def with_place() -> bytes:
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 17.5), 3: "E", 4: (0.0, 7.0, 12.0)})
    exif[0x0112] = 6  # the camera was held upright: rows and columns are swapped
    return jpeg(exif=exif)


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def visit(house) -> Visit:
    return people.visit_here(clinician=house.clinician)


@pytest.fixture
def clinician(client: Client, house) -> Client:
    client.force_login(house.clinician)
    return client


def grant_of(client: Client) -> str:
    return str(Grant.objects.filter(tablet=client.session[TABLET]).latest("made_at").pk)


def send(client: Client, visit: Visit, content: bytes | None = None, **more: str):
    sent = {
        "key": str(uuid.uuid4()),
        "target": CANAL,
        "taken_at": "2026-03-11T11:02:00+01:00",
        "grant": grant_of(client),
        **more,
    }
    file = io.BytesIO(jpeg() if content is None else content)
    file.name = "IMG_0001.jpg"
    return client.post(f"/visits/{visit.pk}/exam/photos/", {**sent, "photo": file})


def take(house, visit: Visit, by: str = "clinician", **more) -> ExamPhoto:
    given = {"key": uuid.uuid4(), "target": CANAL, "taken_at": "2026-03-11T11:02:00+01:00", "content": jpeg()}
    record = Record.objects.select_related("visit__patient").get(visit=visit)
    return add_photo(record=record, actor=house.actor(by), now=people.NOW, **(given | more))


def signed(visit: Visit, by) -> None:
    Record.objects.filter(visit=visit).update(signed_at=people.NOW, signed_by=by, signed_name=by.full_name)


# ---- Taking one in


def test_a_photograph_is_kept_with_who_took_it_and_when(clinician, house, visit):
    answer = send(clinician, visit, note="wax at the bottom")
    assert answer.status_code == 200, answer.content
    kept = ExamPhoto.objects.get()
    assert (kept.by, kept.role, kept.target) == (house.clinician, "clinician", CANAL)
    assert (kept.taken_at, kept.note) == ("2026-03-11T11:02:00+01:00", "wax at the bottom")
    assert str(kept.grant) == grant_of(clinician)
    assert answer.json()["photo"]["src"] == f"/photographs/{kept.pk}/"


def test_the_first_photograph_begins_the_exam_and_other_tablets_learn_of_it(clinician, visit):
    send(clinician, visit)
    before = Exam.objects.get()
    send(clinician, visit)
    after = Exam.objects.get()
    assert (after.photo_changes, after.revision) == (before.photo_changes + 1, before.revision + 1)
    state = clinician.get(f"/visits/{visit.pk}/exam/state/").json()
    listed = clinician.get(f"/visits/{visit.pk}/exam/photos/").json()
    assert state["photo_changes"] == listed["changes"] == 2
    assert len(listed["photos"]) == 2


def test_where_it_was_taken_is_not_kept_and_it_stands_upright(clinician, visit):
    send(clinician, visit, with_place())
    kept = ExamPhoto.objects.get()
    assert (kept.width, kept.height) == (480, 640)
    for sha in (kept.sha256, kept.small_sha256):
        content = read(f"{sha[:2]}/{sha}.jpg")
        assert not dict(Image.open(io.BytesIO(content)).getexif())
        assert b"Exif" not in content
    everything = b"".join(p.read_bytes() for p in Path(default_storage.location).rglob("*") if p.is_file())
    assert b"Exif" not in everything


def test_the_same_key_again_is_answered_the_same_and_kept_once(clinician, visit):
    key = str(uuid.uuid4())
    first, second = send(clinician, visit, key=key), send(clinician, visit, key=key)
    assert first.json() == second.json()
    assert ExamPhoto.objects.count() == 1


def test_the_same_key_of_another_visit_is_refused(house, visit):
    kept = take(house, visit)
    other = people.visit_here(people.patient("Bramble"), clinician=house.clinician)
    with pytest.raises(PhotoRefused) as refused:
        take(house, other, key=kept.pk)
    assert refused.value.code == "key-taken"


@pytest.mark.parametrize(
    ("content", "reason"),
    [(b"%PDF-1.7", "not-a-picture"), (b"", "not-a-picture"), (jpeg() + b"\0" * 10 * 1024 * 1024, "too-big")],
)
def test_what_is_no_picture_is_refused_with_a_sentence(clinician, visit, content, reason):
    answer = send(clinician, visit, content)
    assert (answer.status_code, answer.json()["reason"]) == (422, reason)
    assert answer.json()["words"].endswith(".")
    assert not ExamPhoto.objects.exists()
    assert not list(Path(default_storage.location).rglob("*.jpg"))


@pytest.mark.parametrize(
    ("more", "reason"),
    [
        ({"target": "EAR.canal|middle"}, "no-such-line"),
        ({"target": ""}, "bad-photo"),
        ({"target": "lump:"}, "no-such-line"),
        ({"taken_at": "yesterday"}, "bad-photo"),
        ({"taken_at": "2026-03-11T11:02:00"}, "bad-photo"),
        ({"note": "n" * 201}, "bad-photo"),
        ({"observed_by": "999999"}, "bad-photo"),
        ({"grant": str(uuid.uuid4())}, "grant"),
        ({"grant": "nobody"}, "grant"),
    ],
)
def test_what_cannot_be_placed_is_refused(clinician, visit, more, reason):
    answer = send(clinician, visit, **more)
    assert (answer.status_code, answer.json()["reason"]) == (422, reason)
    assert not ExamPhoto.objects.exists()


def test_a_lump_is_named_by_its_number(clinician, visit):
    assert send(clinician, visit, target="lump:3").status_code == 200


@pytest.mark.parametrize("sent", [{}, {"key": "no-key"}, {"key": str(uuid.uuid4())}])
def test_what_is_no_photograph_at_all_is_400(clinician, visit, sent):
    assert clinician.post(f"/visits/{visit.pk}/exam/photos/", sent).status_code == 400


# ---- Under the right name


def test_nobody_signed_in_gets_401_and_no_redirect(visit):
    for answer in (
        Client().get(f"/visits/{visit.pk}/exam/photos/"),
        Client().post(f"/visits/{visit.pk}/exam/photos/"),
    ):
        assert (answer.status_code, answer.json()) == (401, {"reason": "signed-out"})


def test_a_grant_of_another_tablet_is_credited_to_nobody(clinician, house, visit):
    other = Client()
    other.force_login(house.colleague)
    assert send(clinician, visit, grant=grant_of(other)).json()["reason"] == "grant"
    assert not ExamPhoto.objects.exists()


def test_what_was_taken_before_a_hand_over_is_credited_to_who_took_it(clinician, house, visit):
    grant, tablet = grant_of(clinician), clinician.session[TABLET]
    theirs = Grant.objects.create(
        staff=house.technician, tablet=tablet, how="sign-in", made_at=Grant.objects.get(pk=grant).made_at
    )
    Tablet.objects.filter(pk=tablet).update(working=theirs)
    assert send(clinician, visit, grant=grant).status_code == 200
    assert ExamPhoto.objects.get().by == house.clinician


def test_a_locked_tablet_still_sends_what_it_holds_and_is_told_nothing(clinician, visit):
    grant = grant_of(clinician)
    Tablet.objects.filter(pk=clinician.session[TABLET]).update(locked_at=people.NOW)
    answer = send(clinician, visit, grant=grant)
    assert (answer.status_code, set(answer.json())) == (200, {"result", "key"})
    assert clinician.get(f"/visits/{visit.pk}/exam/photos/").status_code == 401
    kept = ExamPhoto.objects.get()
    assert (
        clinician.post(f"/visits/{visit.pk}/exam/photos/{kept.pk}/strike/", {"reason": "x"}).status_code
        == 401
    )


def test_a_manager_takes_no_photographs(house, visit):
    with pytest.raises(NotAllowed):
        take(house, visit, by="manager")


def test_sending_needs_the_token_against_forged_requests(house, visit):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(house.clinician)
    assert send(strict, visit).status_code == 403


# ---- After the signature


def test_after_signing_none_is_taken_in_but_the_first_answer_is_repeated(clinician, house, visit):
    key = str(uuid.uuid4())
    first = send(clinician, visit, key=key)
    signed(visit, house.clinician)
    late = send(clinician, visit)
    assert (late.status_code, late.json()["reason"]) == (422, "signed")
    assert send(clinician, visit, key=key).json() == first.json()
    assert ExamPhoto.objects.count() == 1


def test_of_a_signed_record_nothing_is_struck_out_or_described(house, visit):
    kept = take(house, visit)
    signed(visit, house.clinician)
    with pytest.raises(RecordSigned):
        strike_photo(photo=kept, reason="blurred", actor=house.actor("clinician"), now=people.NOW)
    with pytest.raises(RecordSigned):
        describe_photo(photo=kept, note="wax", actor=house.actor("clinician"), now=people.NOW)


def state_of(error: DatabaseError) -> str:
    return error.__cause__.sqlstate


def test_the_database_itself_refuses_to_touch_a_signed_records_photograph(house, visit):
    kept = take(house, visit)
    signed(visit, house.clinician)
    rows = ExamPhoto.objects.filter(pk=kept.pk)
    for change in (
        lambda: rows.update(note="other"),
        lambda: rows.delete(),
        lambda: ExamPhoto.objects.bulk_create([_copy(kept)]),
    ):
        with pytest.raises(DatabaseError) as refused, transaction.atomic():
            change()
        assert state_of(refused.value) == "23T01"


def _copy(kept: ExamPhoto) -> ExamPhoto:
    copy = ExamPhoto.objects.get(pk=kept.pk)
    copy.pk = uuid.uuid4()
    return copy


def test_the_database_itself_lets_an_open_records_photograph_only_be_struck_out(house, visit):
    kept = take(house, visit)
    rows = ExamPhoto.objects.filter(pk=kept.pk)
    for change in (lambda: rows.update(sha256="0" * 64), lambda: rows.delete()):
        with pytest.raises(DatabaseError) as refused, transaction.atomic():
            change()
        assert state_of(refused.value) == "23T02"
    rows.update(note="wax", in_letter=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        rows.update(struck_at=people.NOW)  # without saying who and why


# ---- Struck out, described


def test_struck_out_it_is_shown_no_more_and_stays(clinician, house, visit):
    kept = take(house, visit)
    url = f"/visits/{visit.pk}/exam/photos/{kept.pk}/strike/"
    assert clinician.post(url, {"reason": "  "}).json()["reason"] == "no-reason"
    assert clinician.post(url, {"reason": "the wrong ear"}).status_code == 200
    assert clinician.post(url, {"reason": "again"}).json()["reason"] == "struck"
    kept.refresh_from_db()
    assert (kept.struck_by, kept.struck_reason) == (house.clinician, "the wrong ear")
    assert clinician.get(f"/visits/{visit.pk}/exam/photos/").json()["photos"] == []
    assert clinician.get(f"/photographs/{kept.pk}/").status_code == 200
    page = clinician.get(f"/patients/{visit.patient_id}/photographs/").content.decode()
    assert "Struck out by Dr Maren Oduya: the wrong ear" in page


def test_whoever_took_it_or_a_clinician_strikes_it_out(house, visit):
    theirs = take(house, visit, by="technician")
    with pytest.raises(NotAllowed):
        strike_photo(photo=theirs, reason="blurred", actor=house.actor("assistant"), now=people.NOW)
    strike_photo(photo=theirs, reason="blurred", actor=house.actor("technician"), now=people.NOW)
    another = take(house, visit, by="assistant")
    strike_photo(photo=another, reason="blurred", actor=house.actor("clinician"), now=people.NOW)
    assert ExamPhoto.objects.filter(struck_at=None).count() == 0


def test_what_it_shows_is_said_later_and_only_a_clinician_puts_it_into_the_letter(clinician, house, visit):
    kept = take(house, visit, by="technician")
    url = f"/visits/{visit.pk}/exam/photos/{kept.pk}/describe/"
    assert clinician.post(url, {"note": " wax "}).json()["photo"]["note"] == "wax"
    assert clinician.post(url, {"note": "n" * 201}).json()["reason"] == "bad-photo"
    with pytest.raises(NotAllowed):
        describe_photo(photo=kept, in_letter=True, actor=house.actor("technician"), now=people.NOW)
    assert clinician.post(url, {"letter": "1"}).json()["photo"]["letter"] is True


def test_a_photograph_of_another_visit_is_not_found_here(clinician, house, visit):
    other = take(house, people.visit_here(people.patient("Bramble"), clinician=house.clinician))
    for what in ("strike", "describe"):
        assert clinician.post(f"/visits/{visit.pk}/exam/photos/{other.pk}/{what}/", {}).status_code == 404
    assert clinician.get(f"/patients/{visit.patient_id}/photographs/{other.pk}/").status_code == 404


# ---- Served, and on the pages


def test_the_bytes_are_served_to_those_signed_in_and_kept_by_their_tablet_alone(clinician, house, visit):
    kept = take(house, visit)
    for url in (f"/photographs/{kept.pk}/", f"/photographs/{kept.pk}/small/"):
        answer = clinician.get(url)
        assert answer.content.startswith(b"\xff\xd8\xff")
        assert answer.headers["Content-Type"] == "image/jpeg"
        assert answer.headers["Cache-Control"] == "private, max-age=31536000, immutable"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Content-Disposition"].startswith("inline; ")
        assert answer.headers["Content-Security-Policy"] == PICTURE
        assert Client().get(url).status_code == 302


def test_no_address_of_the_files_folder_exists(clinician, house, visit):
    kept = take(house, visit)
    for url in (f"/media/{kept.sha256[:2]}/{kept.sha256}.jpg", f"/{kept.sha256[:2]}/{kept.sha256}.jpg"):
        assert clinician.get(url).status_code == 404


def earlier_visit(house, visit: Visit, target: str = CANAL, *, chosen: bool = False) -> ExamPhoto:
    """Signed in February with one photograph, which was `chosen` for its letter or not."""
    Visit.objects.filter(pk=visit.pk).update(place="gone-home", gone_at=people.NOW, outcome="home")
    before = people.visit_here(visit.patient, clinician=house.clinician)
    Record.objects.filter(visit=before).update(opened_at="2026-02-03T09:00:00Z")
    kept = take(house, before, target=target, content=jpeg((90, 90, 60)))
    if chosen:
        describe_photo(photo=kept, in_letter=True, actor=house.actor("clinician"), now=people.NOW)
    Visit.objects.filter(pk=before.pk).update(place="gone-home", gone_at=people.NOW, outcome="home")
    Visit.objects.filter(pk=visit.pk).update(place="with-clinician", gone_at=None, outcome="")
    signed(before, house.clinician)
    return kept


def test_two_dates_stand_side_by_side(clinician, house, visit):
    before, today = earlier_visit(house, visit), take(house, visit)
    whole = clinician.get(f"/patients/{visit.patient_id}/photographs/").content.decode()
    link = f"/patients/{visit.patient_id}/photographs/{before.pk}/?beside={today.pk}"
    assert link in whole
    pair = clinician.get(link).content.decode()
    assert pair.index("3 February 2026") < pair.index("11 March 2026")
    assert pair.count("<figure") == 2
    alone = clinician.get(f"/patients/{visit.patient_id}/photographs/{today.pk}/").content.decode()
    assert f"?beside={before.pk}" in alone


def test_the_exam_page_knows_todays_and_the_earlier_ones(clinician, house, visit):
    before, today = earlier_visit(house, visit), take(house, visit)
    page = clinician.get(f"/visits/{visit.pk}/exam/")
    told = page.context["page"].data["photos"]
    assert [p["key"] for p in told] == [str(today.pk), str(before.pk)]
    assert [p["day"] for p in told] == ["2026-03-11", "2026-02-03"]


def test_the_signed_exam_and_the_structures_history_show_it(clinician, house, visit):
    before = earlier_visit(house, visit)
    lump = take(house, visit, target="lump:1")
    small = f'src="/photographs/{before.pk}/small/"'
    assert small in clinician.get(f"/visits/{before.record.visit_id}/exam/").content.decode()
    assert small in clinician.get(f"/patients/{visit.patient_id}/walk/EAR.canal/").content.decode()
    signed(visit, house.clinician)
    page = clinician.get(f"/visits/{visit.pk}/exam/").content.decode()
    assert f'src="/photographs/{lump.pk}/small/"' in page


@pytest.mark.parametrize(
    "path", ["/patients/{patient}/photographs/", "/visits/{visit}/exam/", "/patients/{patient}/"]
)
def test_more_photographs_need_no_more_queries(clinician, house, visit, path):
    url = path.format(patient=visit.patient_id, visit=visit.pk)
    begin_exam(
        record=Record.objects.select_related("visit__patient").get(visit=visit),
        actor=house.actor("clinician"),
        now=people.NOW,
    )

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert clinician.get(url).status_code == 200
        return len(seen)

    for _ in range(2):
        take(house, visit)
    queries()
    two = queries()
    for n in range(18):
        take(house, visit, target=OTHER if n % 2 else CANAL, content=jpeg((n * 9, 60, 60)))
    assert queries() == two
