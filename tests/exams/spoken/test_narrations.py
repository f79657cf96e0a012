"""The scorer's figures, with floors: no false normal anywhere, whatever else changes.

Run by hand for the whole table: `python manage.py hear FILE --species dog --json` for one text, and
`score.py` beside the narrations for a folder of them.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from exams.spoken import About, hear, vocabulary_of
from exams.spoken.language import Language
from exams.spoken.shapes import NORMAL, PARTIAL
from exams.spoken.shown import plain
from tests.exams.spoken.learn_borders import unstopped
from tests.exams.spoken.scoring import (
    GIVEN,
    HERE,
    MORE,
    NEW,
    PIECES,
    damaged,
    gold,
    language_of,
    names,
    phrase_about,
    phrase_gold,
    phrase_rows,
    scored,
    scorer,
    sides,
    text,
    total,
    vocabulary,
    walk,
)

LATEST = ("a", "b", "c", "e", "f", "g", "r", "t")
PLAIN = ("h", "i", "j", "k", "l", "o")  # asked for as a clinician talks, each read when it had been scored
CASES = [pytest.param(folder, name, id=name) for folder in (GIVEN, MORE) for name in names(folder)]
# floors of precision, recall and code sets, and the most of another side
KINDS = {
    "head": (0.97, 0.83, 0.85, 0.01),
    "trunk": (0.95, 0.76, 0.75, 0.015),
    "limbs": (0.97, 0.76, 0.73, 0.01),
    "plain_head": (0.98, 0.82, 0.81, 0.02),
    "plain_trunk": (0.935, 0.78, 0.75, 0.025),
    "plain_limbs": (0.87, 0.53, 0.52, 0.01),
}


@pytest.mark.parametrize(("folder", "name"), CASES)
def test_no_narration_has_a_false_normal(folder: Path, name: str) -> None:
    result, notes = scored(folder, name)
    assert result["false_normals"] == 0, notes
    assert result["abnormal_as_normal"] == 0, notes
    assert result["whole_for_part"] == 0, notes
    assert result["unknown"] == result["words_absent"] == 0, notes


def _precision(t: dict[str, int]) -> float:
    return t["right"] / t["pred"]


def _recall(t: dict[str, int]) -> float:
    return t["right"] / t["gold"]


def _hold(t: dict[str, int], precision: float, recall: float, codes: float, sides: float) -> None:
    """Floors of states and code sets, and how many of the proposals may have another side."""
    assert _precision(t) >= precision
    assert _recall(t) >= recall
    assert t["code_exact"] / t["abnormal_gold"] >= codes
    assert t["side_errors"] <= sides * t["pred"]


def _more(which: Callable[[str], bool]) -> dict[str, int]:
    return total([scored(MORE, name)[0] for name in names(MORE) if which(name)])


def test_the_given_narrations_hold_their_floors() -> None:
    t = total([scored(GIVEN, name)[0] for name in names(GIVEN)])
    _hold(t, 0.985, 0.985, 0.95, 0.01)
    assert t["m_right"] / t["m_gold"] >= 0.95
    assert t["m_extra"] == 0
    assert t["must_not"] <= 1
    assert t["heads_right"] == t["heads_gold"]
    assert t["plan_right"] / t["plan_gold"] >= 0.8


def test_the_further_narrations_hold_their_floors() -> None:
    t = _more(lambda name: not name.startswith((*LATEST, *PLAIN)))
    _hold(t, 0.99, 0.97, 0.95, 0.005)
    assert t["m_right"] / t["m_gold"] >= 0.97
    assert t["must_not"] == 0


def test_the_latest_narrations_hold_their_floors() -> None:
    """Nothing was mended for what these miss, only for what they got wrong: `README.md`."""
    t = _more(lambda name: name.startswith(LATEST))
    _hold(t, 0.97, 0.86, 0.84, 0.01)
    assert t["m_right"] / t["m_gold"] >= 0.9
    assert t["must_not"] <= 30


def test_those_who_talk_plainly_hold_their_floors() -> None:
    t = _more(lambda name: name.startswith(PLAIN))
    _hold(t, 0.98, 0.93, 0.9, 0.01)
    assert t["m_right"] / t["m_gold"] >= 0.95
    assert t["must_not"] <= 20


@pytest.mark.parametrize("kind", KINDS)
def test_pieces_hold_their_floors(kind: str) -> None:
    """Written to be hard to hear: what is not known is missed, and nothing of it is normal."""
    t = total([scored(PIECES / kind, name)[0] for name in names(PIECES / kind)])
    assert t["false_normals"] == t["abnormal_as_normal"] == 0
    assert t["whole_for_part"] <= 1  # "tail has tone, the bottom I'll spare him"
    _hold(t, *KINDS[kind])


def test_new_speakers_are_understood_as_well_as_before() -> None:
    """Nobody who makes the rules has read these: not what is wanted, and said so in README.md."""
    t = total([scored(NEW, name)[0] for name in names(NEW)])
    _hold(t, 0.97, 0.88, 0.85, 0.01)
    assert t["false_normals"] == 0
    assert t["abnormal_as_normal"] <= 6
    assert t["m_right"] / t["m_gold"] >= 0.92


def test_without_any_stop_or_capital_little_is_lost() -> None:
    """The given ones as a tablet writes them that sets no stops. Their stops taught the weights, as all of them
    did: README.md says what others lose."""
    t = total([scored(GIVEN, name, unstopped(text(GIVEN, name)))[0] for name in names(GIVEN)])
    assert t["false_normals"] == 0
    assert t["abnormal_as_normal"] <= 1
    assert _precision(t) >= 0.98
    assert _recall(t) >= 0.93


def _no_normal() -> list[str]:
    return (HERE / "no_normal.txt").read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("said", _no_normal())
def test_what_is_wished_asked_remembered_or_only_nearly_so_is_no_normal(said: str) -> None:
    """As it was said, and as dictation without stops and apostrophes writes it."""
    for words in (said, said.lower().translate(str.maketrans("", "", ".,'"))):
        found = hear(words, About("dog", "male-neutered", 60), vocabulary())
        assert not [p for p in found.proposals if p.state in (NORMAL, PARTIAL)], words


@pytest.mark.parametrize("share", [0.05, 0.1, 0.2])
def test_misheard_words_add_no_false_normal(share: float, long_run: bool) -> None:
    results = []
    for seed in (1, 2) if long_run else (1,):
        for name in names(GIVEN):
            said = damaged(text(GIVEN, name), share, seed)
            results.append(scored(GIVEN, name, said)[0])
    for name in names(MORE):
        if language_of(name, gold(MORE, name)) == "en" and not name.startswith(
            ("a", "b", "c", "e", "f", "g")
        ):
            results.append(scored(MORE, name, damaged(text(MORE, name), share, 1))[0])
    t = total(results)
    assert t["false_normals"] == t["abnormal_as_normal"] == 0
    assert _precision(t) >= 0.97
    assert _recall(t) >= 0.92  # 0.93 without `t02`-`t16`, of which less is understood


def test_every_phrase_is_heard() -> None:
    missed = []
    for (phrase, species), rows in phrase_rows().items():
        found = plain(hear(phrase, phrase_about(phrase, species, rows), vocabulary()), phrase, walk())
        r, notes = scorer().score(phrase_gold(rows), found, phrase, sides())
        assert not r["false_normals"], (phrase, notes)
        whole = r["right"] == r["gold"] == r["pred"] and r["code_exact"] == r["abnormal_gold"]
        if not whole or r["side_errors"] or r["m_right"] != r["m_gold"] or r["m_extra"]:
            missed.append((phrase, notes))
    assert len(missed) <= 4, missed


def test_talk_that_is_no_finding_yields_nothing() -> None:
    for (phrase, species), rows in phrase_rows().items():
        if rows[0]["state"] == "nothing":
            found = hear(phrase, phrase_about(phrase, species, rows), vocabulary())
            assert not found.proposals, phrase
            assert not found.measurements, phrase


def _without(words: Language, gone: set[tuple[str, str, str]]) -> Language:
    import dataclasses

    kept = {
        section: {
            key: tuple(f for f in forms if (section, key, f) not in gone) for key, forms in keys.items()
        }
        for section, keys in words.forms.items()
    }
    return dataclasses.replace(words, forms=kept)


@pytest.mark.long
def test_left_out_one_narration_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every form of the files that only this narration uses, of all texts here, is taken away before it is
    scored: what a text full of words nobody wrote down would give."""
    from exams.spoken import vocabulary as module
    from exams.spoken.language import read_language

    english = [(f, n) for f in (GIVEN, MORE) for n in names(f) if language_of(n, gold(f, n)) == "en"]
    spoken = {n: f" {' '.join(_flat(text(f, n)))} " for f, n in english}
    phrases = " | ".join(" ".join(_flat(p)) for p, _ in phrase_rows())
    words = read_language("en")
    results: list[Any] = []
    for folder, name in english:
        others = " ".join(v for k, v in spoken.items() if k != name) + phrases
        gone = {
            (section, key, form)
            for section in ("noun", "trait", "finding", "says")
            for key, forms in words.forms[section].items()
            for form in forms
            if f" {form} " in spoken[name] and form not in others
        }
        monkeypatch.setattr(module, "read_language", lambda *_a, gone=gone: _without(words, gone))
        result, _ = scored(folder, name, with_=vocabulary_of(walk()))
        results.append(result)
        print(len(gone), "forms gone", scorer().line(name, result))
    t = total(results)
    print(scorer().line("left out", t))
    # without the word for the tick, its ear is the topic of "no fleas"; without "back of the eye", "can't
    # see the back of the eye" takes back nothing of "fundus normal" behind it
    assert t["false_normals"] * 6_800 <= 12 * t["pred"]  # no more of them than ever: README.md
    assert _precision(t) >= 0.97
    assert _recall(t) >= 0.85


def _flat(words: str) -> list[str]:
    import re

    return re.findall(r"[^\W_]+(?:'[^\W_]+)*", words.lower().replace("\u2019", "'"))
