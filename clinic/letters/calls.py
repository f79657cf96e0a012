"""What an owner must call about, where no finding of today says more.

Content after published owner lists (University of Missouri Veterinary Health Center, signs of an emergency);
the wording is ours.
"""

from clinic.letters.document import Sentence

SOURCE = "published list of emergency signs for owners"

NOW = (
    ("breath", "{Pet} cannot get air, or the gums are blue, white or grey."),
    ("collapse", "{Pet} faints, cannot stand, or has a fit."),
    ("urine", "{Pet} strains and passes little or no urine."),
)
WITHIN_A_DAY = (
    ("eats", "{Pet} does not eat for a day."),
    ("vomits", "{Pet} vomits again and again, or has bloody stools."),
    ("worse", "Something we found today gets worse."),
)


def usual_now(pet: str) -> tuple[Sentence, ...]:
    return _filled("now", NOW, pet)


def usual_within_a_day(pet: str) -> tuple[Sentence, ...]:
    return _filled("day", WITHIN_A_DAY, pet)


def _filled(kind: str, lines: tuple[tuple[str, str], ...], pet: str) -> tuple[Sentence, ...]:
    return tuple(Sentence(f"call-{kind}:{key}", text.replace("{Pet}", pet), SOURCE) for key, text in lines)
