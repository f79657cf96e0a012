"""What the owners' pages say, by language: one file of `words/` each; one more file is one more language."""

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent / "words"
FIRST = "en"


@dataclass(frozen=True)
class Texts:
    """Texts by name, some with {places} to fill. `name`: the language, in itself."""

    language: str
    name: str
    page: dict[str, str]
    shut: dict[str, str]
    mail: dict[str, str]
    reminder: dict[str, str]
    answer: dict[str, str]


@cache
def every() -> dict[str, Texts]:
    found = {}
    for path in sorted(FOLDER.glob("*.toml")):
        found[path.stem] = Texts(language=path.stem, **tomllib.loads(path.read_text()))
    return found


def texts(language: str) -> Texts:
    """English where there is no such file."""
    return every().get(language, every()[FIRST])


def preferred(wanted: Iterable[str]) -> Texts:
    """The first of the wanted languages (`es-MX` is `es`) that there is; English without any."""
    for each in wanted:
        if found := every().get(each.partition("-")[0].lower()):
            return found
    return texts(FIRST)


def wanted_languages(header: str) -> tuple[str, ...]:
    """Of an Accept-Language header (RFC 9110, 12.5.4), the dearest first; nothing readable gives nothing."""
    weighed = []
    for position, part in enumerate(header[:400].split(",")):
        tag, _, weight = part.strip().partition(";q=")
        try:
            weighed.append((-float(weight or 1), position, tag.strip()))
        except ValueError:
            continue
    return tuple(tag for _, _, tag in sorted(weighed) if tag)
