"""A clinic's own value for one interval: what it changes, tried on everybody, approved into an edition."""

from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from preventive import actions
from preventive.errors import Incomplete
from preventive.models import ProtocolEdition, ProtocolProposal
from preventive.own_values import contradictions, own_value, own_values, stored, typed_value
from preventive.protocol import Overrides, ProtocolError, ValueOverride, load_protocol
from preventive.protocol_page import trial_of
from preventive.versions import Choices, fitting, place_and_choices, protocol_in_force
from tests.people import NOW
from tests.preventive.build import core, dog, due, history, rabies, under
from tests.preventive.room import room

BOOSTER = "vaccines.dog_core.courses.any.boosters.0.every"
GAP = "vaccines.dog_core.courses.any.series.gap_max"
LAW = "jurisdictions.nasphv.maximum"


def with_own(path, held, settings=()):
    return load_protocol(overrides=Overrides(dict(settings), "", (ValueOverride(path, held, "why", "Dr M"),)))


@pytest.mark.parametrize("value", own_values(under())[::9], ids=lambda value: value.path)
def test_a_value_that_may_be_set_changes_the_protocol_and_says_what_it_does(value):
    number = "2 yr" if value.unit == "span" else "11"
    changed = with_own(value.path, stored(value, number, reason="why", by="Dr M"))
    after = own_value(changed, value.path)
    assert changed.sha256 != under().sha256
    assert (after.now, after.own, after.certainty) == (number, True, "clinic")
    assert value.changes.endswith(".")
    assert value.about


def test_the_published_values_do_not_contradict_each_other():
    assert list(contradictions(under())) == []
    assert list(contradictions(with_own(GAP, "1 wk")))


def test_an_own_booster_interval_moves_the_next_dose_and_says_whose_it_is():
    past = history(*core("2025-03-03", "2025-03-31", "2025-04-28", "2026-04-28"))
    own = with_own(BOOSTER, "24 mo")
    item = due(dog("2025-01-06"), past, "2026-04-28", "dog_core:CPV", own)
    assert item.target.isoformat() == "2028-04-28"
    assert any("the practice's own choice (Dr M): why" in step.source for step in item.why)


# section 3.2: an ordinance may force a yearly date even for a three-year product
def test_a_stricter_ordinance_shortens_the_legal_date_and_not_the_label_s():
    past = history(rabies("2025-05-05", 36), rabies("2026-05-05", 36))
    held = {"months": 12, "source": "local law, read by Dr M", "certainty": "clinic"}
    item = due(dog("2025-01-31"), past, "2026-05-05", "rabies", with_own(LAW, held))
    assert (item.legal.isoformat(), item.product_due.isoformat()) == ("2027-05-05", "2029-05-05")


@pytest.mark.parametrize(
    ("number", "unit", "words"),
    [("0", "mo", "whole number"), ("x", "mo", "whole number"), ("3", "ages", "Days"), ("11", "yr", "Ten")],
)
def test_what_is_no_value_is_said(number, unit, words):
    with pytest.raises(ValueError, match=words):
        typed_value(own_value(under(), BOOSTER), number, unit)


def test_the_law_is_only_made_stricter():
    law = own_value(under(), LAW)
    assert typed_value(law, "12", "", most="24") == "12"
    with pytest.raises(ValueError, match="never looser"):
        typed_value(law, "36", "", most="24")


@pytest.fixture
def house(db):
    return room()


def ask(house, number="24", unit="mo", path=BOOSTER, by="manager", **facts):
    facts = {"why": "our laboratory’s advice"} | facts
    common = {"actor": house.actor(by), "now": NOW, "path": path, "number": number, "unit": unit}
    return actions.propose_value(**common, **facts)


def approve(house, proposal):
    return actions.approve_proposal(actor=house.actor(), now=NOW, proposal=proposal)


def answer(house, setting, option):
    common = {"actor": house.actor("manager"), "now": NOW, "why": "the usual here"}
    return actions.propose_setting(**common, setting=setting, option=option)


def now_of(path=BOOSTER):
    return own_value(protocol_in_force(), path)


def test_a_manager_asks_a_clinician_approves_and_it_can_be_taken_back(house):
    proposal = ask(house)
    assert now_of().now == "36 mo"
    with pytest.raises(PermissionDenied):
        actions.approve_proposal(actor=house.actor("manager"), now=NOW, proposal=proposal)
    edition = approve(house, proposal)
    assert edition.words == (
        "Distemper, adenovirus, parvovirus (dog): later boosters every 24 months, instead of: 36 months."
    )
    assert (now_of().now, now_of().own) == ("24 mo", True)
    back = approve(house, ask(house, number=""))
    assert "as published, instead of: 24 months." in back.words
    assert (now_of().now, back.values) == ("36 mo", [])


def test_values_and_answers_stand_beside_each_other(house):
    approve(house, ask(house))
    edition = approve(house, answer(house, "leptospira_lapse", "fifteen_months"))
    assert [each["path"] for each in edition.values] == [BOOSTER]
    assert edition.settings == {"leptospira_lapse": "fifteen_months"}
    later = approve(house, ask(house, number="30"))
    assert [each["value"] for each in later.values] == ["30 mo"]


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"path": "vaccines.dog_core.label"}, "not one that a clinic sets"),
        ({"number": "36"}, "the value already"),
        ({"number": ""}, "How long"),
        ({"number": "3", "unit": "ages"}, "Days, weeks"),
        ({"why": " "}, "Say why"),
        ({"path": GAP, "number": "1", "unit": "wk"}, "does not fit the protocol’s other values"),
    ],
)
def test_what_cannot_be_asked_is_said(house, facts, words):
    with pytest.raises(Incomplete, match=words):
        ask(house, **facts)
    assert not ProtocolProposal.objects.exists()


