"""Days, hours and lists in a letter's language; its sentences are data (`clinic/letters/texts`)."""

import re
from datetime import date, time
from functools import cache

from clinic.letters.texts import LETTERS, OWN, SOURCE, Texts

EN = LETTERS(SOURCE)


def words(language: str) -> Texts:
    """What the sheet itself says in that language; English where there is no file for it."""
    return LETTERS(language)


def long_day(day: date, w: Texts = EN) -> str:
    """25 November 2026; 25 de noviembre de 2026."""
    return w("date.long", day=day.day, month=month_name(day, w), year=day.year)


def month_name(day: date, w: Texts = EN) -> str:
    return w.listed("date.months")[day.month - 1]


def month_and_year(day: date, w: Texts = EN) -> str:
    """November 2026."""
    return w("date.month", month=month_name(day, w), year=day.year)


def weekday(day: date, w: Texts = EN) -> str:
    return w.listed("date.weekdays")[day.weekday()]


def near_day(day: date, w: Texts = EN) -> str:
    """Friday 13 March 2026: a day that is near is known by its weekday."""
    return w("date.near", weekday=weekday(day, w), long=long_day(day, w))


def clock(at: time, w: Texts = EN) -> str:
    """2:20 pm; noon and midnight as 12. Where a language counts to 24: 14:20 h."""
    if "date.clock24" in w:
        return w("date.clock24", hour=at.hour, minute=f"{at.minute:02d}")
    return w("date.am" if at.hour < 12 else "date.pm", hour=at.hour % 12 or 12, minute=f"{at.minute:02d}")


def listed(names: list[str], w: Texts = EN) -> str:
    """a, b and c."""
    if len(names) < 2:
        return names[0] if names else ""
    first = names[0]
    for name in names[1:-1]:
        first = w("sheet.list", first=first, second=name)
    return w(f"sheet.list_last{_other_and(names[-1], w)}", first=first, last=names[-1])


def _other_and(last: str, w: Texts) -> str:
    """Some languages have another "and" before some sounds (Spanish: e before i)."""
    if "sheet.list_other_before" not in w:
        return ""
    before = tuple(w.listed("sheet.list_other_before"))
    return "_other" if last.lower().lstrip(OWN).startswith(before) else ""


def capital(text: str) -> str:
    """The first letter large."""
    return text[:1].upper() + text[1:]


_OF_LICENCE = "profession.licence"
_LICENCE = re.compile(r"licen[cs]e (?P<number>.+)")


def titled(name: str, w: Texts) -> str:
    """A name as printed under a letter, its profession and licence in the owner's language:
    "Dr Maren Oduya, veterinarian, licence Q-1207" keeps its words in English."""
    if w.english is None:
        return name
    first, *rest = name.split(", ")
    known = {w.english(key): key for key in w.entries if key.startswith("profession.") and key != _OF_LICENCE}
    said = []
    for part in rest:
        licence = _LICENCE.fullmatch(part)
        said.append(
            w(_OF_LICENCE, number=licence["number"]) if licence else w(known[part]) if part in known else part
        )
    return ", ".join((first, *said))


_UNITS = "kg|lb|g|mg|ml|mL|kcal|cm|mm|°C|°F|am|pm|h|drops?|tablets?|chews?|gotas?"


@cache
def together(language: str = SOURCE) -> re.Pattern[str]:
    """What is not broken over two lines: a date, and a number or a size with its unit."""
    w = words(language)
    months = "|".join(re.escape(name[:3]) for name in w.listed("date.months"))
    day = re.escape(w("date.long", day="\x00", month="\x01", year="\x02"))
    for mark, part in (("\x00", r"\d{1,2}"), ("\x01", rf"(?:{months})\w*"), ("\x02", r"\d{4}")):
        day = day.replace(re.escape(mark), part)
    number = r"\d[\d.,:]*"
    return re.compile(rf"\b{day}\b|\b{number}(?: × {number})* (?:{_UNITS})\b")


def ended(text: str) -> str:
    """Somebody's words as a sentence of their own: trimmed, with a full stop where none ends them."""
    text = text.strip()
    return text if not text or text.endswith((".", "!", "?", "…")) else f"{text}."
