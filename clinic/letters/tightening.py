"""What is said once: a letter without the repetitions that its rooms cannot see of one another. Pure."""

from dataclasses import replace

from clinic.letters.document import Block, Document, Section, Sentence, Text

TO_DO = "to-do"
WORSE = "call-day:worse"  # the usual line; a finding's own says more
WORSE_HERE = "call:"


def tightened(document: Document) -> Document:
    """The same letter, where

    - what is to be done stands in short, and not once more under *to do*,
    - the usual line "something gets worse" yields to the one that says what.

    Nothing is said less: what is dropped here stands elsewhere in the letter, in the same words or better.
    """
    said = {each.do.text for each in document.points if each.do}
    sections = tuple(
        _without(section, said) if section.name == TO_DO else section for section in document.sections
    )
    return replace(
        document,
        sections=tuple(section for section in sections if section.blocks),
        call_within_a_day=_calls(document.call_within_a_day),
    )


def _without(section: Section, said: set[str]) -> Section:
    return replace(section, blocks=tuple(block for block in section.blocks if not _is_said(block, said)))


def _is_said(block: Block, said: set[str]) -> bool:
    return isinstance(block, Text) and all(each.text in said for each in block.sentences)


def _calls(lines: tuple[Sentence, ...]) -> tuple[Sentence, ...]:
    own = any(each.key.startswith(WORSE_HERE) for each in lines)
    return tuple(each for each in lines if not (own and each.key == WORSE))
