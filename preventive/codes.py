"""How the record's words are called in the protocol. Pure."""

from collections.abc import Mapping
from decimal import Decimal

CONDITIONS: Mapping[str, str] = {"felv_positive": "felv_infected", "fiv_positive": "fiv_infected"}

# children under five and frail people are asked apart; the protocol asks for either
LIFESTYLE: Mapping[str, str] = {"frail_people": "small_children"}

RESULT_KINDS: Mapping[str, str] = {
    "heartworm-antigen": "heartworm_ag",
    "heartworm-microfilariae": "heartworm_mf",
    "heartworm-antibody": "heartworm_ab",
    "faecal": "faecal",
    "tick-borne": "tickborne",
    "felv-antigen": "felv_ag",
    "fiv-antibody": "fiv_ab",
    "abcb1-gene": "abcb1",
    # positive says that none was found: that is what asks for something to be done
    "antibody-distemper": "no_antibody_CDV",
    "antibody-adenovirus": "no_antibody_CAV-2",
    "antibody-parvovirus": "no_antibody_CPV",
    "antibody-rabies": "no_antibody_Rabies",
}

LARGE_FROM_KG = Decimal(25)  # ours: no guideline draws the line

# Collie types, after AHS 2018/2020 ("collie types and mixes"); the list is from memory, to be checked.
_ABCB1_BREEDS = (
    "collie",
    "shetland sheepdog",
    "sheltie",
    "australian shepherd",
    "old english sheepdog",
    "english shepherd",
    "mcnab",
    "long-haired whippet",
    "silken windhound",
)


def is_abcb1_breed(breed: str) -> bool:
    """Whether the breed is one in which the ABCB1 (MDR1) variant is common."""
    words = breed.casefold()
    return any(name in words for name in _ABCB1_BREEDS)
