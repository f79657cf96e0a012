"""Letters, and what else goes on paper, as PDF/UA-1.

Only the letter worker imports this: WeasyPrint is heavy and likes to stay warm.
"""

import io
import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

import pydyf
from weasyprint import CSS, HTML
from weasyprint.document import Document as WeasyDocument
from weasyprint.formatting_structure import boxes
from weasyprint.pdf import tags
from weasyprint.pdf.stream import Stream
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from clinic.letters.document import Document
from clinic.letters.sheet import FOLDER, letter_html, turns
from clinic.platform.files import read

# a photograph of 8 cm stays under 100 kB, and a magnifying glass still finds something in it
PHOTO_DPI, PHOTO_QUALITY = 220, 80
_SHA256 = re.compile(r"[0-9a-f]{64}")
SHEET = 2  # pages: both sides of one sheet at 12 point, clear print's minimum
FEW_LINES = 0.34  # of a page
ANNEX = "annex"
PAPERS = {"A4": "A4", "letter": "Letter"}


class UnfitForPaper(Exception):
    """The renderer complained (a picture without text, a file it may not read): such a letter is not sent."""


@dataclass(frozen=True)
class Rendered:
    content: bytes
    pages: int
    annex_on: int = 0  # the page on which the annex begins; 0: there is none
    last_filled: float = 1  # how much of the last page's height is used
    least_filled: float = 1  # and of the emptiest page's


class OwnFilesOnly(URLFetcher):  # type: ignore[misc]
    """Serves the sheet's own folder, data: addresses and kept photographs, and nothing else from anywhere."""

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
        parts = urlsplit(url)
        if parts.scheme == "photo" and _SHA256.fullmatch(parts.path):
            content = read(f"{parts.path[:2]}/{parts.path}.jpg")
            return URLFetcherResponse(url, content, {"Content-Type": "image/jpeg"})
        if parts.scheme == "data" or (parts.scheme == "file" and parts.path.startswith(str(FOLDER))):
            return super().fetch(url, headers)
        raise UnfitForPaper(f"a letter does not fetch {url[:80]}")


# One font configuration and one parsed sheet a process: parsing costs more than rendering.
_FONTS = FontConfiguration()
_FETCH = OwnFilesOnly()
_BASE = f"{FOLDER.as_uri()}/"
_SHEET = CSS(filename=str(FOLDER / "letter.css"), font_config=_FONTS, url_fetcher=_FETCH)
_PAPER = {name: CSS(string=f"@page {{ size: {size} }}", font_config=_FONTS) for name, size in PAPERS.items()}


SCOPES = {"col": "/Column", "row": "/Row"}


def _tag_further() -> None:
    """What the renderer leaves out of the structure tree of ISO 14289-1:

    - 7.2: a `lang` attribute below the root, so that a screen reader changes its voice;
    - 7.5: of what a table's header is one, also where no cell names it (over the rows' own headers);
    - 7.8: the page foot is an artifact of the page; the renderer marks it as content of no place in the tree.
    """
    build, mark = tags._build_box_tree, Stream.marked

    def with_more(box: Any, *more: Any) -> Iterator[Any]:
        if isinstance(box, boxes.MarginBox):
            return
        element = getattr(getattr(box, "_box", box), "element", None)
        language = element.get("lang") if element is not None and element.tag != "html" else None
        scope = SCOPES.get(element.get("scope", "")) if element is not None else None
        for made in build(box, *more):
            if language:
                made["Lang"] = pydyf.String(language)
            if scope and made["S"] == "/TH":
                made["A"]["Scope"] = scope
            yield made

    @contextmanager
    def marked(self: Stream, box: Any, tag: Any) -> Iterator[None]:
        if not getattr(box, "is_foot", False):
            with mark(self, box, tag):
                yield
            return
        self.begin_marked_content("Artifact", pydyf.Dictionary({"Type": "/Pagination", "Subtype": "/Footer"}))
        try:
            yield
        finally:
            self.end_marked_content()

    tags._build_box_tree, Stream.marked = with_more, marked


