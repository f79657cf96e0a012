"""The exam spoken aloud, as proposals for the walk. Pure: text in, proposals out; no rows, no network.

    vocabulary = vocabulary_of(walk, forms=accepted, language="en")    # once per walk
    heard = hear(text, About("dog", "male-neutered", 30), vocabulary)

Nothing is proposed without words that carry it, and never "normal" without a span that names the structure
or a group that it belongs to. Medicines and doses are never taken from speech.

Source: common practice in dictating an examination; the conventions stand beside the data in
`exams/spoken/meanings.toml`.
"""

from exams.spoken.hearing import hear
from exams.spoken.shapes import (
    About,
    Form,
    Heard,
    Line,
    Measurement,
    Proposal,
    Question,
    Span,
)
from exams.spoken.vocabulary import UnknownLanguage, Vocabulary, languages, vocabulary_of

__all__ = [
    "About",
    "Form",
    "Heard",
    "Line",
    "Measurement",
    "Proposal",
    "Question",
    "Span",
    "UnknownLanguage",
    "Vocabulary",
    "hear",
    "languages",
    "vocabulary_of",
]
