"""What owners read of feeding, in their language: the room's own texts and, by code, its cautions."""

from pathlib import Path

from clinic.letters.document import Sentence
from clinic.letters.texts import SOURCE, Room, Texts
from nutrition import factors
from nutrition.label import Portion, in_measures, in_quarters

ROOM = Room(Path(__file__).with_name("texts"))
ENGLISH = ROOM(SOURCE)


def caution(each: factors.Sentence, by: str, pet: str, t: Texts) -> Sentence:
    """A caution for its owner: as the room's texts say it, else as the plan keeps it.

    In another language only where its text there says the same one.
    """
    key, english = f"feeding:{each.code}", for_owner(each, t.english or t, pet)
    if t.english is None:
        return Sentence(key, english, "the feeding plan", each.source, by)
    if each.code in t:
        text, both = t(each.code, pet=pet), t.both(each.code)
        return Sentence(key, text, "the feeding plan", each.source, by, both=both, source=english)
    return Sentence(key, english, "the feeding plan", each.source, by, lang=SOURCE)


def for_owner(each: factors.Sentence, english: Texts = ENGLISH, pet: str = "the animal") -> str:
    """In English; where the plan's words speak to the clinician or of "it", the room's own stand for them."""
    return english(each.code, pet=pet) if each.code in english else each.says


def measures(portion: Portion, t: Texts) -> str:
    """To the next quarter, and how it leans: "about 1½ cups"; empty where the label gives none.

    In English as the plan keeps it.
    """
    if t.english is None:
        return in_measures(portion).removeprefix(", ")
    if portion.units is None or portion.unit is None:
        return ""
    told = in_quarters(portion.units)
    unit = t(f"unit.{portion.unit}", n=2 if told.many else 1)
    if not told.number:
        return t("unit.less_than", unit=unit)
    amount = t("unit.amount", number=told.number, unit=unit)
    if not told.leaning:
        return t("unit.about", amount=amount)
    return t("unit.over" if told.leaning > 0 else "unit.under", amount=amount)
