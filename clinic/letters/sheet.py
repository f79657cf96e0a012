"""A document as HTML for the sheet of paper, and as plain text for the mail's body."""

from pathlib import Path

from django.template.loader import render_to_string

from clinic.letters.document import Dated, Document, Figures, Photos, Sentence, Table, Text, Tone, Walk
from clinic.letters.wording import Words, long_day, words
from clinic.owner_page.texts import texts

CONDOLENCE, RESULT = "condolence", "result"
FOLDER = Path(__file__).parent / "sheet"


def visit_of(document: Document) -> str:
    """What stands behind the patient's name in the heading: ’s visit, ’s test result; or nothing."""
    if document.kind == CONDOLENCE:
        return ""
    w = words(document.language)
    return (w.result_of if document.kind == RESULT else w.visit_of).replace("{patient}", "")


def letter_title(document: Document) -> str:
    head = document.head
    if document.kind == CONDOLENCE:
        return f"{head.patient_name}, {head.clinic_name}"
    return f"{head.patient_name}{visit_of(document)}, {head.day}, {head.clinic_name}"


def letter_html(document: Document) -> str:
    """The letter for paper. The style sheet is given to the renderer apart, parsed once a process."""
    context = {
        "d": document,
        "w": words(document.language),
        "title": letter_title(document),
        "visit_of": visit_of(document),
        "paper": True,
    }
    return render_to_string("letters/letter.html", context)


def _said(each: Sentence) -> str:
    return f"{each.text} ({each.term})" if each.term else each.text


def mail_body(document: Document) -> str:
    """The main points, readable without opening the letter: how things stand, what to do, whom to call.

    What is attached, and `mail_closing`, come after it when the mail leaves.
    """
    head = document.head
    if document.kind == CONDOLENCE:
        return _condolence_body(document)
    w = words(document.language)
    lines = [f"{head.patient_name}{visit_of(document)}, {head.day}"]
    lines += [line for line in (head.reason, document.signed.version_line) if line]
    lines += [each.text for each in document.signed.addenda]
    urgent = document.tone == Tone.NOW
    if urgent:
        lines += _calls(document)
    lines += ["", document.headline.text]
    for number, point in enumerate(document.points, start=1):
        said = [part.text for part in (point.what, point.do, point.by) if part]
        lines.append(f"{number}. {' '.join(said)}")
    main = {"medicine", "feeding"} | ({"to-do", "tests"} if document.kind == RESULT else set())
    for section in document.sections:
        if section.name in main:
            lines += ["", section.title.upper(), *_plain(section.blocks)]
    if document.next_things:
        lines += ["", w.comes_next.upper()]
        lines += [f"{when(thing, w)}: {thing.what.text}" for thing in document.next_things]
    if not urgent:
        lines += _calls(document)
    return "\n".join(lines) + "\n"


def mail_closing(document: Document) -> str:
    """The clinic, at the end of the mail: after the body, and after what the mail says of what it carries."""
    head, says = document.head, texts(document.language).mail
    lines = [head.clinic_name, *head.clinic_lines]
    lines.append(says["by_day"].format(phone=head.phone))
    lines.append(says["emergencies"].format(phone=head.emergency_phone))
    return "\n".join(lines) + "\n"


def _condolence_body(document: Document) -> str:
    """The text itself, as its clinician wrote it."""
    paragraphs = [line for section in document.sections for line in _plain(section.blocks)]
    signed = [line.text for line in document.signed.lines]
    parts = [document.headline.text, *paragraphs, "\n".join(signed), document.head.clinic_name]
    return "\n\n".join(parts) + "\n"


def _calls(document: Document) -> list[str]:
    head, lines = document.head, []
    if document.call_now:
        lines += ["", f"CALL NOW, DAY OR NIGHT: {head.emergency_phone}"]
        lines += [f"- {line.text}" for line in document.call_now]
    if document.call_within_a_day:
        lines += ["", f"CALL WITHIN A DAY: {head.phone}"]
        lines += [f"- {line.text}" for line in document.call_within_a_day]
    return lines


def when(thing: Dated, w: Words) -> str:
    """9 December 2026, 5:00 pm; week of 9 December 2026."""
    day = long_day(thing.on, w)
    if not thing.exact:
        return f"week of {day}"
    return f"{day}, {thing.time}" if thing.time else day


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
                lines += [": ".join(_said(cell) for cell in row) for row in block.rows]
            case Figures():
                lines += _plain((block.table,) if block.table else ())
                lines += [_said(each) for each in block.sentences]
            case Photos():
                lines += [_said(each.caption) for each in block.photos]
    return lines
