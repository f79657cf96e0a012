"""A letter's own sentences as data: one TOML file a language and room. Pure but for reading those files.

A file says `language`, `name` (as its readers call it), `plurals` (gettext's expression over `n`) and
`review` (who of the clinic's clinicians read these texts, and when; empty: nobody yet). A text is a string, a
list of plural forms, or a table: `text` (either of both), its own `review`, and in English its `kind`: an
*emergency* or a *medicine* text that nobody reviewed in a language is printed in both. Placeholders stand in
braces.

What a language does not say, English says, marked as English. A text whose placeholders are not those of the
English one, or that is filled without one of its values, is an error and never a gap in a letter.
"""

from __future__ import annotations

import gettext
import string
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from clinic.letters.document import Sentence

SOURCE = "en"  # the language that clinicians sign
KINDS = ("", "emergency", "medicine")
# around words that somebody of the clinic wrote; the sheet quotes them and says in which language they are
OWN, END = "\u2068", "\u2069"


class TextError(ValueError):
    """A file of texts, or a text in it, is not whole; the message names it."""


@dataclass(frozen=True, slots=True)
class Review:
    """Who read a text as a clinician, and when; both empty: nobody yet."""

    by: str = ""
    on: date | None = None

    @property
    def done(self) -> bool:
        return bool(self.by and self.on)


@dataclass(frozen=True, slots=True)
class Entry:
    """One text: its plural forms (mostly one), who reviewed it, and of which kind it is."""

    forms: tuple[str, ...]
    review: Review
    kind: str = ""

    @property
    def names(self) -> frozenset[str]:
        """Its placeholders."""
        return frozenset(name for form in self.forms for name in _names(form))


@dataclass(frozen=True)
class Texts:
    """One room's texts in one language, those it lacks in English."""

    language: str
    name: str
    plurals: str
    entries: Mapping[str, Entry]
    english: Texts | None = None

    do_not_call_in_templates = True  # there its words are looked up, see __getitem__

    def __call__(self, key: str, /, **values: object) -> str:
        """The text, filled. Raises TextError for a key that is nowhere, or a value that is missing."""
        texts = self._having(key)
        entry = texts.entries[key]
        form = entry.forms[texts.form_of(values["n"])] if len(entry.forms) > 1 else entry.forms[0]
        try:
            return form.format(**values)
        except (KeyError, IndexError) as missing:
            raise TextError(f"{self.language}, {key}: no value for {missing}") from missing

    def __getitem__(self, name: str) -> str:
        """A word of the sheet, for templates."""
        try:
            return self(f"sheet.{name}")
        except TextError as none:
            raise KeyError(name) from none

    def __contains__(self, key: object) -> bool:
        """Whether the language itself says it."""
        return key in self.entries

    def form_of(self, n: object) -> int:
        return int(_plural(self.plurals)(n))

    def listed(self, key: str) -> list[str]:
        """Several words in one text, with commas between them (the months)."""
        return [each.strip() for each in self(key).split(",")]

    def lang(self, key: str) -> str:
        """The language in which `key` is said, where it is another; else empty."""
        return "" if key in self.entries or self.english is None else SOURCE

    def both(self, key: str, *, grave: bool = False) -> bool:
        """Whether it goes out in both languages. `grave`: what it says is urgent today, whatever its kind."""
        if self.english is None or key not in self.entries:
            return False
        source = self.english.entries.get(key)
        kind = self.entries[key].kind or (source.kind if source else "")
        return bool(grave or kind) and not self.entries[key].review.done

    def own(self, words: str) -> str:
        """Somebody's own words inside a text of ours: they stay as they were written, and are marked."""
        words = words.strip().replace(OWN, "").replace(END, "")
        return f"{OWN}{words}{END}" if words and self.english is not None else words

    def sentence(
        self,
        name: str,
        key: str,
        origin: str,
        recorded: str = "",
        said_by: str = "",
        /,
        *,
        strong: object = False,
        grave: object = False,
        **values: object,
    ) -> Sentence:
        """The letter's sentence `name` from the text `key`; `values` fill it."""
        return Sentence(
            name,
            self(key, **values),
            origin,
            recorded,
            said_by,
            bool(strong),
            lang=self.lang(key),
            both=self.both(key, grave=bool(grave)),
        )

    def _having(self, key: str) -> Texts:
        if key in self.entries:
            return self
        if self.english is not None and key in self.english.entries:
            return self.english
        raise TextError(f"{self.language}: there is no text {key!r}")


