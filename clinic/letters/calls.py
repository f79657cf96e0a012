"""What an owner must call about, where no finding of today says more.

Content after published owner lists (University of Missouri Veterinary Health Center, signs of an
emergency): a puppy or kitten that will not eat or drink comes at once, and so does an animal that tries to
vomit and brings nothing up. Until which age the first counts, that vomiting and blood count with it, and that
the second is said of grown dogs alone, is common practice. The wording is ours (`clinic/letters/texts`).
"""

from datetime import date

from clinic.letters.document import Sentence
from clinic.letters.texts import Texts
from clinic.patients.ages import age_days
from clinic.patients.models import Patient, Species

SOURCE = "published list of emergency signs for owners"
YOUNG_WEEKS = 16
NOW = ("breath", "collapse", "urine")
NOW_DOG = ("breath", "collapse", "bloat", "urine")
NOW_YOUNG = ("young", "breath", "collapse", "urine")
WITHIN_A_DAY = ("eats", "vomits", "worse")
WITHIN_A_DAY_YOUNG = ("less", "worse")
AFTER_A_RESULT = ("eats", "vomits", "unwell")
AFTER_A_RESULT_YOUNG = ("less", "unwell")


def is_young(birth: date | None, on: date) -> bool:
    """So young that a missed meal is urgent; a birth nobody knows is taken for long ago."""
    return birth is not None and birth <= on and age_days(birth, on) < 7 * YOUNG_WEEKS


def usual_now(patient: Patient, on: date, w: Texts) -> tuple[Sentence, ...]:
    grown = NOW_DOG if patient.species == Species.DOG else NOW
    return _filled("now", NOW_YOUNG if is_young(patient.birth_date, on) else grown, patient, w)


def usual_within_a_day(patient: Patient, on: date, w: Texts) -> tuple[Sentence, ...]:
    keys = WITHIN_A_DAY_YOUNG if is_young(patient.birth_date, on) else WITHIN_A_DAY
    return _filled("day", keys, patient, w)


def after_a_result(patient: Patient, on: date, w: Texts) -> tuple[Sentence, ...]:
    """A letter of results found nothing itself that could get worse."""
    keys = AFTER_A_RESULT_YOUNG if is_young(patient.birth_date, on) else AFTER_A_RESULT
    return _filled("day", keys, patient, w)


def _filled(kind: str, keys: tuple[str, ...], patient: Patient, w: Texts) -> tuple[Sentence, ...]:
    return tuple(
        w.sentence(f"call-{kind}:{key}", f"call.{kind}.{key}", SOURCE, pet=patient.name) for key in keys
    )
