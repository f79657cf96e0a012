"""Who stands behind an answer: who saw it, who entered it, who confirmed a grade. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from exams.state import LineAnswer

Names = Mapping[str, str]


def people_of(answers: Iterable[LineAnswer]) -> set[str]:
    """Numbers of everybody named by the answers."""
    told = {n for a in answers for n in (a.person, a.observed_by, a.confirmed_by)}
    return {n for n in told if n}


def saw(answer: LineAnswer) -> str:
    """Whose eyes it was."""
    return answer.observed_by or answer.person


def credited(answer: LineAnswer, names: Names) -> str:
    """ "Dr Oduya"; "seen by Dr Oduya, entered by Inés Varga"; "Inés Varga, confirmed by Dr Oduya"."""
    enterer, seer = names.get(answer.person, ""), names.get(saw(answer), "")
    told = f"seen by {seer}, entered by {enterer}" if saw(answer) != answer.person and enterer else seer
    confirmer = names.get(answer.confirmed_by, "")
    return f"{told}, confirmed by {confirmer}" if confirmer and answer.confirmed_by != answer.person else told


def entered_for(answers: Iterable[LineAnswer], names: Names) -> tuple[tuple[str, str], ...]:
    """Pairs of people where one wrote down what the other saw, in walking order: (who wrote, whose eyes)."""
    pairs = dict.fromkeys(
        (a.person, a.observed_by) for a in answers if a.observed_by and a.observed_by != a.person
    )
    return tuple((names[who], names[whose]) for who, whose in pairs if who in names and whose in names)
