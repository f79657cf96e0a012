"""Words and pauses of a text, each with its place in it."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

WORD, NUMBER, STRONG, WEAK, PAUSE, ASK = "word", "number", "strong", "weak", "pause", "ask"
OUT_OF, LESS, MORE = "/", "<", ">"  # beside numbers, in every language
ROMAN = ("i", "ii", "iii", "iv", "v", "vi")
_PIECE = re.compile(
    r"(?P<part>\d+/\d+)|(?P<roman>\b(?:I{1,3}|IV|VI?|i{1,3}|iv|vi?)/(?:VI|vi|V|v|IV|iv)\b)|(?P<number>\d+(?:[.,]\d+)*)|(?P<word>[^\W\d_]+(?:'[^\W\d_]+)*)"
    r"|(?P<sign>[<>])|(?P<pause>\.{2,}|…)|(?P<ask>[?¿])|(?P<strong>[.!¡\n])|(?P<weak>[,;:–—()/]|\s-\s)"
)


@dataclass(frozen=True, slots=True)
class Token:
    """One word, number or pause; `start` and `end` in the text as given. `sure` below 1: matched by sound.
    `capital`: written with one, and only its first letter."""

    text: str
    kind: str
    start: int
    end: int
    sure: float = 1.0
    capital: bool = False


def tokens_of(text: str) -> list[Token]:
    """Split; the apostrophes of print become plain, letters lower case. Spans stay those of `text`."""
    plain = text.replace("\u2019", "'").replace("\u2018", "'").replace("\u02bc", "'")
    found = []
    for match in _PIECE.finditer(plain):
        kind = str(match.lastgroup)
        if kind == "strong" and match[0] == "\n" and not plain[match.end() :].startswith("\n"):
            continue  # a line's end alone is no full stop
        if kind in ("part", "roman"):  # "3/6" and "III/VI" are three out of six
            first, _, second = match[0].partition("/")
            middle = match.start() + len(first)
            found += [
                Token(_arabic(first), NUMBER, match.start(), middle),
                Token(OUT_OF, WORD, middle, middle + 1),
                Token(_arabic(second), NUMBER, middle + 1, match.end()),
            ]
            continue
        if kind == "sign":
            found.append(Token(match[0], WORD, match.start(), match.end()))
            continue
        capital = kind == WORD and len(match[0]) > 1 and match[0].istitle()
        found.append(Token(match[0].lower(), kind, match.start(), match.end(), capital=capital))
    return found


def _arabic(number: str) -> str:
    return str(ROMAN.index(number.lower()) + 1) if number.lower() in ROMAN else number


def with_spoken_stops(tokens: Sequence[Token], said: Collection[str]) -> list[Token]:
    """ "Abdomen, colon. Soft": a stop that was dictated by its name, where a text does so more than once."""
    found: list[Token] = []
    stops = 0
    for at, token in enumerate(tokens):
        before, after = found[-1:], tokens[at + 1 : at + 2]
        between = bool(before and after) and before[0].kind == WEAK and after[0].kind in (STRONG, WEAK)
        if token.text in said and between:
            found[-1] = Token(":", WEAK, before[0].start, token.end)
            stops += 1
        elif (
            found
            and found[-1].text == ":"
            and found[-1].end - found[-1].start > 1
            and token.kind in (STRONG, WEAK)
        ):
            continue  # the pause behind the spoken one
        else:
            found.append(token)
    return found if stops > 1 else list(tokens)
