"""The letter on paper: tagged, titled, its fonts inside, on one sheet for a usual visit, nothing ever cut."""

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader, PdfWriter
from pypdf.generic import DictionaryObject, IndirectObject, NameObject

from clinic.letters.document import Document, Line, Mark, Section, Sentence, Walk
from clinic.letters.pdf import FEW_LINES, Rendered, UnfitForPaper, render, render_html
from clinic.letters.sheet import letter_html
from clinic.models import Owner, Visit
from clinic.templatetags.letters import together
from tests import letters
from tests.accessible import by_pdfua, faults

pytestmark = pytest.mark.django_db
SITUATIONS = ("healthy", "sore_ear", "put_to_sleep")
MOST_BYTES = 150_000
A_CELL = {NameObject("/S"): NameObject("/TD")}
HOSTILE = (
    "<script>alert(1)</script> & \"quoted\" 'single'",
    "שלום — right to left, \u202eturned over\u202c",
    "🐾 paw and 🐶 dog",
    "unbroken" * 1250,
    "many words of an owner who has much to tell us " * 210,
)


@cache
def document(name: str, language: str = "en") -> Document:
    case = getattr(letters, name)()
    Owner.objects.update(language=language)
    return case.letter()


@cache
def printed(name: str, language: str = "en", *, paper: str = "A4", large: bool = False) -> Rendered:
    """One of the usual letters, laid out once for all that is asked of it."""
    return render(replace(document(name, language), paper=paper, large_print=large))


def pieces(root: DictionaryObject) -> Iterator[DictionaryObject]:
    return elements(root["/StructTreeRoot"]["/K"])


def reader(rendered: Rendered) -> PdfReader:
    return PdfReader(io.BytesIO(rendered.content))


def text(rendered: Rendered) -> str:
    return " ".join(" ".join(each.extract_text() for each in reader(rendered).pages).split())


def resolved(value: Any) -> Any:
    return value.get_object() if isinstance(value, IndirectObject) else value


def elements(node: Any) -> Iterator[DictionaryObject]:
    """Every structure element below `node`, in reading order."""
    node = resolved(node)
    if isinstance(node, list):
        for each in node:
            yield from elements(each)
    elif isinstance(node, DictionaryObject):
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from elements(node["/K"])


@pytest.mark.parametrize("large", [False, True], ids=["12pt", "large"])
@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("name", SITUATIONS)
def test_it_is_pdf_ua_1_by_a_validator_that_we_did_not_write(name, paper, large):
    made = printed(name, paper=paper, large=large)
    assert faults(made.content) == []


@pytest.mark.parametrize("name", SITUATIONS)
def test_in_spanish_it_is_pdf_ua_1_too(name):
    made = printed(name, "es")
    assert faults(made.content) == []


@pytest.mark.parametrize(
    ("rule", "spoil"),
    [
        ("UA-06-001", lambda root: root.pop("/Lang")),
        ("UA-01-005", lambda root: root.pop("/StructTreeRoot")),
        ("UA-13-004", lambda root: [each.pop("/Alt", None) for each in pieces(root)]),
        ("UA-15-003", lambda root: [each.update(A_CELL) for each in pieces(root) if each["/S"] == "/TH"]),
    ],
)
def test_the_second_of_them_finds_what_is_wrong_too(rule, spoil):
    pdf = PdfWriter(clone_from=io.BytesIO(printed("sore_ear").content))
    spoil(pdf.root_object)
    spoiled = io.BytesIO()
    pdf.write(spoiled)
    assert rule in {found for found, _message in by_pdfua(spoiled.getvalue())}


def test_what_stands_in_english_in_a_spanish_letter_is_marked_as_english():
    """ISO 14289-1, 7.2: a change of language is declared where it happens."""
    root = reader(printed("sore_ear", "es")).trailer["/Root"]
    assert root["/Lang"] == "es"
    marked = [each for each in elements(root["/StructTreeRoot"]["/K"]) if "/Lang" in each]
    assert {str(each["/Lang"]) for each in marked} == {"en"}
    assert len(marked) > 20  # the clinician's own words, and what goes out in both


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", SITUATIONS)
def test_its_structure_read_by_pypdf_is_that_of_an_accessible_document(name, language):
    """ISO 14289-1: 7.1 tagged and titled, 7.2 language, 7.3 figures with text, 7.5 tables with headers."""
    made = printed(name, language)
    pdf = reader(made)
    root = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"].value is True
    assert root["/Lang"] == language
    assert bool(root["/ViewerPreferences"]["/DisplayDocTitle"])
    assert {"en": "’s visit", "es": "La visita de "}[language] in pdf.metadata.title
    assert re.search(r"pdfuaid:part(>|=.)1", root["/Metadata"].get_data().decode())
    found = list(elements(root["/StructTreeRoot"]["/K"]))
    kinds = [str(each["/S"]) for each in found]
    assert kinds.count("/H1") == 1
    assert kinds.index("/H1") < kinds.index("/H2")
    figures = [each for each in found if each["/S"] == "/Figure"]
    assert figures
    assert all(str(each.get("/Alt", "")).strip() for each in figures)
    heads = {each["/ID"] for each in found if each["/S"] == "/TH"}
    cells = [each for each in found if each["/S"] == "/TD"]
    assert all(each["/A"]["/Headers"] and set(each["/A"]["/Headers"]) <= heads for each in cells)
    assert all("/StructParents" in each for each in pdf.pages)


