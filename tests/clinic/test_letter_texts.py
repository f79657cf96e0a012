"""The letter's texts: read by language, loud where a file is not whole, honest where it lacks a text."""

from datetime import date

import pytest

from clinic.letters.texts import END, LETTERS, OWN, Room, TextError
from exams.owner_texts import ROOM as EXAMS
from nutrition.letter_texts import ROOM as NUTRITION
from preventive.letter import ROOM as PREVENTIVE

ROOMS = {"clinic": LETTERS, "exams": EXAMS, "nutrition": NUTRITION, "preventive": PREVENTIVE}
HEAD = 'language = "{0}"\nname = "{0}"\nplurals = "{1}"\nreview = {{ by = "{2}", on = {3} }}\n'
ENGLISH = """
[a]
plain = "Give {name} {dose}."
grave = { text = "Call now.", kind = "emergency" }
counted = ["{n} value is odd.", "{n} values are odd."]
lonely = "Only English says this of {name}."
"""


def room(tmp_path, other: str = "", *, plurals: str = "n != 1", by: str = "", on: str = '""') -> Room:
    tmp_path.joinpath("en.toml").write_text(HEAD.format("en", "n != 1", "", '""') + ENGLISH, "utf-8")
    if other:
        tmp_path.joinpath("xx.toml").write_text(HEAD.format("xx", plurals, by, on) + other, "utf-8")
    return Room(tmp_path)


def test_a_text_is_filled_and_counts(tmp_path) -> None:
    t = room(tmp_path)("en")
    assert t("a.plain", name="drops", dose="twice") == "Give drops twice."
    assert [t("a.counted", n=n) for n in (1, 2)] == ["1 value is odd.", "2 values are odd."]


def test_braces_in_somebodys_words_are_words(tmp_path) -> None:
    assert room(tmp_path)("en")("a.plain", name="{dose}", dose="{0}") == "Give {dose} {0}."


def test_a_missing_value_is_an_error_that_names_it(tmp_path) -> None:
    with pytest.raises(TextError, match=r"en, a.plain: no value for 'dose'"):
        room(tmp_path)("en")("a.plain", name="drops")


def test_a_key_that_is_nowhere_is_an_error(tmp_path) -> None:
    with pytest.raises(TextError, match=r"no text 'a.none'"):
        room(tmp_path)("en")("a.none")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[a]\nplain = "Xx {name}."', "not the placeholders of the English text .dose"),
        ('[a]\nplain = "Xx {name} {dose} {more}."', "more"),
        ('[a]\ncounted = "{n} xx."', "plural forms in one language only"),
        ('[a]\nplain = "Xx {name.x} {dose}."', "a placeholder is one word"),
        ('[a]\nplain = " "', "a text, or a list of its plural forms"),
        ('[a]\ngrave = { text = "Xx", kind = "odd" }', "its kind is one of"),
        ("[a\n", "xx.toml"),
    ],
)
def test_a_file_that_is_not_whole_is_refused_by_name(tmp_path, text, words) -> None:
    with pytest.raises(TextError, match=words):
        room(tmp_path, text)("xx")


def test_a_language_may_have_more_plural_forms_than_english(tmp_path) -> None:
    slavic = "n%10==1 && n%100!=11 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2"
    t = room(tmp_path, '[a]\ncounted = ["{n} eins", "{n} wenig", "{n} viel"]', plurals=slavic)("xx")
    assert [t("a.counted", n=n) for n in (1, 3, 5, 21)] == ["1 eins", "3 wenig", "5 viel", "21 eins"]


def test_what_a_language_lacks_english_says_and_it_is_marked(tmp_path) -> None:
    t = room(tmp_path, '[a]\nplain = "Xx {name} {dose}."')("xx")
    said = t.sentence("k", "a.lonely", "the exam", name="Ludo")
    assert (said.text, said.lang) == ("Only English says this of Ludo.", "en")
    assert t.sentence("k", "a.plain", "the exam", name="Ludo", dose="2").lang == ""


def test_a_language_without_a_file_is_english(tmp_path) -> None:
    assert room(tmp_path)("yy").language == "en"


def test_an_emergency_text_goes_out_in_both_until_somebody_reviewed_it(tmp_path) -> None:
    text = '[a]\ngrave = "Xx."\nplain = "Xx {name} {dose}."'
    t = room(tmp_path, text)("xx")
    assert t.sentence("k", "a.grave", "o").both
    assert not t.sentence("k", "a.plain", "o", name="a", dose="b").both
    assert t.sentence("k", "a.plain", "o", name="a", dose="b", grave=True).both
    read = tmp_path / "read"
    read.mkdir()
    reviewed = room(read, text, by="Dr Imogen Farrow", on="2026-11-26")("xx")
    assert not reviewed.sentence("k", "a.grave", "o").both
    assert reviewed.entries["a.grave"].review.on == date(2026, 11, 26)


def test_one_text_may_be_reviewed_by_itself(tmp_path) -> None:
    own = '[a]\ngrave = { text = "Xx.", review = { by = "Dr Imogen Farrow", on = 2026-11-26 } }'
    assert not room(tmp_path, own)("xx").sentence("k", "a.grave", "o").both


def test_own_words_are_marked_in_another_language_only(tmp_path) -> None:
    rooms = room(tmp_path, '[a]\nplain = "Xx {name} {dose}."')
    assert rooms("en").own("a yeast infection") == "a yeast infection"
    assert rooms("xx").own("a yeast infection") == f"{OWN}a yeast infection{END}"
    assert rooms("xx").own(f"{END}out of{OWN}") == f"{OWN}out of{END}"
    assert rooms("xx").own("  ") == ""


@pytest.mark.parametrize("name", ROOMS)
@pytest.mark.parametrize("language", [code for code, _name in LETTERS.languages() if code != "en"])
def test_every_room_says_in_each_language_all_that_it_says_in_english(name, language) -> None:
    told = ROOMS[name](language)
    assert told.language == language
    assert sorted(key for key in ROOMS[name]("en").entries if key not in told) == []
