"""The service worker's script and pages, and what every answer says of who works on the tablet."""

import json
import re

import pytest
from django.contrib.staticfiles import finders
from django.test import Client

from clinic.models import Grant
from clinic.people.middleware import WORKS
from clinic.people.queries import TABLET
from clinic.platform import offline
from clinic.platform.csp import POLICY
from clinic.platform.registries import offline_pages
from tests import people
from tests.browser.conftest import give_pin
from tests.house import house
from tests.test_doors import DOORS, address, every_address


@pytest.fixture
def settings_of_worker(client: Client) -> dict:
    answer = client.get("/worker.js")
    assert answer.headers["Content-Type"].startswith("text/javascript")
    assert answer.headers["Cache-Control"] == "no-cache"
    first = answer.content.decode().splitlines()[0]
    return json.loads(first.removeprefix("const SET = ").removesuffix(";"))


def test_the_policy_lets_only_our_own_worker_run() -> None:
    assert "worker-src 'self'" in POLICY


def test_the_worker_keeps_the_shell_and_every_module_of_the_exam(settings_of_worker) -> None:
    kept = {path.removeprefix("/static/") for path in settings_of_worker["files"]}
    assert set(offline.SHELL) <= kept
    assert {"exams/exam.js", "exams/sync.js", "exams/exam.css"} <= kept
    assert all(finders.find(name) for name in kept)


def test_what_a_kept_module_imports_is_kept_too(settings_of_worker) -> None:
    kept = {path.removeprefix("/static/") for path in settings_of_worker["files"]}
    for name in kept:
        if name.endswith(".js"):
            assert offline._imports(name) <= kept, name


def test_another_file_is_another_release(monkeypatch, tmp_path) -> None:
    files = ("clinic/page.js",)
    before = offline._release(files)
    changed = tmp_path / "page.js"
    changed.write_text("/* another */")
    monkeypatch.setattr(offline, "_where", lambda name: changed)
    assert offline._release(files) != before


@pytest.mark.django_db
def test_only_the_exam_page_is_kept(settings) -> None:
    settings.EMAIL_BACKEND = "clinic.platform.outbox.OutboxBackend"  # its pages exist only with it
    place = house()
    patterns = [re.compile(page.pattern) for page in offline_pages]
    paths = {name: address(name, place, place.own) for name in DOORS if name in every_address()}
    kept = {name for name, path in paths.items() if any(p.search(path.split("?")[0]) for p in patterns)}
    assert kept == {"visit-exam"}


@pytest.mark.parametrize("why", offline.PAGES)
def test_a_page_shown_instead_names_nobody(client, db, why) -> None:
    words = client.get(f"/offline/{why}/").content.decode()
    assert offline.PAGES[why].title in words
    assert "data-works-here" not in words
    assert ("kept-exams" in words) == offline.PAGES[why].names


def test_there_is_no_other_page(client, db) -> None:
    assert client.get("/offline/else/").status_code == 404


# ---- Who works here


@pytest.fixture
def clinician(db, client: Client) -> Client:
    people.clinic_details()
    staff = people.staff("Dr Maren Oduya", "clinician")
    give_pin(staff)
    client.force_login(staff)
    return client


def grant(client: Client) -> str:
    return str(Grant.objects.filter(tablet=client.session[TABLET]).latest("made_at").pk)


def said(answer) -> str:
    """The grant, after the hour."""
    return answer.headers[WORKS].partition(" ")[2]


def test_every_answer_names_the_grant_at_work(clinician) -> None:
    assert said(clinician.get("/patients/")) == grant(clinician)
    assert said(clinician.get("/no-such-page/")) == grant(clinician)


def test_nobody_is_named_to_a_stranger_nor_on_a_locked_tablet(clinician) -> None:
    assert said(Client().get("/accounts/login/")) == ""
    assert said(clinician.post("/tablet/lock/")) == ""
    assert said(clinician.get("/tablet/")) == ""


def test_the_hand_over_itself_names_the_new_grant_and_a_later_hour(clinician) -> None:
    before = clinician.get("/patients/").headers[WORKS]
    staff = Grant.objects.get(pk=grant(clinician)).staff
    answer = clinician.post(
        "/tablet/pin/", {"who": staff.pk, "pin": people.PIN}, headers={"HX-Request": "true"}
    )
    assert answer.status_code == 200
    assert said(answer) == grant(clinician)
    assert said(answer) != before.partition(" ")[2]
    assert int(answer.headers[WORKS].split()[0]) >= int(before.split()[0])


def test_the_page_says_it_too(clinician) -> None:
    answer = clinician.get("/patients/")
    assert f'data-works="{answer.headers[WORKS]}"' in answer.content.decode()
