"""A clinician's correction as a text of the clinic's own: what was one animal's becomes a placeholder again.

Pure. What cannot be made general is refused with its reason, never guessed at.
"""

import re
import string
import unicodedata
from collections.abc import Iterable, Sequence

from clinic.letters.document import MadeFrom
from clinic.letters.texts import END, OWN, Entry, TextError, names_of
from clinic.letters.wording import capital, ended

LONGEST = 1_000
OTHER_PLACE = "The place it speaks of is written otherwise than in the letter."
OTHER_GRADE = "The grade stands inside these words."
GRADE_ALONE = "Only the grade was written anew, and that is no text of its own."
_NUMBER = re.compile(r"\d+")
_WORD = re.compile(r"[^\W\d_]+")
FEWEST_LETTERS = 3  # of a name's part that counts as somebody's name


def as_text(words: str, made: MadeFrom) -> tuple[str, str]:
    """`words` with placeholders for what was filled in, and why they can be none (empty: they can)."""
    text, standing = words.strip(), made.form
    if made.heading:
        if not text.startswith(made.heading):
            return "", OTHER_PLACE
        text = text[len(made.heading) :].strip()
    first, more, rest = standing.partition(". ")
    if made.tail:
        if not text.endswith(made.tail):
            return "", OTHER_GRADE
        text = text[: -len(made.tail)].strip()
    if made.part == 2 and not (more and text):
        return "", GRADE_ALONE
    text = _with_places(text, made.values, standing)
    if made.part == 1:
        text = capital(ended(text)) + (f" {rest}" if more else "")
    elif made.part == 2:
        text = f"{first}. {text}"
    elif made.heading:
        text = capital(text)
    return text, ""


def _with_places(text: str, values: Sequence[tuple[str, str]], standing: str) -> str:
    """Longer values first; of placeholders with one value those of the standing text, in its order."""
    in_order = [name for _text, name, _spec, _how in string.Formatter().parse(standing) if name]
    by_value: dict[str, list[str]] = {}
    for name, value in values:
        if value.strip():
            by_value.setdefault(value, []).append(name)
    text, put = text.replace("{", "{{").replace("}", "}}"), []
    for value in sorted(by_value, key=len, reverse=True):
        wanted = [name for name in in_order if name in by_value[value]] or by_value[value][:1]

        def place(_found: re.Match[str], wanted: list[str] = wanted) -> str:
            put.append(wanted.pop(0) if len(wanted) > 1 else wanted[0])
            return f"\x00{len(put) - 1}\x00"

        text = re.sub(rf"(?<![\w\x00]){re.escape(value)}(?![\w\x00])", place, text)
    return re.sub(r"\x00(\d+)\x00", lambda found: f"{{{put[int(found[1])]}}}", text)


def wrong_with(
    forms: Sequence[str],
    standing: Entry,
    private: Iterable[str],
    days: Iterable[str] = (),
    *,
    of_a_letter: bool = True,
) -> list[str]:
    """Why these cannot be the text, in sentences; nothing when they can.

    `private`: names of the people and animals whose letters it was written in; `days`: months and weekdays as
    the language writes them ("may" is no month). A word or a number of the standing text is nobody's, and a
    number that was not written in a letter (`of_a_letter`) is no animal's.
    """
    if len(forms) != len(standing.forms) or not all(form.strip() for form in forms):
        return ["Each of its forms needs words."]
    wrong: list[str] = []
    names_in = {
        word.casefold() for name in private for word in _WORD.findall(name) if len(word) >= FEWEST_LETTERS
    }
    usual = " ".join(_bare(form) for form in standing.forms)
    for form in forms:
        wrong += _form_wrong(form, standing, usual, names_in, set(days), numbers=of_a_letter)
    names = frozenset(name for form in forms if not _unreadable(form) for name in names_of(form))
    if not any(_unreadable(form) for form in forms):
        wrong += [f"{{{name}}} is missing." for name in sorted(standing.names - names - {"n"})]
    return list(dict.fromkeys(wrong))


def _form_wrong(
    form: str, standing: Entry, usual: str, private: set[str], days: set[str], *, numbers: bool
) -> list[str]:
    if len(form) > LONGEST:
        return [f"It has more than {LONGEST} signs."]
    if any(unicodedata.category(sign) in ("Cc", "Cf", "Co", "Cn") or sign in OWN + END for sign in form):
        return ["It holds signs that nobody sees."]
    if _unreadable(form):
        return ["Braces hold one of the text’s own placeholders; nothing else stands in them."]
    wrong = [
        f"The standing text has no {{{name}}}."
        for name in sorted(set(names_of(form)) - standing.names - {"n"})
    ]
    bare = _bare(form)
    wrong += [
        f"“{number}” is one animal’s number."
        for number in _NUMBER.findall(bare)
        if numbers and number not in _NUMBER.findall(usual)
    ]
    known = {word.casefold() for word in _WORD.findall(usual)}
    wrong += [
        f"“{word}” belongs to one letter alone."
        for word in dict.fromkeys(_WORD.findall(bare))
        if word.casefold() not in known and (word.casefold() in private or word in days)
    ]
    return wrong


def _unreadable(form: str) -> bool:
    try:
        names_of(form)
    except (TextError, ValueError):
        return True
    return False


def _bare(form: str) -> str:
    """Without its placeholders."""
    return " ".join(text for text, _name, _spec, _how in string.Formatter().parse(form))


def filled(form: str) -> str:
    """For measuring how hard it reads: each placeholder a short word."""
    return form.format(**dict.fromkeys(names_of(form), "Tansy"))
