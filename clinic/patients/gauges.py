"""The measured numbers as a page shows them: what was last, what is kept today, what a typed value means."""

from dataclasses import dataclass, field
from datetime import date
from uuid import uuid4

from django.urls import reverse
from django.utils import timezone

from clinic.patients.judgement import Kind
from clinic.patients.limit_table import default_limits
from clinic.patients.models import Measurement, Patient
from clinic.patients.units import WORD_LABELS, Unit, Units
from clinic.patients.verdicts import SHAPES, TONES, Verdict, in_words, state_of
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.measures import units_of
from clinic.visits.models import Visit

UNIT_LABELS = {Unit.KG: "kg", Unit.LB: "lb", Unit.G: "g", Unit.CELSIUS: "°C", Unit.FAHRENHEIT: "°F"}
LABELS = {
    Kind.WEIGHT: ("Weight", "on the scale"),
    Kind.TEMPERATURE: ("Temperature", "rectal"),
    Kind.HEART_RATE: ("Heart", "heard, a minute"),
    Kind.PULSE_RATE: ("Pulse", "felt, a minute"),
    Kind.RESPIRATORY_RATE: ("Breathing", "breaths a minute"),
    Kind.BCS: ("Body condition", "1 to 9, half points allowed"),
    Kind.MCS: ("Muscle", "spine, shoulder, hips, skull"),
    Kind.PAIN: ("Pain", "as you see it"),
    Kind.CAPILLARY_REFILL: ("Capillary refill", "seconds"),
    Kind.BLOOD_PRESSURE: ("Blood pressure", "systolic, mmHg"),
    Kind.STT_LEFT: ("Tear test, left", "mm in a minute"),
    Kind.STT_RIGHT: ("Tear test, right", "mm in a minute"),
    Kind.IOP_LEFT: ("Eye pressure, left", "mmHg"),
    Kind.IOP_RIGHT: ("Eye pressure, right", "mmHg"),
}
FIRST = (
    Kind.WEIGHT,
    Kind.TEMPERATURE,
    Kind.HEART_RATE,
    Kind.PULSE_RATE,
    Kind.RESPIRATORY_RATE,
    Kind.BCS,
    Kind.MCS,
    Kind.PAIN,
)
MORE = tuple(kind for kind in LABELS if kind not in FIRST)
COUNTED = {Kind.HEART_RATE: "beat", Kind.PULSE_RATE: "beat", Kind.RESPIRATORY_RATE: "breath"}
WORDS_ONLY = frozenset({Kind.MCS, Kind.PAIN, Kind.CAPILLARY_REFILL})
METHOD = (("cuff", "Cuff"), ("site", "Where"), ("device", "Device"), ("readings", "Readings"))


@dataclass(frozen=True)
class Option:
    value: str
    label: str
    chosen: bool = False


@dataclass(frozen=True)
class KeptRow:
    id: int
    words: str
    small: str
    shape: str
    tone: str
    struck: bool
    strike_url: str


@dataclass(frozen=True)
class Gauge:
    """One line of the form."""

    kind: str
    title: str
    hint: str
    units: tuple[Option, ...]
    words: tuple[Option, ...]
    number: bool
    typed: str
    thing: str
    method: tuple[tuple[str, str, str], ...]
    last: str
    kept: tuple[KeptRow, ...]
    verdict: Verdict | None = None
    once: str = field(default_factory=lambda: str(uuid4()))


@dataclass(frozen=True)
class Sent:
    """What was typed into one gauge, shown again as it was."""

    kind: str
    typed: str = ""
    unit: str = ""
    category: str = ""
    details: dict[str, str] = field(default_factory=dict)
    verdict: Verdict | None = None


@dataclass(frozen=True)
class MeasurePanel:
    """Everything `clinic/patients/measure_form.html` needs."""

    visit_id: int | None
    patient_id: int
    name: str
    open: bool
    measure_url: str
    judge_url: str
    first: tuple[Gauge, ...]
    more: tuple[Gauge, ...]

    @property
    def more_used(self) -> bool:
        return any(gauge.kept or gauge.verdict for gauge in self.more)


