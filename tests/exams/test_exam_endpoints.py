"""What the exam's script sends and asks: answers per key, under the right name, 401 without a redirect."""

import json
import uuid

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic.models import Grant, HeadsUp, Record, Tablet, Visit
from clinic.people.queries import TABLET
from exams.models import Exam, Finding, Operation
from exams.versions import composed
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
def clinician(client: Client, house) -> Client:
    client.force_login(house.clinician)
    return client


def grant_of(client: Client) -> str:
    return str(Grant.objects.filter(tablet=client.session[TABLET]).latest("made_at").pk)


def operation(client: Client, target: str = "EAR.canal|left", what: str = "set_normal", **more) -> dict:
    return {
        "key": str(uuid.uuid4()),
        "target": target,
        "what": what,
        "payload": {},
        "made_at": "2026-03-11T11:02:00+01:00",
        "walk_version": composed().sha256,
        "follows": "",
        "grant": grant_of(client),
        **more,
    }


def send(client: Client, visit: Visit, *operations: dict):
    return client.post(
        f"/visits/{visit.pk}/exam/operations/",
        {"operations": list(operations)},
        content_type="application/json",
    )


def state(client: Client, visit: Visit, **headers: str):
    return client.get(f"/visits/{visit.pk}/exam/state/", headers=headers)


def test_the_first_tap_begins_the_exam_and_is_answered_with_its_state(clinician, visit) -> None:
    answer = send(clinician, visit, operation(clinician)).json()
    assert [a["result"] for a in answer["answers"]] == ["accepted"]
    assert answer["state"]["answers"]["EAR.canal|left"]["status"] == "normal"
    assert Exam.objects.get().walk_id == composed().sha256


def test_looking_at_the_page_begins_nothing(clinician, visit) -> None:
    assert clinician.get(f"/visits/{visit.pk}/exam/").status_code == 200
    assert not Exam.objects.exists()


def test_a_repeated_key_is_answered_the_same(clinician, visit) -> None:
    one = operation(clinician)
    first = send(clinician, visit, one).json()["answers"][0]
    assert send(clinician, visit, one).json()["answers"][0] == first | {"repeated": True}
    assert Operation.objects.count() == 1


def test_nobody_signed_in_gets_401_and_no_redirect(visit) -> None:
    for answer in (
        send(Client(), visit, {}),
        state(Client(), visit),
        Client().get(f"/visits/{visit.pk}/exam/token/"),
    ):
        assert answer.status_code == 401
        assert answer.json() == {"reason": "signed-out"}


def test_a_grant_of_another_tablet_is_credited_to_nobody(clinician, house, visit) -> None:
    other = Client()
    other.force_login(house.colleague)
    answer = send(clinician, visit, operation(clinician, grant=grant_of(other))).json()
    assert answer["answers"][0]["reason"] == "grant"
    assert not Operation.objects.exists()


def test_what_was_tapped_before_a_hand_over_is_credited_to_who_tapped_it(clinician, house, visit) -> None:
    before = operation(clinician)
    tablet = clinician.session[TABLET]
    theirs = Grant.objects.create(staff=house.technician, tablet=tablet, how="sign-in", made_at=people.NOW)
    Grant.objects.filter(pk=theirs.pk).update(made_at=Grant.objects.get(pk=before["grant"]).made_at)
    Tablet.objects.filter(pk=tablet).update(working=theirs)
    Grant.objects.filter(pk=before["grant"]).update(ended_at=people.NOW)
    after = operation(clinician, "EAR.canal|right", grant=str(theirs.pk))
    assert {a["result"] for a in send(clinician, visit, before, after).json()["answers"]} == {"accepted"}
    assert dict(Finding.objects.values_list("line", "person__full_name")) == {
        "EAR.canal|left": "Dr Maren Oduya",
        "EAR.canal|right": "Inés Varga",
    }


def test_a_locked_tablet_still_sends_what_it_holds_and_shows_nothing(clinician, visit) -> None:
    one = operation(clinician)
    Tablet.objects.filter(pk=clinician.session[TABLET]).update(locked_at=people.NOW)
    assert send(clinician, visit, one).json()["answers"][0]["result"] == "accepted"
    told = state(clinician, visit)
    assert (told.status_code, told.headers["Tailward-Locked"]) == (401, "1")