def _name_feet(laid_out: WeasyDocument) -> None:
    for each in laid_out.pages:
        for box in each._page_box.children:
            if isinstance(box, boxes.MarginBox):
                for below in box.descendants():
                    below.is_foot = True


_tag_further()


class _Complaints(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(record.getMessage())


def render(document: Document) -> Rendered:
    """A letter: one sheet, where closer lines, or its normal lines in an annex, make that possible; and one
    side, where a few lines alone would stand on the other. Where neither helps against a few lines alone, the
    page is turned earlier, so that they have company.

    What neither brings to one sheet stays in its order. Raises UnfitForPaper.
    """
    made = render_html(letter_html(document), paper=document.paper)
    few = made.pages > 1 and made.last_filled < FEW_LINES
    if document.large_print or made.pages < SHEET:
        return _turned(made, document) if few else made
    if made.pages == SHEET and not few:
        return made
    kept = render_html(letter_html(document, close_set=True, kept=True), paper=document.paper)
    if made.pages == SHEET:
        return kept if kept.pages < SHEET else _turned(made, document)
    if kept.pages <= SHEET:
        return kept
    closer = render_html(letter_html(document, close_set=True), paper=document.paper)
    if closer.pages <= SHEET:
        return closer
    apart = letter_html(document, close_set=True, annexed=True)
    if f'id="{ANNEX}"' not in apart:
        return closer
    annexed = render_html(apart, paper=document.paper)
    if annexed.annex_on != SHEET + 1:
        return closer
    # a third page either way: rather one in its order and with room than a few lines alone
    in_order = made.pages == annexed.pages and annexed.last_filled < FEW_LINES <= made.last_filled
    return made if in_order else annexed


def _turned(made: Rendered, document: Document) -> Rendered:
    """The same number of pages, more on the emptiest of them: as little more as is enough, else the most. An
    earlier page is not emptied for the last."""
    fullest = made
    for name in turns(document):
        turned = render_html(letter_html(document, turn=name), paper=document.paper)
        if turned.pages == made.pages and turned.least_filled > fullest.least_filled:
            fullest = turned
        if fullest.least_filled >= FEW_LINES:
            break
    return fullest


def render_html(content: str, *, paper: str) -> Rendered:
    """The tagged PDF's bytes and its number of pages; `paper` as in PAPERS. Raises UnfitForPaper."""
    complaints = _Complaints()
    logger = logging.getLogger("weasyprint")
    logger.addHandler(complaints)
    try:
        html = HTML(string=content, base_url=_BASE, url_fetcher=_FETCH)
        sheets = [_SHEET, _PAPER[paper]]
        laid_out = html.render(stylesheets=sheets, font_config=_FONTS, pdf_tags=True)
        _name_feet(laid_out)
        target = io.BytesIO()
        laid_out.write_pdf(
            target,
            pdf_variant="pdf/ua-1",
            pdf_tags=True,
            optimize_images=True,
            dpi=PHOTO_DPI,
            jpeg_quality=PHOTO_QUALITY,
        )
    finally:
        logger.removeHandler(complaints)
    if complaints.lines:
        raise UnfitForPaper("; ".join(complaints.lines))
    annex_on = next((n for n, each in enumerate(laid_out.pages, 1) if ANNEX in each.anchors), 0)
    filled = [_filled(each._page_box) for each in laid_out.pages]
    return Rendered(target.getvalue(), len(filled), annex_on, filled[-1], min(filled))


def _filled(page: Any) -> float:
    """How far down its last line stands, of the height; the foot does not count."""
    lines = (
        each
        for each in page.descendants()
        if isinstance(each, boxes.LineBox) and not getattr(each, "is_foot", False)
    )
    return float(max((each.position_y + each.height for each in lines), default=0) / page.margin_height())


def warm() -> None:
    """Lay out one line, so that fonts are loaded before the first letter."""
    HTML(string='<html lang="en"><title>warm</title><p>Ready</p>').render(
        stylesheets=[_SHEET], font_config=_FONTS
    )
