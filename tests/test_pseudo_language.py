"""A third language by files alone: letters in a made-up one, written from the English files, hold no English
word but names, numbers, and what somebody of the clinic wrote."""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path

import pytest

from clinic.letters.document import Document, sentences
from clinic.letters.sheet import letter_html, mail_body
from clinic.letters.texts import END, LETTERS, OWN
from clinic.models import Owner
from exams.owner_texts import ROOM as EXAMS
from exams.owner_texts import english_of
from nutrition.factors import load
from nutrition.letter_texts import ROOM as NUTRITION
from preventive.letter import ROOM as PREVENTIVE
from tests import letters
from tests.exams.house import exam_here
from tests.exams.walkhelp import walk

pytestmark = pytest.mark.django_db
ROOMS = (LETTERS, EXAMS, NUTRITION, PREVENTIVE)
ACCENTS = str.maketrans("aeiouAEIOU", "àèìòùÀÈÌÒÙ")
PLAIN = re.compile(r"[^\W\d_]*[aeiouAEIOU][^\W\d_]*")


def pseudo(text: str) -> str:
    """Every vowel gets an accent, placeholders stay."""
    return "".join(
        part if part.startswith("{") else part.translate(ACCENTS) for part in re.split(r"(\{\w+\})", text)
    )


def translated(value: object) -> object:
    if isinstance(value, str):
        return pseudo(value)
    if isinstance(value, list):
        return [translated(each) for each in value]
    assert isinstance(value, Mapping)
    return {name: each if name == "kind" else translated(each) for name, each in value.items()}


def toml(data: Mapping[str, object], above: str = "") -> str:
    lines, below = [], []
    for name, value in data.items():
        if isinstance(value, Mapping) and "text" not in value:
            below.append(toml(value, f'{above}"{name}".'))
        else:
            said = value["text"] if isinstance(value, Mapping) else value
            lines.append(
                f'{above}"{name}" = {said!r}'
                if isinstance(said, list)
                else f'{above}"{name}" = {quoted(said)}'
            )
    return "\n".join([*lines, *below])


def quoted(text: object) -> str:
    return '"' + str(text).replace("\\", "\\\\").replace('"', '\\"') + '"'


def write(folder: Path, source: Path, more: Mapping[str, str]) -> None:
    """`xx.toml` beside a copy of the English file."""
    text = (source / "en.toml").read_text("utf-8")
    (folder / "en.toml").write_text(text, "utf-8")
    data = tomllib.loads(text)
    head = 'language = "xx"\nname = "Pseudo"\nplurals = "n != 1"\nreview = { by = "", on = "" }\n'
    own = {
        name: translated(value)
        for name, value in data.items()
        if isinstance(value, Mapping) and name != "review"
    }
    listed = [
        f"{'.'.join(quoted(p) for p in key.split('.', depth(key)))} = {quoted(pseudo(t))}"
        for key, t in more.items()
    ]
    (folder / "xx.toml").write_text("\n".join([head, toml(own), *listed]), "utf-8")


def depth(key: str) -> int:
    """Into how many tables a key of the walk goes; what follows may hold dots itself."""
    return 2 if key.startswith(("station.", "structure.", "grade.")) else 1


@pytest.fixture
def third_language(tmp_path, monkeypatch) -> str:
    more = {
        EXAMS: english_of(walk()),
        NUTRITION: {
            e.code: e.says
            for e in load().sentences
            if e.code.startswith("caution.") and e.code not in NUTRITION("en")
        },
    }
    for number, room in enumerate(ROOMS):
        folder = tmp_path / str(number) / "texts"
        folder.mkdir(parents=True)
        write(folder, room.folder, more.get(room, {}))
        monkeypatch.setattr(room, "folder", folder)
    return "xx"


def english_left(document: Document) -> list[str]:
    """Sentences with a word that was not translated."""
    left = []
    for each in sentences(document):
        text = re.sub(f"{OWN}[^{END}]*{END}", "", each.text)
        for name in NAMES:
            text = text.replace(name, "")
        if not each.lang and PLAIN.search(text):
            left.append(each.text)
    return left


NAMES = (
    *("Ludo", "Tansy", "Mirrel", "Dr", "Maren Oduya", "Tobias Falk", "Inés Varga", "Henrike Dovale"),
    *("kg", "lb", "mm", "kcal"),
)


def test_the_languages_offered_are_the_files(third_language) -> None:
    assert ("xx", "Pseudo") in LETTERS.languages()
    assert LETTERS.languages()[0] == ("en", "English")


@pytest.mark.parametrize("name", ["healthy", "sore_ear", "put_to_sleep"])
def test_a_letter_in_it_holds_no_english_but_names_and_own_words(third_language, name) -> None:
    case = getattr(letters, name)()
    Owner.objects.update(language=third_language)
    document = case.letter()
    assert document.language == third_language
    assert english_left(document) == []
    html = letter_html(document)
    assert '<html lang="xx"' in html
    for word in ("In short", "When to call", "at once", "Signed", "by day", "Seen by", "You came because"):
        assert word not in html
    assert "AT ONCE" not in mail_body(document)


def test_the_walk_in_it_holds_no_english(third_language) -> None:
    case = letters.weighed(letters.arrived("Ludo"), "30", 5)
    Owner.objects.update(language=third_language)
    tablet = exam_here(case.actor(), case.visit)
    for side in ("left", "right"):
        for part in ("pinna", "canal", "base", "odour"):
            tablet.tap(f"EAR.{part}|{side}", "set_normal")
    tablet.tap("EYE.lids|left", "set_abnormal", {"findings": [{"code": "EYE-16"}]})
    tablet.tap("EYE.cornea|left", "set_not_examined", {"reason": "would-not-allow"})
    walked = [
        line
        for section in case.letter().sections
        if section.name == "walk"
        for line in section.blocks[0].lines
    ]
    assert len(walked) >= 3
    assert english_left(case.letter()) == []
    assert any("Èàrs" in line.label.text for line in walked)
