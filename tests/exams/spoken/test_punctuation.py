"""The given narrations as other tablets write them: commas for full stops, capitals and no stops, a stop at every
breath. What is heard may be less; hardly anything more."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

import pytest

from exams.spoken import About, hear
from tests.exams.spoken.scoring import GIVEN, names, scored, text, total, vocabulary

SEED = 7


def _half(pattern: str, instead: str) -> Callable[[str], str]:
    def write(said: str) -> str:
        toss = random.Random(SEED)
        return re.sub(pattern, lambda m: instead if toss.random() < 0.5 else m[0], said)

    return write


def _breaths(said: str) -> str:
    """A full stop after five to twelve words, wherever that is."""
    toss, written, left = random.Random(SEED), [], 0
    for word in re.sub(r"[.,]( |$)", " ", said).lower().split():
        left = left - 1 if left else toss.randint(4, 11)
        written.append(word if left else f"{word}.")
    return " ".join(written)


# how it is written; the least that is heard of the gold's states; the most false normals of all twelve
MANNERS: dict[str, tuple[Callable[[str], str], float, int]] = {
    "commas for full stops": (lambda said: said.replace(". ", ", "), 0.97, 0),
    "commas for full stops, no capitals": (lambda said: said.replace(". ", ", ").lower(), 0.95, 0),
    "capitals, no stops": (lambda said: said.replace(". ", " ").replace(", ", " "), 0.93, 0),
    "no stops but question marks and colons": (
        lambda said: re.sub(r"[.,]( |$)", " ", said).lower(),
        0.94,
        0,
    ),
    "half of the full stops, capitals": (_half(r"\. ", " "), 0.95, 0),
    "half of the full stops commas": (_half(r"\. ", ", "), 0.97, 0),
    "no commas": (lambda said: said.replace(", ", " "), 0.95, 0),
    "lines": (lambda said: said.replace(". ", "\n"), 0.96, 0),
    "and for every full stop": (lambda said: said.replace(". ", " and ").lower(), 0.85, 0),
    "capitals alone": (str.upper, 0.98, 0),
    "a stop at every breath": (_breaths, 0.9, 2),
}


@pytest.mark.parametrize("manner", MANNERS)
def test_however_it_is_written_little_is_lost(manner: str) -> None:
    write, least, most = MANNERS[manner]
    t = total([scored(GIVEN, name, write(text(GIVEN, name)))[0] for name in names(GIVEN)])
    assert t["false_normals"] <= most
    assert t["abnormal_as_normal"] <= 1
    assert t["right"] / t["pred"] >= 0.975
    assert t["right"] / t["gold"] >= least


def test_a_question_at_the_end_asks_nothing_of_what_ran_on_before_it() -> None:
    said = (
        "eyes are clear no discharge ears fine outside heart one hundred regular no murmur lungs clear both "
        "sides belly soft bladder small hips move well kneecaps stay in coat shiny no fleas no ticks teeth "
        "clean gums pink how old is she again?"
    )
    heard = hear(said, About("dog", "female-spayed", 60), vocabulary())
    assert {"HRT.murmur", "LUN.front", "ABD.bladder", "SKN.fleas"} <= {p.structure for p in heard.proposals}


def test_a_few_names_with_capitals_set_no_stops() -> None:
    said = "Ginger and Rose are here. Rose has a soft belly. Ginger has a cough at home."
    heard = hear(said, About("dog", "female-spayed", 60), vocabulary())
    assert [p.structure for p in heard.proposals] == ["ABD.wall"]
