"""Questions asked before a medicine is directed. Pure; none forbids: each is answered with a reason, or the
medicine is not recorded. Which medicine and how much of it is the prescriber's; no dose stands here.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from clinic.care.routes import NOT_BY_WEIGHT, Route

COMMON_PRACTICE = "common practice"
ADULT_WEIGHT_DAYS = 30
GROWING_WEIGHT_DAYS = 7
WASHED_OUT_DAYS = 7
EAR_SIDES = {"left": ("left",), "right": ("right",), "both": ("left", "right")}
ONE_OF_A_KIND = {"steroid": "steroids", "nsaid": "anti-inflammatories that are no steroids"}


@dataclass(frozen=True)
class Kinds:
    """What the clinic's list knows of an ingredient: its kinds, such as nsaid, steroid, penicillin.

    `words`: how people write a kind, as in "reacts to cortisone".
    """

    of: Mapping[str, frozenset[str]]
    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def find(self, ingredient: str) -> frozenset[str]:
        return self.of.get(_plain(ingredient), frozenset())

    def knows(self, ingredient: str) -> bool:
        """Whether somebody said of which kinds it is, also when it is of none that are asked about."""
        return _plain(ingredient) in self.of

    def written(self, kinds: Iterable[str]) -> set[str]:
        return {word for kind in kinds for word in (kind, *self.words.get(kind, ()))}


@dataclass(frozen=True)
class Caution:
    """Kinds of medicine that a condition of the patient asks about. Data: `cautions.toml`."""

    condition: str
    kinds: frozenset[str]
    because: str
    source: str


@dataclass(frozen=True)
class Proposed:
    """The medicine as it is about to be directed. `species`: on its label; empty when not known."""

    name: str
    ingredients: tuple[str, ...]
    route: str
    side: str = ""
    species: frozenset[str] = frozenset()


@dataclass(frozen=True)
class InUse:
    """A medicine the patient takes, with the words that say since when and from whom. `ended`: its last day,
    when that is over."""

    name: str
    ingredients: tuple[str, ...]
    words: str = ""
    ended: date | None = None


@dataclass(frozen=True)
class Case:
    """The patient on `today`. `drum_seen_whole`: by side, None or missing when nobody looked."""

    name: str
    species: str
    today: date
    allergies: tuple[str, ...] = ()
    conditions: frozenset[str] = frozenset()
    weighed_on: date | None = None
    growing: bool = False
    in_use: tuple[InUse, ...] = ()
    lately: tuple[InUse, ...] = ()
    drum_seen_whole: Mapping[str, bool | None] | None = None


@dataclass(frozen=True)
class Question:
    """One question with its reason and where that comes from."""

    code: str
    sentence: str
    reason: str
    source: str = COMMON_PRACTICE


def questions(
    medicine: Proposed, case: Case, kinds: Kinds, cautions: Iterable[Caution] = ()
) -> tuple[Question, ...]:
    """Every question this medicine raises for this patient, in a fixed order. Empty: nothing to ask."""
    asked = tuple(
        question
        for guard in (
            _allergy,
            _species,
            _duplicate,
            _steroid_with_nsaid,
            _lately,
            _weight,
            _drum,
            _pregnancy,
        )
        for question in guard(medicine, case, kinds)
    )
    return (*asked, *_conditions(medicine, case, kinds, cautions))


def _plain(word: str) -> str:
    return " ".join(word.casefold().split())


def _all_kinds(ingredients: tuple[str, ...], kinds: Kinds) -> frozenset[str]:
    return frozenset().union(*(kinds.find(each) for each in ingredients))


def _allergy(medicine: Proposed, case: Case, kinds: Kinds) -> Iterator[Question]:
    """The recorded allergy names the ingredient, its first word, its kind as people write it, or the name."""
    words = {_plain(each) for each in (*medicine.ingredients, medicine.name) if each.strip()}
    words |= {word.split()[0] for word in words if len(word.split()[0]) > 4}
    words |= kinds.written(_all_kinds(medicine.ingredients, kinds))
    for number, allergy in enumerate(case.allergies):
        if any(_names(word, _plain(allergy)) for word in words):
            yield Question(
                f"allergy-{number}" if number else "allergy",
                f"{case.name} has a recorded allergy: “{allergy}”. Direct {medicine.name} all the same?",
                "The allergy names this medicine, one of its ingredients, or their kind.",
            )


def _names(word: str, told: str) -> bool:
    """Whether the text names it, as a whole word or its plural; "non-steroidal" names no steroid."""
    return re.search(rf"(?<![\w-]){re.escape(word)}(?:s|al|als|es)?(?![\w])", told) is not None


def _species(medicine: Proposed, case: Case, kinds: Kinds) -> Iterator[Question]:
    if medicine.species and case.species not in medicine.species:
        labelled = " and ".join(sorted(f"{each}s" for each in medicine.species))
        yield Question(
            "species",
            f"{medicine.name} is listed for {labelled}; {case.name} is a {case.species}. Is it meant?",
            "Use outside the label is the veterinarian’s decision; local law says when it is allowed. "
            "What one species bears can kill another.",
            "21 CFR 530 (extra-label use), from memory, to be checked",
        )


def _duplicate(medicine: Proposed, case: Case, kinds: Kinds) -> Iterator[Question]:
    """The same ingredient twice; or two of a kind of which one is meant to be given."""
    own = {_plain(each) for each in medicine.ingredients}
    own_kinds = _all_kinds(medicine.ingredients, kinds) & ONE_OF_A_KIND.keys()
    for number, each in enumerate(case.in_use):
        both = own & {_plain(one) for one in each.ingredients}
        shared = own_kinds & _all_kinds(each.ingredients, kinds)
        code = f"duplicate-{number}" if number else "duplicate"
        if both:
            what = " and ".join(sorted(both))
            yield Question(
                code,
                f"{case.name} has {what} already: {_in_use(each)}. Give both?",
                "The same ingredient in two medicines adds up to a dose that nobody chose.",
            )
        elif shared:
            what = " and ".join(ONE_OF_A_KIND[kind] for kind in sorted(shared))
            yield Question(
                code,
                f"{case.name} has another of the {what} already: {_in_use(each)}. Give both?",
                "Two of this kind together add up in their harm.",
            )


def _in_use(each: InUse) -> str:
    return f"{each.name}, {each.words}" if each.words else each.name


def _steroid_with_nsaid(medicine: Proposed, case: Case, kinds: Kinds) -> Iterator[Question]:
    own = _all_kinds(medicine.ingredients, kinds)
    for number, each in enumerate(case.in_use):
        other = _all_kinds(each.ingredients, kinds)
        if ("steroid" in own and "nsaid" in other) or ("nsaid" in own and "steroid" in other):
            yield Question(
                f"steroid-with-nsaid-{number}" if number else "steroid-with-nsaid",
                f"A steroid together with an anti-inflammatory that is none: {case.name} has "
                f"{_in_use(each)}. Give both?",
                "Together they can make the stomach and the gut bleed, and harm the kidneys.",
            )


def _lately(medicine: Proposed, case: Case, kinds: Kinds) -> Iterator[Question]:
    """A steroid soon after an anti-inflammatory that is none, the other way round, or one after another."""
    own = _all_kinds(medicine.ingredients, kinds) & ONE_OF_A_KIND.keys()
    for number, each in enumerate(case.lately):
        other = _all_kinds(each.ingredients, kinds) & ONE_OF_A_KIND.keys()
        days = (case.today - each.ended).days if each.ended else WASHED_OUT_DAYS
        if not own or not other or days >= WASHED_OUT_DAYS or (own == other == {"steroid"}):
            continue
        if {_plain(one) for one in medicine.ingredients} & {_plain(one) for one in each.ingredients}:
            continue
        yield Question(
            f"lately-{number}" if number else "lately",
            f"{case.name} had {each.name} until {days} {'day' if days == 1 else 'days'} ago. "
            f"Is the time between long enough?",
            f"Between two such medicines some days are left free, commonly {WASHED_OUT_DAYS}.",
        )


def _conditions(
    medicine: Proposed, case: Case, kinds: Kinds, cautions: Iterable[Caution]
) -> Iterator[Question]:
    own = _all_kinds(medicine.ingredients, kinds)
    for caution in cautions:
        if caution.condition in case.conditions and own & caution.kinds:
            kind = " and ".join(ONE_OF_A_KIND.get(each, each) for each in sorted(own & caution.kinds))
            yield Question(
                f"{caution.condition}-{'-'.join(sorted(own & caution.kinds))}",
                f"{case.name}: {caution.condition.replace('_', ' ')}. Give {medicine.name} ({kind}) "
                f"all the same?",
                caution.because,
                caution.source,
            )


def _weight(medicine: Proposed, case: Case, kinds: Kinds) -> Iterator[Question]:
    """Missing, or older than 30 days in an adult and 7 in a growing animal; not for drops at the place."""
    if medicine.route in NOT_BY_WEIGHT:
        return
    if case.weighed_on is None:
        yield Question(
            "weight",
            f"No weight of {case.name} is recorded. Which weight was the dose chosen by?",
            "A dose is chosen by the weight of today.",
        )
        return
    days, most = (
        (case.today - case.weighed_on).days,
        GROWING_WEIGHT_DAYS if case.growing else ADULT_WEIGHT_DAYS,
    )
    if days > most:
        growing = "A growing animal" if case.growing else "An animal"
        yield Question(
            "weight",
            f"{case.name} was last weighed {days} days ago. Is the dose chosen by that weight?",
            f"{growing} is weighed again after {most} days before a dose is chosen.",
        )


def _drum(medicine: Proposed, case: Case, kinds: Kinds) -> Iterator[Question]:
    if medicine.route != Route.EAR:
        return
    seen = case.drum_seen_whole or {}
    dark = [side for side in EAR_SIDES.get(medicine.side, ("left", "right")) if seen.get(side) is not True]
    if dark:
        which = f"{' and '.join(dark)} ear drum{'s were' if len(dark) > 1 else ' was'}"
        yield Question(
            "ear-drum",
            f"The {which} not seen whole today. Is {medicine.name} safe behind a torn drum?",
            "Some ear medicines harm hearing and balance when the drum is torn.",
        )


def _pregnancy(medicine: Proposed, case: Case, kinds: Kinds) -> Iterator[Question]:
    state = [each for each in ("pregnant", "nursing") if each in case.conditions]
    if state:
        young = "the unborn" if "pregnant" in state else "the young that drink"
        yield Question(
            "pregnancy",
            f"{case.name} is {' and '.join(state)}. May she have {medicine.name}?",
            f"It may harm {young}; its label says what is known.",
        )
