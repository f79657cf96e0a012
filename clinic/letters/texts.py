"""A letter's own sentences as data: one TOML file a language and room. Pure but for reading those files.

A file says `language`, `name` (as its readers call it), `plurals` (gettext's expression over `n`) and
`review` (who of the clinic's clinicians read these texts, and when; empty: nobody yet). A text is a string, a
list of plural forms, or a table: `text` (either of both), its own `review`, and in English its `kind`: an
*emergency* or a *medicine* text that nobody reviewed in a language is printed in both. Placeholders stand in
braces.

What a language does not say, English says, marked as English. A text whose placeholders are not those of the
English one, or that is filled without one of its values, is an error and never a gap in a letter.

Over the files lies, inside `in_the_words_of`, what is a clinic's own: its spelling, and what it adopted.
"""

from __future__ import annotations

import gettext
import string
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from clinic.letters.document import MadeFrom, Sentence

SOURCE = "en"  # the language that clinicians sign
KINDS = ("", "emergency", "medicine")
# around words that somebody of the clinic wrote; the sheet quotes them and says in which language they are
VARIANTS = "variants"  # a room's folder of English spellings
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
    """One text: its plural forms (mostly one), who reviewed it, and of which kind it is. `adopted`: the
    clinic worded it itself, so it may say something else than another language's text."""

    forms: tuple[str, ...]
    review: Review
    kind: str = ""
    adopted: bool = False

    @property
    def names(self) -> frozenset[str]:
        """Its placeholders."""
        return frozenset(name for form in self.forms for name in names_of(form))


@dataclass(frozen=True)
class Texts:
    """One room's texts in one language, those it lacks in English."""

    language: str
    name: str
    plurals: str
    entries: Mapping[str, Entry]
    english: Texts | None = None
    room: str = ""

    do_not_call_in_templates = True  # there its words are looked up, see __getitem__

    def __call__(self, key: str, /, **values: object) -> str:
        """The text, filled. Raises TextError for a key that is nowhere, or a value that is missing."""
        texts = self._having(key)
        try:
            return texts.entries[key].forms[texts._number_of(key, values)].format(**values)
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

    def entry(self, key: str) -> Entry | None:
        """The text itself, English where the language lacks it; None where nobody says it."""
        own = self.entries.get(key)
        return own or (self.english.entries.get(key) if self.english is not None else None)

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
        if source is not None and source.adopted and not self.entries[key].adopted:
            return True
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
            made_from=self.made_from(key, values),
        )

    def made_from(
        self, key: str, values: Mapping[str, object], /, *, heading: str = "", part: int = 0, tail: str = ""
    ) -> MadeFrom:
        """Which text a sentence is, for whoever words it anew. See `MadeFrom`."""
        texts = self._having(key)
        number = texts._number_of(key, values)
        filled = tuple((name, str(value)) for name, value in values.items())
        return MadeFrom(
            f"{self.room}:{key}", texts.entries[key].forms[number], number, filled, heading, part, tail
        )

    def _number_of(self, key: str, values: Mapping[str, object]) -> int:
        return self.form_of(values["n"]) if len(self.entries[key].forms) > 1 else 0

    def _having(self, key: str) -> Texts:
        if key in self.entries:
            return self
        if self.english is not None and key in self.english.entries:
            return self.english
        raise TextError(f"{self.language}: there is no text {key!r}")


def plain_words(text: str) -> str:
    """Without the signs around somebody's own words."""
    return text.replace(OWN, "").replace(END, "")


class Room:
    """The texts of one room: a folder with a file for each language."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __call__(self, language: str) -> Texts:
        """Of a language that has no file: English. In the clinic's words, where it has its own."""
        return in_its_words(self.of_files(language), self)

    def of_files(self, language: str) -> Texts:
        """As the files say it."""
        return _loaded(self.folder, language)

    def variant(self, name: str) -> Mapping[str, Entry]:
        """English as one country spells it: only the texts that differ. Empty where there is no such file."""
        return _variant(self.folder, name)

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
def _variant(folder: Path, name: str) -> Mapping[str, Entry]:
    path = folder / VARIANTS / f"{name}.toml"
    if not path.is_file():
        return {}
    told = read(path)
    check(replace(told, english=_loaded(folder, SOURCE)))
    return told.entries


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
    return Texts(head["language"], head["name"], head["plurals"], entries, english, _room_of(path))


def _room_of(path: Path) -> str:
    folder = path.parent
    return (folder.parent if folder.name == VARIANTS else folder).parent.name


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


def names_of(form: str) -> tuple[str, ...]:
    """The placeholders of a text, in its order. Raises TextError, ValueError for braces that are none."""
    return tuple(_names(form))


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


@dataclass(frozen=True)
class ClinicWords:
    """What lies over the files: English as the clinic's country spells it (`variant`), and what the clinic
    adopted, by room and language, then by key."""

    entries: Mapping[tuple[str, str], Mapping[str, Entry]] = field(default_factory=dict)
    variant: str = ""
    _made: dict[int, tuple[Texts, Texts]] = field(default_factory=dict)

    def over(self, texts: Texts, room: Room) -> Texts:
        """`texts` of `room` with what the clinic says otherwise; the same object where that is nothing."""
        kept = self._made.get(id(texts))
        if kept is None:
            english = self.over(texts.english, room) if texts.english is not None else None
            own = {**self._spelled(texts, room), **self._adopted(texts)}
            said = texts
            if own or english is not texts.english:
                said = replace(texts, entries={**texts.entries, **own}, english=english)
            # the second keeps the first alive, so that no other object gets its id
            kept = self._made[id(texts)] = (said, texts)
        return kept[0]

    def _spelled(self, texts: Texts, room: Room) -> Mapping[str, Entry]:
        return room.variant(self.variant) if self.variant and texts.language == SOURCE else {}

    def _adopted(self, texts: Texts) -> dict[str, Entry]:
        """Those that still fit: a release may have given a text other placeholders, or none may be left."""
        found = {}
        for key, entry in self.entries.get((texts.room, texts.language), {}).items():
            stands = texts.entry(key)
            if (
                stands is not None
                and entry.names | {"n"} == stands.names | {"n"}
                and len(entry.forms) == len(stands.forms)
            ):
                found[key] = replace(entry, kind=stands.kind)
        return found


_WORDS: ContextVar[ClinicWords | None] = ContextVar("the_clinics_words", default=None)


@contextmanager
def in_the_words_of(words: ClinicWords) -> Iterator[None]:
    """Every text inside is in the clinic's own words, where it has its own."""
    token = _WORDS.set(words)
    try:
        yield
    finally:
        _WORDS.reset(token)


def variant_here() -> str:
    """How English is spelled inside `in_the_words_of`; empty elsewhere: as the files spell it."""
    words = _WORDS.get()
    return words.variant if words is not None else ""


def in_its_words(texts: Texts, room: Room) -> Texts:
    """`texts` as the clinic says them inside `in_the_words_of`; elsewhere as they are."""
    words = _WORDS.get()
    return words.over(texts, room) if words is not None else texts


LETTERS = Room(Path(__file__).with_name("texts"))
