"""Page breaks: each letter is pushed down step by step, over both papers and both sizes, and every text box
is compared. No row is split, no heading left behind, nothing overlaps, nothing lies outside the page."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest
from weasyprint import CSS, HTML
from weasyprint.formatting_structure import boxes

from clinic.letters import pdf
from clinic.letters.document import Document
from clinic.letters.sheet import letter_html
from clinic.models import Owner
from tests import letters
from tests.exams.test_photos import jpeg
from tests.owners import with_photographs

pytestmark = pytest.mark.django_db
PAGE_PT = 780
WHOLE = (
    "tr",
    "figure",
    "li",
)  # one of them is never on two pages; a list item longer than a few lines may be
LONG_ITEM_PT = 110
LINES_TOUCH = 0.25  # part of a line by which the boxes of neighbouring lines touch, with no letter in it
SLACK = 0.7  # CSS pixels: rounding, and the halo of a letter
# of lines set closer the letters' boxes reach farther over their line; the page foot stands 4 pt lower
CLOSE_SLACK = 1.6


def document(name: str, language: str = "en") -> Document:
    case = getattr(letters, name)()
    Owner.objects.update(language=language)
    return case.letter()


def laid_out(document: Document, down_pt: float, **how: bool) -> Any:
    html = letter_html(document, **how).replace("<main>", f'<main><div style="height: {down_pt}pt"></div>', 1)
    sheets = [pdf._SHEET, pdf._PAPER[document.paper], CSS(string="@page { }")]
    made = HTML(string=html, base_url=pdf._BASE, url_fetcher=pdf._FETCH)
    return made.render(stylesheets=sheets, font_config=pdf._FONTS)


def below(box: Any) -> Iterator[Any]:
    """Every box below, those placed absolutely too (headings hang in the margin)."""
    for child in getattr(box, "children", ()):
        told = getattr(child, "_box", child)
        yield told
        yield from below(told)


def texts_of(page: Any) -> list[tuple[float, float, float, float, str]]:
    """left, top, right, bottom and the text of every text box in the page's body."""
    found = []
    for box in below(page._page_box):
        if isinstance(box, boxes.TextBox) and box.text.strip() and not in_margin(box, page):
            left, top = box.position_x, box.position_y
            found.append((left, top, left + box.width, top + box.height, box.text))
    return found


def in_margin(box: Any, page: Any) -> bool:
    content = page._page_box
    return box.position_y > content.position_y + content.margin_top + content.height


def faults(made: Any, slack: float = SLACK) -> list[str]:
    found: list[str] = []
    where: dict[Any, set[int]] = {}
    heights: dict[Any, float] = {}
    for number, page in enumerate(made.pages):
        content = page._page_box
        right = content.margin_left + content.width
        bottom = content.margin_top + content.height
        told = texts_of(page)
        for left, top, end, low, text in told:
            if left < content.margin_left - SLACK or end > right + SLACK or top < 0 or low > bottom + slack:
                found.append(f"page {number + 1}: outside the page: {text!r}")
        for one, two in combinations(told, 2):
            wide = min(one[2], two[2]) - max(one[0], two[0])
            high = min(one[3], two[3]) - max(one[1], two[1])
            if wide > SLACK and high > LINES_TOUCH * min(one[3] - one[1], two[3] - two[1]):
                found.append(f"page {number + 1}: over one another: {one[4]!r} and {two[4]!r}")
        for box in below(content):
            if box.element is not None and box.element_tag in WHOLE and box.height:
                where.setdefault(box.element, set()).add(number)
                heights[box.element] = heights.get(box.element, 0.0) + box.height
    for element, pages in where.items():
        if len(pages) > 1 and heights[element] * 0.75 < LONG_ITEM_PT:
            found.append(f"split: <{element.tag}> {''.join(element.itertext())[:60]!r}")
    found += lost_headings(made)
    return found


def lost_headings(made: Any) -> list[str]:
    """A heading whose section says nothing on the same page."""
    lost = []
    for number, page in enumerate(made.pages):
        for section in below(page._page_box):
            if section.element is None or section.element_tag != "section":
                continue
            told = [b for b in below(section) if isinstance(b, boxes.TextBox) and b.text.strip()]
            heads = [b for b in told if b.element_tag == "h2"]
            if heads and len(heads) == len(told):
                lost.append(f"page {number + 1}: lost heading {heads[0].text!r}")
    return lost


