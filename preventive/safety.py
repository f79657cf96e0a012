"""Questions before a parasite preventive goes home. A "stop" must not be passed; the label comes first."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from preventive.case import Case
from preventive.dates import Span, Unit
from preventive.facts import Abcb1, Animal, History, Species
from preventive.protocol import Protocol
from preventive.supplies import supplies_for

_PERMETHRIN, _LACTONE, _ISOXAZOLINE = "permethrin", "macrocyclic lactone", "isoxazoline"
_GROWING_UNTIL = Span(1, Unit.YEAR)
_WEIGHT_GOOD_FOR = timedelta(days=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class PreventiveProduct:
    """What the label says; ``ingredients`` in lower case; the weight band includes both ends."""

    name: str
    ingredients: tuple[str, ...]
    species: tuple[Species, ...] = ()
    protects: frozenset[str] = frozenset()
    min_age: Span | None = None
    min_weight_kg: float | None = None
    max_weight_kg: float | None = None


@dataclass(frozen=True, slots=True)
class SafetyQuestion:
    """``level``: "stop" (not to be passed), "warn" (a clinician answers), "ask" (a fact is missing)."""

    code: str
    level: str
    text: str
    source: str
    certainty: str


def safety_questions(
    animal: Animal,
    product: PreventiveProduct,
    history: History,
    protocol: Protocol,
    on: date,
    *,
    in_use: tuple[str, ...] = (),
) -> tuple[SafetyQuestion, ...]:
    """All questions one product raises for one animal on one day, stops first.

    ``in_use``: ingredients of other medicines in use; those of supplies still running are added here.
    """
    check = _Check(Case(animal, history, protocol, on), product, in_use)
    codes = dict.fromkeys([*_label(check), *_breeding(check), *_poisons(check), *_heartworm(check)])
    questions = [rule_question(protocol, code) for code in codes]
    return tuple(sorted(questions, key=lambda q: ("stop", "warn", "ask").index(q.level)))


def rule_question(protocol: Protocol, code: str) -> SafetyQuestion:
    """One question as the protocol's table of safety words it."""
    rule = protocol.rules.safety[code]
    return SafetyQuestion(code, rule.level, rule.text, rule.source, rule.certainty.value)


@dataclass(frozen=True, slots=True)
class _Check:
    case: Case
    product: PreventiveProduct
    in_use: tuple[str, ...]

    @property
    def animal(self) -> Animal:
        return self.case.animal

    @property
    def classes(self) -> frozenset[str]:
        return self.classes_of(self.product.ingredients)

    def classes_of(self, ingredients: tuple[str, ...]) -> frozenset[str]:
        """An ingredient that is in no list stands for its own class."""
        known = self.case.rules.ingredients
        return frozenset(known.get(name.lower(), name.lower()) for name in ingredients)


def _label(check: _Check) -> Iterator[str]:
    product, animal = check.product, check.animal
    if product.species and animal.species not in product.species:
        yield "wrong_species"
    yield from _age(check)
    yield from _weight(check)
    if check.classes & _classes_in_use(check):
        yield "same_class"


def _age(check: _Check) -> Iterator[str]:
    if check.product.min_age is None:
        return
    ready = check.case.old_enough_on(check.product.min_age)
    if ready is None:
        yield "age_unknown"
    elif check.case.on < ready:
        yield "too_young"


def _weight(check: _Check) -> Iterator[str]:
    low, high = check.product.min_weight_kg, check.product.max_weight_kg
    weight = check.animal.weight_kg
    if low is None and high is None:
        return
    if weight is None:
        yield "weight_unknown"
        return
    if low is not None and weight < low:
        yield "too_light"
    if high is not None and weight > high:
        yield "too_heavy"
    if _is_weight_old(check):
        yield "weight_old"


def _is_weight_old(check: _Check) -> bool:
    grown = check.case.turns(_GROWING_UNTIL)
    weighed = check.animal.weighed_on
    growing = grown is not None and check.case.on < grown
    return growing and (weighed is None or check.case.on - weighed > _WEIGHT_GOOD_FOR)


def _classes_in_use(check: _Check) -> frozenset[str]:
    running = [
        name
        for supply in check.case.history.supplies
        if supply.first_on <= check.case.on < supply.covered_until(check.case.cal)
        if supply.product != check.product.name
        for name in supply.ingredients
    ]
    return check.classes_of((*check.in_use, *running))


def _breeding(check: _Check) -> Iterator[str]:
    """In pregnancy and while nursing only what the label names as tested there; a veterinarian reads it."""
    if {"pregnant", "nursing"} & check.animal.conditions:
        yield "pregnant"


def _poisons(check: _Check) -> Iterator[str]:
    animal, classes = check.animal, check.classes
    if _PERMETHRIN in classes:
        yield from _permethrin(animal)
    if _LACTONE in classes and animal.species is Species.DOG:
        genotype = _genotype(check)
        if genotype in {Abcb1.ONE_MUTANT, Abcb1.TWO_MUTANT}:
            yield "abcb1"
        elif genotype is Abcb1.UNKNOWN and animal.abcb1_breed:
            yield "abcb1_unknown"
    if _ISOXAZOLINE in classes:
        has_seizures = "seizures" in animal.conditions
        yield "isoxazoline_seizures" if has_seizures else "isoxazoline_history"


def _genotype(check: _Check) -> Abcb1:
    """What the record says; else the newest result of a test of the gene."""
    if check.animal.abcb1 is not Abcb1.UNKNOWN:
        return check.animal.abcb1
    tested = _last(check, "abcb1")
    if tested is None:
        return Abcb1.UNKNOWN
    return Abcb1.ONE_MUTANT if tested else Abcb1.NORMAL


def _permethrin(animal: Animal) -> Iterator[str]:
    if animal.species is Species.CAT:
        yield "permethrin_cat"
        return
    cats = animal.says("cats_in_home")
    if cats is None:
        yield "permethrin_home_unknown"
    elif cats:
        yield "permethrin_home"


def _heartworm(check: _Check) -> Iterator[str]:
    """Before a heartworm preventive: microfilariae, a positive antigen, or no test at 7 months or older."""
    if "heartworm" not in check.product.protects or check.animal.species is not Species.DOG:
        return
    if _last(check, "heartworm_mf") is True:
        yield "mf_positive"
    if _last(check, "heartworm_ag") is True:
        yield "heartworm_positive"
    if _is_untested(check):
        yield "untested"


def _last(check: _Check, kind: str) -> bool | None:
    found = [t for t in check.case.history.tests if t.kind == kind and t.on <= check.case.on]
    newest = max(found, key=lambda test: (test.on, test.positive is True), default=None)
    return newest.positive if newest else None


def _is_untested(check: _Check) -> bool:
    case = check.case
    rule = next(r for r in case.rules.heartworm.values() if r.species is check.animal.species)
    ready = case.old_enough_on(rule.pretest_age.age)
    if ready is not None and case.on < ready:
        return False
    late = timedelta(days=rule.late_after.days)
    supplies = supplies_for(case, rule.protects)
    protected = any(case.on <= supply.covered_until(case.cal) + late for supply in supplies)
    return not protected and not _tested_lately(check)


def _tested_lately(check: _Check) -> bool:
    """A test of the last 30 days stands before the first dose; without one the preventive waits."""
    rule = next(r for r in check.case.rules.heartworm.values() if r.species is check.animal.species)
    since = check.case.on - timedelta(days=rule.pretest_within.days)
    kinds = {
        test.kind
        for test in check.case.history.tests
        if since <= test.on <= check.case.on and not test.positive
    }
    return {*rule.results, *rule.together} <= kinds