def measure_panel(
    patient: Patient, visit: Visit | None, *, actor: Actor, today: date, sent: Sent | None = None
) -> MeasurePanel:
    """The form of a visit, or of the patient alone. Two queries, however much was measured."""
    units = units_of(actor)
    rows = list(
        Measurement.objects.filter(patient=patient)
        .select_related("observed_by")
        .order_by("measured_at", "pk")
    )
    signed = visit is not None and hasattr(visit, "record") and visit.record.is_signed
    gauges = {kind: _gauge(kind, rows, visit, units, today, actor, sent) for kind in LABELS}
    name, key = ("visit", visit.pk) if visit else ("patient", patient.pk)
    return MeasurePanel(
        visit_id=visit.pk if visit else None,
        patient_id=patient.pk,
        name=patient.name,
        open=actor.may(Right.MEASURE) and not signed,
        measure_url=reverse(f"{name}-measure", args=[key]),
        judge_url=reverse(f"{name}-judge", args=[key]),
        first=tuple(gauges[kind] for kind in FIRST),
        more=tuple(gauges[kind] for kind in MORE),
    )


def one_gauge(kind: Kind, patient: Patient, visit: Visit | None, *, actor: Actor, today: date) -> Gauge:
    """One line anew, after a value was kept. Two queries."""
    rows = list(
        Measurement.objects.filter(patient=patient, kind=kind.value)
        .select_related("observed_by")
        .order_by("measured_at", "pk")
    )
    return _gauge(kind, rows, visit, units_of(actor), today, actor, None)


def _gauge(
    kind: Kind,
    rows: list[Measurement],
    visit: Visit | None,
    units: Units,
    today: date,
    actor: Actor,
    sent: Sent | None,
) -> Gauge:
    mine = [row for row in rows if row.kind == kind.value]
    here = [row for row in mine if _is_of(row, visit, today)]
    before = [row for row in mine if row not in here and row.struck_at is None]
    again = sent if sent and sent.kind == kind.value else Sent(kind.value)
    title, hint = LABELS[kind]
    return Gauge(
        kind=kind.value,
        title=title,
        hint=hint,
        units=_units(kind, again.unit, units),
        words=_words(kind, again.category),
        number=kind not in WORDS_ONLY,
        typed=again.typed,
        thing=COUNTED.get(kind, ""),
        method=_method(kind, again.details),
        last=_last(before[-1], today, units) if before else "",
        kept=tuple(kept_row(row, actor, units) for row in here),
        verdict=again.verdict,
    )


def _is_of(row: Measurement, visit: Visit | None, today: date) -> bool:
    if visit is not None:
        return row.visit_id == visit.pk
    return timezone.localdate(row.measured_at) == today


def _units(kind: Kind, sent: str, preferred: Units) -> tuple[Option, ...]:
    units = [unit for unit in default_limits().measures[kind.subject].units if unit is not Unit.G]
    if len(units) == 1:
        return ()
    values = {unit.value for unit in units}
    wanted = (sent, preferred.weight, preferred.temperature)
    standing = next((each for each in wanted if each in values), units[0].value)
    return tuple(Option(unit.value, UNIT_LABELS[unit], unit.value == standing) for unit in units)


def _words(kind: Kind, chosen: str) -> tuple[Option, ...]:
    words = default_limits().measures[kind.subject].words
    return tuple(Option(word, WORD_LABELS.get(word, word), word == chosen) for word in words)


def _method(kind: Kind, details: dict[str, str]) -> tuple[tuple[str, str, str], ...]:
    required = default_limits().measures[kind.subject].required
    return tuple((name, label, details.get(name, "")) for name, label in METHOD if name in required)


def _last(row: Measurement, today: date, units: Units) -> str:
    on = timezone.localtime(row.measured_at)
    day = "today" if on.date() == today else f"{on:%-d %b %Y}"
    return f"last {in_words(row, units)}, {day}"


def kept_row(row: Measurement, actor: Actor, units: Units) -> KeptRow:
    at = timezone.localtime(row.measured_at)
    marked = row.flag in ("high", "low")
    words = f"{in_words(row, units)}{f': {row.flag}' if marked else ''}"
    small = f"{row.observed_by.full_name}, {at:%H:%M}"
    if row.looked_twice:
        small += ", looked twice"
    if row.struck_at:
        small += f"; struck out: {row.struck_reason}"
    own = row.entered_by_id == actor.staff.pk
    may_strike = actor.may(Right.STRIKE_OWN if own else Right.STRIKE_ANY)
    return KeptRow(
        id=row.pk,
        words=words,
        small=small,
        shape="unseen" if row.struck_at else SHAPES[state_of(row)],
        tone="is-unseen" if row.struck_at else TONES[state_of(row)],
        struck=row.struck_at is not None,
        strike_url=reverse("measurement-strike", args=[row.patient_id, row.pk])
        if may_strike and not row.struck_at
        else "",
    )
