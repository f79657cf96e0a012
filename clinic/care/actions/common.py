"""What several actions of care share."""

from clinic.care.errors import ProblemClosed, TextMissing, WrongPatient
from clinic.care.models import Problem
from clinic.visits.models import Record


def fits(problem: Problem | None, record: Record) -> None:
    """Raises WrongPatient, ProblemClosed."""
    if problem is None:
        return
    if problem.patient_id != record.visit.patient_id:
        raise WrongPatient
    if problem.closed_at:
        raise ProblemClosed(problem.title)


def with_reason(text: str, words_why: str) -> str:
    """The words, and why they were kept although they may judge somebody."""
    why = words_why.strip()
    return f"{text.strip()} (kept as written: {why})" if why else text.strip()


def said(text: str, *, field: str, sentence: str) -> str:
    """The text without outer blanks; raises TextMissing when nothing is left."""
    text = text.strip()
    if not text:
        raise TextMissing(field, sentence)
    return text
