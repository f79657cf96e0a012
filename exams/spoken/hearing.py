"""From text to proposals: the steps in their order."""

from __future__ import annotations

from exams.spoken.shapes import About, Heard
from exams.spoken.vocabulary import Vocabulary


def hear(text: str, about: About, vocabulary: Vocabulary) -> Heard:
    """Everything that `text` says about the animal, as proposals. Any text at all; raises nothing."""
    return Heard()
