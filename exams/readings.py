"""Measured lines read the visit's measurements; a value typed in the exam becomes a measurement."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal

from clinic.patients.models import Measurement
from clinic.patients.units import METRIC, Units, plain, temperature_in, weight_in
from exams.entries import entry_of
from exams.lines import Lines
from exams.state import MEASURED, FindingEntry, LineAnswer
from exams.walk import Walk

K = Measurement.Kind

LINE_OF: Mapping[str, str] = {
    K.WEIGHT: "VIT.weight|-",
    K.TEMPERATURE: "VIT.temperature|-",
    K.HEART_RATE: "VIT.heart-rate|-",
    K.PULSE_RATE: "VIT.pulse-rate|-",
    K.RESPIRATORY_RATE: "VIT.respiratory-rate|-",
    K.CAPILLARY_REFILL: "VIT.refill|-",
    K.BLOOD_PRESSURE: "VIT.blood-pressure|-",
    K.BCS: "BCM.score|-",
    K.MCS: "BCM.muscle-score|-",
    K.PAIN: "GEN.pain|-",
    K.STT_LEFT: "EYE.tear-test|left",
    K.STT_RIGHT: "EYE.tear-test|right",
    K.IOP_LEFT: "EYE.pressure|left",
    K.IOP_RIGHT: "EYE.pressure|right",
}
KIND_OF: Mapping[str, str] = {line: str(kind) for kind, line in LINE_OF.items()}

# names that the conditions of urgency use, with their units
NUMBERS: Mapping[str, str] = {
    K.TEMPERATURE: "temperature_c",
    K.HEART_RATE: "heart_rate",
    K.CAPILLARY_REFILL: "refill_s",
    K.BLOOD_PRESSURE: "systolic_mmhg",
}


def readings(rows: Iterable[Measurement], walk: Walk, lines: Lines) -> dict[str, LineAnswer]:
    """The measured lines' answers, by line key; a kind that this walk does not ask for is left out."""
    return {line: reading(row, walk, lines) for row in rows if (line := LINE_OF[row.kind]) in lines}


def reading(row: Measurement, walk: Walk, lines: Lines) -> LineAnswer:
    """One measurement as the line says it. The limits' finding stands with it, a score's own too."""
    value = row.category if row.typed is None else plain(row.typed)
    return LineAnswer(
        MEASURED,
        findings=_findings(row, walk, lines),
        value=value,
        unit=row.unit,
        flag=row.flag,
        person=str(row.entered_by_id),
        observed_by=str(row.observed_by_id),
        made_at=row.measured_at.isoformat(),
        spoken=row.details.get("spoken") == "yes",
    )


def _findings(row: Measurement, walk: Walk, lines: Lines) -> tuple[FindingEntry, ...]:
    line = lines[LINE_OF[row.kind]]
    grade = str(row.typed.normalize()) if row.typed is not None and line.value in walk.scale else row.category
    code = row.finding_code
    if not code and line.value in walk.scale and not _is_usual(line.value, grade, lines.animal.species):
        whole = grade.partition(".")[0]
        code = next((c for c in line.codes if whole in walk.finding[c].grades), "")
    if not code or code not in walk.finding:
        return ()
    return (entry_of(walk, code, _grade_of(walk, code, grade)),)


def _grade_of(walk: Walk, code: str, grade: str) -> str:
    """The grade as measured; a half point takes the one grade of its code, the line keeps the half."""
    finding = walk.finding[code]
    if not finding.grade_scale:
        return ""
    if grade in finding.grades:
        return grade
    return finding.grades[0] if len(finding.grades) == 1 and "." in grade else ""


def _is_usual(scale: str, grade: str, species: str) -> bool:
    if scale != "bcs-9":
        return grade in ("none", "normal", "0")
    lowest = 4 if species == "dog" else 5
    return lowest <= float(grade) <= 5


def numbers_of(rows: Iterable[Measurement]) -> dict[str, float]:
    """Today's values under the names that the conditions of urgency use."""
    return {
        NUMBERS[row.kind]: float(row.value) for row in rows if row.kind in NUMBERS and row.value is not None
    }


def as_read(units: Units) -> Callable[[str, str], str]:
    """How a kept value (text, canonical unit) is said to a reader; "" where the record's words will do."""

    def say(value: str, unit: str) -> str:
        if unit == "C" and units.temperature != METRIC.temperature:
            return temperature_in(Decimal(value), units.temperature)
        if unit == "kg" and units.weight != METRIC.weight:
            return weight_in(Decimal(value), units.weight)
        return ""

    return say