def test_an_answer_that_takes_an_own_value_s_place_away_is_not_approved(house):
    waiting = answer(house, "faecal_adult", "by_risk")
    approve(house, ask(house, path="tests.dog_faecal_test.repeats.1.every", number="9"))
    with pytest.raises(Incomplete, match="does not fit"):
        approve(house, waiting)
    assert ProtocolEdition.objects.count() == 1
    assert trial_of(waiting).holds is False
    with pytest.raises(Incomplete, match="does not fit"):
        answer(house, "faecal_adult", "by_risk")


def test_a_value_is_tried_on_every_animal_first(house):
    house.give()
    trial = trial_of(ask(house, path=GAP, number="3", unit="wk"))
    assert (trial.animals, trial.touched) == (1, 1)
    assert ("is due earlier", 3) in trial.counts


def test_from_the_page_a_value_is_read_asked_for_and_approved(house):
    manager, clinician = Client(), Client()
    manager.force_login(house.people.manager)
    clinician.force_login(house.people.clinician)
    assert "Later boosters every" in manager.get(reverse("protocol-values")).content.decode()
    address = reverse("protocol-value")
    shown = manager.get(address, {"path": BOOSTER}).content.decode()
    assert "Each booster after the first becomes due this long after the one before it." in shown
    sent = {"once": uuid4(), "path": BOOSTER, "number": "0", "unit": "mo", "why": "typed with care"}
    refused = manager.post(address, sent)
    assert (refused.status_code, "typed with care" in refused.content.decode()) == (422, True)
    asked = manager.post(address, sent | {"number": "24"}, follow=True).content.decode()
    assert "<b>36 months</b>" in asked
    assert "<b>24 months</b>" in asked
    manager.post(address, sent | {"number": "24"})
    clinician.post(reverse("protocol-approve", args=[ProtocolProposal.objects.get().pk]))
    assert "later boosters every <b>24 months</b>" in manager.get(reverse("protocol")).content.decode()
    assert manager.get(address, {"path": "no.such.value"}).status_code == 404


GONE = "vaccines.dog_core.courses.early.boosters.0.every"


@pytest.fixture
def updated(house):
    """The clinic set a booster interval and answered a question; a later release has no place for either."""
    approve(house, ask(house))
    edition = approve(house, answer(house, "leptospira_lapse", "fifteen_months"))
    values = [*edition.values, edition.values[0] | {"path": GONE}]
    released(house, edition, values, {**edition.settings, "senior_cat": "no_such_answer"})
    return house


def released(house, edition, values, settings):
    """An edition as an earlier release would have let it come about."""
    asked = ProtocolProposal.objects.create(
        setting="senior_cat", option="x", why="then", by=house.people.clinician, at=NOW,
        state="approved", decided_by=house.people.clinician, decided_at=NOW,
    )  # fmt: skip
    facts = {"number": edition.number + 1, "values": values, "settings": settings, "words": "then"}
    ProtocolEdition.objects.create(
        version=edition.version, proposal=asked, by=house.people.clinician, at=NOW, **facts
    )


def test_what_a_release_has_no_place_for_gives_way_to_the_published_value(updated):
    choices = place_and_choices()
    assert [each.path for each in choices.lost] == ["settings.senior_cat", GONE]
    assert [each.path for each in choices.values] == [BOOSTER]
    assert choices.settings == {"leptospira_lapse": "fifteen_months"}
    assert now_of().now == "24 mo"


def test_a_table_that_vanished_is_lost_too_and_an_unknown_place_is_not_passed_over():
    held = ValueOverride("vaccines.no_such.courses.any.series.gap_max", "3 wk", "why", "Dr M")
    assert fitting(Choices("", {}, (held,))).lost == (held,)
    with pytest.raises(ProtocolError, match="no such jurisdiction"):
        fitting(Choices("atlantis", {}, ()))


def test_a_clinician_is_told_and_it_is_taken_back_through_an_approval(updated):
    clinician = Client()
    clinician.force_login(updated.people.clinician)
    page = clinician.get(reverse("protocol")).content.decode()
    assert "Our own, without a place in this release" in page
    assert GONE in page
    visit = clinician.get(reverse("visit-prevention", args=[updated.visit.pk])).content.decode()
    assert "without a place in this release" in visit
    # another change is still possible, and forgets nothing
    edition = approve(updated, ask(updated, path=GAP, number="3", unit="wk"))
    assert GONE in [each["path"] for each in edition.values]
    sent = {"once": uuid4(), "path": GONE}
    asked = clinician.post(reverse("protocol-give-up"), sent, follow=True).content.decode()
    assert "Nothing would change for any animal" in asked
    approve(updated, ProtocolProposal.objects.get(path=GONE))
    assert place_and_choices().lost == ()
    assert now_of().now == "24 mo"


def test_own_values_that_a_release_contradicts_are_said(house):
    edition = approve(house, ask(house, path=GAP, number="3", unit="wk"))
    value = edition.values[0] | {"value": "1 wk"}
    released(house, edition, [value], {})
    client = Client()
    client.force_login(house.people.clinician)
    assert "contradict each other" in client.get(reverse("protocol")).content.decode()
