"""Every coded finding, in every animal that can have it, on every side and in every degree, in every
language: a sentence that reads well."""

import re
from collections.abc import Iterator
from functools import cache

import pytest

from exams.lines import Animal, Line, Lines, applicable, finding_fits
from exams.owner_texts import ROOM, english_of, texts_of
from exams.sentences import OwnerSentence, for_owner
from exams.state import FindingEntry
from tests.exams.walkhelp import walk

ANIMALS = [
    Animal(species, sex, neutered=False, age_days=age)
    for age in (2000, 50)
    for species in ("dog", "cat")
    for sex in ("male", "female")
]
LINES = {a: applicable(walk(), a.species, a.sex, a.neutered, a.age_days) for a in ANIMALS}
LANGUAGES = [code for code, _name in ROOM.languages()]
SINGULAR = {
    "en": re.compile(r"^(The|An?) [\w -]+? (is|was|has|feels|looks|smells|rolls|hangs|slips|sinks|does)\b"),
    "es": re.compile(r"^(El|La|Un|Una) [\w ]+? (está|es|tiene|siente|huele|cuelga|se ve|se sale|baja)\b"),
}
PLURAL = {"en": re.compile(r"^Both\b|both sides$"), "es": re.compile(r"^L[oa]s dos\b|los dos lados$")}


def places(code: str, lines: Lines) -> Iterator[Line]:
    """Where it may be tapped: one line for each way a side is said."""
    seen = set()
    for line in lines:
        if line.applies and code in (*line.codes, *line.limits):
            kind = (line.station, line.side if not line.side.isdigit() else line.side[:1])
            if kind not in seen:
                seen.add(kind)
                yield line


def entries(code: str, line: Line) -> Iterator[FindingEntry]:
    """Without a degree, and in every one."""
    finding = walk().finding[code]
    tooth = int(line.side) if line.side.isdigit() else None
    yield FindingEntry(code, tooth=tooth)
    for severity in finding.severity_words:
        yield FindingEntry(code, severity=severity, tooth=tooth)
    scale = walk().scale.get(finding.grade_scale)
    for grade in scale.grades if scale else ():
        if not finding.grades or grade.key in finding.grades:
            yield FindingEntry(code, grade=grade.key, scale=finding.grade_scale, tooth=tooth)


def said(code: str, language: str) -> Iterator[tuple[str, OwnerSentence]]:
    texts = texts_of(walk(), language)
    for animal, lines in LINES.items():
        if finding_fits(walk().finding[code], animal):
            continue
        for line in places(code, lines):
            sides = (False, True) if line.side == "left" else (False,)
            for entry in entries(code, line):
                for both in sides:
                    told = for_owner(
                        *(walk(), line, entry), pet="Ludo", species=animal.species, texts=texts, both=both
                    )
                    yield f"{animal.species} {line.key} {entry.severity or entry.grade} {both}", told


@cache
def of_both(language: str) -> tuple[str, ...]:
    """Written for two, whatever their subject."""
    return tuple(e.forms[0] for key, e in ROOM(language).entries.items() if key.startswith("both."))


def faults(told: OwnerSentence, language: str) -> Iterator[str]:
    line = f"{told.heading}: {told.text}"
    if not told.heading or not told.text.endswith("."):
        yield "no heading, or no end"
    if re.search(r"[{}\u2066-\u2069]|\s\s|\s[.,:;]|\.\.|^\s|\s$|,,", line):
        yield "a brace, a doubled space or a stray mark"
    if doubled := re.search(r"\b(\w+) \1\b", line, re.I):
        yield f"“{doubled.group()}” twice"
    if re.search(r"[Yy]our pet|su mascota|\bNone\b|\b(finding|station|severity|grade)\.", line):
        yield "a text that was not filled"
    of_one = SINGULAR[language].search(told.text) and not told.text.startswith(of_both(language))
    if PLURAL[language].search(told.heading) and of_one:
        yield "of both sides, with a verb of one"
    if told.lang:
        yield "said in English"


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_finding_has_a_sentence_for_every_animal_side_and_degree(language) -> None:
    counted, wrong = 0, []
    for code in walk().finding:
        some = 0
        for where, told in said(code, language):
            some += 1
            wrong += [
                f"{code} {where}: {fault}: {told.heading}: {told.text}" for fault in faults(told, language)
            ]
        assert some, code
        counted += some
    assert wrong == []
    assert counted > 4000


def test_a_wrong_sentence_would_be_seen() -> None:
    for heading, text in (
        ("Both ears", "The ear is sore."),
        ("Left ear", "The the ear is sore."),
        ("Left ear", "{Pet} is sore."),
        ("Left ear", "The ear  is sore."),
        ("", "The ear is sore."),
    ):
        assert list(faults(OwnerSentence(heading, text, "()"), "en")), text
    assert not list(faults(OwnerSentence("Both ears", "The ears are sore.", "()"), "en"))


@pytest.mark.parametrize("language", [each for each in LANGUAGES if each != "en"])
def test_a_language_says_every_word_of_the_walk(language) -> None:
    used = {f.grade_scale for f in walk().finding.values() if f.grade_scale}
    wanted = {
        key
        for key in english_of(walk())
        if not key.startswith("grade.") or (key.split(".")[1] in used and not key.endswith(".normal"))
    }
    told = texts_of(walk(), language)
    assert sorted(key for key in wanted if key not in told) == []
    english = texts_of(walk())
    odd = [
        key
        for key, entry in told.entries.items()
        if key in english.entries
        and not {n.lower() for n in entry.names} <= {n.lower() for n in english.entries[key].names} | {"pet"}
    ]
    assert odd == []
