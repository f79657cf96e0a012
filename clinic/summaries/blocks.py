"""Small pieces that every part of a summary is built from. Pure; rooms use them too."""

from collections.abc import Iterable, Sequence

from clinic.letters.document import Block, Line, Mark, Sentence, Table, Text, Walk

# A table that breaks over pages becomes one tag a page: long ones are split into whole ones.
MOST_ROWS = 15


def say(text: str, *, strong: bool = False) -> Sentence:
    """Nobody corrects a summary sentence by sentence, so it needs no key of its own."""
    return Sentence(key="", text=text, origin="the record", strong=strong)


def paragraph(*texts: str, mark: Mark = Mark.NONE) -> Text:
    return Text(tuple(say(text) for text in texts if text), mark)


def lines(told: Iterable[tuple[str, Sequence[str]]]) -> tuple[Block, ...]:
    """One under the other: what it is about (bold), then its sentences."""
    found = tuple(Line(say(label), tuple(say(each) for each in more if each)) for label, more in told)
    return (Walk(found),) if found else ()


def facts(rows: Iterable[tuple[str, str]]) -> Table:
    """Labels and facts; what is empty is left out."""
    return Table(rows=tuple((say(label), say(words)) for label, words in rows if words))


def tables(
    head: tuple[str, ...], rows: Sequence[Sequence[str]], *, at_most: int = MOST_ROWS
) -> tuple[Block, ...]:
    """Tables of one page at most, all with their head; an empty cell says so."""
    return tuple(
        Table(
            rows=tuple(tuple(say(cell or "–") for cell in row) for row in rows[start : start + at_most]),
            head=head,
        )
        for start in range(0, len(rows), at_most)
    )
