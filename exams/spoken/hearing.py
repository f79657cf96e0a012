"""From text to proposals: the steps in their order."""

from __future__ import annotations

import dataclasses
from itertools import groupby, zip_longest

from exams.spoken.answers import answered, questions_answered
from exams.spoken.borders import misplaced, parted
from exams.spoken.capitals import with_capital_stops
from exams.spoken.clause import Clause
from exams.spoken.deeds import only_announced
from exams.spoken.figures import Counting
from exams.spoken.gather import by_score, gather, last_said
from exams.spoken.normalise import normalise
from exams.spoken.segment import clauses_of, other_side, sentences_of
from exams.spoken.shapes import About, Heard, Line
from exams.spoken.speakers import answers, heads_plan, is_afterthought, planned_on, sort_out
from exams.spoken.statements import Listening
from exams.spoken.stops import with_stops
from exams.spoken.terms import terms_of
from exams.spoken.tokens import NUMBER, WORD, tokens_of, with_spoken_stops
from exams.spoken.vocabulary import Vocabulary
from exams.spoken.whose import of_another


def hear(text: str, about: About, vocabulary: Vocabulary) -> Heard:
    """Everything that `text` says about the animal, as proposals. Any text at all; raises nothing."""
    tokens = with_spoken_stops(tokens_of(text), vocabulary.language.spoken_stops)
    tokens = with_capital_stops(tokens, vocabulary)
    terms = terms_of(normalise(tokens, vocabulary), vocabulary)
    if misplaced(terms, vocabulary):
        words = [dataclasses.replace(t, capital=False) for t in tokens if t.kind in (WORD, NUMBER)]
        terms = terms_of(normalise(words, vocabulary), vocabulary)
    clauses: list[Clause] = []
    heads_ups: list[Line] = []
    plan: list[Line] = []
    counting = Counting(vocabulary.language)
    sentences: list[list[Clause]] = []
    for run, asked in sentences_of(terms):
        pieces = parted(run, vocabulary, asked)
        for piece in pieces:
            questioned = asked and piece is pieces[-1]  # what ran on before a question is none
            sentences.append(clauses_of(piece, len(sentences), questioned, vocabulary))
            for clause in sentences[-1]:
                clause.unstopped = len(pieces) > 1
    sentences = with_stops([s for s in sentences if s], vocabulary)
    only_announced(sentences, vocabulary.language)
    answers(sentences)
    other_side(sentences)
    of_another(sentences, about, vocabulary.language.forms.get("pronoun", {}))
    planning = False
    for found in sentences:
        language = vocabulary.language
        told, planned = sort_out(found, text, language.own, language.own_view, language.looked)
        heads_ups += told
        plan += planned
        planning = planning and not is_afterthought(found, language.afterthoughts)
        if planning:
            plan += planned_on(found, text)
        planning = planning or heads_plan(found)
        counting.sentence(found)
        clauses += found
    questions_answered(clauses, vocabulary.language.bare_no, vocabulary.language.yes)
    listening = Listening(vocabulary, about, counting.figures)
    for _, group in groupby(
        answered(clauses, vocabulary.language.bare_no, vocabulary.language.none, vocabulary.tests),
        key=lambda c: c.sentence,
    ):
        together = list(group)
        listening.sentence_nouns = frozenset(
            k for c in together if not c.drop for t in c.terms for k in t.keys("noun")
        )
        listening.sentence_words = frozenset(w for c in together for t in c.terms for w in t.words)
        if listening.is_lump(together):
            listening.lump(together)
            continue
        listening.sized = any(id(c) in counting.figures.sizes for c in together)
        for clause, ahead in zip_longest(together, together[1:]):
            listening.ahead = ahead
            listening.take(clause)
    proposals, questions = gather(listening.statements, vocabulary.strongest)
    measurements, differing = last_said(counting.figures.measurements)
    proposals = by_score(proposals, measurements, vocabulary.walk)
    return Heard(
        tuple(proposals), tuple(measurements), tuple(heads_ups), tuple(plan), (*questions, *differing)
    )
