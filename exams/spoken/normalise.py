"""Mishearings, by table and by sound. Tokens in, tokens out; spans stay those of the text."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Sequence

from exams.spoken.language import Mishearing
from exams.spoken.tokens import NUMBER, WORD, Token
from exams.spoken.vocabulary import END, Vocabulary

BY_TABLE = 0.95
NAME = "\u00b7"  # before a word that is a name, so that no form has it
MOST_NAMES = 0.15  # of the words within sentences; more capitals are a manner of writing
MOST_PIECES = 4  # tokens that one split word is put together from


def normalise(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    """What was said, as far as the table and the sound tell."""
    return _by_sound(_by_table(_endings(_names(tokens, vocabulary), vocabulary), vocabulary), vocabulary)


def _names(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    """ "Eye consult, Marbles, six years old": a word with a capital within a sentence is somebody's name, in
    a text that has few of them."""
    inside = [
        at
        for at, t in enumerate(tokens)
        if t.kind == WORD and at and (tokens[at - 1].kind in (WORD, NUMBER) or tokens[at - 1].text == ",")
    ]
    capital = [at for at in inside if tokens[at].capital]
    if len(capital) > MOST_NAMES * len(inside):
        return list(tokens)
    names = {at for at in capital if _else_said(tokens[at].text, vocabulary)}
    return [
        dataclasses.replace(t, text=f"{NAME}{t.text}") if at in names else t for at, t in enumerate(tokens)
    ]


def _else_said(word: str, vocabulary: Vocabulary) -> bool:
    """As a common word it would be heard as something of the animal."""
    bare = word.removesuffix("'s")
    heard = vocabulary.senses((bare,))
    return (
        any(s.kind in ("trait", "finding", "noun") for s in heard) and bare not in vocabulary.language.proper
    )


def _endings(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    """ "coat's" is the word and an ending, unless the form is known as a whole."""
    found = []
    for token in tokens:
        if whole := vocabulary.clipped.get(token.text):
            found.append(Token(whole, token.kind, token.start, token.end, token.sure))
            continue
        stem, apostrophe, ending = token.text.partition("'")
        if apostrophe and ending == "s" and token.text not in vocabulary.language.kept and stem:
            found.append(Token(stem, token.kind, token.start, token.end, token.sure))
        else:
            found.append(token)
    return found


def _by_table(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    found: list[Token] = []
    at = 0
    while at < len(tokens):
        entry, length = _longest(tokens, at, found, vocabulary)
        if entry is None:
            found.append(tokens[at])
            at += 1
            continue
        start, end = tokens[at].start, tokens[at + length - 1].end
        found.extend(Token(word, WORD, start, end, BY_TABLE) for word in entry.meant)
        at += length
    return found


def _longest(
    tokens: Sequence[Token], at: int, before: Sequence[Token], vocabulary: Vocabulary
) -> tuple[Mishearing | None, int]:
    node, best, length, i = vocabulary.misheard, None, 0, at
    while i < len(tokens) and tokens[i].kind == WORD and tokens[i].text in node:
        node = node[tokens[i].text]
        i += 1
        for entry in node.get(END, ()):
            if _fits(entry, before, tokens[i] if i < len(tokens) else None, vocabulary):
                best, length = entry, i - at
    return best, length


def _fits(entry: Mishearing, before: Sequence[Token], after: Token | None, vocabulary: Vocabulary) -> bool:
    last = before[-1].text if before else ""
    follows = "" if after is None else "#" if _is_number(after, vocabulary) else after.text
    return (
        (not entry.before or bool(re.fullmatch(entry.before, last)))
        and (not entry.unless or not re.fullmatch(entry.unless, last))
        and (not entry.after or bool(re.fullmatch(entry.after, follows)))
    )


def _is_number(token: Token, vocabulary: Vocabulary) -> bool:
    return token.kind == NUMBER or token.text in vocabulary.language.numbers


def _by_sound(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    found: list[Token] = []
    at = 0
    while at < len(tokens):
        token = tokens[at]
        if token.kind != WORD or token.text.startswith(NAME):
            found.append(token)
            at += 1
            continue
        taken = _joined(tokens, at, vocabulary)
        found.extend(taken[0] if taken else [token])
        at += taken[1] if taken else 1
    return found


def _joined(tokens: Sequence[Token], at: int, vocabulary: Vocabulary) -> tuple[list[Token], int] | None:
    """An unknown word, alone or with what is beside it, that sounds like one word of the trade."""
    for length in range(MOST_PIECES, 0, -1):
        pieces = tokens[at : at + length]
        if len(pieces) < length or any(p.kind != WORD for p in pieces):
            continue
        if all(p.text in vocabulary.known for p in pieces):
            continue
        heard = "".join(p.text for p in pieces)
        if length > 1 and heard in vocabulary.sounds.words:
            like: tuple[str, float] | None = (heard, 0.97)
        elif length > 1 and len(heard) < 8:
            continue
        else:
            like = vocabulary.sounds.like(heard)
        if like:
            start, end, sure = pieces[0].start, pieces[-1].end, min(like[1], BY_TABLE)
            return [
                Token(word, WORD, start, end, sure) for word in vocabulary.sounds.words_of(like[0])
            ], length
    return None
