"""A summary as HTML for the sheet of paper; on the page its parts stand in the same template."""

from typing import Any

from django.template.loader import render_to_string

from clinic.letters.wording import words
from clinic.summaries.document import Sheet, title


def sheet_context(sheet: Sheet) -> dict[str, Any]:
    return {"s": sheet, "w": words(sheet.language), "title": title(sheet)}


def summary_html(sheet: Sheet) -> str:
    """For paper; the letters' style sheet is given to the renderer apart."""
    return render_to_string("clinic/summaries/sheet.html", {**sheet_context(sheet), "paper": True})
