"""Why a plan is not made: every refusal and question by code, as a sentence for the person at the page."""

import math
from dataclasses import dataclass
from typing import Literal

from nutrition.factors import Certainty, Factors

Lift = Literal["never", "own_plan", "reason"]
"""What lets a plan be made all the same: nothing; the clinician's own number; an answer and a reason."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """No plan as asked. `lifts` says what the clinician can do about it."""

    code: str
    sentence: str
    source: str
    certainty: Certainty
    lifts: Lift = "never"


@dataclass(frozen=True, slots=True)
class Question:
    """To be answered by the clinician before the plan is taken."""

    code: str
    sentence: str
    source: str
    certainty: Certainty


class Refused(ValueError):
    """A rule was asked for something it must not answer; `code`, `sentence` and `source` say why."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.sentence)
        self.refusal = refusal
        self.code = refusal.code
        self.sentence = refusal.sentence
        self.source = refusal.source


_SACN_RATE = "SACN5 p. 522, Box 27-12"
_PRACTICE = ""
_REFUSALS: dict[str, tuple[str, str, Certainty, Lift]] = {
    "weight_missing": ("Weigh it first: without a weight there is no sum.", _PRACTICE, "practice", "never"),
    "weight_not_positive": (
        "A weight must be above zero. Nothing was reckoned.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "energy_not_positive": ("The day's energy must be above zero.", _PRACTICE, "practice", "never"),
    "energy_missing": ("Choose how much energy a day first.", _PRACTICE, "practice", "never"),
    "bcs_out_of_range": ("Body condition is scored from 1 to 9.", "Laflamme 1997", "B", "never"),
    "bcs_missing": (
        "Score the body condition first: without it nobody knows whether there is weight to lose.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "no_sum_at_ideal": (
        "The sum for an ideal weight begins above 5 of 9. At 5 there is nothing to lose; below, "
        "the clinician sets the target.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "no_sum_below_five": (
        "Below 5 of 9 there is no sum for gaining weight. Find out why it is thin and enter your own number.",
        _PRACTICE,
        "practice",
        "own_plan",
    ),
    "no_sum_in_growth": (
        "A growing animal has no ideal weight by a sum: its weight is meant to rise.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "no_sum_in_pregnancy": ("A pregnant animal has no ideal weight by a sum.", "SACN5 p. 403", "A", "never"),
    "no_sum_in_nursing": ("A nursing animal has no ideal weight by a sum.", "SACN5 p. 403", "A", "never"),
    "adult_rule_in_growth": (
        "This rule is for adults and the animal still grows. Use a rule for growth.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "loss_at_ideal": (
        "At {bcs} of 9 there is nothing to lose. Plan to keep the weight.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "loss_in_growth": (
        "A growing animal is not put on a plan for losing weight.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "loss_in_pregnancy": (
        "A pregnant animal is not put on a plan for losing weight.",
        "SACN5 p. 403",
        "A",
        "never",
    ),
    "loss_in_nursing": (
        "A nursing animal is not put on a plan for losing weight.",
        "SACN5 p. 403",
        "A",
        "never",
    ),
    "target_missing": ("A plan for losing weight needs a target weight.", _PRACTICE, "practice", "never"),
    "target_not_below": (
        "A target of {target} kg is not below today's {weight} kg.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "rate_not_positive": ("A rate of loss must be above zero.", _PRACTICE, "practice", "never"),
    "loss_too_fast": (
        "That would take {percent} % a week. Above {most} % is refused: muscle goes with the fat.",
        _SACN_RATE,
        "A",
        "never",
    ),
    "below_floor": (
        "{energy} kcal is below {floor}, {share} × the resting energy of the target weight. It stands only "
        "with a clinician's reason, kept in the record.",
        _PRACTICE,
        "practice",
        "reason",
    ),
    "cut_of_low_intake": (
        "By report it eats {intake} kcal, already less than the plan would start with ({start}). Do not cut: "
        "take a food history and look for illness, or write down why.",
        _PRACTICE,
        "practice",
        "reason",
    ),
    "adult_weight_missing": (
        "A rule for growth needs the expected adult weight.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "heavier_than_adult": (
        "It weighs more than the adult weight expected of it. Treat it as an adult, or mend that number.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "age_missing": ("This rule goes by age, and no age is known.", _PRACTICE, "practice", "never"),
    "week_out_of_range": (
        "No published factor for week {week}: this rule knows weeks {first} to {last}.",
        "NRC 2006 ch. 15",
        "C",
        "never",
    ),
    "litter_missing": ("How many young does she nurse? At least one.", _PRACTICE, "practice", "never"),
    "no_energy_density": (
        "{food} states no energy and no analysis to reckon it from, so it cannot be portioned.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "nfe_negative": (
        "The parts of this label make more than 100 % ({parts} %). It is misread or misprinted: not used.",
        "AAFCO Model Regulation PF9",
        "A",
        "never",
    ),
    "analysis_impossible": (
        "{part} of {value} % cannot be: a part of a food lies between 0 and 100 %.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "change_too_quick": (
        "A change of food takes {least} days at the least.",
        "SACN5 p. 279",
        "A",
        "never",
    ),
    "no_food": ("Choose at least one food.", _PRACTICE, "practice", "never"),
    "shares_not_whole": ("The shares of the foods make {whole} %, not 100.", _PRACTICE, "practice", "never"),
    "treats_above_tenth": (
        "Treats of {treats} kcal are above a tenth of the day ({most} kcal).",
        "SACN5 p. 522",
        "A",
        "never",
    ),
    "treats_negative": ("Treats cannot be less than nothing.", _PRACTICE, "practice", "never"),
    "food_not_for_cats": (
        "{food} is not made for cats; a cat does not thrive on a dog's food.",
        _PRACTICE,
        "practice",
        "never",
    ),
    "only_complementary": (
        "{food} is a complementary food and would be the only one. Add a complete food, or write down why.",
        _PRACTICE,
        "practice",
        "reason",
    ),
    "adult_food_in_growth": (
        "{food} is not made for growth. Choose a food for growth, or write down why.",
        _PRACTICE,
        "practice",
        "reason",
    ),
    "adult_food_in_reproduction": (
        "{food} is not made for pregnancy and nursing. Choose one that is, or write down why.",
        _PRACTICE,
        "practice",
        "reason",
    ),
    "meat_free_for_cat": (
        "{food} holds no meat, and a cat cannot live on plants alone. Choose another, or write down why.",
        _PRACTICE,
        "practice",
        "reason",
    ),
    "no_formula": (
        "With {condition} no formula is used and no food proposed: enter your own plan, or say "
        "“keep feeding as now until we call”.",
        _PRACTICE,
        "practice",
        "own_plan",
    ),
    "no_formula_starvation": (
        "After starvation food itself can harm (refeeding). No automatic plan: enter your own, step by step.",
        "Cook et al., J Feline Med Surg 2021;23:883-891",
        "A",
        "own_plan",
    ),
    "own_plan_without_reason": (
        "Your own number needs a few words of reason; they stand in the record with your name.",
        _PRACTICE,
        "practice",
        "reason",
    ),
}
_QUESTIONS: dict[str, tuple[str, str, Certainty]] = {
    "target_below_every_method": (
        "A target of {target} kg is below the ideal weight by every method ({lowest} kg at the least). "
        "Is that meant?",
        _PRACTICE,
        "practice",
    ),
    "intake_below_plan": (
        "By report it eats {intake} kcal, less than the {start} a plan would start with. Was a food "
        "history taken, and was illness looked for? Nobody cuts meanwhile.",
        _PRACTICE,
        "practice",
    ),
    "cat_above_one": (
        "That would take {percent} % a week. Cats are asked to lose {usual} % at the most: is that meant, "
        "and does somebody see every day that it eats?",
        "AAHA 2014, AAHA 2021",
        "C",
    ),
    "thin_asked": (
        "At {bcs} of 9 it is thin, and no sum is made to fatten it. Was it asked why: appetite, teeth, "
        "worms, illness, how much it is given, who takes it? Open a problem where the answer is not plain.",
        _PRACTICE,
        "practice",
    ),
    "overweight_kept": (
        "At {bcs} of 9 it is overweight, and {energy} kcal a day take nothing off{intake}. Is that meant, "
        "or should it lose weight?",
        _PRACTICE,
        "practice",
    ),
    "muscle_asked": (
        "Muscle has been lost ({muscle}). Was the reason looked for, before food is cut or changed?",
        "WSAVA muscle condition score; common practice",
        "practice",
    ),
    "unplanned_loss": (
        "It weighs {percent} % less than {when}, and no plan for losing weight was running. Was the cause "
        "looked for? Until it is known, “keep feeding as now” and an early recheck are a complete answer.",
        _PRACTICE,
        "practice",
    ),
    "cat_food_for_dog": ("{food} is not made for dogs. Is that meant?", _PRACTICE, "practice"),
    "raw_with_people": (
        "{food} is raw and there are {people}. Has the owner been told of the risk, and is it still wanted?",
        _PRACTICE,
        "practice",
    ),
    "raw_who_is_home": (
        "{food} is raw. Do small children or frail people live in the house?",
        _PRACTICE,
        "practice",
    ),
    "complementary_above_tenth": (
        "Treats and complementary foods are {percent} % of the day. Is the rest enough to stay complete?",
        _PRACTICE,
        "practice",
    ),
    "not_for_large_puppies": (
        "{food} is for growth but not marked for large breeds. Is its calcium right for a large puppy?",
        _PRACTICE,
        "practice",
    ),
    "therapeutic_food": (
        "{food} is a therapeutic food. For which illness is it meant here?",
        _PRACTICE,
        "practice",
    ),
    "maintenance_food_for_loss": (
        "{food} is not made for losing weight; less of it may lack what is needed. Is that meant?",
        _PRACTICE,
        "practice",
    ),
    "adult_rule_in_reproduction": (
        "The energy is by a rule for adults, and she is pregnant or nursing. Is that meant?",
        _PRACTICE,
        "practice",
    ),
}


def refusal(code: str, **words: object) -> Refusal:
    """The refusal of that code with its sentence filled in."""
    sentence, source, certainty, lifts = _REFUSALS[code]
    return Refusal(code, sentence.format(**words), source, certainty, lifts)


def question(code: str, **words: object) -> Question:
    """The question of that code with its sentence filled in."""
    sentence, source, certainty = _QUESTIONS[code]
    return Question(code, sentence.format(**words), source, certainty)


def refuse(code: str, **words: object) -> Refused:
    """The error to raise; `raise refuse(...)`."""
    return Refused(refusal(code, **words))


def is_positive(number: float) -> bool:
    return math.isfinite(number) and number > 0


def require_weight(weight_kg: float | None) -> float:
    """The weight in kg, or `Refused` when it is missing, not a number, or not above zero."""
    if weight_kg is None:
        raise refuse("weight_missing")
    if not is_positive(weight_kg):
        raise refuse("weight_not_positive")
    return weight_kg


def require_bcs(bcs: float) -> float:
    """The body condition score, or `Refused` outside 1–9."""
    if not 1 <= bcs <= 9:
        raise refuse("bcs_out_of_range")
    return bcs


def require_rate(percent_a_week: float, factors: Factors) -> float:
    """The rate of loss in % of starting weight a week, or `Refused` at ≤ 0 or above the published most."""
    most = factors.value("loss.most")
    if not is_positive(percent_a_week):
        raise refuse("rate_not_positive")
    if percent_a_week > most:
        raise refuse("loss_too_fast", percent=f"{percent_a_week:.1f}", most=f"{most:g}")
    return percent_a_week
