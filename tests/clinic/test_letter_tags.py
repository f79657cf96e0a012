"""Our own reading of a letter's tags, beside the validator that others wrote: conditions of the Matterhorn
protocol (the failure conditions of ISO 14289-1) by their numbers, checked on the bytes with pypdf.

This is no second validator: it covers the conditions named here and no others.
"""

import io
import re
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream, DictionaryObject, IndirectObject

from clinic.letters.pdf import render
from clinic.models import Owner
from tests import letters

pytestmark = pytest.mark.django_db
PAINTS = {b"Tj", b"TJ", b"'", b'"', b"Do", b"f", b"f*", b"S", b"s", b"B", b"B*", b"b", b"b*", b"sh"}
LIST_OF = {"/Table": {"/THead", "/TBody", "/TFoot", "/TR", "/Caption"}, "/TR": {"/TH", "/TD"}}


@pytest.fixture(params=["en", "es"])
def language(request: pytest.FixtureRequest) -> str:
    return request.param


@cache
def content(language: str) -> bytes:
    case = letters.sore_ear()
    Owner.objects.update(language=language)
    return render(case.letter()).content


@pytest.fixture
def pdf(language: str) -> PdfReader:
    return PdfReader(io.BytesIO(content(language)))


def resolved(value: Any) -> Any:
    return value.get_object() if isinstance(value, IndirectObject) else value


def nodes(node: Any, above: str = "") -> Iterator[tuple[str, DictionaryObject]]:
    """Every structure element with the kind of the one above it, in reading order."""
    node = resolved(node)
    if isinstance(node, list):
        for each in node:
            yield from nodes(each, above)
    elif isinstance(node, DictionaryObject):
        if "/S" in node:
            yield above, node
        if "/K" in node:
            yield from nodes(node["/K"], str(node.get("/S", above)))


def painted(page: Any, pdf: PdfReader) -> Iterator[tuple[bytes, tuple[str, ...], set[int], Any]]:
    """What is painted: operator, marks around it, their numbers, and the innermost mark's properties."""
    marks: list[tuple[str, Any]] = []
    for operands, operator in ContentStream(page.get_contents(), pdf).operations:
        if operator in (b"BMC", b"BDC"):
            marks.append((str(operands[0]), operands[1] if len(operands) > 1 else {}))
        elif operator == b"EMC":
            marks.pop()
        elif operator in PAINTS:
            numbers = {int(p["/MCID"]) for _tag, p in marks if "/MCID" in p}
            yield operator, tuple(tag for tag, _p in marks), numbers, marks[-1][1] if marks else {}


def in_tree(pdf: PdfReader) -> set[tuple[int, int]]:
    """Page and number of all marked content that the structure tree holds."""
    held = set()
    for at, page in enumerate(pdf.pages):
        for _above, node in nodes(pdf.trailer["/Root"]["/StructTreeRoot"]["/K"]):
            kids = resolved(node.get("/K", []))
            for kid in kids if isinstance(kids, list) else [kids]:
                kid = resolved(kid)
                if isinstance(kid, DictionaryObject) and "/MCID" in kid:
                    own = kid.get("/Pg", node.get("/Pg"))
                    if resolved(own) == page.get_object():
                        held.add((at, int(kid["/MCID"])))
                elif isinstance(kid, int) and resolved(node.get("/Pg")) == page.get_object():
                    held.add((at, int(kid)))
    return held


def test_01_005_all_content_is_an_artifact_or_has_its_place_in_the_tree(pdf):
    held, seen = in_tree(pdf), 0
    for at, page in enumerate(pdf.pages):
        for operator, tags, numbers, _properties in painted(page, pdf):
            seen += 1
            if "/Artifact" in tags:
                assert not numbers, (
                    "01-003, 01-004: an artifact inside tagged content, or the other way round"
                )
            else:
                assert len(numbers) == 1, (operator, tags)
                assert (at, numbers.pop()) in held, (at, operator, tags)
    assert seen > 100


def test_18_001_the_foot_of_each_page_is_a_pagination_artifact(pdf):
    for page in pdf.pages:
        feet = [
            p
            for _o, tags, _n, p in painted(page, pdf)
            if tags[-1:] == ("/Artifact",) and p.get("/Type") == "/Pagination"
        ]
        assert len(feet) >= 2  # the clinic, and patient, day and page
        assert {p["/Subtype"] for p in feet} == {"/Footer"}


def test_14_002_and_14_003_headings_begin_with_the_first_level_and_leave_none_out(pdf):
    levels = [
        int(k[2:])
        for _a, n in nodes(pdf.trailer["/Root"]["/StructTreeRoot"]["/K"])
        if re.fullmatch(r"/H\d", k := str(n["/S"]))
    ]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert len(levels) > 5


def test_15_003_every_header_cell_says_of_what(pdf):
    heads = [n for _a, n in nodes(pdf.trailer["/Root"]["/StructTreeRoot"]["/K"]) if n["/S"] == "/TH"]
    assert heads
    assert {str(n["/A"]["/Scope"]) for n in heads} == {"/Column", "/Row"}


def test_09_004_tables_hold_rows_and_rows_cells(pdf):
    found = [(above, str(n["/S"])) for above, n in nodes(pdf.trailer["/Root"]["/StructTreeRoot"]["/K"])]
    assert {below for above, below in found if above == "/TR"} == LIST_OF["/TR"]
    assert {below for above, below in found if above == "/Table"} <= LIST_OF["/Table"]
    assert {above for above, below in found if below in LIST_OF["/TR"]} == {"/TR"}


def test_13_004_every_figure_has_words(pdf):
    figures = [n for _a, n in nodes(pdf.trailer["/Root"]["/StructTreeRoot"]["/K"]) if n["/S"] == "/Figure"]
    assert figures
    assert all(len(str(n.get("/Alt", "")).split()) > 1 for n in figures)


def test_31_009_and_10_001_fonts_are_inside_and_every_sign_has_its_letter(pdf):
    fonts = {id(f.get_object()): f.get_object() for p in pdf.pages for f in p["/Resources"]["/Font"].values()}
    assert len(fonts) >= 2
    for font in fonts.values():
        assert len(font["/ToUnicode"].get_data()) > 100
        for below in font["/DescendantFonts"]:
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(below.get_object()["/FontDescriptor"])


def test_06_and_07_and_11_title_shown_language_named_not_suspect(pdf, language):
    root = pdf.trailer["/Root"]
    assert root["/Lang"] == language
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert str(pdf.metadata.title).strip()
    assert not root["/MarkInfo"].get("/Suspects", False)
    assert all(str(page.get("/Tabs", "/S")) == "/S" for page in pdf.pages)
