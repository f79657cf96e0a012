"""The text of a reminder, from plain values. Pure.

Neutral and without any offer (a service message is so: UK PECR, reg. 22), and yet with the address, the way
to say stop and, in the United States, the word that it is an advertisement: a plain “is due” is not named
among the exempt messages there, so it is treated as commercial (US CAN-SPAM, 15 USC 7704(a)(5)).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from clinic.letters.wording import long_day

COMMERCIAL = frozenset({"US", "CA"})  # Canada: CASL wants consent too; the clinic answers for having it


@dataclass(frozen=True)
class About:
    """One thing of one animal."""

    patient: str
    label: str
    due_on: date


@dataclass(frozen=True)
class Sender:
    """The clinic as the law wants it named: a name, a postal address, a telephone."""

    name: str
    address: str
    phone: str
    country: str


@dataclass(frozen=True)
class Written:
    subject: str
    body: str
    html: str


def is_marketing(country: str) -> bool:
    """Whether a plain reminder is commercial mail in this country; elsewhere a neutral one is a service."""
    return country.upper() in COMMERCIAL


def write(
    *,
    to: str,
    about: Sequence[About],
    before: str,
    after: str,
    sender: Sender,
    stop_mail: str,
    stop_link: str,
    today: date,
) -> Written:
    """One mail to one household. `before`, `after`: the plan's words for what is to come, and past."""
    animals = list(dict.fromkeys(each.patient for each in about))
    past = any(each.due_on < today for each in about)
    coming = any(each.due_on >= today for each in about)
    paragraphs: list[str | list[str]] = [f"Dear {to},", f"According to our records, {_list(animals)}:"]
    paragraphs.append([f"{each.patient}: {each.label}, {_due(each.due_on, today)}" for each in about])
    paragraphs += [words for words, said in ((before, coming), (after, past)) if words and said]
    paragraphs.append(
        f"To agree on a day, please call us: {sender.phone}. If it was done elsewhere, or is not wanted any "
        "more, tell us, and we shall not ask again. What is right for your animal is decided by your "
        "veterinarian and by the law where you live."
    )
    paragraphs.append(f"{sender.name}\n{sender.address}\n{sender.phone}")
    foot = f"No more reminders: {stop_link or f'write to {stop_mail} with the word stop'}"
    foot += ". Letters, results and recalls still reach you."
    if is_marketing(sender.country):
        foot += f" By law this reminder is an advertisement of {sender.name}."
    paragraphs.append(foot)
    return Written(_subject(animals), _plain(paragraphs), _page(paragraphs, stop_link))


def _subject(animals: Sequence[str]) -> str:
    return f"A reminder for {' and '.join(filter(None, (', '.join(animals[:-1]), animals[-1])))}"[:200]


def _list(animals: Sequence[str]) -> str:
    return f"{animals[0]} is to be seen for" if len(animals) == 1 else "your animals are to be seen for"


def _due(due_on: date, today: date) -> str:
    if due_on == today:
        return "due today"
    return f"{'was due' if due_on < today else 'due'} on {long_day(due_on)}"


def _plain(paragraphs: Sequence[str | list[str]]) -> str:
    parts = [
        "\n".join(f"- {line}" for line in each) if isinstance(each, list) else each for each in paragraphs
    ]
    return "\n\n".join(parts) + "\n"


def _page(paragraphs: Sequence[str | list[str]], link: str) -> str:
    parts = []
    for each in paragraphs:
        if isinstance(each, list):
            parts.append("<ul>" + "".join(f"<li>{escape(line)}</li>" for line in each) + "</ul>")
        else:
            text = escape(each).replace("\n", "<br>")
            if link:
                text = text.replace(escape(link), f'<a href="{escape(link)}">{escape(link)}</a>')
            parts.append(f"<p>{text}</p>")
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Reminder</title></head>'
        f"<body>{''.join(parts)}</body></html>"
    )
