"""A question about words that judge an owner. Pure; the words are data: `wording.toml`.

RCVS Supporting Guidance 13.2: records are objective and factual and hold no personal remarks on a client's
motives or finances. Which words are asked about is common practice.
"""

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

WORDS = Path(__file__).with_name("wording.toml")


@dataclass(frozen=True)
class Loaded:
    """Words as they were written, and what could be said instead."""

    words: str
    instead: str


@cache
def _listed() -> tuple[tuple[re.Pattern[str], str], ...]:
    told = tomllib.loads(WORDS.read_text(encoding="utf-8"))["word"]
    return tuple((re.compile(_pattern(each), re.IGNORECASE), each["instead"]) for each in told)


def _pattern(told: dict[str, str]) -> str:
    text = re.escape(told.get("stem") or told["phrase"]).replace("’", "[’']")
    return rf"(?<!\w){text}\w*" if "stem" in told else rf"(?<!\w){text}(?!\w)"


def judging_words(*texts: str) -> tuple[Loaded, ...]:
    """Words that say more about the owner than about what happened, each once, in the order of the texts."""
    found: dict[str, Loaded] = {}
    for text in texts:
        hits = [
            (hit.start(), hit.group(0), instead) for one, instead in _listed() for hit in one.finditer(text)
        ]
        for _, words, instead in sorted(hits):
            found.setdefault(words.casefold(), Loaded(words, instead))
    return tuple(found.values())


def question(found: tuple[Loaded, ...]) -> str:
    """What is asked about them, in one or a few sentences."""
    shown = ", ".join(f"“{each.words}” (rather: {each.instead})" for each in found)
    return f"This may read as a judgement of the owner: {shown}. Change it, or say why these words stay."
