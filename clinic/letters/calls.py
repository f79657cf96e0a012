"""What an owner must call about, where no finding of today says more.

Content after published owner lists (University of Missouri Veterinary Health Center, signs of an emergency);
the wording is ours (`clinic/letters/texts`, call).
"""

from clinic.letters.document import Sentence
from clinic.letters.texts import Texts

SOURCE = "published list of emergency signs for owners"
NOW = ("breath", "collapse", "urine")
WITHIN_A_DAY = ("eats", "vomits", "worse")
AFTER_A_RESULT = ("eats", "vomits", "unwell")


def usual_now(pet: str, w: Texts) -> tuple[Sentence, ...]:
    return _filled("now", NOW, pet, w)


def usual_within_a_day(pet: str, w: Texts) -> tuple[Sentence, ...]:
    return _filled("day", WITHIN_A_DAY, pet, w)


def after_a_result(pet: str, w: Texts) -> tuple[Sentence, ...]:
    """A letter of results found nothing itself that could get worse."""
    return _filled("day", AFTER_A_RESULT, pet, w)


def _filled(kind: str, keys: tuple[str, ...], pet: str, w: Texts) -> tuple[Sentence, ...]:
    return tuple(w.sentence(f"call-{kind}:{key}", f"call.{kind}.{key}", SOURCE, pet=pet) for key in keys)
