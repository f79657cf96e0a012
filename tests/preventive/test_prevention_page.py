"""The prevention page: what it shows, what a form of it records, what comes back when it is refused."""

import re
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.models import Test, TestResult
from preventive import actions
from preventive.facts import Species
from preventive.models import Decline, Deferral, Dose, Supply, TreatmentGiven
from preventive.versions import protocol_in_force
from preventive.vials import site_choices
from tests import people
from tests.preventive.room import Room, room

pytestmark = pytest.mark.django_db


@pytest.fixture
def puppy() -> Room:
    """Nine weeks old on the day the pages ask the clock."""
    made = room(birth_date=timezone.localdate() - timedelta(weeks=9))
    weighed = made.patient.measurements.get()
    weighed.pk, weighed.measured_at = None, timezone.now()
    weighed.save()
    return made


def client(puppy: Room, role: str = "clinician") -> Client:
    made = Client()
    made.force_login(getattr(puppy.people, role))
    return made


def address(puppy: Room, name: str = "visit-prevention", *more: int) -> str:
    return reverse(name, args=[puppy.visit.pk, *more])


def look(puppy: Room, role: str = "clinician") -> str:
    answer = client(puppy, role).get(address(puppy))
    assert answer.status_code == 200
    return answer.content.decode()


def running(puppy: Room, code: str) -> str:
    """A lot that still runs whenever this is tested."""
    lot = puppy.lot(code)
    lot.expires_on = timezone.localdate() + timedelta(days=300)
    lot.save()
    return str(lot.pk)


def give(puppy: Room, role: str = "clinician", **sent):
    facts = {
        "once": uuid4(),
        "well": "well",
        "consent": "Henrike Dovale, in words",
        "lot-dog_core": running(puppy, "corvane-three"),
        "site-dog_core": "RSH",
    }
    return client(puppy, role).post(address(puppy, "prevention-give"), facts | sent)


def test_it_shows_what_is_due_and_why_with_its_source(puppy):
    shown = look(puppy)
    assert "Distemper, adenovirus, parvovirus vaccine" in shown
    assert "AAHA 2022" in shown
    assert "7 days over" in shown


def test_only_lots_that_run_are_offered(puppy):
    running(puppy, "corvane-three")
    assert "LP1987 ended on" in look(puppy)
    assert "Lot LP1987" not in look(puppy)


def test_what_is_avoided_in_cats_is_said_of_cats_alone(puppy):
    running(puppy, "corvane-three")
    shown = look(puppy)
    assert "Between the shoulder blades</option>" in shown
    last = site_choices(Species.CAT, protocol_in_force(), frozenset(), "")[-1]
    assert last.label == "Between the shoulder blades (avoid)"


@pytest.mark.parametrize(("role", "sees"), [("clinician", True), ("technician", True), ("assistant", False)])
def test_who_sees_the_vials(puppy, role, sees):
    assert ('id="give-form"' in look(puppy, role)) is sees


def test_a_dose_is_recorded_and_shown(puppy):
    answer = give(puppy, "technician")
    assert answer.status_code == 302
    dose = Dose.objects.get()
    assert (dose.site, dose.supervising, dose.consent) == (
        "RSH",
        puppy.people.clinician,
        "Henrike Dovale, in words",
    )
    assert "Right shoulder" in look(puppy)


def test_three_are_recorded_in_one_go():
    grown = room(birth_date=timezone.localdate() - timedelta(weeks=13))
    sent = {
        "lot-rabies": running(grown, "rabisal-3"),
        "site-rabies": "RH-D",
        "lot-dog_leptospira": running(grown, "leptavar-four"),
        "site-dog_leptospira": "LH-D",
    }
    assert give(grown, **sent).status_code == 302
    assert sorted(Dose.objects.values_list("site", flat=True)) == ["LH-D", "RH-D", "RSH"]


def test_the_same_form_twice_records_once(puppy):
    once = uuid4()
    give(puppy, once=once)
    assert give(puppy, once=once).status_code == 302
    assert Dose.objects.count() == 1


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({"well": ""}, "ill or feverish today?"),
        ({"site-dog_core": ""}, "where was it given?"),
        ({"lot-dog_core": ""}, "Choose the lot"),
        ({"consent": ""}, "Who agreed"),
    ],
)
def test_what_is_missing_is_said_and_nothing_typed_is_lost(puppy, sent, says):
    answer = give(puppy, **({"consent": "Ada, in writing"} | sent))
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert says in shown
    if "consent" not in sent:
        assert "Ada, in writing" in shown
    if "lot-dog_core" not in sent:
        lot = puppy.lot("corvane-three").pk
        assert re.search(rf'name="lot-dog_core" value="{lot}" checked', shown)
    assert not Dose.objects.exists()


def test_a_question_stands_beside_its_vaccine_and_takes_a_reason(puppy):
    asked = give(puppy, well="ill")
    shown = asked.content.decode()
    assert asked.status_code == 422
    assert 'name="reason-dog_core-ill"' in shown
    assert 'value="ill" checked' in shown
    assert give(puppy, **{"well": "ill", "reason-dog_core-ill": "a scratch"}).status_code == 302
    assert Dose.objects.get().answers[0]["reason"] == "a scratch"


