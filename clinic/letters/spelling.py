"""English words that are spelled in two ways: ours, written the British way, as a clinic's country has them.

For closed words of ours alone (the values of a qualifier, a form's labels), never for what somebody wrote.
Whole texts that differ stand in `texts/variants` of each room. Pure but for reading its list.
"""

import re
import tomllib
from functools import cache
from pathlib import Path

# English as spelled there; everywhere else as the files spell it, which is British
VARIANTS = {"US": "us"}
_WORD = re.compile(r"[A-Za-z]+")


def variant_of(country: str) -> str:
    """Of a country's two letters; empty: as the files spell it."""
    return VARIANTS.get(country.upper(), "")


def spelled(text: str, variant: str) -> str:
    """`text` with each word as `variant` spells it; a capital stays one."""
    return _WORD.sub(_american, text) if variant == "us" else text


def _american(found: re.Match[str]) -> str:
    word = found[0]
    other = _pairs().get(word.lower(), "")
    if not other:
        return word
    return other.capitalize() if word[0].isupper() else other


@cache
def _pairs() -> dict[str, str]:
    """American by British, both in small letters."""
    listed = Path(__file__).with_name("spelling.toml").read_text(encoding="utf-8")
    return dict(tomllib.loads(listed)["pairs"])
