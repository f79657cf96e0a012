"""An exam that was dictated, confirmed and signed with the PIN: the issued letter says what was said."""

from __future__ import annotations

import json
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from clinic.models import Letter, PlanLine, Record
from clinic.people.actions import set_pin
from clinic.visits.actions import excuse_bcs, set_kind
from clinic.visits.actions.signing import missing_of
from exams.models import Exam, Finding, HeardItem, TalkLine
from exams.queries import standing
from exams.talk_pages import talk_json
from tests import people
from tests.exams.house import Tablet, exam_here

pytestmark = pytest.mark.django_db
SAID = (
    "Left ear canal red, mild. Right ear canal normal. Both pinnae fine. "
    "Both hips move freely. Recheck in two weeks."
)


@pytest.fixture
def tablet() -> Tablet:
    people.clinic_details()
    house = people.people()
    set_pin(staff=house.clinician, pin=people.PIN, now=people.NOW)
    return exam_here(house.actor("clinician"))


def _confirm_everything(tablet: Tablet) -> None:
    exam = Exam.objects.select_related("record__visit__patient").get(pk=tablet.exam.pk)
    for item in talk_json(standing(exam))["items"]:
        tap = item["taps"][0]
        sent = {**tap["payload"], "heard": [item["id"]]}
        outcome = tablet.tap(tap["target"], tap["what"], sent)
        assert outcome["result"] == "accepted", (outcome["reason"], outcome["words"])


def _sign(page: Client, tablet: Tablet):
    address = reverse("visit-sign", args=[tablet.exam.record.visit_id])
    return page.post(address, {"once": str(uuid4()), "secret": people.PIN})


def test_what_was_dictated_is_signed_and_stands_in_the_issued_letter(client: Client, tablet: Tablet) -> None:
    visit, vet = tablet.exam.record.visit, {"actor": tablet.actor, "now": people.NOW}
    people.weigh(visit, "27.4", by=tablet.actor.staff)
    set_kind(visit=visit, kind="focused", reason="ear and hip", **vet)
    excuse_bcs(record=Record.objects.get(visit=visit), reason="bandaged", **vet)
    client.force_login(tablet.actor.staff)

    tablet.send(tablet.operation("talk", "say", {"text": SAID}))
    refused = _sign(client, tablet)
    assert refused.status_code != 302
    assert "heard and not confirmed" in refused.content.decode()
    assert not Letter.objects.exists()

    _confirm_everything(tablet)
    answer = _sign(client, tablet)
    missing = [m.sentence for m in missing_of(tablet.exam.record, actor=tablet.actor) if m.blocks]
    assert answer.status_code == 302, missing
    tablet.exam.record.refresh_from_db()
    assert tablet.exam.record.is_signed

    letter = Letter.objects.get()
    words = json.dumps(letter.content)
    assert "the ear is red and irritated" in words
    assert "Recheck in two weeks" in words
    spoken = {row.line: row for row in Finding.objects.filter(spoken=True)}
    assert spoken["EAR.canal|left"].findings[0]["severity"] == "mild"
    assert spoken["HLB.hip|left"].status == spoken["EAR.canal|right"].status == "normal"
    assert PlanLine.objects.get().kind == "recheck"
    assert not TalkLine.objects.exists(), "words are forgotten at the signature"
    assert not HeardItem.objects.exists()
    assert client.get(reverse("letter", args=[letter.pk])).status_code == 200
