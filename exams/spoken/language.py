"""The files of one language: `languages/<xx>/words.toml`, `mishearings.csv`. Only reads."""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from itertools import product
from pathlib import Path
from typing import Any, NamedTuple

FOLDER = Path(__file__).with_name("languages")
WORDS = "words.toml"
MISHEARINGS = "mishearings.csv"
BORDERS = "borders.csv"
LIST = "tuple[str, ...]"  # a field that is a list of words.toml, under its own name unless WRITTEN
WRITTEN = {"bare_no": "no"}
ENDINGS, NEVER = (
    ("adverbs", "ailing", "acting"),
    "\0",
)  # endings of words; where a language has none, nothing ends so
# sections of words.toml whose keys say what their forms mean
SECTIONS = (
    "noun",
    "trait",
    "finding",
    "says",
    "side",
    "limb",
    "place",
    "severity",
    "direction",
    "tooth",
    "stage",
    "number-unit",
    "vertebra",
    "number",
    "pronoun",
    "word",
    "control",
    "reason",
    "talk",
)


class UnknownLanguage(ValueError):
    """There are no files for this language."""


@dataclass(frozen=True, slots=True)
class Mishearing:
    """What dictation writes, what was said; `before` and `after`: neighbours it needs, `unless` ones it must
    not have before it (each a regular expression of one word, empty for any)."""

    heard: tuple[str, ...]
    meant: tuple[str, ...]
    after: str = ""
    before: str = ""
    unless: str = ""


class Weight(NamedTuple):
    """How much a sign between two words speaks for a comma there, and for a full stop, against neither."""

    weak: int
    strong: int


@dataclass(frozen=True, slots=True)
class Language:
    """`forms[section][key]` are the ways to say `key`; `numbers`: number words; `plural`: endings and the
    words they follow (a regular expression); `several`: nouns that mean several without one; `borders`:
    weights of the signs that `borders` goes by."""

    code: str
    forms: Mapping[str, Mapping[str, tuple[str, ...]]]
    numbers: Mapping[str, int]
    plural: Mapping[str, str]
    whose: Mapping[str, tuple[str, ...]]
    articles: tuple[str, ...]
    bare_no: tuple[str, ...]
    yes: tuple[str, ...]
    several: tuple[str, ...]
    pronouns: tuple[str, ...]
    openers: tuple[str, ...]
    kept: tuple[str, ...]
    change: tuple[str, ...]
    baby: tuple[str, ...]
    none: tuple[str, ...]
    ordinals: tuple[str, ...]
    clipped: tuple[str, ...]
    lumps: tuple[str, ...]
    common: tuple[str, ...]
    settled: tuple[str, ...]
    managed: tuple[str, ...]
    merely: tuple[str, ...]
    ends: tuple[str, ...]
    today: tuple[str, ...]
    of_today: tuple[str, ...]
    afterthoughts: tuple[str, ...]
    announcing: tuple[str, ...]
    there_is: tuple[str, ...]
    from_behind: tuple[str, ...]
    hindmost: tuple[str, ...]
    in_a_row: tuple[str, ...]
    upper_pressure: tuple[str, ...]
    series: tuple[str, ...]
    only: tuple[str, ...]
    points: tuple[str, ...]
    refusals: tuple[str, ...]
    speakers: tuple[str, ...]
    balks: tuple[str, ...]
    idle: tuple[str, ...]
    sensing: tuple[str, ...]
    adverbs: tuple[str, ...]
    ailing: tuple[str, ...]
    acting: tuple[str, ...]
    it: tuple[str, ...]
    top: tuple[str, ...]
    beneath: tuple[str, ...]
    each: tuple[str, ...]
    not_that: tuple[str, ...]
    others: tuple[str, ...]
    other_one: tuple[str, ...]
    looks: tuple[str, ...]
    looked: tuple[str, ...]
    was: tuple[str, ...]
    along: tuple[str, ...]
    parts: tuple[str, ...]
    proper: tuple[str, ...]
    predicative: tuple[str, ...]
    is_only: tuple[str, ...]
    hindered: tuple[str, ...]
    no_lump: tuple[str, ...]
    normal: tuple[str, ...]
    base: tuple[str, ...]
    own: tuple[str, ...]
    own_view: tuple[str, ...]
    beyond: tuple[str, ...]
    possessive: tuple[str, ...]
    tags: tuple[str, ...]
    tools: tuple[str, ...]
    modal: tuple[str, ...]
    describing: tuple[str, ...]
    does: tuple[str, ...]
    does_not: tuple[str, ...]
    hardly: tuple[str, ...]
    likewise: tuple[str, ...]
    another: tuple[str, ...]
    looking: tuple[str, ...]
    fatty: tuple[str, ...]
    likened: tuple[str, ...]
    upon: tuple[str, ...]
    right_at: tuple[str, ...]
    inward: tuple[str, ...]
    pains: tuple[str, ...]
    scales: tuple[str, ...]
    ways: tuple[str, ...]
    done: tuple[str, ...]
    breaths: tuple[str, ...]
    left_words: tuple[str, ...]
    right_words: tuple[str, ...]
    pair_words: tuple[str, ...]
    at_side: tuple[str, ...]
    ones: tuple[str, ...]
    assent: tuple[str, ...]
    every: tuple[str, ...]
    sided: re.Pattern[str]
    too: tuple[str, ...]
    felt: tuple[str, ...]
    spoken_stops: tuple[str, ...]
    of_eye: tuple[str, ...]
    scoping: tuple[str, ...]
    rear: tuple[str, ...]
    behind: tuple[str, ...]
    ahead: tuple[str, ...]
    flips: tuple[str, ...]
    that_one: tuple[str, ...]
    turned: tuple[str, ...]
    so_bred: tuple[str, ...]
    not_yet: tuple[str, ...]
    some_teeth: tuple[str, ...]
    tens_and: bool
    mishearings: tuple[Mishearing, ...]
    borders: Mapping[str, Weight]


