"""The text of a reminder, from plain values. Pure: the words stand in `clinic/owner_page/words`, by language.

Neutral and without any offer (a service message is so: UK PECR, reg. 22), and yet with the address, the way
to say stop and, in the United States, the word that it is an advertisement: a plain “is due” is not named
among the exempt messages there, so it is treated as commercial (US CAN-SPAM, 15 USC 7704(a)(5)).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from string import Formatter

from clinic.letters.wording import long_day, words
from clinic.mail.html import html_of
from clinic.owner_page.texts import texts

COMMERCIAL = frozenset({"US", "CA"})  # Canada: CASL wants consent too; the clinic answers for having it
PLACES = ("animals", "clinic", "owner", "phone")  # what a plan's own words may have put in


@dataclass(frozen=True)
class About:
    """One thing of one animal. `before`, `after`: its plan's words for what is to come, and past.

    `never`: due by age alone, and nothing of it is recorded; since when it is due nobody knows.
    """

    patient: str
    label: str
    due_on: date
    before: str = ""
    after: str = ""
    never: bool = False


@dataclass(frozen=True)
class Sender:
    """The clinic as the law wants it named: a name, a postal address, a telephone."""

    name: str
    address: str
    phone: str
    country: str


@dataclass(frozen=True)
class Ways:
    """How to answer and to stop. A link that is empty: there is none. `on_paper`: it goes by post."""

    stop_mail: str
    stop_link: str = ""
    answer_link: str = ""
    calendar: bool = False
    on_paper: bool = False


@dataclass(frozen=True)
class Written:
    subject: str
    body: str
    html: str


def is_marketing(country: str) -> bool:
    """Whether a plain reminder is commercial mail in this country; elsewhere a neutral one is a service."""
    return country.upper() in COMMERCIAL


def wrong_words(text: str) -> str:
    """What is wrong with a plan's own words, as a sentence; empty where nothing is."""
    offered = ", ".join(f"{{{name}}}" for name in PLACES)
    try:
        parts = list(Formatter().parse(text))
    except ValueError:
        return f"A brace is open. Put in one of {offered}, or write the sentence without braces."
    for _, name, form, how in parts:
        if name is not None and (name not in PLACES or form or how):
            return f"{{{name}}} is nothing that can be put in: {offered} can."
    return ""


def write(
    *, to: str, about: Sequence[About], sender: Sender, ways: Ways, language: str, today: date
) -> Written:
    """One message to one household, in its language."""
    said = texts(language).reminder
    animals = list(dict.fromkeys(each.patient for each in about))
    names = _listed(animals, said["and"])
    places = {"animals": names, "clinic": sender.name, "owner": to, "phone": sender.phone}
    title = said["title"].format(**places)
    opening = said["one_is" if len(animals) == 1 else "several_are"].format(**places)
    things: dict[tuple[str, str], list[str]] = {}
    for each in about:  # of one animal and one day: one line
        things.setdefault((each.patient, _when(each, said, language, today)), []).append(each.label)
    lines = [
        "- "
        + said["line" if len(labels) == 1 else "line_several"].format(
            animal=animal, thing="; ".join(labels), when=when
        )
        for (animal, when), labels in things.items()
    ]
    own = [(each.before if each.due_on >= today else each.after).strip() for each in about]
    paragraphs = [title, said["dear"].format(**places), opening, "\n".join(lines)]
    paragraphs += [_filled(text, places) for text in dict.fromkeys(own) if text]
    paragraphs += _answering(said, sender, ways)
    paragraphs += [said["decides"], f"{sender.name}\n{sender.address}\n{sender.phone}"]
    paragraphs.append(_stopping(said, sender, ways))
    body = "\n\n".join(paragraphs) + "\n"
    html = html_of(body, language=language, title=title)
    if ways.answer_link:
        html = html.replace(f">{escape(ways.answer_link)}</a>", f">{escape(said['answer_button'])}</a>")
    if ways.stop_link:
        link = escape(ways.stop_link)
        html = html.replace(link, f'<a href="{link}" style="word-break:break-all">{link}</a>')
    return Written(title[:200], body, html)


def _answering(said: dict[str, str], sender: Sender, ways: Ways) -> list[str]:
    if ways.answer_link:
        found = [f"{said['answer']}\n{ways.answer_link}", said["call"].format(phone=sender.phone)]
    else:
        found = [said["call_only"].format(phone=sender.phone)]
    return [*found, said["calendar"]] if ways.calendar else found


def _stopping(said: dict[str, str], sender: Sender, ways: Ways) -> str:
    if ways.on_paper:
        how = said["stop_post"]
    elif ways.stop_link:
        how = said["stop_link"].format(link=ways.stop_link)
    else:
        how = said["stop_mail"].format(address=ways.stop_mail)
    foot = f"{how}\n{said['still']}"
    if is_marketing(sender.country):
        foot += f"\n{said['advertisement'].format(clinic=sender.name)}"
    return foot


def _filled(text: str, places: dict[str, str]) -> str:
    """Words that were kept before anybody looked at their braces stand as they are."""
    return text if wrong_words(text) else text.format(**places)


def _listed(names: Sequence[str], join: str) -> str:
    return f" {join} ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def _when(about: About, said: dict[str, str], language: str, today: date) -> str:
    if about.never:
        return said["never"]
    if about.due_on == today:
        return said["due_today"]
    day = long_day(about.due_on, words(language))
    return said["was_due" if about.due_on < today else "due"].format(day=day)