def empty_first_page(made: Any, down_pt: float, *, large: bool = False) -> list[str]:
    """A letter that goes on, with nothing in the lower half of its first page. `down_pt`: how far it was
    pushed; what does not fit below that may well stand on the next. In large print one picture takes a third
    of a page: there the first third must hold something, and only a letter hardly pushed is asked."""
    page = made.pages[0]._page_box
    lowest = max((low for *_, low, _text in texts_of(made.pages[0])), default=0)
    room = PAGE_PT * (0.2 if large else 0.6)
    least = page.margin_height() / (3 if large else 2)
    goes_on = len(made.pages) > 1
    return ["the first page is nearly empty"] if goes_on and down_pt < room and lowest < least else []


def swept(document: Document, steps: range, large: bool, **how: bool) -> list[str]:
    found = []
    for paper in ("A4", "letter"):
        for down in steps:
            made = laid_out(replace(document, paper=paper, large_print=large), down, **how)
            slack = CLOSE_SLACK if how else SLACK
            told = [*faults(made, slack), *empty_first_page(made, down, large=large)]
            found += [f"{paper}, {'large' if large else '12 pt'}, {down} pt: {each}" for each in told]
    return found


@pytest.mark.parametrize("large", [False, True], ids=["12pt", "large"])
def test_a_letter_that_is_pushed_down_loses_and_splits_nothing(large) -> None:
    assert swept(document("sore_ear"), range(0, PAGE_PT, 260), large) == []


@pytest.mark.long
@pytest.mark.parametrize("large", [False, True], ids=["12pt", "large"])
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", ["healthy", "sore_ear", "put_to_sleep"])
def test_no_step_of_any_letter_loses_or_splits_anything(name, language, large) -> None:
    assert swept(document(name, language), range(0, PAGE_PT, 13), large) == []


@pytest.mark.long
def test_no_step_of_a_letter_set_closer_does_either() -> None:
    assert swept(document("sore_ear"), range(0, PAGE_PT, 13), large=False, close_set=True) == []


def test_a_section_that_ends_just_at_the_foot_takes_nothing_along() -> None:
    """Each alone before what follows, pushed so far that only its lower edge would run over the foot."""
    told = document("sore_ear")
    sections = with_photographs(told, jpeg())
    found = []
    for each in sections:
        after = tuple(other for other in sections if other is not each)
        alone = replace(told, sections=(each, *after[:2]))
        page = laid_out(alone, 0, close_set=True).pages[0]._page_box
        named = [b for b in below(page) if b.element is not None and b.element_tag == "section"]
        (box,) = [b for b in named if f"part-{each.name}" in b.element.get("class", "")]
        to_foot = (page.margin_top + page.height - box.position_y - box.margin_height()) * 0.75
        for down in (to_foot - 1, to_foot + 1, to_foot + 3):
            made = laid_out(alone, down, close_set=True)
            now = [*faults(made, CLOSE_SLACK), *empty_first_page(made, min(down, 1))]
            found += [f"{each.name}, {down:.1f} pt: {fault}" for fault in now]
    assert found == []


def test_an_empty_first_page_would_be_seen() -> None:
    """What a least height does that runs over the foot: the renderer moves all before it on as well."""
    html = letter_html(document("sore_ear"))
    sheets = [pdf._SHEET, CSS(string="section.tall { min-height: 600pt }")]
    broken = HTML(string=html, base_url=pdf._BASE, url_fetcher=pdf._FETCH)
    assert empty_first_page(broken.render(stylesheets=sheets, font_config=pdf._FONTS), 0)


def test_a_split_row_and_a_lost_heading_would_be_seen() -> None:
    css = CSS(string="tr, li { height: 60pt } .facts, section { break-inside: auto !important }")
    told = document("sore_ear")
    html = letter_html(told).replace("<main>", '<main><div style="height: 300pt"></div>', 1)
    html += "<section><h2>Alone</h2></section>"
    broken = HTML(string=html, base_url=pdf._BASE, url_fetcher=pdf._FETCH)
    made = broken.render(stylesheets=[pdf._SHEET, css], font_config=pdf._FONTS)
    assert any("lost heading 'Alone'" in each for each in faults(made))
