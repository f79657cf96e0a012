"""Plain values for the pages of patients and owners."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from clinic.letters.models import Letter
from clinic.letters.texts import LETTERS as LETTER_TEXTS
from clinic.patients.ages import in_words
from clinic.patients.condition_cautions import caution_of
from clinic.patients.curve import Curve, Point, curve
from clinic.patients.facts import both_weights, died_words, sex_in_words
from clinic.patients.forms import GONE_PARTS
from clinic.patients.microchip import shown as chip_shown
from clinic.patients.models import Alert, DietEntry, LifestyleAnswer, Measurement, Patient
from clinic.patients.portrait import Portrait, portrait
from clinic.patients.search import HERE
from clinic.patients.units import Unit, from_canonical, weight_in
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.measures import units_of
from clinic.platform.registries import patient_panels, visit_steps
from clinic.visits.lifestyle import TITLES
from clinic.visits.models import NextVisit, Visit

CURVE_POINTS = 40
VISITS = 12
LETTERS = 10
CHIP_WORDS = {
    "iso-country": "ISO, country code",
    "iso-manufacturer": "ISO, manufacturer code",
    "iso-shared": "ISO, shared manufacturer code",
    "legacy": "older 125 kHz chip, not ISO",
}
PART_WORDS = dict(GONE_PARTS)


@dataclass(frozen=True)
class AlertRow:
    id: int
    kind: str
    text: str
    since: str
    for_staff: bool


@dataclass(frozen=True)
class FactRow:
    """A condition, a chip, a part that is gone: words, and when."""

    id: int
    title: str
    small: str


@dataclass(frozen=True)
class Telephone:
    """`label` says which; `digits`: what to dial."""

    label: str
    number: str
    digits: str


@dataclass(frozen=True)
class OwnerRow:
    id: int
    name: str
    first: bool
    phones: tuple[Telephone, ...]
    email: str
    email_state: str
    letters: str
    address: str


@dataclass(frozen=True)
class VisitRow:
    url: str
    when: str
    place: str
    here: bool
    reason: str
    record: str
    shape: str
    letter_url: str


@dataclass(frozen=True)
class Weight:
    """One weighing for the table under the curve."""

    id: int
    when: str
    weight: str
    bcs: str
    struck: str


@dataclass(frozen=True)
class Panel:
    name: str
    title: str
    column: str
    template: str
    values: dict[str, Any]


@dataclass(frozen=True)
class PatientPage:
    id: int
    name: str
    portrait: Portrait
    facts: str
    chips: str
    alerts: tuple[AlertRow, ...]
    chip_rows: tuple[FactRow, ...]
    conditions: tuple[FactRow, ...]
    gone_parts: tuple[FactRow, ...]
    owners: tuple[OwnerRow, ...]
    deceased: str
    died: bool
    weight_words: str
    picture: Curve | None
    weights: tuple[Weight, ...]
    visits: tuple[VisitRow, ...]
    planned: tuple[str, ...]
    diet: tuple[str, ...]
    life: tuple[str, ...]
    here_url: str
    panels: tuple[Panel, ...]


def patient_page(patient: Patient, *, actor: Actor, today: date, panels: bool = True) -> PatientPage:
    """Everything the patient's page says. The number of queries does not grow with the rows."""
    weights, unit = _weights(patient), units_of(actor).weight
    visits = _visits(patient)
    here = next((row.url for row in visits if row.here), "")
    chips = _chips(patient)
    return PatientPage(
        id=patient.pk,
        name=patient.name,
        portrait=portrait(patient),
        facts=_facts(patient, today),
        chips=", ".join(row.title for row in chips),
        chip_rows=chips,
        alerts=_alerts(patient, today),
        conditions=_conditions(patient),
        gone_parts=_gone_parts(patient),
        owners=_owners(patient),
        deceased=_deceased(patient),
        died=patient.deceased_on is not None,
        weight_words=_weight_words(weights, today, unit),
        picture=curve(_points(weights, unit), unit=unit),
        weights=tuple(_weight_row(weight, bcs, unit) for weight, bcs in reversed(weights)),
        visits=visits,
        planned=_planned(patient),
        diet=_diet(patient),
        life=_life(patient, today),
        here_url=here,
        panels=_panels(patient, actor, today) if panels else (),
    )


def _chips(patient: Patient) -> tuple[FactRow, ...]:
    return tuple(
        FactRow(
            row.pk,
            chip_shown(row.number),
            ", ".join(
                part
                for part in (
                    CHIP_WORDS.get(row.kind, row.kind),
                    f"implanted {row.implanted_on:%-d %b %Y}" if row.implanted_on else "",
                    row.place,
                )
                if part
            ),
        )
        for row in patient.microchips.order_by("pk")
    )


