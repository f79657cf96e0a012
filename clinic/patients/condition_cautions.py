"""What each condition changes, in one sentence for whoever meets the patient: `conditions.toml`. Pure."""

import tomllib
from functools import cache
from pathlib import Path

FILE = Path(__file__).with_name("conditions.toml")


@cache
def _cautions() -> dict[str, str]:
    told = tomllib.loads(FILE.read_text(encoding="utf-8"))
    return {code: entry["caution"] for code, entry in told.items()}


def caution_of(code: str) -> str:
    """The sentence of a condition; KeyError for a code that is not on the list."""
    return _cautions()[code]
