"""A recalled lot: every household that had it is told, once, by letter where a mail reaches it."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse

from clinic.callbacks.actions import stop_reminders
from clinic.callbacks.models import CallBack
from clinic.death.actions import record_death
from clinic.mail.actions import send
from clinic.models import Message, Owner
from clinic.visits.errors import SentBefore
from preventive import actions
from preventive.errors import Incomplete, LotRecalled, LotUsedUp, QuestionsOpen, Refused, WrongPatient
from preventive.models import Lot, RecallLetter, Supply
from preventive.recall_letter import House, Named, ToHousehold, letter_to, names
from preventive.recall_page import letters_page
from preventive.versions import protocol_in_force
from tests import people
from tests.death import told as facts_of_death
from tests.people import NOW, TODAY
from tests.preventive.room import room
from tests.smtp import serving

WORDS = "The vaccine may be too weak. Come in for one more dose; it costs nothing."


def test_a_letter_names_who_had_what_and_says_the_clinician_s_words():
    house = House(
        "Corvane Three", "Lindhollow", "QX4471", "555-0100", "out of hours, 555-0199", ("Quillwater",)
    )
    animals = (Named("Tarn", "a dose on 3 March 2026"), Named("Sorrel", "a dose on 4 March 2026"))
    mail = letter_to(ToHousehold("Henrike Dovale", animals), WORDS, house)
    assert mail.subject == "About Tarn and Sorrel: a recalled lot of Corvane Three"
    for words in ("Dear Henrike Dovale,", "- Tarn: a dose on 3 March 2026", "Lot: QX4471", WORDS, "555-0199"):
        assert words in mail.body
    assert names(["Tarn", "Tarn", "Sorrel", "Bit"]) == "Tarn, Sorrel and Bit"


pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    """Two animals of one owner, one of an owner without e-mail, one of an owner who wants paper."""
    made = room()
    made.tarn = made.patient
    with_mail = made.patient.owners.get()
    made.sorrel = _animal(made, "Sorrel", with_mail)
    made.bit = _animal(made, "Bit", people.owner("Ada Lunt", ""))
    made.fen = _animal(made, "Fen", people.owner("Ruth Okafor", "ruth@example.com"))
    Owner.objects.filter(family_name="Okafor").update(
        letters_by="paper", street="3 Fen Row", city="Quillwater"
    )
    lot = actions.count_lot(actor=made.actor(), now=NOW, lot=made.lot("corvane-three"), left=9)
    for animal in (made.tarn, made.sorrel, made.bit, made.fen):
        visit = (
            made.visit if animal == made.tarn else people.visit_here(animal, clinician=made.people.clinician)
        )
        made.give(lot=lot, patient=animal, visit=visit)
    made.recalled = lot
    return made


def _animal(made, name, owner):
    return people.patient(name, of=owner, birth_date=made.patient.birth_date)


def recall(house):
    return actions.recall_lot(
        actor=house.actor("technician"), now=NOW, lot=house.recalled, reason="Maker’s notice 7: weak."
    )


def write(house, by="clinician", **facts):
    facts = {"words": WORDS} | facts
    return actions.send_recall_letters(actor=house.actor(by), now=NOW, lot=recall(house), **facts)


def waiting():
    return {each.patient.name for each in CallBack.objects.filter(key__startswith="recall:")}


def test_one_letter_a_household_and_recall(house):
    (letter,) = write(house)
    message = letter.message
    assert (message.purpose, message.state, message.to_address) == (
        "medical",
        "waiting",
        "henrike@example.com",
    )
    assert "- Tarn: a dose on 11 March 2026\n- Sorrel: a dose on 11 March 2026" in message.body
    assert {each.name for each in message.animals.all()} == {"Tarn", "Sorrel"}
    assert write(house) == []
    with pytest.raises(DatabaseError), transaction.atomic():
        RecallLetter.objects.update(words="nothing")


def test_the_same_form_twice_sends_once(house):
    once = uuid4()
    write(house, once=once)
    with pytest.raises(SentBefore):
        write(house, once=once)
    assert Message.objects.count() == 1


def test_a_stop_to_reminders_does_not_keep_a_recall_back(house, settings):
    stop_reminders(owner=Owner.objects.get(email="henrike@example.com"), actor=house.actor(), now=NOW)
    (letter,) = write(house)
    with serving(settings) as peer:
        assert send(message_id=letter.message.pk, now=NOW) == "sent"
    assert len(peer.taken) == 1


def test_whoever_no_mail_reaches_stands_for_post_or_telephone(house):
    write(house)
    page = letters_page(Lot.objects.get(pk=house.recalled.pk), words="")
    assert [(each.owner, each.why_not) for each in page.otherwise] == [
        ("Ada Lunt", "no e-mail address"),
        ("Ruth Okafor", "wants letters on paper"),
    ]
    assert "3 Fen Row, Quillwater" in page.otherwise[1].address
    assert WORDS in page.otherwise[0].mail.body


def test_a_letter_that_left_has_told_the_owner_and_one_that_waits_has_not(house, settings):
    (letter,) = write(house)
    actions.refresh_call_backs(patient=house.tarn, today=TODAY, now=NOW)
    assert waiting() == {"Tarn", "Sorrel", "Bit", "Fen"}
    with serving(settings):
        send(message_id=letter.message.pk, now=NOW)
    for animal in (house.tarn, house.sorrel, house.bit):
        actions.refresh_call_backs(patient=animal, today=TODAY, now=NOW)
    assert waiting() == {"Bit", "Fen"}
    shown = client(house).get(reverse("lot", args=[house.recalled.pk])).content.decode()
    assert "Written to on 11 March 2026, by e-mail to henrike@example.com" in shown
    assert "2 of 4 still to be told" in shown


def test_nothing_is_written_of_the_dead_and_a_letter_that_names_one_is_held(house):
    record_death(actor=house.actor(), now=NOW, patient=house.bit, facts=facts_of_death())
    (letter,) = write(house)
    assert "Bit" not in {each.patient.name for each in letters_page_rows(house)}
    record_death(actor=house.actor(), now=NOW, patient=house.tarn, facts=facts_of_death())
    letter.message.refresh_from_db()
    assert letter.message.state == "held"
    assert send(message_id=letter.message.pk, now=NOW) == "held"


def letters_page_rows(house):
    from preventive.recalls import households_of

    return [given for each in households_of(Lot.objects.get(pk=house.recalled.pk)) for given in each.given]


def test_a_lifted_recall_calls_its_letters_off_and_the_next_one_writes_anew(house):
    (letter,) = write(house)
    actions.lift_recall(actor=house.actor(), now=NOW, lot=house.recalled, reason="wrong lot")
    letter.message.refresh_from_db()
    assert (letter.message.state, letter.message.state_why) == ("cancelled", "the recall was lifted")
    later = NOW + timedelta(1)
    actions.recall_lot(actor=house.actor(), now=later, lot=house.recalled, reason="Notice 8.")
    again = actions.send_recall_letters(actor=house.actor(), now=later, lot=house.recalled, words=WORDS)
    assert len(again) == 1


def test_a_technician_does_not_write_and_nothing_is_written_without_words_or_recall(house):
    with pytest.raises(PermissionDenied):
        write(house, by="technician")
    with pytest.raises(Incomplete, match="what to do"):
        write(house, words=" ")
    lot = house.lot("rabisal-3")
    with pytest.raises(Incomplete, match="not recalled"):
        actions.send_recall_letters(actor=house.actor(), now=NOW, lot=lot, words=WORDS)


def client(house, role="clinician"):
    made = Client()
    made.force_login(getattr(house.people, role))
    return made


def test_the_letters_are_looked_at_before_they_leave(house):
    recall(house)
    address = reverse("lot-letters", args=[house.recalled.pk])
    sent = {"once": uuid4(), "words": WORDS, "do": "look"}
    looked = client(house).post(address, sent).content.decode()
    assert WORDS in looked
    assert "Send 1 by e-mail" in looked
    assert not Message.objects.exists()
    empty = client(house).post(address, sent | {"words": "", "do": "send"})
    assert (empty.status_code, Message.objects.count()) == (422, 0)
    done = client(house).post(address, sent | {"do": "send"}, follow=True).content.decode()
    assert "One letter waits to leave." in done
    assert "waits to leave" in done
    assert client(house, "technician").post(address, sent).status_code == 403
    assert WORDS in client(house).get(address).content.decode()


# --- preventives ---


def box(puppy, left=6, band="over 5 to 10 kg"):
    lot = puppy.stock["wormbane-chew-dog"].lots.get(band=band)
    return actions.count_lot(actor=puppy.actor(), now=NOW, lot=lot, left=left)


def on_hand(lot):
    return Lot.objects.get(pk=lot.pk).on_hand


@pytest.fixture
def puppy():
    return room()


def test_what_goes_home_leaves_the_count_and_comes_back_when_struck(puppy):
    lot = box(puppy)
    supply = puppy.hand_out(lot=lot, count=2)
    assert (on_hand(lot), supply.lot, supply.expires_on) == (4, lot.number, lot.expires_on)
    actions.strike_supply(actor=puppy.actor(), now=NOW, supply=supply, reason="not taken")
    assert on_hand(lot) == 6


def test_no_more_goes_home_than_is_left(puppy):
    lot = box(puppy, left=1)
    with pytest.raises(LotUsedUp, match="only 1 are left"):
        puppy.hand_out(lot=lot, count=2)
    assert (on_hand(lot), Supply.objects.count()) == (1, 0)


def test_a_box_of_another_size_or_product_is_refused(puppy):
    with pytest.raises(Incomplete, match="over 10 to 20 kg"):
        puppy.hand_out(lot=box(puppy, band="over 10 to 20 kg"))
    with pytest.raises(WrongPatient):
        puppy.hand_out(lot=puppy.stock["ticklode-chew-dog"].lots.first())


def test_a_box_that_ended_is_refused_and_one_that_ends_first_is_asked(puppy):
    lot = box(puppy)
    Lot.objects.filter(pk=lot.pk).update(expires_on=TODAY + timedelta(20))
    lot.refresh_from_db()
    puppy.hand_out(lot=lot, count=1)
    with pytest.raises(QuestionsOpen) as asked:
        puppy.hand_out(lot=lot, count=2, first_on=TODAY + timedelta(1))
    assert "lot_ends_first" in {each.code for each in asked.value.questions}
    Lot.objects.filter(pk=lot.pk).update(expires_on=TODAY - timedelta(1))
    lot.refresh_from_db()
    with pytest.raises(Refused) as refused:
        puppy.hand_out(lot=lot, count=1)
    assert [each.code for each in refused.value.questions] == ["lot_ended"]


def test_a_recall_finds_what_went_home(puppy):
    lot = box(puppy)
    supply = puppy.hand_out(lot=lot, count=2)
    actions.recall_lot(actor=puppy.actor(), now=NOW, lot=lot, reason="Maker’s notice 9.")
    with pytest.raises(LotRecalled):
        puppy.hand_out(lot=lot)
    assert waiting() == {"Tarn"}
    (letter,) = actions.send_recall_letters(actor=puppy.actor(), now=NOW, lot=lot, words=WORDS)
    assert "- Tarn: 2 of the size over 5 to 10 kg, the first for 11 March 2026" in letter.message.body
    assert list(letter.supplies.all()) == [supply]
    actions.owner_told(actor=puppy.actor("assistant"), now=NOW, given=supply, how="by telephone")
    assert waiting() == set()


def test_a_preventive_s_lot_has_a_size_and_a_vaccine_s_has_none(puppy):
    common = {"actor": puppy.actor("technician"), "now": NOW, "number": "N-1", "count": 12}
    common |= {"received_on": TODAY, "expires_on": TODAY + timedelta(400)}
    with pytest.raises(Incomplete, match="Which size"):
        actions.receive_lot(**common, product=puppy.stock["wormbane-chew-dog"])
    with pytest.raises(Incomplete, match="no size"):
        actions.receive_lot(**common, product=puppy.stock["corvane-three"], band="over 5 to 10 kg")
    lot = actions.receive_lot(**common, product=puppy.stock["wormbane-chew-dog"], band="over 5 to 10 kg")
    assert on_hand(lot) == 12


def test_the_page_proposes_the_box_of_the_fitting_size_and_takes_it(puppy):
    lot = box(puppy)
    address = reverse("visit-prevention", args=[puppy.visit.pk])
    shown = client(puppy).get(address).content.decode()
    assert f'<option value="{lot.pk}" selected>Lot WB0587, over 5 to 10 kg' in shown
    product = puppy.stock["wormbane-chew-dog"].pk
    sent = {"once": uuid4(), "product": product, f"band-{product}": lot.band, f"lot-of-{product}": lot.pk}
    sent |= {"count": 1, "first_on": TODAY}
    sent |= {f"reason-supply-{code}": "seen" for code in protocol_in_force().rules.safety}
    assert client(puppy).post(reverse("prevention-supply", args=[puppy.visit.pk]), sent).status_code == 302
    assert (Supply.objects.get().lot_in_stock, on_hand(lot)) == (lot, 5)