def languages(folder: Path = FOLDER) -> tuple[str, ...]:
    """Languages that have files, as "en" and "es"."""
    return tuple(sorted(p.parent.name for p in folder.glob(f"*/{WORDS}")))


def read_language(code: str, folder: Path = FOLDER) -> Language:
    """Read a language. Raises UnknownLanguage."""
    if not re.fullmatch(r"[a-z]{2,3}(-[a-z]+)?", code) or code not in languages(folder):
        raise UnknownLanguage(f"no spoken forms for the language {code!r}")
    data = tomllib.loads((folder / code / WORDS).read_text(encoding="utf-8"))
    words = data.get("number", {}).pop("words", {})
    _skipping(data)
    _combining(data)
    lists = {
        f.name: tuple(data.get(WRITTEN.get(f.name, f.name), ())) for f in fields(Language) if f.type == LIST
    }
    for endings in ENDINGS:
        lists[endings] = lists[endings] or (NEVER,)
    return Language(
        code=code,
        forms={section: _section(data.get(section, {})) for section in SECTIONS},
        numbers=words,
        plural=dict(data.get("plural", {})),
        whose={article: tuple(instead) for article, instead in data.get("whose", {}).items()},
        tens_and=bool(data.get("tens_and", False)),
        sided=re.compile(data.get("sided", NEVER)),
        mishearings=_mishearings(folder / code / MISHEARINGS),
        borders=_borders(folder / code / BORDERS),
        **lists,
    )


def _skipping(data: dict[str, Any]) -> None:
    """ "couldn't" and "visualise": the ways to say that something was not looked at, each with each."""
    said = data.get("skip-words", {})
    forms = [f"{no} {look}" for no in said.get("not", ()) for look in said.get("look", ())]
    skips = data.setdefault("control", {}).setdefault("skip", [])
    skips += [form for form in (*forms, *said.get("left", ())) if form not in skips]


def _combining(data: dict[str, Any]) -> None:
    """ "Its full arc", "the whole sweep": every word of one list with every one of the next."""
    for section, keys in data.get("combined", {}).items():
        for key, rows in keys.items():
            said = data.setdefault(section, {}).setdefault(key, [])
            known = set(said)
            for row in rows:
                said += [form for form in map(" ".join, product(*row)) if form not in known]


def _section(data: Mapping[str, Any]) -> Mapping[str, tuple[str, ...]]:
    return {key: tuple(forms) for key, forms in data.items()}


def _mishearings(path: Path) -> tuple[Mishearing, ...]:
    if not path.exists():
        return ()
    with path.open(newline="", encoding="utf-8") as file:
        return tuple(
            Mishearing(
                tuple(row["heard"].lower().split()),
                tuple(row["meant"].lower().split()),
                row.get("after") or "",
                row.get("before") or "",
                row.get("unless") or "",
            )
            for row in csv.DictReader(file)
        )


def _borders(path: Path) -> Mapping[str, Weight]:
    if not path.exists():
        return {}
    with path.open(newline="", encoding="utf-8") as file:
        return {row["sign"]: Weight(int(row["weak"]), int(row["strong"])) for row in csv.DictReader(file)}