def _conditions(patient: Patient) -> tuple[FactRow, ...]:
    return tuple(
        FactRow(
            row.pk,
            row.get_code_display(),
            f"{', '.join(part for part in (f'since {row.since:%-d %b %Y}', row.note) if part)}. "
            f"{caution_of(row.code)}",
        )
        for row in patient.conditions.filter(until=None).order_by("since", "pk")
    )


def _gone_parts(patient: Patient) -> tuple[FactRow, ...]:
    return tuple(
        FactRow(
            row.pk,
            row.words or PART_WORDS.get(row.structure, row.structure),
            f"{row.why}, {row.since:%Y}" if row.since else row.why,
        )
        for row in patient.lasting_facts.filter(struck_at=None).order_by("pk")
    )


def _panels(patient: Patient, actor: Actor, today: date) -> tuple[Panel, ...]:
    return tuple(
        Panel(
            panel.name,
            getattr(panel, "title", panel.name.replace("-", " ").capitalize()),
            panel.column,
            panel.template,
            panel.context(patient, actor=actor, today=today),
        )
        for panel in patient_panels
    )


def _facts(patient: Patient, today: date) -> str:
    parts = [patient.breed or patient.get_species_display(), sex_in_words(patient)]
    if patient.birth_date:
        guess = patient.birth_precision not in ("day", "month")
        end = min(patient.deceased_on or today, today)
        parts.append(in_words(patient.birth_date, end, estimated=guess))
        day = (
            f"{patient.birth_date:%-d %B %Y}"
            if patient.birth_precision == "day"
            else f"{patient.birth_date:%B %Y}"
        )
        parts.append(f"born {'about ' if guess else ''}{day}{', an estimate' if guess else ''}")
    else:
        parts.append("age not known")
    if patient.colour:
        parts.append(patient.colour)
    text = ", ".join(parts)
    return text[0].upper() + text[1:]


def _deceased(patient: Patient) -> str:
    if patient.deceased_on:
        return died_words(patient)
    return f"left the practice on {patient.left_practice_on:%-d %B %Y}" if patient.left_practice_on else ""


def _alerts(patient: Patient, today: date) -> tuple[AlertRow, ...]:
    rows = patient.alerts.filter(Q(until=None) | Q(until__gt=today)).order_by("kind", "pk")
    return tuple(
        AlertRow(
            row.pk,
            row.get_kind_display(),
            row.text,
            f"{row.since:%Y}" if row.since else "",
            row.kind == Alert.Kind.HANDLING,
        )
        for row in rows
    )


def _owners(patient: Patient) -> tuple[OwnerRow, ...]:
    rows = patient.ownerships.filter(until=None).select_related("owner").prefetch_related("owner__phones")
    return tuple(_owner_row(row.owner, row.is_first) for row in rows)


def _owner_row(owner: Owner, first: bool) -> OwnerRow:
    return OwnerRow(
        id=owner.pk,
        name=owner.name,
        first=first,
        phones=tuple(Telephone(each.label, each.number, each.digits) for each in owner.phones.all()),
        email=owner.email,
        email_state=owner.get_email_state_display(),
        letters=owner.get_letters_by_display(),
        address=", ".join(
            part for part in (owner.street, f"{owner.postal_code} {owner.city}".strip()) if part
        ),
    )


Weighing = tuple[Measurement, Decimal | None]


def _weights(patient: Patient) -> list[Weighing]:
    """Weights with the condition of the same day, oldest first; struck ones stay in the table."""
    rows = list(
        patient.measurements.filter(kind__in=("weight", "bcs")).order_by("-measured_at", "-pk")[
            : CURVE_POINTS * 2
        ]
    )
    scores = {
        timezone.localdate(row.measured_at): row.value
        for row in rows
        if row.kind == "bcs" and not row.struck_at
    }
    return [
        (row, scores.get(timezone.localdate(row.measured_at)))
        for row in reversed(rows)
        if row.kind == "weight"
    ]


def _points(weights: list[Weighing], unit: str) -> list[Point]:
    return [
        Point(
            timezone.localdate(row.measured_at),
            round(float(from_canonical(row.value, Unit(unit))), 2),
            float(bcs) if bcs else None,
        )
        for row, bcs in weights
        if row.value is not None and not row.struck_at
    ]


def _weight_row(row: Measurement, bcs: Decimal | None, unit: str) -> Weight:
    struck = f"struck out: {row.struck_reason}" if row.struck_at else ""
    weight = both_weights(row.value, unit) if row.value is not None else ""
    score = f"{bcs.normalize():f} of 9" if bcs else "not scored"
    return Weight(row.pk, f"{timezone.localtime(row.measured_at):%-d %b %Y}", weight, score, struck)


