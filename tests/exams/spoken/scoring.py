"""Runs what is heard against the gold of narrations, with the scorer that lies beside them.

`narrations/`: given texts (invented), gold, phrases, mishearings and scorer, as they came. `more/`: further
narrations of other speakers with gold, first scored before the rules had seen them. README.md here has the
figures.
"""

from __future__ import annotations

import csv
import importlib.util
import json
import random
import re
from functools import cache
from pathlib import Path
from typing import Any

from exams.spoken import About, Vocabulary, hear, vocabulary_of
from exams.spoken.shown import plain
from exams.walk import load_walk

HERE = Path(__file__).parent
GIVEN, MORE = HERE / "narrations", HERE / "more"
NEW = HERE / "new_speakers"  # kept unread: what a new speaker gets
PIECES = HERE / "pieces"  # three folders of a few sentences each, in idiom that the narrations have not
STRUCTURES = HERE.parents[1] / "reference" / "exam_structures.csv"


@cache
def scorer() -> Any:
    spec = importlib.util.spec_from_file_location("spoken_score", GIVEN / "score.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    module.REFERENCE = str(STRUCTURES)
    return module


@cache
def sides() -> Any:
    return scorer().load_sides()


@cache
def walk() -> Any:
    return load_walk()


@cache
def vocabulary(language: str = "en") -> Vocabulary:
    return vocabulary_of(walk(), language=language)


def names(folder: Path) -> list[str]:
    return sorted(p.stem for p in folder.glob("[a-z][0-9][0-9].json"))


@cache
def gold(folder: Path, name: str) -> Any:
    return json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))


@cache
def text(folder: Path, name: str) -> str:
    return (folder / f"{name}.txt").read_text(encoding="utf-8")


def language_of(name: str, record: Any) -> str:
    return record.get("language") or ("es" if name == "d08" else "en")


def about(record: Any, language: str) -> About:
    age = re.search(r"(\d+)\s*(week|month|year)", record["age"])
    assert age
    months = float(age[1]) * {"week": 12 / 52, "month": 1, "year": 12}[age[2]]
    return About(record["species"], record["sex"].replace(" ", "-"), months, language)


def heard(folder: Path, name: str, words: str | None = None, with_: Vocabulary | None = None) -> Any:
    record = gold(folder, name)
    language = language_of(name, record)
    said = text(folder, name) if words is None else words
    return plain(hear(said, about(record, language), with_ or vocabulary(language)), said, walk())


def scored(folder: Path, name: str, words: str | None = None, with_: Vocabulary | None = None) -> Any:
    """Counts and notes of one narration."""
    said = text(folder, name) if words is None else words
    return scorer().score(gold(folder, name), heard(folder, name, words, with_), said, sides())


def total(results: list[Any]) -> dict[str, int]:
    return {key: sum(r[key] for r in results) for key in scorer().COUNTS}


def damaged(words: str, share: float, seed: int) -> str:
    """`share` of the words, as many as the table knows, put as dictation mishears them."""
    chance = random.Random(seed)
    spots: list[tuple[int, int, str]] = []
    for row in csv.DictReader((GIVEN / "mishearings.csv").open(encoding="utf-8")):
        for found in re.finditer(rf"(?<!\w){re.escape(row['meant'])}(?!\w)", words, re.IGNORECASE):
            spots.append((found.start(), found.end(), row["heard"]))
    chance.shuffle(spots)
    used: list[tuple[int, int, str]] = []
    for start, end, put in spots:
        if len(used) >= len(words.split()) * share:
            break
        if all(end <= a or start >= b for a, b, _ in used):
            used.append((start, end, put))
    for start, end, put in sorted(used, reverse=True):
        words = words[:start] + put + words[end:]
    return words


def phrase_rows() -> dict[tuple[str, str], list[dict[str, str]]]:
    rows: dict[tuple[str, str], list[dict[str, str]]] = {}
    with (GIVEN / "phrases.csv").open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            rows.setdefault((row["phrase"], row["species"]), []).append(row)
    return rows


def phrase_gold(rows: list[dict[str, str]]) -> dict[str, Any]:
    """The gold of one phrase in the scorer's shape."""
    record: dict[str, Any] = {"measurements": [], "findings": [], "heads_ups": [], "plan": []}
    for row in rows:
        if row["state"] == "measured":
            record["measurements"].append(
                {"what": row["structure"], "value": row["value"], "unit": row["unit"], "words": row["phrase"]}
            )
        elif row["state"] != "nothing":
            record["findings"].append(_phrase_finding(row))
    return record


def _phrase_finding(row: dict[str, str]) -> dict[str, Any]:
    comment = row["comment"]
    limb = row["side"] if row["side"] in ("LF", "RF", "LH", "RH") else ""
    entry: dict[str, Any] = {
        "station": row["station"],
        "structure": row["structure"],
        "side": {"L": "left", "R": "right"}[limb[0]] if limb else row["side"],
        "site": limb,
        "state": row["state"],
        "partial": False,
        "codes": [row["code"]] if row["code"] else [],
        "severity": row["severity"] or None,
        "grade": row["grade"] or None,
        "note": "",
        "words": row["phrase"],
    }
    if "not_examined also accepted" in comment or "not_examined accepted" in comment:
        entry["accept_states"] = ["not_examined"]
    if "either side" in comment or "side none accepted" in comment:
        entry["side_free"] = True
    if "may be added" in comment:
        entry["codes_ok"] = re.findall(r"[A-Z]{3}-\d\d", comment)
    return entry


def phrase_about(phrase: str, species: str, rows: list[dict[str, str]]) -> About:
    comments = " ".join(r["comment"] for r in rows)
    sex = (
        "male-intact" if "entire male" in comments or "testic" in phrase
        else "male-neutered" if "neutered male" in comments
        else "female-intact" if "female" in comments
        else "male-intact" if re.search(r"\bmale\b", comments)
        else ""
    )  # fmt: skip
    return About("" if species == "any" else species, sex, 36)