def test_a_technician_is_told_that_a_clinician_decides(puppy):
    answer = give(puppy, "technician", **{"well": "ill", "reason-dog_core-ill": "a scratch"})
    assert "only a clinician" in answer.content.decode()
    assert 'value="a scratch"' in answer.content.decode()


def test_all_vials_with_questions_ask_at_once(puppy):
    sent = {"lot-other": running(puppy, "rabisal-3"), "site-other": "RH-D", "well": "ill"}
    shown = give(puppy, **sent).content.decode()
    assert 'name="reason-dog_core-ill"' in shown
    assert 'name="reason-other-too_young"' in shown


def test_a_chew_goes_home_and_is_worded_backwards(puppy):
    product = puppy.stock["wormbane-chew-dog"]
    sent = {
        "once": uuid4(),
        "product": product.pk,
        f"band-{product.pk}": "over 5 to 10 kg",
        "count": 2,
        "first_on": "2026-12-14",
    }
    assert client(puppy).post(address(puppy, "prevention-supply"), sent).status_code == 302
    assert Supply.objects.get().band == "over 5 to 10 kg"
    assert "Last chew on 14 January 2027; the next is due 14 February 2027." in look(puppy)


def test_permethrin_is_asked_on_the_page(puppy):
    people.patient("Sixpence", of=puppy.patient.owners.get(), species="cat")
    product = puppy.stock["permaleash-spot-dog"]
    sent = {
        "once": uuid4(),
        "product": product.pk,
        f"band-{product.pk}": "over 4 to 10 kg",
        "count": 1,
        "first_on": "2026-12-14",
    }
    answer = client(puppy).post(address(puppy, "prevention-supply"), sent)
    assert answer.status_code == 422
    assert 'name="reason-supply-permethrin_home"' in answer.content.decode()
    assert re.search(rf'name="product" value="{product.pk}" checked', answer.content.decode())


def test_not_today_and_no_are_kept_apart(puppy):
    url = address(puppy, "prevention-put-off")
    client(puppy).post(url, {"once": uuid4(), "code": "dog_core", "how": "later", "why": "unwell"})
    assert Deferral.objects.get().until == timezone.localdate() + timedelta(days=14)
    client(puppy).post(
        url, {"once": uuid4(), "code": "dog_faecal_test", "how": "no", "why": "cost", "words": "next pay"}
    )
    assert Decline.objects.get().reason == "cost; next pay"
    assert "Faecal test: declined until" in look(puppy)
    exam = {"code": "dog_exam", "how": "no", "why": "cost", "risks": "found late", "signed": "yes"}
    client(puppy).post(url, {"once": uuid4(), **exam})
    shown = look(puppy)
    assert "Wellness exam: declined until" in shown
    assert "explained: found late; signed by the owner" in shown


def test_a_no_without_a_reason_comes_back(puppy):
    url = address(puppy, "prevention-put-off")
    answer = client(puppy).post(url, {"once": uuid4(), "code": "dog_core", "how": "no"})
    assert answer.status_code == 422
    assert "Write the owner’s reason" in answer.content.decode()


def test_a_faecal_test_takes_two_taps(puppy):
    client(puppy).post(address(puppy, "prevention-test"), {"kind": "faecal"})
    test = Test.objects.get()
    url = address(puppy, "prevention-result", test.pk)
    client(puppy, "technician").post(url, {"once": uuid4(), "outcome": "negative"})
    assert (TestResult.objects.get().value, TestResult.objects.get().meaning) == ("no eggs seen", "negative")
    client(puppy).post(address(puppy, "prevention-test"), {"kind": "faecal"})
    assert Test.objects.count() == 1


def test_a_deworming_is_one_tap(puppy):
    client(puppy, "technician").post(
        address(puppy, "prevention-treatment"), {"once": uuid4(), "kind": "deworming", "words": ""}
    )
    assert TreatmentGiven.objects.get().kind == "deworming"


def test_a_dose_from_elsewhere_is_entered_with_its_proof(puppy):
    sent = {
        "once": uuid4(),
        "what-0": "dog_core",
        "on-0": (timezone.localdate() - timedelta(weeks=2)).isoformat(),
        "source": "outside",
        "proof_words": "booklet",
    }
    assert client(puppy, "assistant").post(address(puppy, "prevention-outside"), sent).status_code == 302
    assert (Dose.objects.get().proof, Dose.objects.get().antigens) == (True, ["CDV", "CAV-2", "CPV"])
    answer = client(puppy, "assistant").post(address(puppy, "prevention-outside"), sent | {"what-0": ""})
    assert answer.status_code == 422
    assert "booklet" in answer.content.decode()


def test_a_dose_is_struck_out_with_a_reason_and_stays_in_sight(puppy):
    give(puppy)
    row = f"dose:{Dose.objects.get().pk}"
    url = address(puppy, "prevention-strike")
    assert client(puppy).post(url, {"once": uuid4(), "row": row, "reason": ""}).status_code == 422
    client(puppy).post(url, {"once": uuid4(), "row": row, "reason": "wrong animal"})
    assert "Struck out by Dr Maren Oduya: wrong animal" in look(puppy)


