"""Condition codes that the feeding rules look at: the one place where they are spelled.

They are codes of the patient's conditions in `clinic`; a caller passes them as a frozenset of strings and
codes that are not listed here are ignored.
"""

INSULIN_DIABETES = "insulin_diabetes"
NOT_EATING = "not_eating"
VOMITING = "vomiting"
UNEXPLAINED_WEIGHT_LOSS = "unexplained_weight_loss"
KIDNEY_DISEASE = "kidney_disease"
LIVER_DISEASE = "liver_disease"
PANCREATITIS = "pancreatitis"
URINARY_STONES = "urinary_stones"
THERAPEUTIC_DIET = "therapeutic_diet"
STARVATION = "starvation"
PREGNANT = "pregnant"
NURSING = "nursing"
OBESE_PRONE = "obese_prone"

NO_FORMULA: tuple[str, ...] = (
    INSULIN_DIABETES,
    NOT_EATING,
    VOMITING,
    UNEXPLAINED_WEIGHT_LOSS,
    KIDNEY_DISEASE,
    LIVER_DISEASE,
    PANCREATITIS,
    URINARY_STONES,
    THERAPEUTIC_DIET,
    STARVATION,
)
"""With one of these no formula is used and no food is proposed."""

SAYS: dict[str, str] = {
    INSULIN_DIABETES: "diabetes on insulin",
    NOT_EATING: "not eating",
    VOMITING: "vomiting",
    UNEXPLAINED_WEIGHT_LOSS: "weight loss without a known cause",
    KIDNEY_DISEASE: "kidney disease",
    LIVER_DISEASE: "liver disease",
    PANCREATITIS: "disease of the pancreas",
    URINARY_STONES: "urinary stones",
    THERAPEUTIC_DIET: "a therapeutic diet in use",
    STARVATION: "starvation",
    PREGNANT: "pregnant",
    NURSING: "nursing",
    OBESE_PRONE: "gains weight easily",
}

SMALL_CHILDREN = "small_children"
FRAIL_PEOPLE = "frail_people"
HOUSEHOLD: dict[str, str] = {
    SMALL_CHILDREN: "small children at home",
    FRAIL_PEOPLE: "frail people at home",
}
"""What the lifestyle answers say about the household, where raw food is concerned."""
