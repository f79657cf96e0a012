"""Papers held to PDF/UA-1 by two checkers that others wrote: page-validation in whole, and pdfua, which reads
the file by another library and checks fewer conditions (its own count: 16 of the profile's 106)."""

import tempfile

import page
import pdfua
from pdfua.rules import ALL_RULES, RuleRegistry

Faults = list[tuple[str, str]]
# Its rule of empty headings cannot read an array of content with the pikepdf of today, and says so of every
# heading; `tests/clinic/test_letter_tags.py` looks at headings.
RULES = RuleRegistry(tuple(each for each in ALL_RULES if each.id != "UA-14-001"))


def faults(content: bytes) -> Faults:
    """What either found wrong; nothing in a paper that is right."""
    report = page.validate_pdf_bytes(content, profile=page.ValidationProfile.PDF_UA_1)
    return [(each.rule_id, each.message) for each in report.failures] + by_pdfua(content)


def by_pdfua(content: bytes) -> Faults:
    """Also what it could not check."""
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(content)
        file.flush()
        report = pdfua.validate(file.name, RULES)
    found = [(each.rule_id, each.message) for each in report.findings]
    return found + [(each.rule_id, f"not checked: {each.skipped_reason}") for each in report.skipped]
