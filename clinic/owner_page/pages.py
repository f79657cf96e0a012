"""Plain values for the owners' pages."""

from dataclasses import dataclass, replace
from datetime import datetime
from urllib.parse import quote

from django.urls import reverse
from django.utils import timezone

from clinic.letters.document import Block, Dated, Document, Photos, Sentence
from clinic.letters.models import Letter
from clinic.letters.sheet import around_name, letter_title, when
from clinic.letters.texts import Texts as Said
from clinic.letters.wording import clock, long_day, words
from clinic.owner_page.models import OwnerLink
from clinic.owner_page.queries import agreed_now, documents_of, letters_behind
from clinic.owner_page.texts import Texts, texts
from clinic.platform.queries import clinic_details
from clinic.visits.models import NextVisit


@dataclass(frozen=True)
class Choice:
    """Another way to read the same letter: a language, or the copy of an earlier day."""

    words: str
    url: str
    language: str = ""


@dataclass(frozen=True)
class LetterPage:
    """A letter in one hand. Telephones as written and as dialled; an address is empty where nothing is."""

    d: Document
    w: Said
    says: dict[str, str]
    title: str
    visit_before: str
    visit_of: str
    greeting: str
    seen_by: str
    at_once: str
    within_a_day: str
    emergency: str
    emergency_dial: str
    clinic_phone: str
    clinic_dial: str
    agreed: tuple[str, ...]
    calendar_url: str
    pdf_url: str
    pdf_words: str
    mail_to: str
    until: str
    is_newest: bool
    replaces: bool
    newest_url: str
    earlier: tuple[Choice, ...]
    languages: tuple[Choice, ...]


def letter_page(
    link: OwnerLink, secret: str, *, version: int | None, language: str, now: datetime
) -> LetterPage | None:
    """The newest copy, or the asked one; None where there is no such copy. Four queries."""
    assert link.letter is not None
    copies = letters_behind(link.letter)
    letter = next((each for each in copies if version in (None, each.version)), None)
    if letter is None:
        return None
    found = documents_of(letter)
    wanted = (language, link.owner.language, letter.language)
    chosen = next(each for each in wanted if each in found)
    document = _with_photographs(found[chosen], secret, letter)
    t, w = texts(chosen), words(chosen)
    newest = copies[0]
    plans = agreed_now(letter, today=timezone.localdate(now))
    clinic = clinic_details()
    head, title = document.head, letter_title(document)
    return LetterPage(
        d=document,
        w=w,
        says=t.page,
        title=title,
        visit_before=around_name(document)[0],
        visit_of=around_name(document)[1],
        greeting=t.page["for_owner"].format(owner=head.owner_name),
        seen_by=w("sheet.seen_by", names=head.seen_by) if head.seen_by else "",
        at_once=w("sheet.call_now", phone=clinic.emergency_phone),
        within_a_day=w("sheet.call_within_a_day", phone=clinic.phone),
        emergency=t.page["emergency"].format(phone=clinic.emergency_phone),
        emergency_dial=dialled(clinic.emergency_phone),
        clinic_phone=t.page["clinic_phone"].format(phone=clinic.phone),
        clinic_dial=dialled(clinic.phone),
        agreed=tuple(_agreed(each, w) for each in plans),
        calendar_url=reverse("owner-calendar", args=[secret]) if plans else "",
        pdf_url=_of(reverse("owner-pdf", args=[secret]), letter, newest) if hasattr(letter, "file") else "",
        pdf_words=_pdf_words(letter, t, chosen),
        mail_to=_mail_to(clinic.email, t.page["question_subject"].format(title=title)),
        until=t.page["until"].format(day=long_day(timezone.localdate(link.expires_at), w)),
        is_newest=letter.pk == newest.pk,
        replaces=letter.pk == newest.pk and len(copies) > 1,
        newest_url=reverse("owner-page", args=[secret]),
        earlier=tuple(_earlier(each, secret, t, w) for each in copies[1:]) if letter.pk == newest.pk else (),
        languages=tuple(_language(each, secret, version, chosen) for each in found if each != chosen),
    )


def dialled(phone: str) -> str:
    """A telephone number as a telephone wants it (RFC 3966)."""
    digits = "".join(sign for sign in phone if sign.isdigit())
    return f"tel:{'+' if phone.strip().startswith('+') else ''}{digits}"


def _mail_to(address: str, subject: str) -> str:
    """RFC 6068."""
    return f"mailto:{quote(address, safe='@')}?subject={quote(subject)}"


def _agreed(plan: NextVisit, w: Said) -> str:
    at = clock(plan.at) if plan.at and not plan.week_of else ""
    sentence = Sentence("agreed", plan.reason, "a booking")
    return f"{when(Dated(plan.on, sentence, exact=not plan.week_of, time=at), w)}: {plan.reason}"


def _pdf_words(letter: Letter, t: Texts, chosen: str) -> str:
    """It is in the language that the letter was written in, whichever the page is read in."""
    if not hasattr(letter, "file"):
        return t.page["pdf_making"]
    pages = letter.file.pages
    said = t.page["pdf_one"] if pages == 1 else t.page["pdf"].format(pages=pages)
    return (
        said
        if chosen == letter.language
        else f"{said} {t.page['pdf_in'].format(language=texts(letter.language).name)}"
    )


def _of(url: str, letter: Letter, newest: Letter) -> str:
    return url if letter.pk == newest.pk else f"{url}?copy={letter.version}"


def _earlier(letter: Letter, secret: str, t: Texts, w: Said) -> Choice:
    day = long_day(timezone.localdate(letter.at), w)
    return Choice(
        t.page["earlier"].format(day=day), f"{reverse('owner-page', args=[secret])}?copy={letter.version}"
    )


def _language(language: str, secret: str, version: int | None, now_in: str) -> Choice:
    t = texts(language)
    copy = f"copy={version}&" if version else ""
    url = f"{reverse('owner-page', args=[secret])}?{copy}language={language}"
    return Choice(t.page["other_language"].format(language=t.name), url, language)


def _with_photographs(document: Document, secret: str, letter: Letter) -> Document:
    """The same document, its photographs under the owner's own address."""
    number = 0
    sections = []
    for section in document.sections:
        blocks: list[Block] = []
        for block in section.blocks:
            if isinstance(block, Photos):
                shown = []
                for photo in block.photos:
                    url = reverse("owner-photograph", args=[secret, number])
                    shown.append(replace(photo, src=f"{url}?copy={letter.version}"))
                    number += 1
                blocks.append(replace(block, photos=tuple(shown)))
            else:
                blocks.append(block)
        sections.append(replace(section, blocks=tuple(blocks)))
    return replace(document, sections=tuple(sections))
