"""Which recorded doses of one antigen count, and why the others do not."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from preventive.case import Case
from preventive.dates import Span
from preventive.due import Uncounted
from preventive.facts import Dose, DoseSource


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one dose must satisfy. ``legal``: proof is demanded. ``chip_first``: a microchip before it."""

    min_ages: tuple[Span, ...]
    min_interval: Span
    legal: bool = False
    chip_first: bool = False


@dataclass(frozen=True, slots=True)
class Counted:
    """``last_given`` also knows doses that do not count: the next must keep its distance from them."""

    doses: tuple[Dose, ...]
    uncounted: tuple[Uncounted, ...]
    last_given: date | None


@dataclass(slots=True)
class _Seen:
    counted: list[Dose] = field(default_factory=list)
    given: list[Dose] = field(default_factory=list)


# Not really given to this animal as written: these keep no distance to the next dose.
_NEVER_GIVEN = frozenset({"before_birth", "future", "duplicate", "hearsay"})


def count_doses(case: Case, antigen: str, limits: Callable[[Dose], Limits]) -> Counted:
    """Go through an antigen's doses by date; the order in which they were entered plays no part."""
    seen, uncounted = _Seen(), []
    for dose in sorted((d for d in case.history.doses if antigen in d.antigens), key=_by_date):
        code = _why_not(case, dose, limits(dose), seen)
        if code is None:
            seen.counted.append(dose)
        else:
            uncounted.append(_uncounted(case, dose, code))
        if code not in _NEVER_GIVEN:
            seen.given.append(dose)
    last = max((dose.given.earliest for dose in seen.given), default=None)
    return Counted(tuple(seen.counted), tuple(uncounted), last)


def _by_date(dose: Dose) -> tuple[Any, ...]:
    """Of two on one day the one that holds for a shorter time leads (ours): by its label, as a rule into the
    nose rather than under the skin, inactivated rather than live; then the better known one. When it was
    entered says nothing: `id` only orders what is alike.
    """
    product, given = dose.product, dose.given
    label = (product.licensed_months or 0, dose.route.value, product.kind.value, product.name)
    known = (not dose.lot, not dose.proof, dose.source.value)
    return (given.earliest, given.latest, *label, *known, dose.id)


def _uncounted(case: Case, dose: Dose, code: str) -> Uncounted:
    rule = case.rules.counting[code]
    text = f"{rule.text} {dose.decision_reason}".strip() if code == "vet_refused" else rule.text
    return Uncounted(dose.id, dose.given, code, text, rule.source, rule.certainty.value, rule.decide)


def _why_not(case: Case, dose: Dose, limits: Limits, seen: _Seen) -> str | None:
    fixed = _impossible(case, dose, seen) or _unlawful(case, dose, limits)
    if fixed is not None:
        return fixed
    if dose.decision is not None:
        return None if dose.decision else "vet_refused"
    return _doubtful(case, dose, limits, seen)


def _impossible(case: Case, dose: Dose, seen: _Seen) -> str | None:
    if case.oldest_birth is not None and dose.given.latest < case.oldest_birth:
        return "before_birth"
    if dose.given.earliest > case.on:
        return "future"
    if any(other.given == dose.given for other in seen.counted):
        return "duplicate"
    return None


def _unlawful(case: Case, dose: Dose, limits: Limits) -> str | None:
    if limits.legal and dose.source is not DoseSource.HERE and not dose.proof:
        return "unproven"
    chipped = case.animal.chipped_on
    if limits.chip_first and (chipped is None or dose.given.earliest < chipped):
        return "no_chip"
    return None


def _doubtful(case: Case, dose: Dose, limits: Limits, seen: _Seen) -> str | None:
    if dose.product.species and case.animal.species not in dose.product.species:
        return "wrong_species"
    if dose.source is DoseSource.OWNER and not dose.proof:
        return "hearsay"
    if _is_too_young(case, dose, limits):
        return "too_young"
    if _is_too_soon(case, dose, limits, seen):
        return "too_soon"
    if dose.lot_expires_on is not None and dose.lot_expires_on < dose.given.earliest:
        return "expired"
    return "no_lot" if dose.source is DoseSource.HERE and not dose.lot else None


def _is_too_young(case: Case, dose: Dose, limits: Limits) -> bool:
    for age in limits.min_ages:
        gate = case.old_enough_on(age)
        if gate is not None and dose.given.earliest < gate:
            return True
    return False


def _is_too_soon(case: Case, dose: Dose, limits: Limits, seen: _Seen) -> bool:
    """Measured over the longest time the two dates allow, so a month-only date is not refused at once."""
    last = max((other.given.earliest for other in seen.given if other.given != dose.given), default=None)
    if last is None:
        return False
    return dose.given.latest < case.cal.gate(last, limits.min_interval)