class Room:
    """The texts of one room: a folder with a file for each language."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self, language: str) -> Texts:
        """Of a language that has no file: English."""
        return _loaded(self.folder, language)

    def languages(self) -> list[tuple[str, str]]:
        """Codes with names, English first."""
        codes = sorted(
            (path.stem for path in self.folder.glob("*.toml")), key=lambda code: (code != SOURCE, code)
        )
        return [(code, self(code).name) for code in codes]


@cache
def _loaded(folder: Path, language: str) -> Texts:
    english = read(folder / f"{SOURCE}.toml")
    path = folder / f"{language}.toml"
    if language == SOURCE or not path.is_file():
        return english
    told = read(path, english=english)
    check(told)
    return told


@cache
def _plural(expression: str) -> Any:
    return gettext.c2py(expression)


def read(path: Path, *, english: Texts | None = None) -> Texts:
    """Raises TextError."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
        head = {name: str(data.pop(name)) for name in ("language", "name", "plurals")}
        _plural(head["plurals"])
    except (OSError, KeyError, ValueError) as error:
        raise TextError(f"{path.parent.parent.name}, {path.name}: {error}") from error
    review = _review(data.pop("review", {}))
    entries = dict(_entries("", data, review))
    return Texts(head["language"], head["name"], head["plurals"], entries, english)


def _entries(above: str, data: Mapping[str, Any], review: Review) -> Iterator[tuple[str, Entry]]:
    for name, value in data.items():
        key = f"{above}{name}"
        if isinstance(value, Mapping) and "text" in value:
            own = _review(value["review"]) if "review" in value else review
            yield key, _entry(key, value["text"], own, str(value.get("kind", "")))
        elif isinstance(value, Mapping):
            yield from _entries(f"{key}.", value, review)
        else:
            yield key, _entry(key, value, review, "")


def _entry(key: str, value: object, review: Review, kind: str) -> Entry:
    forms = tuple(value) if isinstance(value, list) else (value,)
    if not forms or not all(isinstance(form, str) and form.strip() for form in forms) or kind not in KINDS:
        raise TextError(
            f"{key}: a text, or a list of its plural forms, is wanted; its kind is one of {KINDS}"
        )
    return Entry(tuple(str(form) for form in forms), review, kind)


def _review(data: Mapping[str, Any]) -> Review:
    on = data.get("on") or None
    return Review(str(data.get("by", "")), on if isinstance(on, date) else None)


def _names(form: str) -> Iterator[str]:
    for _text, name, spec, conversion in string.Formatter().parse(form):
        if name is None:
            continue
        if not name.isidentifier() or spec or conversion:
            raise TextError(f"{form!r}: a placeholder is one word in braces")
        yield name


def check(texts: Texts) -> None:
    """Every text says what the English one says: the same placeholders, a form for every number.

    A language may have texts of its own that English lacks (those of the walk, whose English stands there).
    """
    assert texts.english is not None
    for key, entry in texts.entries.items():
        source = texts.english.entries.get(key)
        if source is None:
            continue
        # "one value" needs no number in it
        if entry.names | {"n"} != source.names | {"n"}:
            odd = ", ".join(sorted(entry.names ^ source.names))
            raise TextError(f"{texts.language}, {key}: not the placeholders of the English text ({odd})")
        if (len(source.forms) > 1) != (len(entry.forms) > 1):
            raise TextError(f"{texts.language}, {key}: plural forms in one language only")


LETTERS = Room(Path(__file__).with_name("texts"))
