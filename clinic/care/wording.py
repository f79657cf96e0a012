"""A hint at words that judge an owner. Pure.

Neutral: "declined X-rays today", never "refused to pay" (common practice).
"""

import re

_LOADED = re.compile(
    r"\b(refus\w*|won[’']t pay|would not pay|cannot afford|can[’']t afford|couldn[’']t afford|cheap\w*|"
    r"non-?complian\w*|against (?:medical |our )?advice|stubborn\w*|difficult|neglect\w*|lazy|irresponsib\w*|"
    r"careless\w*|ignor(?:ed|es|ing|ant))\b",
    re.IGNORECASE,
)


def judging_words(*texts: str) -> tuple[str, ...]:
    """Words that say more about the owner than about what happened, as they were written, each once."""
    found = [match.group(0) for text in texts for match in _LOADED.finditer(text)]
    return tuple(dict.fromkeys(found))
