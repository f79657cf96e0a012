"""Everything of a patient's prevention on one page: dues, doses, supplies, reactions, what is held."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from preventive.due import Due, Uncounted
from preventive.due_rows import DueRow, panel
from preventive.knowing import history_of
from preventive.life_rows import Life, life_of
from preventive.models import Certificate, Dose, Hold, Reaction, SiteLook, Source, Supply
from preventive.protocol import Protocol
from preventive.queries import mine
from preventive.reactions import Suspect, is_unusually_late, reports_for, signs_words
from preventive.recorded import (
    PEOPLE,
    Recorded,
    may_strike,
    put_offs_in,
    struck_words,
    supply_rows,
    treatments_in,
)
from preventive.rules import ReportRule, Rules
from preventive.schedule import due_items
from preventive.sites import LumpChecks, lump_checks, lump_wants_biopsy, next_look
from preventive.versions import protocol_in_force
from preventive.wording import ROUTES, antigens, day, source_words


@dataclass(frozen=True)
class DoseRow:
    """One dose as the history shows it. `looks`: what became of its place, the newest last.

    `not_counted`: why the schedule leaves it out; `may_rule`: whether a veterinarian may say otherwise.
    """

    id: int
    when: str
    title: str
    small: str
    struck: str
    doubt: str
    not_counted: tuple[str, ...]
    may_rule: bool
    may_strike: bool
    looks: tuple[str, ...]
    advice: str
    next_look: str
    has_place: bool
    may_certify: bool
    proof_id: int | None


@dataclass(frozen=True)
class ReactionRow:
    id: int
    title: str
    tone: str
    small: tuple[str, ...]
    reports: tuple[str, ...]
    whom: tuple[ReportRule, ...]
    facts: tuple[str, ...]
    struck: str
    outcome: str
    treatment: str
    may_strike: bool


@dataclass(frozen=True)
class HoldRow:
    id: int
    title: str
    small: str


@dataclass(frozen=True)
class PatientPrevention:
    dues: tuple[DueRow, ...]
    doses: tuple[DoseRow, ...]
    supplies: tuple[Recorded, ...]
    treatments: tuple[Recorded, ...]
    put_offs: tuple[Recorded, ...]
    reactions: tuple[ReactionRow, ...]
    holds: tuple[HoldRow, ...]
    certificates: tuple[Certificate, ...]
    life: Life


def patient_page(patient: Patient, *, actor: Actor, today: date) -> PatientPrevention:
    """A fixed number of queries, however long the history."""
    protocol = protocol_in_force()
    people = ("given_by", "supervising", "struck_by", "counted_by", "product")
    rows = Dose.objects.filter(mine(patient)).select_related(*people)
    doses = list(rows.order_by("-given_on", "-pk"))
    looks: dict[int, list[SiteLook]] = {}
    for look in SiteLook.objects.filter(
        Q(dose__patient=patient) | Q(dose__patient__merged_into=patient), struck_at=None
    ):
        looks.setdefault(look.dose_id, []).append(look)
    handed = Supply.objects.filter(mine(patient)).select_related(*PEOPLE)
    supplies = list(handed.order_by("-first_on", "-pk"))
    reactions = (
        Reaction.objects.filter(mine(patient))
        .select_related("struck_by", "entered_by")
        .prefetch_related("doses", "supplies", "reports")
    )
    holds = Hold.objects.filter(mine(patient), released_on=None).select_related("by")
    certificates = tuple(Certificate.objects.filter(mine(patient)).defer("values"))
    certified = frozenset(each.dose_id for each in certificates if not each.struck_at)
    known = history_of(patient, today=today)
    dues = () if patient.deceased_on else due_items(known.animal, known.history, protocol, today)
    left_out = _left_out(dues)
    return PatientPrevention(
        dues=panel(dues, today=today),
        doses=tuple(
            _dose(
                each,
                looks.get(each.pk, []),
                protocol,
                certified=each.pk in certified,
                left_out=left_out.get(str(each.pk), ()),
                may_strike=may_strike(each, actor),
            )
            for each in doses
        ),
        supplies=supply_rows(supplies, actor, protocol),
        treatments=_newest(treatments_in(mine(patient), actor)),
        put_offs=_newest(put_offs_in(mine(patient), actor, protocol)),
        reactions=tuple(_reaction(each, protocol, actor, _Given(doses, supplies)) for each in reactions),
        holds=tuple(
            HoldRow(
                each.pk,
                protocol.rules.antigens.get(each.code, each.code),
                f"{each.reason} Since {day(each.on)}, {each.by.full_name}.",
            )
            for each in holds
        ),
        certificates=certificates,
        life=life_of(patient, known, protocol, today=today),
    )


def given_lately(patient: Patient) -> tuple[tuple[str, str], ...]:
    """What a reaction may be after, the newest first: `dose:12`, `supply:3` and words."""
    doses = Dose.objects.filter(mine(patient), struck_at=None).order_by("-given_on", "-pk")[:12]
    supplies = Supply.objects.filter(mine(patient), struck_at=None).order_by("-first_on", "-pk")[:6]
    rules = protocol_in_force().rules
    rows = [
        (each.given_on, f"dose:{each.pk}", f"{_name(each, rules)}, {day(each.given_on)}") for each in doses
    ]
    rows += [
        (each.first_on, f"supply:{each.pk}", f"{each.product_name}, from {day(each.first_on)}")
        for each in supplies
    ]
    return tuple((key, words) for _, key, words in sorted(rows, key=lambda row: row[0], reverse=True))


def _name(dose: Dose, rules: Rules) -> str:
    return str(dose.product_facts.get("name") or antigens(dose.antigens, rules))


def _newest(rows: Iterable[Recorded]) -> tuple[Recorded, ...]:
    return tuple(sorted(rows, key=lambda each: each.when, reverse=True))


def _left_out(dues: Iterable[Due]) -> dict[str, tuple[Uncounted, ...]]:
    """By dose, why it does not count: once, though several antigens say so."""
    found: dict[str, dict[str, Uncounted]] = {}
    for due in dues:
        for each in due.uncounted:
            found.setdefault(each.dose_id, {}).setdefault(each.code, each)
    return {dose_id: tuple(rows.values()) for dose_id, rows in found.items()}


def _dose(
    dose: Dose,
    looks: Sequence[SiteLook],
    protocol: Protocol,
    *,
    certified: bool,
    left_out: Sequence[Uncounted],
    may_strike: bool,
) -> DoseRow:
    rules = protocol.rules
    site = rules.sites[dose.site].label if dose.site in rules.sites else ""
    named = [antigens(dose.antigens, rules)] if dose.product_facts.get("name") else []
    if dose.source == Source.HERE and dose.given_by:
        named.append(f"by {dose.given_by.full_name}")
        if dose.supervising_id and dose.supervising_id != dose.given_by_id and dose.supervising:
            named.append(f"for {dose.supervising.full_name}")
    else:
        named.append(dose.get_source_display() + (f": {dose.proof_words}" if dose.proof_words else ""))
    lot = f"lot {dose.lot}" if dose.lot else "no lot on record"
    ends = f", expiry {day(dose.expires_on)}" if dose.expires_on else ""
    how = ", ".join(part for part in (ROUTES.get(dose.route, ""), site.lower()) if part)
    small = "; ".join([*named, lot + ends, *([how] if how else [])])
    doubt = ""
    if dose.counted is not None and dose.counted_by:
        verb = "counts" if dose.counted else "does not count"
        doubt = f"{verb}, decided {dose.counted_by.full_name}: {dose.counted_reason}"
    checks = lump_checks(protocol, dose.given_on)
    return DoseRow(
        id=dose.pk,
        when=dose.when,
        title=_name(dose, rules),
        small=small,
        struck=struck_words(dose),
        doubt=doubt,
        not_counted=tuple(f"{each.text} ({source_words(each.source, each.certainty)})" for each in left_out),
        may_rule=not dose.struck_at
        and (dose.counted is not None or any(each.needs_decision for each in left_out)),
        may_strike=may_strike,
        looks=tuple(_look(each) for each in looks),
        advice=_advice(checks, looks),
        next_look=_next(checks, looks),
        proof_id=dose.proof_file_id,
        has_place=dose.site not in {"", "IN", "PO"} and not dose.struck_at,
        may_certify=not certified
        and rules.rabies.antigen in dose.antigens
        and dose.source == Source.HERE
        and not dose.struck_at,
    )


def _look(look: SiteLook) -> str:
    if not look.there:
        return f"{day(look.on)}: nothing at the place any more"
    way = {True: ", growing", False: ", not growing", None: ""}[look.growing]
    return f"{day(look.on)}: a lump of {look.largest_mm} mm{way}"


def _advice(checks: LumpChecks, looks: Sequence[SiteLook]) -> str:
    if not looks or not looks[-1].there:
        return ""
    last = looks[-1]
    size = last.largest_mm / 10 if last.largest_mm is not None else None
    if not lump_wants_biopsy(checks, last.on, largest_cm=size, growing=last.growing is True):
        return ""
    return f"A clinician decides on a biopsy: {checks.why.text} ({checks.why.source})"


def _next(checks: LumpChecks, looks: Sequence[SiteLook]) -> str:
    if not looks or not looks[-1].there:
        return ""
    following = next_look(checks, looks[-1].on)
    return f"look again on {day(following)}" if following else ""


_TONES = {"mild": "is-look", "moderate": "is-look", "severe": "is-danger"}


@dataclass(frozen=True)
class _Given:
    """Everything the animal had."""

    doses: Iterable[Dose]
    supplies: Iterable[Supply]


def _report_facts(row: Reaction, given: _Given, rules: Rules) -> tuple[str, ...]:
    """What a report asks for, ready to be copied: product, maker, lot, expiry, day, and what else was given.

    AAHA 2022 asks that maker, lot and expiry stand with each dose, so that a reaction can be reported.
    """
    suspects = {each.pk for each in row.doses.all()}
    days = {each.given_on for each in row.doses.all()} | {each.first_on for each in row.supplies.all()}
    lines = [f"Suspected: {_of_dose(each, rules)}" for each in row.doses.all()]
    lines += [f"Suspected: {_of_supply(each)}" for each in row.supplies.all()]
    others = [
        _of_dose(each, rules)
        for each in given.doses
        if each.given_on in days and each.pk not in suspects and not each.struck_at
    ]
    chosen = {each.pk for each in row.supplies.all()}
    others += [
        _of_supply(each)
        for each in given.supplies
        if each.first_on in days and each.pk not in chosen and not each.struck_at
    ]
    lines.append(f"Also given that day: {'; '.join(others) or 'nothing on record'}")
    began = day(row.began_on) + (f", {row.began_at:%H:%M}" if row.began_at else "")
    lines.append(f"Began {began}: {signs_words(row.signs, row.words)}; {row.get_severity_display()}")
    lines.append(f"Treated with: {row.treatment or 'nothing on record'}; now: {row.get_outcome_display()}")
    return tuple(lines)


def _of_dose(dose: Dose, rules: Rules) -> str:
    maker = dose.product_facts.get("maker") or "maker not on record"
    expiry = f", expiry {day(dose.expires_on)}" if dose.expires_on else ""
    site = rules.sites[dose.site].label.lower() if dose.site in rules.sites else ""
    how = ", ".join(part for part in (ROUTES.get(dose.route, dose.route), site) if part)
    lot = f"lot {dose.lot}{expiry}" if dose.lot else "no lot on record"
    return f"{_name(dose, rules)}, {maker}, {lot}, given {dose.when}{f', {how}' if how else ''}"


def _of_supply(supply: Supply) -> str:
    maker = supply.product_facts.get("maker") or "maker not on record"
    lot = f"lot {supply.lot}" if supply.lot else "no lot on record"
    return f"{supply.product_name} {supply.band}, {maker}, {lot}, from {day(supply.first_on)}"


def _reaction(row: Reaction, protocol: Protocol, actor: Actor, given: _Given) -> ReactionRow:
    suspects = [Suspect(_name(each, protocol.rules), "vaccine", each.given_on) for each in row.doses.all()]
    suspects += [
        Suspect(each.product_name, "preventive", each.first_on, each.form) for each in row.supplies.all()
    ]
    began = day(row.began_on) + (f", {row.began_at:%H:%M}" if row.began_at else "")
    after = ", ".join(f"{each.name} of {day(each.given_on)}" for each in suspects)
    small = [f"after {after}", f"{row.get_severity_display()}; {row.get_outcome_display()}"]
    if row.treatment:
        small.append(f"treated with {row.treatment}")
    small.append(f"seen by {row.told_by}; entered by {row.entered_by.full_name}")
    if is_unusually_late(row.began_on, suspects):
        small.append("It began more than two weeks after; most begin sooner.")
    return ReactionRow(
        id=row.pk,
        title=f"{began}: {signs_words(row.signs, row.words)}",
        tone=_TONES[row.severity],
        small=tuple(small),
        reports=tuple(
            f"reported {day(each.on)} to {each.to}{', reference ' if each.reference else ''}{each.reference}"
            for each in row.reports.all()
        ),
        whom=reports_for(suspects, protocol.rules.reporting),
        facts=_report_facts(row, given, protocol.rules),
        struck=struck_words(row),
        outcome=row.outcome,
        treatment=row.treatment,
        may_strike=may_strike(row, actor),
    )
