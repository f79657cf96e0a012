"""Full stops that dictation left out, where it wrote the capitals of its sentences all the same."""

from __future__ import annotations

from collections.abc import Sequence

from exams.spoken.tokens import NUMBER, STRONG, WEAK, WORD, Token
from exams.spoken.vocabulary import Vocabulary

FEW = 6  # words with capitals within what runs on: fewer are names and months
MOST = 0.3  # of the words: more capitals are a manner of writing


def with_capital_stops(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    """ "Both eyes clear Nose fine Ears, left one waxy": a stop before each common word with a capital."""
    words = sum(t.kind in (WORD, NUMBER) for t in tokens)
    begins = {at for at in range(1, len(tokens)) if _begins(tokens, at, vocabulary)}
    if len({tokens[at].text for at in begins}) < FEW or len(begins) > MOST * words:
        return list(tokens)
    found: list[Token] = []
    for at, token in enumerate(tokens):
        if at in begins:
            if found[-1].kind == WEAK:
                found[-1] = Token(".", STRONG, found[-1].start, found[-1].end)
            else:
                found.append(Token(".", STRONG, found[-1].end, found[-1].end))
        found.append(token)
    return found


def _begins(tokens: Sequence[Token], at: int, vocabulary: Vocabulary) -> bool:
    token, before = tokens[at], tokens[at - 1]
    word = token.text.removesuffix("'s")
    common = word in vocabulary.known and word not in vocabulary.language.proper
    return token.capital and common and (before.kind in (WORD, NUMBER) or before.text == ",")
