"""Rabies: what the label, the compendium and the place's law make of the doses. Follow local law."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from preventive.case import Case, Item, Plan, ask_birth, because, due_from, note_steps
from preventive.counting import Counted, Limits, count_doses
from preventive.dates import Span, Unit, day_words
from preventive.due import Action, Due, Sequence, Step
from preventive.facts import Dose
from preventive.rules import LateRabies

# Where the label's duration is not recorded only the shortest one is safe to assume.
_SHORTEST_LICENCE_MONTHS = 12
_NO_INTERVAL = Span(0, Unit.DAY)


@dataclass(frozen=True, slots=True, kw_only=True)
class RabiesState:
    """After the last counted dose. ``legal_due`` = min(``product_due``, the place's maximum).

    ``sequence``: "primary" or "booster"; ``valid_from``: currently vaccinated from that day;
    ``primary_on``: the dose that began the present run.
    """

    dose: Dose
    given_on: date
    sequence: str
    valid_from: date
    product_due: date
    legal_due: date
    primary_on: date
    why: tuple[Step, ...]

    def is_current(self, on: date) -> bool:
        """Valid up to and on the due date; overdue the day after. The law gives no tolerance."""
        return self.valid_from <= on <= self.legal_due


def rabies_item(case: Case) -> Item:
    rule = case.rules.rabies
    category = rule.categories[0].value if rule.categories else ""
    return Item("rabies", rule.label, "rabies", rule.label, "vaccine", category, rule.antigen)


def rabies_dues(case: Case) -> Iterator[Due]:
    if case.animal.species not in case.rules.rabies.species:
        return
    counted = count_rabies(case)
    state = rabies_state(case, counted.doses)
    plan = _first(case, counted) if state is None else _next(case, state)
    yield due_from(case, rabies_item(case), plan, uncounted=counted.uncounted)


def count_rabies(case: Case) -> Counted:
    """The doses that count in the protocol's jurisdiction."""
    return count_doses(case, case.rules.rabies.antigen, lambda dose: _limits(case, dose))


def _limits(case: Case, dose: Dose) -> Limits:
    place = case.protocol.jurisdiction
    return Limits(
        min_ages=_min_ages(case, dose.product.min_age),
        min_interval=dose.product.min_interval or _NO_INTERVAL,
        legal=True,
        chip_first=place.chip_first is not None,
    )


def _min_ages(case: Case, label: Span | None) -> tuple[Span, ...]:
    """The label's minimum age in its own unit, and the place's."""
    place = case.protocol.jurisdiction.min_age
    own = label or case.rules.rabies.min_age
    return (own, place.age) if place else (own,)


def rabies_state(case: Case, doses: tuple[Dose, ...]) -> RabiesState | None:
    """The state after the last of the counted doses, which must be in order of date."""
    state: RabiesState | None = None
    for dose in doses:
        state = _primary(case, dose) if state is None else _after(case, state, dose)
    return state


def _primary(case: Case, dose: Dose) -> RabiesState:
    wait = case.protocol.jurisdiction.wait
    step = because(wait, f"Currently vaccinated {wait.days} days after the first dose.")
    span, why = _first_span(case, dose)
    return _state(case, dose, span, (*why, step))


def _first_span(case: Case, dose: Dose) -> tuple[Span, tuple[Step, ...]]:
    """How long a first dose lasts, and why."""
    rule = case.protocol.jurisdiction.first_booster
    by_age = case.old_enough_on(rule.label_from_age) if rule.label_from_age else None
    if rule.after is None or (by_age is not None and dose.given.earliest >= by_age):
        return _licence(dose), (because(rule, "First dose: next by the label."), _label_step(case, dose))
    text = f"First dose: booster {rule.after.words} later, whatever the product."
    return rule.after, (because(rule, text),)


def _after(case: Case, state: RabiesState, dose: Dose) -> RabiesState:
    if dose.given.latest > state.legal_due:
        return _late(case, state, dose)
    early_until = case.cal.gate(state.primary_on, case.rules.rabies.early_booster_from)
    if state.sequence == "primary" and dose.given.earliest < early_until:
        return _early(case, state, dose)
    cited = case.protocol.jurisdiction.first_booster
    step = because(cited, "Booster in time: current at once, next by the label of this dose.")
    return _state(case, dose, _licence(dose), (step, _label_step(case, dose)), before=state)


def _late(case: Case, state: RabiesState, dose: Dose) -> RabiesState:
    late = case.protocol.jurisdiction.late
    after = f"Given after {day_words(state.legal_due)}, so a late booster"
    match late.mode:
        case LateRabies.PRIMARY_AGAIN:
            again = _primary(case, dose)
            step = because(late, f"After {day_words(state.legal_due)}: counts as a first dose again.")
            return replace(again, why=(step, *again.why))
        case LateRabies.RESTART_12MO:
            step = because(late, f"{after}: current at once, next in 12 months.")
            return _state(case, dose, Span(12, Unit.MONTH), (step,), before=state)
        case LateRabies.LABEL:
            step = because(late, f"{after}: one dose, current at once, next by the label of this dose.")
            return _state(case, dose, _licence(dose), (step, _label_step(case, dose)), before=state)


def _early(case: Case, state: RabiesState, dose: Dose) -> RabiesState:
    """Soon after the first dose a second is no booster for the label's full time."""
    rule = case.rules.rabies
    text = f"Within {rule.early_booster_from.words} of the first dose: dated as a first dose."
    step = Step(text, rule.early_source, rule.early_certainty.value)
    span, why = _first_span(case, dose)
    moved = _state(case, dose, span, (step, *why))
    return replace(moved, valid_from=state.valid_from, primary_on=state.primary_on)


def _state(
    case: Case, dose: Dose, span: Span, why: tuple[Step, ...], *, before: RabiesState | None = None
) -> RabiesState:
    """A first dose (``before`` None) waits for its validity; a booster is valid at once."""
    day, place = dose.given.earliest, case.protocol.jurisdiction
    product_due = case.cal.due(day, span)
    wait = timedelta(days=0 if before else place.wait.days)
    return RabiesState(
        dose=dose,
        given_on=day,
        sequence="booster" if before else "primary",
        valid_from=day + wait,
        product_due=product_due,
        legal_due=legal_due(case, day, product_due),
        primary_on=before.primary_on if before else day,
        why=why,
    )


def _licence(dose: Dose) -> Span:
    return Span(dose.product.licensed_months or _SHORTEST_LICENCE_MONTHS, Unit.MONTH)


def _label_step(case: Case, dose: Dose) -> Step:
    until = day_words(case.cal.due(dose.given.earliest, _licence(dose)))
    if dose.product.licensed_months is None:
        text = f"The label's time is not on record, so the shortest there is: 12 months, to {until}."
        return Step(text, "ours", "ours")
    return Step(f"{_licence(dose).words} by the label: {until}.", "the product's label", "clinic")


def legal_due(case: Case, given_on: date, product_due: date) -> date:
    """The earlier of the product's date and the longest time the place allows."""
    maximum = case.protocol.jurisdiction.maximum
    if maximum is None:
        return product_due
    return min(product_due, case.cal.due(given_on, Span(maximum.months, Unit.MONTH)))


def _first(case: Case, counted: Counted) -> Plan:
    """No dose counts yet: from the minimum age, by the place's deadline."""
    gates = [case.old_enough_on(age) for age in _min_ages(case, None)]
    opens = [gate for gate in gates if gate is not None]
    if not opens or case.oldest_birth is None:
        return ask_birth()
    earliest = max(opens)
    deadline = case.protocol.jurisdiction.deadline
    legal = case.cal.due(case.oldest_birth, deadline.age) if deadline else None
    return Plan(
        then=Action.START,
        earliest=earliest,
        target=earliest,
        latest=max(earliest, legal) if legal else earliest,
        legal=legal,
        sequence=Sequence("initial", 1),
        why=tuple(_first_reasons(case)),
        notes=note_steps(case.rules.rabies.notes),
    )


def _first_reasons(case: Case) -> Iterator[Step]:
    rule, place = case.rules.rabies, case.protocol.jurisdiction
    yield because(rule, f"From {rule.min_age.words} of age; the product's label may say another age.")
    if place.min_age is not None:
        yield because(place.min_age, f"{place.label}: from {place.min_age.age.words}.")
    if place.deadline is not None:
        yield because(place.deadline, f"{place.label}: by {place.deadline.age.words} of age.")


def _next(case: Case, state: RabiesState) -> Plan:
    place = case.protocol.jurisdiction
    notes = note_steps((*place.notes, *case.rules.rabies.notes))
    return Plan(
        then=Action.ONE_DOSE,
        target=state.legal_due,
        latest=state.legal_due,
        legal=state.legal_due,
        product_due=state.product_due,
        valid_from=state.valid_from,
        last_on=state.given_on,
        sequence=Sequence("booster"),
        why=(*state.why, *_maximum_reason(case, state)),
        notes=notes,
    )


def _maximum_reason(case: Case, state: RabiesState) -> Iterator[Step]:
    maximum = case.protocol.jurisdiction.maximum
    if maximum is not None and state.legal_due < state.product_due:
        text = f"The place allows {maximum.months} months at most; the product's label would allow more."
        yield because(maximum, text)
