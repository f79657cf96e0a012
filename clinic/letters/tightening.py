"""What is said once: a letter without the repetitions that its rooms cannot see of one another. Pure."""

from dataclasses import replace

from clinic.letters.document import Block, Document, Mark, Section, Sentence, Text, Tone, Walk

TO_DO = "to-do"
WORSE = "call-day:worse"  # the usual line; a finding's own says more
WORSE_HERE = "call:"
# the usual line that gives a day, where another asks for a call at once
SOONER = {"call-now:unweaned": "call-day:eats", "call-now:low_sugar": "call-day:eats"}
FOUND = frozenset({Mark.ABNORMAL, Mark.URGENT})


def tightened(document: Document) -> Document:
    """The same letter, where

    - what is to be done stands in short, and not once more under *to do*,
    - the usual line "something gets worse" yields to the one that says what,
      and goes where nothing was found,
    - a day to wait is not given where a call at once is asked for.

    Nothing is said less: what is dropped here stands elsewhere in the letter, in the same words or better.
    """
    said = {each.do.text for each in document.points if each.do}
    sections = tuple(
        _without(section, said) if section.name == TO_DO else section for section in document.sections
    )
    sooner = {SOONER.get(each.key) for each in document.call_now}
    within_a_day = tuple(each for each in document.call_within_a_day if each.key not in sooner)
    return replace(
        document,
        sections=tuple(section for section in sections if section.blocks),
        call_within_a_day=_calls(within_a_day, found=_has_found(document)),
    )


def _without(section: Section, said: set[str]) -> Section:
    return replace(section, blocks=tuple(block for block in section.blocks if not _is_said(block, said)))


def _is_said(block: Block, said: set[str]) -> bool:
    return isinstance(block, Text) and all(each.text in said for each in block.sentences)


def _calls(lines: tuple[Sentence, ...], *, found: bool) -> tuple[Sentence, ...]:
    own = any(each.key.startswith(WORSE_HERE) for each in lines)
    return tuple(each for each in lines if each.key != WORSE or (found and not own))


def _has_found(document: Document) -> bool:
    """Whether there is anything that can get worse: not where all is well and no line says otherwise."""
    walks = (block for section in document.sections for block in section.blocks if isinstance(block, Walk))
    seen = any(line.mark in FOUND for walk in walks for line in walk.lines)
    return seen or document.tone != Tone.WELL
