"""A clinician's correction as the clinic's wording: made general, offered, adopted, declined, taken back."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from clinic.letters import actions, own_words, wording_actions, wordings
from clinic.letters.composition import compose, compose_all
from clinic.letters.document import MadeFrom, from_json, sentences
from clinic.letters.texts import LETTERS, Entry, Review
from clinic.models import ClinicDetails, Correction, Owner, Wording
from clinic.people.actor import NotAllowed
from exams.owner_texts import of_files
from exams.versions import composed
from tests import letters, people
from tests.exams.house import exam_here
from tests.letters import NOW, Case

SEEN = "{patient} was seen by us. What we did is written below."
STANDING = Entry((SEEN,), Review())
MADE = MadeFrom("letters:visit.seen", SEEN, values=(("patient", "Ludo"),))


# --- the pure core ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "made", "text", "why"),
    [
        ("Ludo came in. Read on.", MADE, "{patient} came in. Read on.", ""),
        ("We saw Ludo and Ludovic.", MADE, "We saw {patient} and Ludovic.", ""),
        ("Ludo {likes} us.", MADE, "{patient} {{likes}} us.", ""),
        (
            "Left ear: there is a lot of wax.",
            MadeFrom("exams:finding.X", "There is wax. It can itch.", heading="Left ear: ", part=1),
            "There is a lot of wax. It can itch.",
            "",
        ),
        (
            "It itches. Grade: mild.",
            MadeFrom("exams:finding.X", "There is wax. It can itch.", part=2, tail="Grade: mild."),
            "There is wax. It itches.",
            "",
        ),
        ("Right ear: wax.", MadeFrom("e:f", "Wax.", heading="Left ear: "), "", own_words.OTHER_PLACE),
        ("It itches.", MadeFrom("e:f", "A. B.", part=2, tail="Grade: mild."), "", own_words.OTHER_GRADE),
        ("Grade: mild.", MadeFrom("e:f", "A.", part=2, tail="Grade: mild."), "", own_words.GRADE_ALONE),
        (
            "2 of 9 values are odd.",
            MadeFrom("t:s", "{n} of {all} values.", values=(("n", "2"), ("all", "9"))),
            "{n} of {all} values are odd.",
            "",
        ),
        (
            "Ludo eats. Ludo sleeps.",
            MadeFrom("t:s", "{Pet} eats, {pet} sleeps.", values=(("pet", "Ludo"), ("Pet", "Ludo"))),
            "{Pet} eats. {pet} sleeps.",
            "",
        ),
    ],
)
def test_what_was_one_animal_s_becomes_a_placeholder_again(words, made, text, why):
    assert own_words.as_text(words, made) == (text, why)


@pytest.mark.parametrize(
    ("form", "said"),
    [
        ("{patient} came in.", ""),
        ("{patient} may come in.", ""),
        ("Ludo came in.", "{patient} is missing."),
        ("{patient} and {owner} came.", "no {owner}"),
        ("{patient came.", "Braces"),
        ("{patient!r} came.", "Braces"),
        ("{} came.", "Braces"),
        ("{patient} came with Orla.", "“Orla” belongs"),
        ("{patient} came with DOVALE.", "“DOVALE” belongs"),
        ("{patient} weighs 12 kg.", "“12” is one animal’s number"),
        ("{patient} came in March.", "“March” belongs"),
        ("{patient} came\u202e in.", "nobody sees"),
        ("{patient}\u200b came.", "nobody sees"),
        ("\u2068{patient}\u2069 came.", "nobody sees"),
        ("", "needs words"),
        ("{patient} " + "x" * 1000, "more than 1000"),
    ],
)
def test_what_cannot_be_a_text_is_refused_with_the_reason(form, said):
    wrong = own_words.wrong_with([form], STANDING, ["Orla Dovale"], ["March", "May"])
    assert (said in " ".join(wrong)) if said else wrong == []


def test_a_word_of_the_standing_text_is_nobody_s_name():
    assert own_words.wrong_with(["{patient} was seen."], STANDING, ["Seen", "Was"]) == []


@given(st.text(max_size=60), st.sampled_from(["Ludo", "2", "Mr. Pip"]))
def test_whatever_is_written_fills_again_to_what_was_written(words, name):
    """Made general and filled with the same values, it reads as the clinician wrote it."""
    clean = words.replace("\x00", "").strip()
    text, why = own_words.as_text(f"{name} {clean}", MadeFrom("a:b", "{pet} x.", values=(("pet", name),)))
    assert why == ""
    assert text.format(pet=name) == f"{name} {clean}".strip()


# --- with the record --------------------------------------------------------------------------------------


@pytest.fixture
def plain(db) -> Case:
    """A visit whose letter begins with a text of ours."""
    return letters.weighed(letters.arrived("Ludo", "limps"), "18.4")


def corrected(case: Case, words: str, key: str = "headline", **how: str) -> Correction:
    return actions.correct_sentence(record=case.record, sentence=key, words=words, **how, **case.me)


def adopted(case: Case, correction: Correction, *forms: str, seen: int | None = None, **how) -> Wording:
    return wording_actions.adopt(
        correction=correction, forms=forms or [correction.offered], seen=seen, **how, **case.me
    )


def another(case: Case, name: str = "Tansy", **facts: str) -> Case:
    visit = people.visit_here(people.patient(name, **facts), clinician=case.people.clinician)
    return Case(case.people, visit.patient, visit)


def test_a_correction_is_offered_once_however_often_it_was_made(plain):
    corrected(plain, "Ludo came in. All we did stands below.")
    corrected(another(plain), "Tansy came in. All we did stands below.")
    (offer,) = wordings.offers()
    assert offer.words == "{patient} came in. All we did stands below."
    assert (offer.instead_of, offer.times, offer.language) == (SEEN, 2, "en")
    assert offer.by == (plain.people.clinician.full_name,)


def test_one_s_own_words_are_no_text_to_offer(db):
    sore = letters.sore_ear()
    assert corrected(sore, "It is sore.").text == ""
    assert wordings.offers() == ()


def test_what_was_adopted_stands_in_the_next_letter_and_not_in_those_that_left(plain):
    left = plain.freeze()
    adopted(plain, corrected(plain, "Ludo came in. All we did stands below."))
    assert wordings.offers() == ()
    assert compose(another(plain).record, today=letters.TODAY).headline.text == (
        "Tansy came in. All we did stands below."
    )
    left.refresh_from_db()
    assert from_json(left.content).headline.text == "Ludo was seen by us. What we did is written below."


def test_taken_back_the_next_letter_says_what_it_said_before(plain):
    wording = adopted(plain, corrected(plain, "Ludo came in."))
    other = another(plain)
    assert compose(other.record, today=letters.TODAY).headline.text == "Tansy came in."
    assert wording_actions.take_back(wording=wording, **plain.me)
    assert not wording_actions.take_back(wording=wording, **plain.me)
    assert compose(other.record, today=letters.TODAY).headline.text.startswith("Tansy was seen by us.")
    wording.refresh_from_db()
    assert (wording.ended_by, wording.ended_at) == (plain.people.clinician, NOW)


def test_a_second_wording_is_the_next_version_and_ends_the_first(plain):
    first = adopted(plain, corrected(plain, "Ludo came in."))
    again = corrected(another(plain), "Tansy was here.")
    with pytest.raises(wording_actions.ChangedMeanwhile):
        adopted(plain, again)  # this tablet saw the program's own text
    second = adopted(plain, again, seen=first.pk)
    first.refresh_from_db()
    assert (second.version, second.instead_of, first.ended_by) == (
        2, ["{patient} came in."], plain.people.clinician,
    )  # fmt: skip


def test_the_same_tap_from_two_tablets_adopts_once(plain):
    made = corrected(plain, "Ludo came in.")
    adopted(plain, made)
    with pytest.raises(wording_actions.ChangedMeanwhile):
        adopted(plain, made)
    assert Wording.objects.count() == 1


def test_declined_it_is_offered_no_more_until_that_is_taken_back(plain):
    made = corrected(plain, "Ludo came in.")
    no = wording_actions.decline(correction=made, **plain.me)
    assert wording_actions.decline(correction=made, **plain.me) is None
    assert wordings.offers() == ()
    assert compose(another(plain).record, today=letters.TODAY).headline.text.startswith("Tansy was seen")
    wording_actions.take_back(wording=no, **plain.me)
    assert len(wordings.offers()) == 1


def test_a_name_or_a_number_of_that_letter_is_refused(plain):
    owner = Owner.objects.get(ownerships__patient=plain.patient)
    for words, said in (
        (f"Ludo came with {owner.name}.", owner.name.split()[0]),
        ("Ludo weighs 18.4 kg.", "18"),
        ("Ludo saw Oduya.", "Oduya"),
    ):
        with pytest.raises(wording_actions.CannotAdopt) as refused:
            adopted(plain, corrected(plain, words))
        assert said in str(refused.value)
    assert not Wording.objects.exists()


def test_who_does_not_sign_decides_nothing(plain):
    made = corrected(plain, "Ludo came in.")
    by = {"correction": made, "actor": plain.actor("technician"), "now": NOW}
    with pytest.raises(NotAllowed):
        wording_actions.adopt(forms=[made.offered], seen=None, **by)
    with pytest.raises(NotAllowed):
        wording_actions.decline(**by)


def test_a_finding_s_sentence_can_be_the_clinic_s_own(db):
    mites = {"findings": [{"code": "EAR-03"}]}
    case = letters.arrived("Ludo")
    exam_here(case.actor(), case.visit).tap("EAR.canal|left", "set_abnormal", mites)
    label = next(each for each in sentences(case.letter()) if each.key == "walk:EAR.canal|left:EAR-03")
    made = corrected(case, "Left ear: tiny mites live in this ear.", key=label.key)
    standing = of_files(composed(), "en").entries["finding.EAR-03"].forms[0]
    assert (made.text, made.not_offered) == ("exams:finding.EAR-03", "")
    assert made.offered == f"Tiny mites live in this ear. {standing.partition('. ')[2]}".strip()
    assert adopted(case, made).instead_of == [standing]
    other = another(case)
    exam_here(other.actor(), other.visit).tap("EAR.canal|right", "set_abnormal", mites)
    texts = " ".join(each.text for each in sentences(other.letter()))
    assert "Right ear: tiny mites live in this ear." in texts


def test_words_in_the_owner_s_language_stay_in_it_and_are_the_text_of_that_language(plain):
    Owner.objects.update(language="es")
    made = corrected(plain, "Vimos a Ludo. Todo está abajo.", language="es")
    assert (made.language, made.offered) == ("es", "Vimos a {patient}. Todo está abajo.")
    told = compose_all(plain.record, today=letters.TODAY)
    assert told["es"].headline.text == "Vimos a Ludo. Todo está abajo."  # not quoted: it is their language
    assert told["en"].headline.lang == "es"
    adopted(plain, made, reviewed=True)
    other = another(plain)
    Owner.objects.update(language="es")
    spanish = compose(other.record, today=letters.TODAY)
    assert spanish.headline.text == "Vimos a Tansy. Todo está abajo."


def test_an_english_wording_stands_beside_the_spanish_text_that_says_the_old_one(plain):
    other = another(plain)
    Owner.objects.update(language="es")
    assert not compose(other.record, today=letters.TODAY).headline.both
    adopted(plain, corrected(plain, "Ludo came in. You may go home."))
    said = compose(other.record, today=letters.TODAY).headline
    assert (said.both, said.source) == (True, "Tansy came in. You may go home.")
    (row,) = wordings.adopted()
    assert row.beside == ("Español",)


def test_a_text_that_a_release_changed_is_used_no_more(plain):
    wording = adopted(plain, corrected(plain, "Ludo came in."))
    Wording.objects.filter(pk=wording.pk).update(forms=["{pet} came in."])
    assert compose(plain.record, today=letters.TODAY).headline.text.endswith("Ludo came in.")
    assert compose(another(plain).record, today=letters.TODAY).headline.text.startswith("Tansy was seen")


def test_words_of_one_letter_do_not_reach_another_clinic_text(plain):
    """Outside a composition the texts are those of the files."""
    adopted(plain, corrected(plain, "Ludo came in."))
    assert LETTERS("en")("visit.seen", patient="Ludo").startswith("Ludo was seen by us.")


# --- the pages --------------------------------------------------------------------------------------------


@pytest.fixture
def client(plain) -> Client:
    client = Client()
    client.force_login(plain.people.clinician)
    return client


def test_from_the_page_it_is_adopted_and_a_leak_is_told_beside_the_field(plain, client):
    made = corrected(plain, "Ludo came in on a lead.")
    page = client.get(reverse("letter-words")).content.decode()
    assert "{patient} came in on a lead." in page
    address = reverse("letter-words-offer", args=[made.pk])
    shown = client.get(address).content.decode()
    assert "school grade" in shown
    wrong = client.post(address, {"form_0": "{patient} came with Oduya.", "seen": ""})
    assert wrong.status_code == 422
    assert "“Oduya” belongs to one letter alone." in wrong.content.decode()
    assert "{patient} came with Oduya." in wrong.content.decode()  # nothing typed is lost
    assert client.post(address, {"form_0": "{patient} came.", "seen": ""}).status_code == 302
    assert client.post(address, {"form_0": "{patient} came.", "seen": ""}).status_code == 409
    assert Wording.objects.get().forms == ["{patient} came."]
    kept = client.get(reverse("letter-words")).content.decode()
    assert "version 1" in kept
    client.post(reverse("letter-words-back", args=[Wording.objects.get().pk]))
    assert not Wording.objects.filter(ended_at=None).exists()


def test_any_text_is_found_by_its_words_and_worded_anew(plain, client):
    page = client.get(reverse("letter-words"), {"text": "was SEEN by us"}).content.decode()
    assert SEEN in page
    address = reverse("letter-words-text", args=["en", "letters:visit.seen"])
    assert address in page
    shown = client.get(address).content.decode()
    assert SEEN in shown
    assert "Was written" not in shown
    for words, why in (
        ("Somebody came in.", "{patient} is missing."),
        ("{patient} came to Dr Oduya.", "“Oduya” belongs to one letter alone."),
        (SEEN, wording_actions.SAYS_SO),
    ):
        wrong = client.post(address, {"form_0": words, "seen": ""})
        assert wrong.status_code == 422
        assert why in wrong.content.decode().replace("&#x27;", "'")
        assert words in wrong.content.decode()  # nothing typed is lost
    said = "{patient} came in. Ring us within 24 hours if you wonder."  # its number is nobody's weight
    assert client.post(address, {"form_0": said, "seen": ""}).status_code == 302
    assert client.post(address, {"form_0": "{patient} came.", "seen": ""}).status_code == 409
    assert compose(another(plain).record, today=letters.TODAY).headline.text == said.format(patient="Tansy")
    own = client.get(reverse("letter-words"), {"text": "ring us within"}).content.decode()
    assert "in the clinic’s own words" in own


def test_a_text_of_another_language_is_found_and_worded_in_it(plain, client):
    page = client.get(reverse("letter-words"), {"text": "encías", "language": "es"}).content.decode()
    assert "a text about an emergency" in page
    address = reverse("letter-words-text", args=["es", "letters:visit.seen"])
    said = "Vimos a {patient}. Todo está abajo."
    assert client.post(address, {"form_0": said, "seen": "", "reviewed": "on"}).status_code == 302
    Owner.objects.update(language="es")
    assert compose(plain.record, today=letters.TODAY).headline.text == "Vimos a Ludo. Todo está abajo."


@pytest.mark.parametrize(
    "of", [["en", "letters:no.such"], ["en", "no-such-room:a"], ["xx", "letters:visit.seen"]]
)
def test_what_no_file_says_cannot_be_worded_anew(client, of):
    assert client.get(reverse("letter-words-text", args=of)).status_code == 404


def test_a_search_in_vain_says_so_and_a_common_word_is_not_shown_whole(client):
    vain = client.get(reverse("letter-words"), {"text": "zebra", "language": "xx"}).content.decode()
    assert "No text holds these words." in vain
    many = client.get(reverse("letter-words"), {"text": "the"}).content.decode()
    assert many.count("Word it anew<") == 40
    assert "more: look for more words of it" in many


def test_markup_in_an_offer_is_shown_as_text(plain, client):
    corrected(plain, "Ludo <script>alert(1)</script> came.")
    page = client.get(reverse("letter-words")).content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_the_list_asks_as_much_for_two_offers_as_for_twenty(plain, client):
    def asked() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert client.get(reverse("letter-words")).status_code == 200
        return len(seen)

    def some(first: int, last: int) -> None:
        for number in range(first, last):
            Correction.objects.create(
                record=plain.record, sentence=f"s{number}", first_wording="A.", words="B.",
                text="letters:visit.seen", offered=f"{{patient}} {'x' * number}.", by=plain.people.clinician,
                at=NOW + timedelta(seconds=number),
            )  # fmt: skip

    some(0, 2)
    few = asked()
    some(2, 20)
    assert asked() == few


# --- spelling by country ----------------------------------------------------------------------------------


def test_a_clinic_in_the_united_states_spells_as_there(plain):
    case = another(plain)
    assert case.letter().call_now[0].text.endswith("white or gray.")
    ClinicDetails.objects.update(country="GB")
    assert case.letter().call_now[0].text.endswith("white or grey.")
