"""A document as HTML for the sheet of paper, and as plain text for the mail's body."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from django.template.loader import render_to_string

from clinic.letters.document import (
    Block,
    Dated,
    Document,
    Figures,
    Line,
    Mark,
    Photos,
    Section,
    Sentence,
    Table,
    Text,
    Tone,
    Walk,
    sentences,
)
from clinic.letters.texts import END, OWN, Texts
from clinic.letters.wording import long_day, words

CONDOLENCE, RESULT = "condolence", "result"
WALK, NEXT = "walk", "next"
FOLDER = Path(__file__).parent / "sheet"


def around_name(document: Document) -> tuple[str, str]:
    """What stands before and behind the patient's name: ("", "’s visit"); ("La visita de ", "")."""
    if document.kind == CONDOLENCE:
        return "", ""
    key = "sheet.result_of" if document.kind == RESULT else "sheet.visit_of"
    before, _, behind = words(document.language)(key, patient="\0").partition("\0")
    return before, behind


def visit_of(document: Document) -> str:
    """What stands behind the patient's name in the heading."""
    return around_name(document)[1]


def heading(document: Document) -> str:
    """Ludo’s visit; La visita de Ludo; of a condolence, the name alone."""
    before, behind = around_name(document)
    return f"{before}{document.head.patient_name}{behind}"


def letter_title(document: Document) -> str:
    head = document.head
    day = "" if document.kind == CONDOLENCE else f", {head.day}"
    return f"{heading(document)}{day}, {head.clinic_name}"


def sheet_context(document: Document) -> dict[str, Any]:
    """What the letter's templates read, on paper and on a page."""
    before, behind = around_name(document)
    said = list(sentences(document))
    return {
        "d": document,
        "w": words(document.language),
        "title": letter_title(document),
        "visit_before": before,
        "visit_of": behind,
        "has_own_words": OWN in document.head.reason or any(OWN in each.text for each in said),
        "not_reviewed": any(each.both for each in said),
    }


def letter_html(
    document: Document,
    *,
    close_set: bool = False,
    kept: bool = False,
    annexed: bool = False,
    turn: str = "",
) -> str:
    """The letter for paper. The style sheet is given to the renderer apart, parsed once a process.

    `close_set`: closer lines and smaller pictures, in type of the same size; `kept`: with short sections as
    whole as they are otherwise. `annexed`: normal lines stand
    behind the signature, on a page of their own. `turn`: the section (see `turns`) that begins a new page.
    """
    shown = with_annex(document) if annexed else document
    how = {"paper": True, "close_set": close_set, "kept": kept, "turn": turn}
    return render_to_string("letters/letter.html", {**sheet_context(shown), **how})


def turns(document: Document) -> Iterator[str]:
    """Before which sections the page can be turned, the last first."""
    if document.next_things:
        yield NEXT
    yield from (each.name for each in reversed(document.sections))


def quoted(text: str) -> str:
    """Somebody's own words between quotation marks, in plain text."""
    return text.replace(OWN, "“").replace(END, "”")


def _said(each: Sentence) -> str:
    text = quoted(f"{each.text} ({each.term})" if each.term else each.text).strip()
    return f"{text} ({each.source})" if each.both and each.source else text


def mail_body(document: Document) -> str:
    """The main points, readable without opening the letter: how things stand, what to do, whom to call.

    What is attached, and `mail_closing`, come after it when the mail leaves.
    """
    head = document.head
    if document.kind == CONDOLENCE:
        return _condolence_body(document)
    w = words(document.language)
    lines = [f"{heading(document)}, {head.day}"]
    lines += [quoted(line) for line in (head.reason, document.signed.version_line) if line]
    lines += [_said(each) for each in (*document.answers, *document.signed.addenda)]
    urgent = document.tone == Tone.NOW
    if urgent:
        lines += _calls(document)
    lines += ["", _said(document.headline)]
    for number, point in enumerate(document.points, start=1):
        said = [_said(part) for part in (point.what, point.do, point.by) if part]
        lines.append(f"{number}. {' '.join(said)}")
    main = {"medicine", "feeding"} | ({"to-do", "tests"} if document.kind == RESULT else set())
    for section in document.sections:
        if section.name in main:
            lines += ["", section.title.upper(), *_plain(section.blocks)]
    if document.next_things:
        lines += ["", w["comes_next"].upper()]
        lines += [f"{when(thing, w)}: {_said(thing.what)}" for thing in document.next_things]
    if not urgent:
        lines += _calls(document)
    return "\n".join(lines) + "\n"


