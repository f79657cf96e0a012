"""What was felt or written against the sex and the neuter status on record: asked about. Pure.

Source: common practice (cats above all are sexed wrongly): the sex is looked at and confirmed at each visit
until two visits agreed, and what does not match is a finding of its own (GUM-22), corrected by amendment.
Every question is answered with `sure: true` in the payload of the same tap.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from exams.guards import Refusal
from exams.lines import Animal, Line
from exams.state import FindingEntry, LineAnswer

MISMATCH = "GUM-22"
NEUTER_LINE = "GUM.neuter|-"
CONFIRMED_AT = 2  # visits that agreed
_TESTES = r"testis|testes|testicles?"
_MALE = rf"{_TESTES}|testicular|penis|penile|prepuce|preputial|scrotum|scrotal|prostate|prostatic"
_FEMALE = r"vulva|vulvar|vagina|vaginal|uterus|uterine|womb|ovary|ovaries|ovarian"
_NONE_THERE = re.compile(r"\b(no|not|without|neither|never|absent|removed|gone|empty)\b", re.IGNORECASE)
_CLAUSE = re.compile(r"[.;,\n]")


def status_words(animal: Animal) -> str:
    """ "a neutered male", "an intact female", "a male, not known whether neutered", "of unknown sex"."""
    if not animal.sex:
        return "of unknown sex"
    if animal.neutered is None:
        return f"a {animal.sex}, not known whether neutered"
    return f"a neutered {animal.sex}" if animal.neutered else f"an intact {animal.sex}"


def check_organ(line: Line, animal: Animal) -> None:
    """An organ that this sex does not have, or that a neutered one has no more, is not answered: the record
    is asked about instead. Raises Refusal."""
    if line.absent in ("sex", "neutered"):
        raise Refusal(
            "not-applicable",
            f"{line.name}: this patient is kept as {status_words(animal)}. Look again; if it is there, "
            "record at “Neuter evidence” that findings do not match, and have the sex on record corrected.",
        )


def check_mismatch(animal: Animal, before: LineAnswer | None, found: Iterable[FindingEntry]) -> None:
    """The first time that somebody says so, they are asked to look twice. Raises Refusal."""
    known = before is not None and any(entry.code == MISMATCH for entry in before.findings)
    if not known and any(entry.code == MISMATCH for entry in found):
        raise Refusal(
            "sex-record",
            f"This patient is kept as {status_words(animal)}. Did you look twice, and is it this patient?",
        )


def check_sex_words(animal: Animal, words: str, *, name: str) -> None:
    """A note that names an organ which the record says this animal does not have. "No testes" and an empty
    scrotum are no contradiction. Raises Refusal."""
    organs = _MALE if animal.sex == "female" else _FEMALE if animal.sex == "male" else ""
    if animal.sex == "male" and animal.neutered:
        organs = f"{organs}|{_TESTES}"
    if not organs:
        return
    named = re.compile(rf"\b({organs})\b", re.IGNORECASE)
    for clause in _CLAUSE.split(words):
        organ = named.search(clause)
        if organ and not _NONE_THERE.search(clause):
            raise Refusal(
                "sex-record",
                f"{name}: the note says {organ.group(1).lower()}, and this patient is kept as "
                f"{status_words(animal)}. Is it so?",
            )
