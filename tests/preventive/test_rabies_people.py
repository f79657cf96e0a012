"""Who gives a rabies dose, under whom, and who signs: local law, asked where it is recorded."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.models import ClinicDetails, Owner
from preventive import actions
from preventive.errors import ClinicianDecides, Incomplete, NoCertificate, QuestionsOpen
from preventive.models import Dose, Lot
from preventive.protocol_page import law_of
from preventive.rabies_people import giver_questions, may_sign
from tests.people import NOW
from tests.preventive.build import under
from tests.preventive.room import room


def asked(protocol, *antigens, by_veterinarian=False, has_supervisor=True, present=None):
    found = giver_questions(
        protocol,
        antigens or ("Rabies",),
        by_veterinarian=by_veterinarian,
        has_supervisor=has_supervisor,
        present=present,
    )
    return [(each.code, each.level, each.source) for each in found]


# NASPHV 2016 (C, from memory): by a veterinarian, or under one who is on the premises
@pytest.mark.parametrize(
    ("facts", "codes"),
    [
        ({}, []),
        ({"present": True}, []),
        ({"present": False}, [("rabies_premises", "warn", "NASPHV 2016")]),
        ({"has_supervisor": False}, [("rabies_supervisor", "warn", "NASPHV 2016")]),
        ({"present": False, "by_veterinarian": True}, []),
    ],
)
def test_a_technician_gives_with_a_veterinarian_in_the_house(facts, codes):
    assert asked(under(), **facts) == codes


def test_another_vaccine_asks_nothing_of_the_kind():
    assert asked(under(), "CDV", "CPV", present=False) == []


def test_the_place_s_rule_goes_first_and_the_practice_may_read_its_law_otherwise():
    assert asked(under("us-tx"), present=False) == [("rabies_premises", "warn", "25 TAC 169.29")]
    strict = under("us-pa", rabies_giver="veterinarian")
    assert asked(strict, present=True) == [("rabies_giver", "warn", "local law, read by the practice")]
    assert asked(under("us-pa", rabies_giver="supervised"), present=False) == []


def test_who_signs():
    assert may_sign(under(), signs=1, answers=1)
    assert not may_sign(under(), signs=2, answers=1)
    assert may_sign(under(rabies_signer="any"), signs=2, answers=1)


@pytest.mark.parametrize("place", ["", "us-tx", "us-ny", "us-pa", "eu-travel", "ca-strict"])
def test_the_protocol_s_page_says_both_for_every_place(place):
    words = " ".join(each.text for each in law_of(under(place)))
    assert "sign" in words
    assert "on the premises" in words or "direct supervision" in words or "authorised veterinarian" in words


@pytest.mark.parametrize("place", ["us-tx", "us-ny", "us-pa", "eu-travel", "ca-strict"])
def test_each_place_has_rules_of_its_own_that_name_their_source(place):
    """All from memory, to be checked against the place's own law (C)."""
    protocol = under(place)
    for rule in (protocol.jurisdiction.giver, protocol.jurisdiction.signer):
        assert rule.certainty == "C"
        assert rule.source != "NASPHV 2016"
        assert rule.source in protocol.rules.sources


@pytest.fixture
def dog(db):
    made = room(weeks=20, colour="black and tan")
    Owner.objects.update(street="3 Fen Row", city="Quillwater")
    return made


def test_it_stands_with_the_dose_that_the_veterinarian_was_there(dog):
    dose = dog.give("rabisal-3", site="RSH", by="technician", present=True)
    (kept,) = [each for each in dose.answers if each["code"] == "rabies_premises"]
    assert kept["reason"] == "Dr Maren Oduya was in the house"
    assert kept["source"] == "NASPHV 2016"


def test_a_technician_alone_is_stopped_and_a_reason_does_not_help(dog):
    with pytest.raises(QuestionsOpen):
        dog.give("rabisal-3", site="RSH", by="technician", present=False)
    reason = {"rabies_premises": "she is on her way"}
    with pytest.raises(ClinicianDecides):
        dog.give("rabisal-3", site="RSH", by="technician", present=False, answers=reason)
    assert not Dose.objects.exists()


def test_only_a_veterinarian_supervises(dog):
    with pytest.raises(Incomplete, match="no veterinarian"):
        dog.give("rabisal-3", site="RSH", by="technician", supervising=dog.people.assistant)


def test_another_veterinarian_signs_only_where_the_law_lets_her(dog):
    dose = dog.give("rabisal-3", site="RSH", by="technician", present=True)
    common = {"actor": dog.actor("colleague"), "now": NOW, "dose": dose}
    with pytest.raises(NoCertificate, match="For this dose that is Dr Maren Oduya"):
        actions.issue_certificate(**common)
    ClinicDetails.objects.update(settings={"rabies_signer": "any"})
    certificate = actions.issue_certificate(**common, control_licence="Quillwater 118, to 31 December 2026")
    assert certificate.values["veterinarian"] == "Dr Maren Oduya"
    assert certificate.values["given_by"] == "Inés Varga"
    assert certificate.values["signature"] == "issued by Dr Tobias Falk"
    again = actions.replace_certificate(
        actor=dog.actor("colleague"), now=NOW, certificate=certificate, reason="wrong tag"
    )
    assert again.values["control_licence"] == "Quillwater 118, to 31 December 2026"


def test_the_form_asks_who_answers_and_takes_the_tag(dog):
    Lot.objects.update(expires_on=timezone.localdate() + timedelta(300))
    dog.patient.birth_date = timezone.localdate() - timedelta(weeks=20)
    dog.patient.save()
    client = Client()
    client.force_login(dog.people.technician)
    lot = dog.lot("rabisal-3")
    shown = client.get(reverse("visit-prevention", args=[dog.visit.pk])).content.decode()
    assert f'<option value="{dog.people.clinician.pk}" selected>Dr Maren Oduya, in the house' in shown
    assert "on the premises (NASPHV 2016; from memory, to be checked)." in shown
    sent = {"once": uuid4(), "well": "well", "consent": "Henrike Dovale, in words", "lot-rabies": lot.pk}
    sent |= {"site-rabies": "RSH", "tag-rabies": "T-118", "supervising": "nobody"}
    address = reverse("prevention-give", args=[dog.visit.pk])
    refused = client.post(address, sent)
    assert refused.status_code == 422
    assert "No veterinarian is in the house." in refused.content.decode()
    assert 'value="T-118"' in refused.content.decode()
    assert client.post(address, sent | {"supervising": dog.people.colleague.pk}).status_code == 302
    dose = Dose.objects.get()
    assert (dose.tag_number, dose.supervising) == ("T-118", dog.people.colleague)