def test_a_signed_record_refuses_and_says_why(clinician, house, visit) -> None:
    send(clinician, visit, operation(clinician))
    Record.objects.filter(visit=visit).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )
    answer = send(clinician, visit, operation(clinician, "EAR.canal|right")).json()["answers"][0]
    assert (answer["result"], answer["reason"]) == ("refused", "signed")


@pytest.mark.parametrize(
    "body", ["", "[]", '{"operations": []}', '{"operations": {}}', '{"operations": [1]}']
)
def test_what_is_no_batch_is_a_bad_request(clinician, visit, body) -> None:
    answer = clinician.post(f"/visits/{visit.pk}/exam/operations/", body, content_type="application/json")
    assert answer.status_code == 400


def test_a_tap_without_a_token_is_refused(house, visit) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(house.clinician)
    assert send(client, visit, operation(client)).status_code == 403
    token = client.get(f"/visits/{visit.pk}/exam/token/").json()["token"]
    body = json.dumps({"operations": [operation(client)]})
    url = f"/visits/{visit.pk}/exam/operations/"
    sent = client.post(url, body, content_type="application/json", headers={"X-CSRFToken": token})
    assert sent.status_code == 200


def test_the_state_is_304_until_something_changes(clinician, house, visit) -> None:
    etag = state(clinician, visit).headers["ETag"]
    assert state(clinician, visit, if_none_match=etag).status_code == 304
    HeadsUp.objects.create(
        record=visit.record, station="EAR", words="sour", by=house.technician, at=people.NOW
    )
    fresh = state(clinician, visit, if_none_match=etag)
    assert fresh.status_code == 200
    assert [h["words"] for h in fresh.json()["heads_ups"]] == ["sour"]
    people.weigh(visit, "27.4", by=house.technician)
    assert (
        state(clinician, visit, if_none_match=fresh.headers["ETag"]).json()["answers"]["VIT.weight|-"][
            "value"
        ]
        == "27.4"
    )


def test_a_look_at_an_unchanged_exam_costs_one_query_beside_the_sign_in(clinician, visit) -> None:
    etag = state(clinician, visit).headers["ETag"]
    with CaptureQueriesContext(
        connection,
    ) as seen:
        assert state(clinician, visit, if_none_match=etag).status_code == 304
    asked = [q["sql"] for q in seen.captured_queries if "clinic_record" in q["sql"]]
    assert len(asked) == 1


def test_the_page_asks_as_much_for_a_full_exam_as_for_an_empty_one(clinician, visit) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert clinician.get(f"/visits/{visit.pk}/exam/").status_code == 200
        return len(seen)

    send(clinician, visit, operation(clinician, "EAR.canal|right"))
    few = queries()
    lines = [s.code for s in composed().structure.values() if s.sided == "none" and s.depth == "routine"]
    send(clinician, visit, *(operation(clinician, f"{code}|-") for code in lines))
    assert Finding.objects.count() > 20
    assert queries() == few


def test_a_signed_exam_shows_what_was_frozen(clinician, house, visit) -> None:
    red = {"findings": [{"code": "EAR-02", "severity": "moderate"}]}
    send(clinician, visit, operation(clinician, what="set_abnormal", payload=red))
    Record.objects.filter(visit=visit).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )
    page = clinician.get(f"/visits/{visit.pk}/exam/").content.decode()
    assert "excess wax, moderate" in page
    assert 'id="exam-data"' not in page
    history = clinician.get(f"/patients/{visit.patient_id}/walk/EAR.canal/").content.decode()
    assert "excess wax, moderate" in history


def test_there_is_none_of_it_is_kept_with_the_patient(clinician, visit) -> None:
    url = f"/visits/{visit.pk}/exam/none-there/"
    assert clinician.post(url, {"line": "HLB.hip|left", "whole": "1", "why": "amputated"}).status_code == 302
    fact = visit.patient.lasting_facts.get()
    assert (fact.structure, fact.why) == ("limb:LH", "amputated")
    refused = send(clinician, visit, operation(clinician, "HLB.hip|left")).json()["answers"][0]
    assert refused["reason"] == "not-applicable"


def test_none_of_it_without_a_reason_is_refused(clinician, visit) -> None:
    answer = clinician.post(f"/visits/{visit.pk}/exam/none-there/", {"line": "HLB.hip|left", "why": " "})
    assert answer.status_code == 422
    assert not visit.patient.lasting_facts.exists()
