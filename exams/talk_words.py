"""What is listened for: the walk's own words and those that the clinic accepted, and who is examined."""

from __future__ import annotations

from functools import lru_cache

from exams.lines import Animal
from exams.models import SpokenForm
from exams.spoken import About, Form, UnknownLanguage, Vocabulary, languages, vocabulary_of
from exams.versions import walk_of
from exams.walk import Walk

DAYS_A_MONTH = 30.44
STANDARD = "en"


def vocabulary(walk: Walk, language: str) -> Vocabulary:
    """One query. A language without files is heard as the standard one."""
    accepted = SpokenForm.objects.filter(state=SpokenForm.State.ACCEPTED, language=language)
    forms = tuple(accepted.order_by("pk").values_list("kind", "words", "means"))
    return _vocabulary(walk.sha256, forms, language)


@lru_cache(maxsize=16)
def _vocabulary(version: str, forms: tuple[tuple[str, str, str], ...], language: str) -> Vocabulary:
    try:
        return vocabulary_of(walk_of(version), [Form(*form) for form in forms], language)
    except UnknownLanguage:
        return vocabulary_of(walk_of(version), [Form(*form) for form in forms], STANDARD)


def spoken_languages() -> tuple[str, ...]:
    """Languages that can be heard, the standard one first."""
    return tuple(sorted(languages() or (STANDARD,), key=lambda each: (each != STANDARD, each)))


def about(animal: Animal, language: str) -> About:
    """The animal as hearing takes it."""
    done = {"male": "male-neutered", "female": "female-spayed"}
    whole = {"male": "male-intact", "female": "female-intact"}
    sex = animal.sex
    if sex and animal.neutered is not None:
        sex = (done if animal.neutered else whole)[sex]
    months = animal.age_days / DAYS_A_MONTH if animal.age_days is not None else None
    return About(animal.species, sex, months, language)