def mail_closing(document: Document) -> str:
    """The clinic, at the end of the mail: after the body, and after what the mail says of what it carries."""
    head, w = document.head, words(document.language)
    lines = [head.clinic_name, *head.clinic_lines]
    lines += [w("mail.by_day", phone=head.phone), w("mail.emergencies", phone=head.emergency_phone)]
    return "\n".join(lines) + "\n"


def _condolence_body(document: Document) -> str:
    """The text itself, as its clinician wrote it."""
    paragraphs = [line for section in document.sections for line in _plain(section.blocks)]
    signed = [_said(line) for line in document.signed.lines]
    parts = [_said(document.headline), *paragraphs, "\n".join(signed), document.head.clinic_name]
    return "\n\n".join(parts) + "\n"


def _calls(document: Document) -> list[str]:
    head, lines, w = document.head, [], words(document.language)
    if document.call_now:
        lines += ["", w("mail.call_now", phone=head.emergency_phone)]
        lines += [f"- {_said(line)}" for line in document.call_now]
    if document.call_within_a_day:
        lines += ["", w("mail.call_within_a_day", phone=head.phone)]
        lines += [f"- {_said(line)}" for line in document.call_within_a_day]
    return lines


def when(thing: Dated, w: Texts) -> str:
    """9 December 2026, 5:00 pm; week of 9 December 2026."""
    day = long_day(thing.on, w)
    if not thing.exact:
        return w("date.week_of", day=day)
    return w("date.at", day=day, time=thing.time) if thing.time else day


def with_annex(document: Document) -> Document:
    """The same letter with what was normal behind its signature, in a section of its own.

    Nothing else moves: what is abnormal, was not examined or seen only in part, medicines and cautions stay.
    """
    kept: list[Section] = []
    moved: list[Line] = []
    for section in document.sections:
        blocks: list[Block] = []
        for block in section.blocks:
            if section.name == WALK and isinstance(block, Walk):
                moved += [line for line in block.lines if line.mark == Mark.NORMAL]
                stays = tuple(line for line in block.lines if line.mark != Mark.NORMAL)
                blocks += [Walk(stays)] if stays else []
            else:
                blocks.append(block)
        if blocks:
            kept.append(replace(section, blocks=tuple(blocks)))
    if not moved:
        return document
    return replace(document, sections=tuple(kept), annex=(Walk(tuple(moved)),))


def _row(cells: tuple[Sentence, ...], head: tuple[str, ...]) -> str:
    """Creatinine: result 248 µmol/l, usual here 70-165, it is high. Without a head: label and fact."""
    label, *rest = (_said(cell) for cell in cells)
    if len(head) < 3:
        return ": ".join((label, *rest))
    named = (f"{_lower(name)} {said}" for name, said in zip(head[1:], rest, strict=True))
    return f"{label}: {', '.join(named)}"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _plain(blocks: tuple[object, ...]) -> list[str]:
    lines: list[str] = []
    for block in blocks:
        match block:
            case Text():
                lines.append(" ".join(_said(each) for each in block.sentences))
            case Walk():
                lines += [
                    " ".join(_said(each) for each in (line.label, *line.sentences)) for line in block.lines
                ]
            case Table():
                lines += [_row(row, block.head) for row in block.rows]
            case Figures():
                lines += _plain((block.table,) if block.table else ())
                lines += [_said(each) for each in block.sentences]
            case Photos():
                lines += [_said(each.caption) for each in block.photos]
    return lines
