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
    Question("influenza_exposure", "Travels, or meets many dogs it does not know?", _DOG),
    Question("wildlife_water", "Ponds, ditches, farm yards, wild animals or rats?", _DOG),
    Question("cats_in_home", "A cat in the same home?", _DOG),
    Question("working", "Works: guides, does therapy, searches?", _DOG),
    Question("outdoor", "Goes outdoors?", _CAT),
    Question("boards_or_multicat", "Boards, or lives with several cats?", _CAT),
    Question("meets_felv", "Meets cats that may carry FeLV?", _CAT),
    Question("lives_with_infected", "Lives with a cat that has FeLV or FIV?", _CAT),
    Question("retrovirus_exposure", "A past nobody knows, or bites by other cats?", _CAT),
    Question("multicat_disease", "Several cats, and eye or nose disease among them?", _CAT),
    Question("tick_exposure", "Meadows, woods, or ticks found?", _BOTH),
    Question("raw_meat", "Raw meat, or hunts?", _BOTH),
    Question("high_risk_place", "From a shelter, or parvovirus or distemper about?", _DOG),
    Question("heartworm_high_risk", "Lives or travels where heartworm is very common?", _DOG),
    Question("rattlesnakes", "Lives or travels where rattlesnakes are?", _DOG),
)
LIFE_ANSWERS = (("yes", "yes", "normal"), ("no", "no", "normal"), ("not-known", "not known", "unseen"))
TITLES = {question.code: question.title for question in QUESTIONS}
CODES = frozenset(TITLES)


def questions_for(species: str) -> tuple[Question, ...]:
    """The questions of one species, in order of asking."""
    return tuple(question for question in QUESTIONS if species in question.species)
