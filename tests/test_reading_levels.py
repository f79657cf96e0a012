"""Every text of every letter, and whole letters, as a tired person can follow; the worst are listed."""

import re
from collections.abc import Iterator
from datetime import date, timedelta

import pytest

from clinic.callbacks.composing import About, Sender, Ways, write
from clinic.letters.document import sentences
from clinic.letters.reading import FEWEST_WORDS, MEASURES, grade, perspicuity, reading, silabas
from clinic.letters.texts import LETTERS, Texts
from clinic.models import Owner
from clinic.owner_page.texts import texts as owner_texts
from exams.owner_texts import ROOM as EXAMS
from exams.owner_texts import texts_of
from nutrition.factors import load
from nutrition.letter import PRINTED, PRINTED_KEEP
from nutrition.letter_texts import ROOM as NUTRITION
from nutrition.letter_texts import for_owner
from preventive.letter import ROOM as PREVENTIVE
from tests import letters
from tests.exams.walkhelp import walk

WHOLE = {"en": 5.0, "es": 80.0}  # all texts together: the aim for English is grade 5
SHORT = 12  # words: of fewer a formula says nothing of a whole letter (that of one put to sleep)
NAMES = {
    "animal": "Ludo",
    "animals": "Ludo and Esk",
    "owner": "Ada",
    "clinic": "Quill",
    "address": "desk",
    "phone": "555",
    "link": "here",
    "mb": "10",
    "pet": "Ludo",
    "Pet": "Ludo",
    "names": "ears",
    "n": "2",
    "all": "5",
    "day": "9 March 2026",
    "kg": "2.5",
}


def filled(text: str) -> str:
    return re.sub(r"\{(\w+)\}", lambda found: NAMES.get(found[1], "drops"), text)


def texts(language: str) -> Iterator[tuple[str, str]]:
    rooms: list[Texts] = [
        LETTERS(language),
        texts_of(walk(), language),
        NUTRITION(language),
        PREVENTIVE(language),
    ]
    for t in rooms:
        for key, entry in t.entries.items():
            for form in entry.forms:
                if form.endswith(".") and len(filled(form).split()) >= FEWEST_WORDS:
                    yield key, filled(form)
    said = owner_texts(language)
    for part in (said.page, said.shut, said.mail, said.reminder, said.answer):
        for key, text in part.items():
            if text.endswith(".") and len(filled(text).split()) >= FEWEST_WORDS:
                yield f"owner page, {key}", filled(text)
    if language == "en":
        for room in (LETTERS, EXAMS, PREVENTIVE):
            for key, entry in room.variant("us").items():
                yield from ((f"us {key}", filled(form)) for form in entry.forms if form.endswith("."))
        told = load()
        for name in dict.fromkeys((*PRINTED, *PRINTED_KEEP)):
            yield f"caution.{name}", for_owner(told.sentence(f"caution.{name}"))


@pytest.mark.parametrize("language", MEASURES)
def test_no_text_is_hard_and_all_together_are_easy(language) -> None:
    told = [*texts(language)]
    measure = MEASURES[language]
    whole = reading((text for _key, text in told), language)
    hard = [(measure.level([s]), key, s) for key, text in told for s in reading([text], language).hard]
    listed = "\n".join(f"{level} {key}: {text}" for level, key, text in sorted(hard, reverse=measure.harder))
    assert not hard, f"\n{listed}"
    assert not measure.too_hard(whole.grade, WHOLE[language]), whole.grade


CASES = ("healthy", "sore_ear", "put_to_sleep")


WAYS = {
    "by link": Ways("desk@quill.example", "https://a.example/s", "https://a.example/l", calendar=True),
    "by mail": Ways("desk@quill.example"),
    "on paper": Ways("desk@quill.example", on_paper=True),
}


@pytest.mark.parametrize("language", MEASURES)
@pytest.mark.parametrize("ways", WAYS)
def test_a_whole_reminder_is_easy(ways, language) -> None:
    day, own = date(2026, 3, 11), owner_texts(language).reminder
    about = [
        About("Ludo", "Rabies", day + timedelta(days=each), own["usual_before"], own["usual_after"])
        for each in (-9, 9)
    ]
    told = write(
        to="Ada Lunt", about=about, sender=Sender("Quill", "4 Weir Lane", "555", "US"), ways=WAYS[ways],
        language=language, today=day,
    )  # fmt: skip
    text = re.sub(r"https://\S+|\S+@\S+", "here", told.body)
    whole = reading(text.split("\n"), language)
    assert whole.hard == ()
    assert not whole.measure.too_hard(whole.grade, WHOLE[language]), whole.grade


@pytest.mark.django_db
@pytest.mark.parametrize("language", MEASURES)
@pytest.mark.parametrize("name", CASES)
def test_a_whole_letter_is_easy(name, language) -> None:
    case = getattr(letters, name)()
    Owner.objects.update(language=language)
    told = [each.text for each in sentences(case.letter()) if each.text.endswith(".") and not each.lang]
    whole = reading(told, language)
    assert told
    if len(" ".join(told).split()) < SHORT:
        assert whole.hard == ()
        return
    assert not whole.too_hard, (whole.grade, whole.hard)
    assert not whole.measure.too_hard(whole.grade, WHOLE[language]), (whole.grade, whole.hard)


def test_a_hard_sentence_is_hard_in_both_languages() -> None:
    english = "Ceruminous exudate and concurrent erythematous inflammation necessitate otological medication."
    spanish = (
        "La insuficiencia cardiocirculatoria descompensada requiere hospitalización inmediata obligatoria."
    )
    assert reading([english]).hard == (english,)
    assert reading([spanish], "es").hard == (spanish,)
    assert grade(["Give the drops twice a day to your dog."]) < 5
    assert perspicuity(["Dé las gotas a su perro dos veces al día."]) > 80


@pytest.mark.parametrize(
    ("word", "count"),
    [("perro", 2), ("oído", 3), ("oreja", 3), ("ciudad", 2), ("aéreo", 4), ("queso", 2), ("guitarra", 3),
     ("pingüino", 3), ("muy", 1), ("y", 1), ("veterinario", 5), ("sangre", 2), ("día", 2), ("agua", 2)],
)  # fmt: skip
def test_spanish_syllables_are_counted(word, count) -> None:
    assert silabas(word) == count


def test_somebodys_own_words_in_another_language_are_not_measured() -> None:
    assert (
        reading(["\u2068Ceruminous exudate necessitates otological medication today.\u2069"], "es").hard == ()
    )
