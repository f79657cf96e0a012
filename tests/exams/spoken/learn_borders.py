"""Learns the weights of `exams/spoken/borders.py` from the narrations here that have stops of their own, and from `stops/`.

    python -m tests.exams.spoken.learn_borders          # writes languages/en/borders.csv
    python -m tests.exams.spoken.learn_borders --folds  # scores each fifth by what the others taught

An averaged perceptron: deterministic, whole numbers, no library. The pauses are taken out of a text, its terms are
read as dictation without stops would give them, and what stood between two terms is what is to be learned.
"""

from __future__ import annotations

import csv
import dataclasses
import random
import re
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from copy import copy
from itertools import pairwise
from pathlib import Path

from exams.spoken.borders import Signs
from exams.spoken.language import BORDERS, FOLDER, Weight
from exams.spoken.normalise import normalise
from exams.spoken.terms import Term, terms_of
from exams.spoken.tokens import ASK, PAUSE, STRONG, WEAK, tokens_of
from tests.exams.spoken.scoring import (
    GIVEN,
    MORE,
    gold,
    language_of,
    names,
    scored,
    scorer,
    text,
    total,
    vocabulary,
)

STOP = re.compile(r"[.,;:!?…–—()\"]+(?=\s|$|[\"')])|(?<=\s)-(?=\s)|[\"()]")
CLASSES = ("", WEAK, STRONG)
EPOCHS, SEED, SEEN, FINE, LEAST = 8, 0, 3, 10, 30
FOLDS = 5
STOPS = Path(__file__).with_name("stops")
# their stops are not learned: to see what is lost; those of `e07` and `f06` stand anywhere
APART = (
    "a07",
    "a08",
    "a09",
    "a10",
    "a11",
    "a12",
    "e07",
    *(f"{who}{n:02}" for who in "fg" for n in range(1, 13)),
)
OWN = 5  # full stops that a text has at least, to be learned from

Lesson = tuple[Sequence[Term], Sequence[str]]


def unstopped(said: str) -> str:
    """As dictation without stops and capitals writes it; every character where it was."""
    return STOP.sub(lambda m: " " * len(m[0]), said).lower().replace("\n", " ")


def lesson(said: str) -> Lesson:
    words = vocabulary()
    marks = [(t.start, t.kind) for t in tokens_of(said) if t.kind in (STRONG, WEAK, PAUSE, ASK)]
    terms = [t for t in terms_of(normalise(tokens_of(unstopped(said)), words), words) if not t.pause]
    stops = []
    for a, b in pairwise(terms):
        kinds = {kind for at, kind in marks if a.end <= at <= b.start}
        stops.append(STRONG if kinds & {STRONG, ASK} else WEAK if kinds else "")
    return terms, stops


def lessons() -> dict[tuple[Path, str], Lesson]:
    """The English narrations with stops of their own, or with those that a reader set (`stops/`)."""
    found = {}
    for folder in (GIVEN, MORE):
        for name in names(folder):
            if language_of(name, gold(folder, name)) == "en" and name not in APART:
                read = STOPS / f"{name}.txt"
                one = lesson(read.read_text(encoding="utf-8") if read.exists() else text(folder, name))
                if one[1].count(STRONG) >= OWN:
                    found[folder, name] = one
    return found


def learn(taught: Iterable[Lesson]) -> dict[str, Weight]:
    data = [(Signs(terms, vocabulary()), stops) for terms, stops in taught]
    seen: Counter[str] = Counter()
    for signs, stops in data:
        begin = 0
        for at, stop in enumerate(stops):
            seen.update(signs.between(at, begin))
            begin = at + 1 if stop == STRONG else begin
    now: dict[tuple[str, str], int] = defaultdict(int)
    summed: dict[tuple[str, str], int] = defaultdict(int)
    since: dict[tuple[str, str], int] = defaultdict(int)
    chance = random.Random(SEED)
    count = 0
    for _ in range(EPOCHS):
        chance.shuffle(data)
        for signs, stops in data:
            begin = 0
            for at, stop in enumerate(stops):
                count += 1
                here = [s for s in signs.between(at, begin) if seen[s] >= SEEN]
                sums = [sum(now.get((s, c), 0) for s in here) for c in CLASSES]
                guess = CLASSES[sums.index(max(sums))]
                for wrong, step in ((guess, -1), (stop, 1)) if guess != stop else ():
                    for sign in here:
                        key = sign, wrong
                        summed[key] += now[key] * (count - since[key])
                        since[key] = count
                        now[key] += step
                begin = at + 1 if stop == STRONG else begin
    for key, weight in now.items():
        summed[key] += weight * (count - since[key])
    found = {}
    for sign in sorted({s for s, _ in summed}):
        none, weak, strong = (round(FINE * summed.get((sign, c), 0) / count) for c in CLASSES)
        if max(abs(weak - none), abs(strong - none)) >= LEAST:
            found[sign] = Weight(weak - none, strong - none)
    return found


def write(found: dict[str, Weight], path: Path) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(("sign", "weak", "strong"))
        rows.writerows((sign, weight.weak, weight.strong) for sign, weight in found.items())


def folds() -> None:
    """Each fifth of the texts without stops, heard by the weights that the others taught."""
    taught = lessons()
    given, every = [], []
    for fold in range(FOLDS):
        found = learn(one for at, one in enumerate(taught.values()) if at % FOLDS != fold)
        words = copy(vocabulary())
        words.language = dataclasses.replace(words.language, borders=found)
        for at, (folder, name) in enumerate(taught):
            if at % FOLDS == fold:
                result = scored(folder, name, unstopped(text(folder, name)), words)[0]
                every.append(result)
                given += [result] if folder == GIVEN else []
    for label, results in (("given", given), ("all", every)):
        t = total(results)
        print(
            label,
            f"P {t['right'] / t['pred']:.3f} R {t['right'] / t['gold']:.3f}",
            {k: t[k] for k in scorer().COUNTS},
        )


if __name__ == "__main__":
    if "--folds" in sys.argv:
        folds()
    else:
        write(learn(lessons().values()), FOLDER / "en" / BORDERS)
