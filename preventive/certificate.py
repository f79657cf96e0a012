"""The dates and the missing fields of a rabies certificate. Once issued it is frozen elsewhere."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from preventive.case import Case
from preventive.due import Step
from preventive.facts import Animal, History
from preventive.protocol import Protocol
from preventive.rabies import count_rabies, rabies_state


class DoseDoesNotCountError(ValueError):
    """The dose does not count for the law, so no certificate can be written for it."""


@dataclass(frozen=True, slots=True)
class CertificateDates:
    """``due_by`` is printed and equals the legal due date at issue; ``product_due`` is kept beside it."""

    dose_id: str
    vaccinated_on: date
    valid_from: date
    due_by: date
    product_due: date
    sequence: str
    why: tuple[Step, ...]


def certificate_dates(
    animal: Animal, history: History, protocol: Protocol, dose_id: str, on: date
) -> CertificateDates:
    """Dates for one dose, from the doses up to it. Raises DoseDoesNotCountError."""
    case = Case(animal, history, protocol, on)
    counted = count_rabies(case).doses
    upto = next((n for n, dose in enumerate(counted, 1) if dose.id == dose_id), 0)
    state = rabies_state(case, counted[:upto])
    if state is None:
        raise DoseDoesNotCountError(f"dose {dose_id} does not count as a rabies dose on {on.isoformat()}")
    if not state.dose.given.is_exact:
        raise DoseDoesNotCountError(f"dose {dose_id} has no exact date")
    return CertificateDates(
        dose_id,
        state.given_on,
        state.valid_from,
        state.legal_due,
        state.product_due,
        "initial" if state.sequence == "primary" else "booster",
        state.why,
    )


def missing_fields(protocol: Protocol, values: Mapping[str, str]) -> tuple[str, ...]:
    """Labels of required certificate fields without a value. Raises KeyError for an unknown field."""
    fields = protocol.rules.certificate
    for code in values:
        if code not in fields:
            raise KeyError(code)
    return tuple(f.label for f in fields.values() if f.required and not values.get(f.code, "").strip())
