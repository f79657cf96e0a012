"""What exceeds one sheet goes to an annex, where only what was normal may go. Hostile words everywhere."""

import io
import re
from dataclasses import fields, replace

import pytest
from pypdf import PdfReader

from clinic.letters.document import (
    Document,
    Line,
    Mark,
    Section,
    Sentence,
    Text,
    Walk,
    from_json,
    map_sentences,
    sentences,
    to_json,
)
from clinic.letters.pdf import SHEET, Rendered, render, render_html
from clinic.letters.sheet import letter_html, with_annex
from tests import letters

pytestmark = pytest.mark.django_db
OTHERS = [mark for mark in Mark if mark not in (Mark.NONE, Mark.NORMAL)]


def line(number: int, mark: Mark) -> Line:
    words = f"Place {number} {mark.value or 'plain'}: " + "we looked at all of it with care. " * 3
    return Line(Sentence(f"walk:{number}:{mark}", words, "the exam", strong=True), (), mark)


def long_letter(normal: int, others: int, told: Document | None = None) -> Document:
    """A letter whose walk has many lines."""
    told = told or letters.sore_ear().letter()
    lines = [line(n, Mark.NORMAL) for n in range(normal)]
    lines += [line(n, OTHERS[n % len(OTHERS)]) for n in range(others)]
    walk = Section("walk", "Nose to tail", 30, (Walk(tuple(lines)),))
    sections = tuple(sorted((*told.sections, walk), key=lambda each: each.order))
    return replace(told, sections=sections)


def text(made: Rendered) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(made.content)).pages]


def test_a_long_letter_keeps_one_sheet_and_its_normal_lines_follow() -> None:
    made = render(long_letter(normal=28, others=4))
    assert made.annex_on == SHEET + 1
    first, second, *rest = text(made)
    annex = " ".join(rest)
    assert "Place 3 normal" in annex
    assert " normal:" not in first + second
    assert "Signed" in second
    assert "stand on the last page" in second
    for number in range(4):
        assert f"Place {number} {OTHERS[number].value}" in first + second


def sizes(made: Rendered) -> set[float]:
    """The sizes of type in it."""
    found: set[float] = set()

    def note(words: str, _cm: object, tm: list[float], _font: object, size: float) -> None:
        if words.strip():
            found.add(round(size * abs(tm[3]), 1))

    for page in PdfReader(io.BytesIO(made.content)).pages:
        page.extract_text(visitor_text=note)
    return found


@pytest.mark.parametrize(("normal", "others"), [(6, 3), (3, 7), (12, 5), (20, 5)])
def test_a_long_visit_is_one_sheet_and_an_annex_at_most(normal: int, others: int) -> None:
    """Medicine, tests, a refusal, an appointment, and up to seven findings of two lines each."""
    told = long_letter(normal=normal, others=others)
    made = render(told)
    assert made.pages <= SHEET or made.annex_on == SHEET + 1
    sheet = " ".join(text(made)[:SHEET])
    for number in range(others):
        assert f"Place {number} {OTHERS[number % len(OTHERS)].value}" in sheet
    for each in sentences(replace(told, sections=tuple(s for s in told.sections if s.name != "walk"))):
        assert "".join(each.text.split()) in "".join(sheet.split()), each.key


def test_closer_lines_are_tried_before_an_annex_and_are_no_smaller() -> None:
    own = letters.sore_ear().letter()
    told = next(
        each
        for n in (16, 18, 20, 22)
        if render_html(letter_html(each := long_letter(n, 3, own)), paper=own.paper).pages > SHEET
    )
    made = render(told)
    assert (made.pages, made.annex_on) == (SHEET, 0)
    roomy = render_html(letter_html(told), paper=told.paper)
    assert sizes(made) == sizes(roomy)


def test_nothing_but_what_was_normal_ever_goes_there() -> None:
    before = long_letter(normal=30, others=30)
    told = with_annex(before)
    assert {each.mark for block in told.annex for each in block.lines} == {Mark.NORMAL}
    stayed = [
        each for s in told.sections for block in s.blocks if isinstance(block, Walk) for each in block.lines
    ]
    assert Mark.NORMAL not in {each.mark for each in stayed if each.label.key.startswith("walk:")}
    assert [s.name for s in told.sections] == [s.name for s in before.sections]
    assert len(stayed) + 30 == sum(
        len(b.lines) for s in before.sections for b in s.blocks if isinstance(b, Walk)
    )


def test_where_an_annex_would_not_bring_it_to_one_sheet_everything_stays_in_its_order() -> None:
    made = render(long_letter(normal=4, others=36))
    assert made.annex_on == 0
    whole = " ".join(text(made))
    assert whole.index("Place 3 normal") < whole.index("Place 4 ") < whole.index("Signed")


def test_a_letter_that_fits_has_no_annex_and_none_is_kept() -> None:
    told = long_letter(normal=3, others=2)
    assert render(told).annex_on == 0
    assert "annex" not in to_json(with_annex(told))
    assert from_json(to_json(told)).annex == ()


HOSTILE = {
    "markup": '<script>alert(1)</script> & "quoted" {{ x }} {% y %} {pet}',
    "turned": "שלום right to left \u202eturned over\u202c end",
    "marks": "\u2068an isolate\u2069 and \u2067another",
    "emoji": "🐾 paw and 🐶 dog",
    "unbroken": "unbroken" * 12,
}
TEN_THOUSAND = {
    "unbroken": "unbroken" * 1250,
    "words": ("many words of an owner who has much to tell us " * 220)[:10_000],
}


def hostile_everywhere(told: Document, words: str) -> Document:
    """Every sentence and every text of the letterhead ends with these words."""
    told = map_sentences(
        told, lambda each: replace(each, text=f"{each.text} {words}", term=each.term and words)
    )
    texts = {
        f.name: f"{getattr(told.head, f.name)} {words}" for f in fields(told.head) if f.type in (str, "str")
    }
    return replace(told, head=replace(told.head, **texts))


@pytest.mark.parametrize("words", HOSTILE.values(), ids=HOSTILE)
def test_hostile_words_in_every_field_are_text_and_nothing_is_cut(words: str) -> None:
    short = words[:150]
    told = hostile_everywhere(letters.sore_ear().letter(), short)
    made = render_html(letter_html(told), paper=told.paper)  # how it is set to keep a sheet is shown above
    read = "".join("".join(text(made)).split())
    plain = "".join(c for c in "".join(short.split()) if c.isascii() and c.isalnum())
    count = len(list(sentences(told))) + 5
    assert count > 30
    for letter in set(plain):
        assert read.count(letter) >= plain.count(letter) * count * 0.98, letter
    if "script" in words:
        assert "<script>alert(1)</script>" in read.replace("\u200b", "")
    assert made.pages < 60


@pytest.mark.parametrize("words", TEN_THOUSAND.values(), ids=TEN_THOUSAND)
def test_ten_thousand_letters_in_one_field_are_all_laid_out(words: str) -> None:
    told = letters.sore_ear().letter()
    section = Section("to-do", "To do", 25, (Text((Sentence("to-do:x", words, "the plan"),)),))
    told = replace(told, sections=(*told.sections, section))
    made = render_html(letter_html(told, close_set=True), paper=told.paper)
    read = "".join("".join(text(made)).split())
    for letter in set(re.sub(r"\s", "", words)):
        assert read.count(letter) >= words.count(letter)
