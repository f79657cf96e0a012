"""What owners read of an exam, in their language: the room's own texts, and beside them the walk's words.

The walk keeps its English itself (a clinic may have added to it, and every exam keeps its version); other
languages stand in `exams/texts/*.toml` under the keys that `english_of` gives it. What a language lacks, such
as a finding that the clinic added itself, is said in English and marked so.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

from clinic.letters.texts import SOURCE, Entry, Review, Room, Texts, in_its_words
from exams.lump_places import DETAILS, regions
from exams.walk import Station, Structure, Walk

ROOM = Room(Path(__file__).with_name("texts"))
OF = {"PER": "area under the tail"}  # behind "the rest of the", where the name alone would not do
LEFT_RIGHT = ("left", "right", "both")


def texts_of(walk: Walk, language: str = SOURCE) -> Texts:
    """The room's texts with those of this walk."""
    return in_its_words(of_files(walk, language), ROOM)


_KNOWN: dict[tuple[Path, str, str], Texts] = {}


def of_files(walk: Walk, language: str = SOURCE) -> Texts:
    """As the files and this walk say it, not in the clinic's own words."""
    told = ROOM.of_files(language)
    key = (ROOM.folder, told.language, walk.sha256)
    if key not in _KNOWN:
        if told.english is None:
            _KNOWN[key] = replace(told, entries={**told.entries, **entries_of(english_of(walk))})
        else:
            _KNOWN[key] = replace(told, english=of_files(walk))
    return _KNOWN[key]


def entries_of(texts: Mapping[str, str]) -> dict[str, Entry]:
    return {key: Entry((text,), Review()) for key, text in texts.items()}


@cache
def places_in_english() -> Mapping[str, str]:
    """Regions of the drawings and finer places of lumps."""
    named = {code: told.plain for own in regions().values() for code, told in own.items()}
    return {
        **{f"region.{code}": plain for code, plain in named.items()},
        **{f"detail.{words}": words for words in DETAILS},
    }


@cache
def plain_names() -> Mapping[str, str]:
    """What owners read instead of the trade's name, by the code of the structure."""
    listed = Path(__file__).with_name("plain_names.toml").read_text(encoding="utf-8")
    return dict(tomllib.loads(listed)["names"])


def english_of(walk: Walk) -> dict[str, str]:
    """Every word of the walk that an owner may read, by key. Owners' sentences hold {pet} or {Pet}."""
    found = dict(places_in_english())
    for station in walk.stations:
        found |= {f"station.{station.code}.{name}": text for name, text in _station(station)}
        found |= {f"structure.{s.code}": _structure(s) for s in station.structures}
        found |= {f"finding.{f.code}": _of_pet(f.owner_line) for f in station.findings}
    found |= {f"reason.{r.key}": _of_pet(r.owner) for r in walk.reasons if r.owner}
    for scale in walk.scales:
        found |= {f"grade.{scale.key}.{g.key}": _plain(g.owner or g.label) for g in scale.grades}
    return found


def _station(station: Station) -> Iterator[tuple[str, str]]:
    yield "name", station.owner_name
    yield "of", OF.get(station.code, lower(station.owner_name))
    part = station.owner_part
    for side in ("left", "right"):
        yield side, f"{side.capitalize()} {part}" if part else f"{station.owner_name}, {side} side"
    yield "both", f"Both {part}s" if part else f"{station.owner_name}, both sides"


def _structure(structure: Structure) -> str:
    """Among others in a sentence: "Left kidney" is "Kidney, left" of the walk; where it looks for fleas the
    look is named, not its places."""
    if structure.looked_for:
        return f"Check for {lower(structure.looked_for)}"
    if named := plain_names().get(structure.code):
        return named
    name = structure.name.partition(" (")[0]
    what, _, side = name.rpartition(", ")
    return f"{side.capitalize()} {lower(what)}" if side in ("left", "right") else name


def _of_pet(line: str) -> str:
    return _plain(line).replace("Your pet", "{Pet}").replace("your pet", "{pet}")


def _plain(text: str) -> str:
    """Braces of the text itself are no placeholders; its apostrophes are those of the rest of a letter."""
    return text.replace("{", "{{").replace("}", "}}").replace("'", "’")


def lower(text: str) -> str:
    """Lower the first letter unless the word is an abbreviation or a score (BCS 7, S1, Horner's)."""
    keep = text[:2].isupper() or text.startswith(("Horner", "Ortolani", "Schirmer"))
    return text if keep else text[:1].lower() + text[1:]


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]
