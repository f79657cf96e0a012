"""The files of one language: `languages/<xx>/words.toml`, `mishearings.csv`. Only reads."""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

FOLDER = Path(__file__).with_name("languages")
WORDS = "words.toml"
MISHEARINGS = "mishearings.csv"
BORDERS = "borders.csv"
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
    today: tuple[str, ...]
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
    it: tuple[str, ...]
    top: tuple[str, ...]
    beneath: tuple[str, ...]
    each: tuple[str, ...]
    not_that: tuple[str, ...]
    others: tuple[str, ...]
    along: tuple[str, ...]
    parts: tuple[str, ...]
    proper: tuple[str, ...]
    predicative: tuple[str, ...]
    is_only: tuple[str, ...]
    normal: tuple[str, ...]
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
    return Language(
        code,
        {section: _section(data.get(section, {})) for section in SECTIONS},
        words,
        dict(data.get("plural", {})),
        {article: tuple(instead) for article, instead in data.get("whose", {}).items()},
        tuple(data.get("articles", ())),
        tuple(data.get("no", ())),
        tuple(data.get("yes", ())),
        tuple(data.get("several", ())),
        tuple(data.get("pronouns", ())),
        tuple(data.get("openers", ())),
        tuple(data.get("kept", ())),
        tuple(data.get("change", ())),
        tuple(data.get("baby", ())),
        tuple(data.get("none", ())),
        tuple(data.get("ordinals", ())),
        tuple(data.get("clipped", ())),
        tuple(data.get("lumps", ())),
        tuple(data.get("common", ())),
        tuple(data.get("settled", ())),
        tuple(data.get("today", ())),
        tuple(data.get("series", ())),
        tuple(data.get("only", ())),
        tuple(data.get("points", ())),
        tuple(data.get("refusals", ())),
        tuple(data.get("speakers", ())),
        tuple(data.get("balks", ())),
        tuple(data.get("idle", ())),
        tuple(data.get("sensing", ())),
        tuple(data.get("adverbs", ())) or ("\0",),
        tuple(data.get("ailing", ())) or ("\0",),
        tuple(data.get("it", ())),
        tuple(data.get("top", ())),
        tuple(data.get("beneath", ())),
        tuple(data.get("each", ())),
        tuple(data.get("not_that", ())),
        tuple(data.get("others", ())),
        tuple(data.get("along", ())),
        tuple(data.get("parts", ())),
        tuple(data.get("proper", ())),
        tuple(data.get("predicative", ())),
        tuple(data.get("is_only", ())),
        tuple(data.get("normal", ())),
        bool(data.get("tens_and", False)),
        _mishearings(folder / code / MISHEARINGS),
        _borders(folder / code / BORDERS),
    )


def _skipping(data: dict[str, Any]) -> None:
    """ "couldn't" and "visualise": the ways to say that something was not looked at, each with each."""
    said = data.get("skip-words", {})
    forms = [f"{no} {look}" for no in said.get("not", ()) for look in said.get("look", ())]
    skips = data.setdefault("control", {}).setdefault("skip", [])
    skips += [form for form in (*forms, *said.get("left", ())) if form not in skips]


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