def _weight_words(weights: list[Weighing], today: date, unit: str) -> str:
    kept = [(row, bcs) for row, bcs in weights if not row.struck_at and row.value is not None]
    if not kept:
        return "Not weighed here yet."
    row, bcs = kept[-1]
    assert row.value is not None
    on = timezone.localdate(row.measured_at)
    words = f"{weight_in(row.value, unit)} {'today' if on == today else f'on {on:%-d %B %Y}'}"
    if len(kept) > 1 and (before := kept[-2][0].value):
        change = row.value - before
        if change:
            direction = "up" if change > 0 else "down"
            words += f", {weight_in(abs(change), unit)} {direction} since {kept[-2][0].measured_at:%B %Y}"
    if bcs:
        words += f"; body condition {bcs.normalize():f} of 9"
    return f"{words}."


def _visits(patient: Patient) -> tuple[VisitRow, ...]:
    visits = list(
        patient.visits.exclude(place__in=[Visit.Place.CANCELLED])
        .select_related("record__signed_by")
        .order_by("-made_at")[:VISITS]
    )
    letters: dict[int, int] = {}
    for letter in (
        Letter.objects.filter(record__visit__in=visits, kind=Letter.Kind.VISIT)
        .order_by("version")
        .values("pk", "record__visit")
    ):
        letters[letter["record__visit"]] = letter["pk"]
    return tuple(_visit_row(visit, letters.get(visit.pk)) for visit in visits)


def _visit_row(visit: Visit, letter: int | None) -> VisitRow:
    record = getattr(visit, "record", None)
    at = visit.arrived_at or visit.expected_at or visit.made_at
    words, shape = "not begun", "new"
    if record is not None and record.signed_by is not None:
        words, shape = f"signed by {record.signed_by.full_name}", "normal"
    elif record is not None:
        words, shape = "not signed yet", "begun"
    return VisitRow(
        url=_visit_url(visit) if record else "",
        when=f"{timezone.localtime(at):%-d %b %Y}",
        place=visit.get_place_display(),
        here=visit.place in HERE,
        reason=visit.owners_words or visit.booked_for or visit.get_kind_display(),
        record=words,
        shape=shape,
        letter_url=reverse("letter", args=[letter]) if letter else "",
    )


def _visit_url(visit: Visit) -> str:
    """The exam where it is plugged in; every page of a visit leads to the others."""
    return next((step.url(visit) for step in visit_steps if step.name == "exam"), None) or reverse(
        "visit-intake", args=[visit.pk]
    )


def _planned(patient: Patient) -> tuple[str, ...]:
    rows = patient.next_visits.filter(state=NextVisit.State.PLANNED)
    return tuple(f"{'week of ' if row.week_of else ''}{row.on:%-d %B %Y}: {row.reason}" for row in rows)


def _diet(patient: Patient) -> tuple[str, ...]:
    rows = DietEntry.objects.filter(patient=patient, until=None).order_by("part", "pk")
    return tuple(
        f"{row.food}{f', {row.amount.normalize():f} {row.unit}' if row.amount is not None else ''}"
        f" ({row.get_how_display()})"
        for row in rows
    )


def _life(patient: Patient, today: date) -> tuple[str, ...]:
    rows = LifestyleAnswer.objects.filter(patient=patient).order_by("code")
    return tuple(
        f"{TITLES.get(row.code, row.code.replace('_', ' '))} {row.answer.replace('-', ' ')}"
        f"{' (ask again)' if row.review_on <= today else ''}"
        for row in rows
    )


@dataclass(frozen=True)
class AnimalRow:
    id: int
    name: str
    facts: str
    gone: str


@dataclass(frozen=True)
class OwnerPage:
    owner: OwnerRow
    language: str
    print_size: str
    desk_note: str
    animals: tuple[AnimalRow, ...]
    letters: tuple[tuple[str, str, str], ...]


def owner_page(owner: Owner, *, actor: Actor, today: date) -> OwnerPage:
    """An owner with all their animals and the newest letters. A fixed number of queries."""
    rows = owner.ownerships.filter(until=None).select_related("patient")
    animals = tuple(
        AnimalRow(row.patient_id, row.patient.name, _facts(row.patient, today), _deceased(row.patient))
        for row in rows.order_by("patient__deceased_on", "patient__name", "pk")
    )
    letters = Letter.objects.filter(owner=owner).select_related("patient").order_by("-at", "-pk")[:LETTERS]
    return OwnerPage(
        owner=_owner_row(owner, True),
        language=dict(LETTER_TEXTS.languages()).get(owner.language, owner.language),
        print_size=owner.get_print_size_display(),
        desk_note=owner.desk_note if actor.may(Right.EDIT_PEOPLE) else "",
        animals=animals,
        letters=tuple(
            (
                reverse("letter", args=[letter.pk]),
                f"{timezone.localtime(letter.at):%-d %b %Y}",
                letter.patient.name,
            )
            for letter in letters
        ),
    )