def test_another_patient_s_dose_is_not_found(puppy):
    other = people.visit_here(people.patient("Grit", of=people.owner("Ana Brook", "ana@example.com")))
    give(puppy)
    sent = {"once": uuid4(), "row": f"dose:{Dose.objects.get().pk}", "reason": "mine"}
    answer = client(puppy).post(reverse("prevention-strike", args=[other.pk]), sent)
    assert answer.status_code == 404


def queries(puppy: Room) -> int:
    with CaptureQueriesContext(connection) as seen:
        look(puppy)
    return len(seen)


def test_two_rows_and_twenty_ask_the_database_as_often(puppy):
    def add(many: int) -> None:
        for number in range(many):
            day = timezone.localdate() - timedelta(days=20 + number)
            actions.record_outside_dose(
                actor=puppy.actor(),
                now=timezone.now(),
                patient=puppy.patient,
                visit=puppy.visit,
                antigens=["CPV"],
                given_on=day,
                refresh=False,
            )

    add(2)
    few = queries(puppy)
    add(18)
    assert queries(puppy) == few


def test_a_signed_visit_records_nothing_more(puppy):
    record = puppy.visit.record
    record.signed_at, record.signed_by, record.signed_name = (
        timezone.now(),
        puppy.people.clinician,
        "Dr Oduya",
    )
    record.save()
    assert "This record is signed" in look(puppy)
    assert 'id="give-form"' not in look(puppy)
    assert give(puppy).status_code == 422


def test_what_depends_on_the_way_of_life_is_a_question_and_not_overdue(puppy):
    shown = look(puppy)
    assert "By way of life, ask first" in shown
    before, after = shown.split("By way of life, ask first")
    assert "Lyme disease vaccine" not in before
    assert "Lyme disease vaccine" in after


def test_one_product_that_covers_two_items_is_one_vial():
    kitten = room(
        9, species="cat", expected_adult_kg=None, birth_date=timezone.localdate() - timedelta(weeks=9)
    )
    assert look(kitten).count(f'value="{running(kitten, "felcora-three")}"') == 1
    assert "Panleukopenia (feline parvovirus); Feline herpesvirus, calicivirus" in look(kitten)


def test_what_the_owner_has_already_is_history_and_leaves_no_shelf(puppy):
    product = puppy.stock["wormbane-chew-dog"]
    sent = {
        "once": uuid4(),
        "product": product.pk,
        f"band-{product.pk}": "over 5 to 10 kg",
        f"lot-of-{product.pk}": product.lots.first().pk,
        "count": 1,
        "first_on": (timezone.localdate() - timedelta(days=10)).isoformat(),
        "source": "owner",
    }
    assert client(puppy).post(address(puppy, "prevention-supply"), sent).status_code == 302
    supply = Supply.objects.get()
    assert (supply.source, supply.lot_in_stock, supply.answers) == ("owner", None, [])


def test_a_deworming_of_before_is_entered_with_its_day(puppy):
    url = address(puppy, "prevention-treatment")
    on = timezone.localdate() - timedelta(days=14)
    sent = {"once": uuid4(), "kind": "deworming", "words": "paste", "source": "owner"}
    ahead = (timezone.localdate() + timedelta(days=2)).isoformat()
    answer = client(puppy).post(url, sent | {"on": ahead})
    assert answer.status_code == 422
    assert 'value="paste"' in answer.content.decode()
    client(puppy).post(url, sent | {"once": uuid4(), "on": on.isoformat()})
    given = TreatmentGiven.objects.get()
    assert (given.on, given.source) == (on, "owner")
    assert "owner says" in look(puppy)


def test_another_way_than_the_usual_is_chosen_and_a_nasal_vaccine_is_never_injected():
    grown = room(birth_date=timezone.localdate() - timedelta(weeks=13))
    shown = look(grown)
    assert 'name="route-rabies"' in shown
    assert "into the muscle" in shown
    sent = {
        "lot-dog_core": "",
        "lot-rabies": running(grown, "rabisal-3"),
        "site-rabies": "RH-D",
        "route-rabies": "IM",
    }
    assert give(grown, **sent).status_code == 302
    assert Dose.objects.get().route == "IM"
    nasal = {
        "lot-dog_core": "",
        "lot-other": running(grown, "bordelle-nasal"),
        "site-other": "RSH",
        "route-other": "SC",
    }
    answer = give(grown, **nasal)
    assert answer.status_code == 422
    assert "injected it can do serious harm" in answer.content.decode()
    assert Dose.objects.count() == 1


def test_no_page_or_letter_says_until_when_a_preventive_protects():
    """American Heartworm Society: monthly preventives act on what was caught in the weeks before."""
    written = [*Path("templates/preventive").glob("*.html"), *Path("preventive/texts").rglob("*.toml")]
    assert len(written) > 20
    for path in written:
        assert "protected until" not in path.read_text(encoding="utf-8").lower(), path
