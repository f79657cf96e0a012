"""What a letter says, from records made by the practice's own actions."""

from datetime import timedelta
from decimal import Decimal

import pytest

from clinic.letters.calls import is_young, usual_now, usual_within_a_day
from clinic.letters.composition import NoEmergencyTelephone, compose
from clinic.letters.document import Tone, sentences
from clinic.letters.sheet import letter_html
from clinic.letters.wording import titled, words
from clinic.models import ClinicDetails, Measurement, Ownership, Patient, Record
from clinic.patients.actions import measure, strike_measurement
from tests import letters
from tests.letters import NOW, TODAY, Case

pytestmark = pytest.mark.django_db


@pytest.fixture
def sore() -> Case:
    return letters.sore_ear()


def test_the_owner_s_reason_is_answered_in_their_own_words(sore: Case):
    assert sore.letter().head.reason == "You came because: he shakes his head and scratches his left ear."


def test_without_a_reason_told_none_is_made_up():
    assert letters.weighed(letters.arrived(), "27.4").letter().head.reason == ""


def test_no_letter_goes_out_without_an_emergency_telephone(sore: Case):
    ClinicDetails.objects.update(emergency_phone=" ")
    with pytest.raises(NoEmergencyTelephone):
        sore.letter()


def test_the_day_and_the_hour_stand_once_each(sore: Case):
    head = sore.letter().head
    assert (head.weekday, head.day, head.time) == ("Wednesday", "11 March 2026", "10:00 am")
    assert ">11 March 2026</span>, <span" in letter_html(sore.letter())


def test_sections_stand_in_the_order_of_the_sheet(sore: Case):
    orders = [each.order for each in sore.letter().sections]
    assert orders == sorted(orders)
    assert sore.letter().sections[0].name == "medicine"


def test_every_sentence_has_an_origin_and_a_key_of_its_own(sore: Case):
    said = list(sentences(sore.letter()))
    keys = [each.key for each in said]
    assert [each.key for each in said if not each.origin] == []
    assert sorted(keys) == sorted(set(keys))


def test_points_are_ordered_by_urgency_and_four_at_most(sore: Case):
    points = sore.letter().points
    assert points[0].what.text == "Left ear."
    assert len(points) <= 4


def test_what_comes_next_is_in_the_order_of_the_days(sore: Case):
    days = [thing.on for thing in sore.letter().next_things]
    assert days == sorted(days)
    assert TODAY + timedelta(days=14) in days


def test_an_emergency_changes_the_ground_of_in_short(sore: Case):
    Record.objects.update(urgency="E")
    assert sore.visit.record.urgency == ""
    fresh = Record.objects.select_related("visit__patient").get(pk=sore.record.pk)
    document = compose(fresh, today=TODAY)
    assert document.tone is Tone.NOW
    assert "short-now" in letter_html(document)


def test_a_letter_about_a_death_offers_feeds_and_asks_nothing():
    document = letters.put_to_sleep().letter()
    assert document.headline.text == "Mirrel was put to sleep. We are very sorry."
    assert (document.tone, document.points, document.next_things) == (Tone.QUIET, (), ())
    assert document.call_now == document.call_within_a_day == ()
    left_out = {"to-do", "weight", "feeding", "declined", "vaccines"}
    assert not left_out & {each.name for each in document.sections}
    assert "When to call" not in letter_html(document)


def test_a_letter_made_after_a_death_is_a_quiet_one_too(sore: Case):
    Patient.objects.filter(pk=sore.patient.pk).update(deceased_on=TODAY, deceased_how="died")
    sore.visit.patient.refresh_from_db()
    assert sore.letter().headline.text == "Ludo died. We are very sorry."


def test_a_weight_of_another_day_is_not_shown_as_this_one_s(sore: Case):
    later = {"actor": sore.actor(), "now": NOW + timedelta(days=30), "looked_twice": True}
    measure(patient=sore.patient, kind="weight", typed=Decimal(40), unit="kg", planned_change=True, **later)
    assert "36.2 kg" in sore.letter().head.patient_facts
    for kept in Measurement.objects.filter(visit=sore.visit):
        strike_measurement(measurement=kept, reason="the other dog stood on the scale", **sore.me)
    assert " kg" not in sore.letter().head.patient_facts


def test_it_is_written_to_the_owner_who_is_first_now(sore: Case):
    second = letters.people.owner("Aldous Wren", "aldous@example.com")
    Ownership.objects.update(is_first=False)
    Ownership.objects.create(patient=sore.patient, owner=second, is_first=True, since=TODAY)
    assert sore.letter().head.owner_name == "Aldous Wren"


def test_nothing_of_another_patient_is_in_it(sore: Case):
    other = letters.people.patient("Quernstone", of=letters.people.owner("Aldous Wren", "a@example.com"))
    letters.people.visit_here(other, owners_words="limps")
    assert "Quernstone" not in letter_html(sore.letter())
    assert "limps" not in letter_html(sore.letter())


def test_dates_and_doses_do_not_break_over_lines(sore: Case):
    html = letter_html(sore.letter())
    assert '<span class="keep">21 March 2026</span>' in html
    assert '<span class="keep">0.25 ml</span>' in html


def test_what_must_be_read_is_bold(sore: Case):
    assert "<b>Millrace ear drops (miconazole," in letter_html(sore.letter())


def test_an_unsigned_letter_says_so(sore: Case):
    assert "Not signed yet." in letter_html(sore.letter())


def test_the_usual_calls_go_by_who_it_is():
    """Published owner lists: a puppy or kitten that does not eat comes at once, and so does vain retching."""

    def keys(species: str, weeks: float) -> tuple[list[str], list[str]]:
        pet = Patient(name="Mirrel", species=species, birth_date=TODAY - timedelta(days=int(weeks * 7)))
        w = words("en")
        now, day = usual_now(pet, TODAY, w), usual_within_a_day(pet, TODAY, w)
        return [each.key.split(":")[1] for each in now], [each.key.split(":")[1] for each in day]

    assert keys("dog", 200) == (["breath", "collapse", "bloat", "urine"], ["eats", "vomits", "worse"])
    assert keys("cat", 200) == (["breath", "collapse", "urine"], ["eats", "vomits", "worse"])
    for species in ("dog", "cat"):
        assert keys(species, 15.9) == (["young", "breath", "collapse", "urine"], ["less", "worse"])
        assert "young" not in keys(species, 16)[0]
    assert not is_young(None, TODAY)


@pytest.mark.parametrize(
    ("name", "in_spanish"),
    [
        ("Dr Oduya, veterinarian, license Q-1207 Fen", "Dr Oduya, medicina veterinaria, licencia Q-1207 Fen"),
        ("Inés Varga, veterinary technician", "Inés Varga, técnica veterinaria"),
        ("Dr Tobias Falk, MRCVS", "Dr Tobias Falk, MRCVS"),
    ],
)
def test_a_profession_is_said_in_the_owners_language(name, in_spanish):
    assert titled(name, words("es")) == in_spanish
    assert titled(name, words("en")) == name