def test_every_font_is_inside_the_file():
    for each in reader(printed("sore_ear")).pages:
        for font in each["/Resources"]["/Font"].values():
            for below in font.get_object().get("/DescendantFonts", [font]):
                descriptor = below.get_object()["/FontDescriptor"]
                assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor)


@pytest.mark.parametrize("name", SITUATIONS)
def test_it_is_small_enough_for_any_mailbox(name):
    assert len(printed(name).content) < MOST_BYTES


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("name", SITUATIONS)
def test_a_usual_visit_is_one_sheet_on_both_papers(name, paper, language):
    assert printed(name, language, paper=paper).pages <= 2


@pytest.mark.parametrize(("paper", "points"), [("A4", (595, 842)), ("letter", (612, 792))])
def test_the_paper_is_the_clinic_s(paper, points):
    box = reader(printed("healthy", paper=paper)).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == points


def longer(told: Document, lines: int) -> Document:
    """With so many lines of a walk."""
    walked = tuple(
        Line(Sentence(f"w{n}", f"Place {n}: normal.", "the exam"), (), Mark.NORMAL) for n in range(lines)
    )
    return replace(told, sections=(Section("walk", "Nose to tail", 30, (Walk(walked),)), *told.sections))


def test_a_few_lines_alone_do_not_begin_the_other_side():
    told = document("healthy")
    few = most = many = 0
    for lines in range(2, 34, 2):
        made = render_html(letter_html(longer(told, lines)), paper="letter")
        if made.pages == 2 and made.last_filled < FEW_LINES:
            few, most = few or lines, lines
        elif made.pages == 2 and made.last_filled > FEW_LINES:
            many = lines
            break
    assert few
    assert many
    assert render(replace(longer(told, few), paper="letter")).pages == 1
    assert render(replace(longer(told, many), paper="letter")).pages == 2
    turned = render(
        replace(longer(told, most), paper="letter")
    )  # too long for one side: the page is turned earlier
    assert (turned.pages, turned.least_filled >= FEW_LINES) == (2, True)


def test_no_earlier_page_is_emptied_for_the_last():
    told = document("healthy")
    for lines in range(2, 20, 3):
        long = replace(longer(told, lines), large_print=True)
        made = render_html(letter_html(long), paper=long.paper)
        assert render(long).least_filled >= made.least_filled, lines


def test_large_print_is_larger_and_takes_more_pages():
    assert printed("sore_ear", large=True).pages > printed("sore_ear").pages


def test_a_section_of_one_line_leaves_the_next_to_its_own_page():
    """A page is filled before the next begins, and the signature does not stand alone on the last one."""
    made = printed("sore_ear", large=True)
    _first, second, last = (each.extract_text() for each in reader(made).pages)
    assert "Keep water out of the ear." in " ".join(second.split())
    assert "Body condition 7 of 9" in " ".join(second.split())
    assert "Signed" in last
    assert "Wellness exam" in last


@pytest.mark.parametrize("kept", ["22 × 17 mm", "31 × 24 × 9 mm", "19 Jul 2026", "9 December 2026", "2.5 kg"])
def test_a_size_and_a_date_are_not_broken_over_two_lines(kept):
    assert together(f"before {kept}, then", "en") == f'before <span class="keep">{kept}</span>, then'


def test_the_foot_of_each_page_has_patient_day_and_page_of_pages():
    made = printed("sore_ear")
    for number, each in enumerate(reader(made).pages, start=1):
        assert f"Ludo, 11 March 2026, page {number} of {made.pages}" in " ".join(each.extract_text().split())


@pytest.mark.parametrize("words", HOSTILE, ids=["markup", "turned", "emoji", "unbroken", "long"])
def test_hostile_words_are_laid_out_and_nothing_is_cut(words):
    case = letters.weighed(letters.arrived("Ludo"), "30", 5)
    Visit.objects.filter(pk=case.visit.pk).update(owners_words=words)
    case.visit.refresh_from_db()
    made = render(case.letter())
    read = "".join(text(made).split())
    letters_of = "".join(each for each in "".join(words.split()) if each.isascii())
    assert sum(read.count(each) >= letters_of.count(each) for each in set(letters_of)) == len(set(letters_of))
    assert "Signed" in text(made)


def test_a_letter_fetches_nothing_from_anywhere(monkeypatch):
    made = document("healthy")
    monkeypatch.setattr(
        "clinic.letters.pdf.letter_html",
        lambda _: '<html lang="en"><title>t</title><img alt="x" src="http://127.0.0.1:9/x.png"></html>',
    )
    with pytest.raises(UnfitForPaper):
        render(made)


def test_a_picture_without_text_is_not_sent(monkeypatch):
    made = document("healthy")
    picture = "data:image/svg+xml,<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'/>"
    monkeypatch.setattr(
        "clinic.letters.pdf.letter_html",
        lambda _: f'<html lang="en"><title>t</title><img src="{picture}"></html>',
    )
    with pytest.raises(UnfitForPaper):
        render(made)


@pytest.mark.long
def test_two_hundred_letters_in_one_process_do_not_grow_it():
    """Resident memory after the first fifty, against the end."""
    made = document("sore_ear")
    sizes = []
    for number in range(200):
        render(replace(made, headline=Sentence("headline", f"Letter {number}.", "a test")))
        if number in (49, 199):
            sizes.append(resident_kb())
    assert sizes[1] - sizes[0] < 20_000, f"resident after 50: {sizes[0]} kB, after 200: {sizes[1]} kB"


def resident_kb() -> int:
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS"))
