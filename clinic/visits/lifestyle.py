"""Questions about the animal's life that a schedule or a food rule reads. Pure.

Each is asked once a year: lifestyle is reviewed at least yearly (AAHA 2022). Children under five and people
with a weak immune system at home decide about worms (ESCCAP) and raw food.
"""

from dataclasses import dataclass

REVIEW_MONTHS = 12
_BOTH = frozenset({"dog", "cat"})
_DOG = frozenset({"dog"})
_CAT = frozenset({"cat"})


@dataclass(frozen=True)
class Question:
    code: str
    title: str
    species: frozenset[str]


QUESTIONS = (
    Question("small_children", "A child under five at home?", _BOTH),
    Question("frail_people", "Somebody frail at home, or with a weak immune system?", _BOTH),
    Question("boarding", "Kennels, day care, classes or shows?", _DOG),
    Question("wildlife_water", "Ponds, ditches, farm yards, wild animals or rats?", _DOG),
    Question("outdoor", "Goes outdoors?", _CAT),
    Question("boards_or_multicat", "Boards, or lives with several cats?", _CAT),
    Question("meets_felv", "Meets cats that may carry FeLV?", _CAT),
    Question("tick_exposure", "Meadows, woods, or ticks found?", _BOTH),
    Question("raw_meat", "Raw meat, or hunts?", _BOTH),
)
LIFE_ANSWERS = (("yes", "yes", "normal"), ("no", "no", "normal"), ("not-known", "not known", "unseen"))
CODES = frozenset(question.code for question in QUESTIONS)


def questions_for(species: str) -> tuple[Question, ...]:
    """The questions of one species, in order of asking."""
    return tuple(question for question in QUESTIONS if species in question.species)
