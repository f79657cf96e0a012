"""What a certificate of all vaccines tells of an animal: every dose that is proven, and what comes next."""

from dataclasses import dataclass
from datetime import date

from clinic.patients.models import Patient
from preventive.due import Due
from preventive.knowing import history_of
from preventive.models import Dose, Source
from preventive.protocol import Protocol
from preventive.queries import mine
from preventive.schedule import due_items
from preventive.wording import ROUTES, antigens, day


@dataclass(frozen=True)
class VaccinationRows:
    """`doses`: day; against; product and maker; lot and expiry; how and where; by whom. The newest first.

    `following`: against; last given; due again. `first_due`: the first of those dates.
    """

    doses: tuple[tuple[str, ...], ...]
    following: tuple[tuple[str, str, str], ...]
    dose_ids: tuple[int, ...]
    last_on: date | None
    first_due: date | None


def vaccination_rows(patient: Patient, protocol: Protocol, *, today: date) -> VaccinationRows:
    """Doses of the owner's word alone, or from a record nobody saw, are left out: a certificate is proof."""
    rows = Dose.objects.filter(mine(patient), struck_at=None, proof=True).exclude(source=Source.OWNER)
    doses = list(rows.select_related("given_by", "supervising").order_by("-given_on", "-pk"))
    known = history_of(patient, today=today)
    dues = [
        each for each in due_items(known.animal, known.history, protocol, today) if each.kind == "vaccine"
    ]
    why_not: dict[str, list[str]] = {}
    for due in dues:
        for entry in due.uncounted:
            why_not.setdefault(entry.dose_id, []).append(f"{due.label}: {entry.text}")
    coming = [each for each in dues if each.last_on is not None and each.applies]
    dates = [on for each in coming if (on := _again(each)) is not None]
    return VaccinationRows(
        doses=tuple(_dose(each, protocol, why_not.get(str(each.pk), [])) for each in doses),
        following=tuple(
            (each.label, day(each.last_on), _again_words(_again(each), today))
            for each in coming
            if each.last_on is not None
        ),
        dose_ids=tuple(each.pk for each in doses),
        last_on=doses[0].given_on if doses else None,
        first_due=min(dates, default=None),
    )


def _again(due: Due) -> date | None:
    """By law where a law sets it, else by the protocol."""
    return due.legal or due.target


def _again_words(on: date | None, today: date) -> str:
    if on is None:
        return "no further date"
    return day(on) if on >= today else f"was due {day(on)}"


def _dose(dose: Dose, protocol: Protocol, why_not: list[str]) -> tuple[str, ...]:
    label, rules = dose.product_facts, protocol.rules
    against = antigens(dose.antigens, rules)
    if why_not:
        against = f"{against} (does not count: {' '.join(dict.fromkeys(why_not))})"
    site = rules.sites.get(dose.site)
    how = [ROUTES.get(dose.route, ""), site.label.lower() if site and dose.site != dose.route else ""]
    lot = [f"lot {dose.lot}" if dose.lot else "", f"expiry {day(dose.expires_on)}" if dose.expires_on else ""]
    return (
        dose.when,
        against,
        _joined(str(label.get("name", "")), str(label.get("maker", ""))),
        _joined(*lot),
        _joined(*how),
        _by(dose),
    )


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part) or "not on record"


def _by(dose: Dose) -> str:
    if dose.source != Source.HERE or dose.given_by is None:
        return f"elsewhere; proof: {dose.proof_words}" if dose.proof_words else "elsewhere; proof seen"
    vet = dose.supervising
    answers = f" for {vet.printed_name}" if vet is not None and vet != dose.given_by else ""
    return f"{dose.given_by.printed_name}{answers}"
