"""What the walk's own texts may say: one set of rules for the files and for what a clinic adds.

Source: common practice; the letter is read by a tired person at home.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from exams.walk import Structure, Walk

MOST_WORDS = 32

# A look or a touch cannot know these: each is a test or a tool of its own.
NAMES_A_TEST = re.compile(
    r"stain|percuss|resonan|ortolani|clunk|drawer|\bstable|rectal|mmHg|strip|schirmer|fontanel|sedat"
    r"|as forelimb|probing|biopsy",
    re.I,
)
# Words that are spelt differently on the two sides of the ocean, or that a letter avoids for that reason.
SPLIT = re.compile(
    r"\b(colou?r\w*|tumou?rs?|ana?esthe\w*|leash|gray|age?ing|diarrh\w*|o?edema\w*|behaviou?r\w*|"
    r"cent(er|re)|"
    r"m(eo|iao)w|favou?r\w*|odou?r\w*|h(a)?emo\w*|\w+i[sz]ation|intact|entire)\b",
    re.I,
)
ALARM = re.compile(
    r"\b(cancer|fatal|deadly|die|dying|dies|life-threatening|hopeless|come in (now|at once))\b", re.I
)


def is_a_test(structure: Structure) -> bool:
    """What is normal there only a test can know: no station's one tap may ever say so."""
    return structure.depth != "measured" and bool(NAMES_A_TEST.search(structure.normal_means))


def owner_line_faults(line: str) -> Iterator[str]:
    """What an owner's sentence must still be told, in words for whoever writes it."""
    words = line.split()
    if not words:
        yield "Say it in the owner's words: the letter needs the sentence."
        return
    if not line.endswith("."):
        yield "End with a full stop."
    if not line[0].isupper():
        yield "Begin with a capital letter."
    if len(words) > MOST_WORDS:
        yield f"At most {MOST_WORDS} words; these are {len(words)}."
    if line != " ".join(words):
        yield "One space between words."
    split = SPLIT.search(line)
    if split:
        yield f"“{split.group()}” is spelt differently elsewhere, or not plain: choose another word."
    alarm = ALARM.search(line)
    if alarm:
        yield f"“{alarm.group()}” frightens without helping: say what it is and what is done."


def faults_of(walk: Walk) -> Iterator[str]:
    """Every text of a walk that breaks a rule, with the entry's code in front."""
    for structure in walk.structure.values():
        if structure.depth == "routine" and is_a_test(structure):
            named = NAMES_A_TEST.search(structure.normal_means)
            assert named
            yield f"{structure.code}: its normal names a test ({named.group()}) that a look does not do"
        if not (structure.normal_means and structure.how_to_check):
            yield f"{structure.code}: what is normal, or how to look, is missing"
    for finding in walk.finding.values():
        yield from (f"{finding.code}: {fault}" for fault in owner_line_faults(finding.owner_line))
