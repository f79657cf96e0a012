"""The summary on paper: PDF/UA-1, tagged, its parts in order, long histories split and nothing cut."""

import io
from datetime import timedelta

import pytest
from django.utils import timezone
from pypdf import PdfReader

from clinic.letters.pdf import Rendered, render_html
from clinic.models import Summary, SummaryFile
from clinic.platform.files import read
from clinic.summaries.composition import compose
from clinic.summaries.document import Sheet
from clinic.summaries.facts import Asked
from clinic.summaries.gathering import gather
from clinic.summaries.sheet import summary_html
from clinic.summaries.tasks import render_summary
from tests import letters
from tests.accessible import faults
from tests.clinic.test_letter_paper import HOSTILE, elements
from tests.clinic.test_summaries import make
from tests.letters import NOW, TODAY, Case

pytestmark = pytest.mark.django_db


def sheet(case: Case, why: str = "Please look.") -> Sheet:
    asked = Asked("referral", "Dr Ines Tarn, Harbour Referrals", why, "Henrike Dovale agreed.")
    return compose(gather(case.patient, asked=asked, signer="Dr Maren Oduya", today=TODAY))


def rendered(case: Case, **how: str) -> Rendered:
    return render_html(summary_html(sheet(case, **how)), paper="A4")


def text(made: Rendered) -> str:
    pages = PdfReader(io.BytesIO(made.content)).pages
    return " ".join(" ".join(each.extract_text() for each in pages).split())


def with_a_long_history(case: Case) -> Case:
    """More of everything than one page holds."""
    by = case.people.technician
    for number in range(40):
        at = NOW - timedelta(days=number)
        case.patient.measurements.create(
            kind="weight", typed=30, unit="kg", value=30, measured_at=at, recorded_at=at, observed_by=by,
            entered_by=by,
        )  # fmt: skip
        case.patient.conditions.create(
            code=f"code {number}", since=TODAY, note="a long note " * 12, entered_by=by, entered_at=at
        )
    test = case.record.tests.create(
        patient=case.patient, kind="blood", title="Blood", ordered_by=by, ordered_at=NOW, taken_at=NOW
    )
    for number in range(33):
        test.results.create(
            analyte=f"substance {number}", value=str(number), unit="mmol/l", interval="1–9",
            meaning="inside", resulted_at=NOW, entered_by=by,
        )  # fmt: skip
    return case


CASES = {
    "bare": letters.arrived,
    "usual": letters.sore_ear,
    "long": lambda: with_a_long_history(letters.sore_ear()),
    "dead": letters.put_to_sleep,
}


@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("name", CASES)
def test_it_is_pdf_ua_1_by_a_validator_that_we_did_not_write(name: str, paper: str) -> None:
    made = render_html(summary_html(sheet(CASES[name]())), paper=paper)
    assert faults(made.content) == []


def test_its_structure_read_by_pypdf_is_that_of_an_accessible_document() -> None:
    """ISO 14289-1: 7.1 tagged and titled, 7.2 language, 7.5 tables with headers."""
    pdf = PdfReader(io.BytesIO(rendered(with_a_long_history(letters.sore_ear())).content))
    root = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"].value is True
    assert root["/Lang"] == "en"
    assert pdf.metadata.title.startswith("Ludo: summary for a colleague, 11 March 2026")
    found = list(elements(root["/StructTreeRoot"]["/K"]))
    kinds = [str(each["/S"]) for each in found]
    assert kinds.count("/H1") == 1
    assert kinds.count("/H2") == 18  # seventeen parts and the signature
    heads = {each["/ID"] for each in found if each["/S"] == "/TH"}
    cells = [each for each in found if each["/S"] == "/TD"]
    assert cells
    assert all(each["/A"]["/Headers"] and set(each["/A"]["/Headers"]) <= heads for each in cells)


def test_a_long_history_is_split_into_whole_tables_and_nothing_is_lost() -> None:
    made = rendered(with_a_long_history(letters.sore_ear()))
    read_back = text(made)
    assert all(f"substance {number} " in read_back for number in range(33))
    assert all(f"code {number}:" in read_back for number in range(40))
    assert made.pages > 2


def test_the_foot_of_each_page_has_patient_day_and_page_of_pages() -> None:
    made = rendered(letters.sore_ear())
    for number, each in enumerate(PdfReader(io.BytesIO(made.content)).pages, start=1):
        foot = " ".join(each.extract_text().split())
        assert f"Ludo, 11 March 2026, page {number} of {made.pages}" in foot


@pytest.mark.parametrize("words", HOSTILE, ids=["markup", "turned", "emoji", "unbroken", "long"])
def test_hostile_words_are_laid_out_and_nothing_is_cut(words: str) -> None:
    made = rendered(letters.arrived("Ludo"), why=words)
    read_back = "".join(text(made).split())
    wanted = "".join(each for each in "".join(words.split()) if each.isascii())
    assert all(read_back.count(each) >= wanted.count(each) for each in set(wanted))
    assert "Signed" in read_back


def test_the_worker_makes_it_once(tmp_path, settings) -> None:
    made = make(letters.sore_ear())
    render_summary(summary_id=made.pk)
    render_summary(summary_id=made.pk)
    file = SummaryFile.objects.get()
    content = read(f"{file.sha256[:2]}/{file.sha256}.pdf")
    assert content.startswith(b"%PDF-1.7")
    assert (file.size, file.rendered_at.date()) == (len(content), timezone.now().date())
    assert Summary.objects.get().file == file
