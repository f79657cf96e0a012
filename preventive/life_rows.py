"""What the schedule goes by besides the record, as the patient's page shows and asks it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from django.utils import timezone

from clinic.patients.models import Patient
from preventive.case import Case
from preventive.dates import Span, Unit, day_words
from preventive.facts import Species
from preventive.knowing import Known
from preventive.life_facts import LifeCode, asked_of, stages, value_words
from preventive.lifestages import life_stage
from preventive.models import LifeFact
from preventive.protocol import Protocol
from preventive.queries import mine
from preventive.wording import day, source_words

_GROWN = Span(1, Unit.YEAR)  # nobody asks any more when it was weaned


@dataclass(frozen=True)
class LifeRow:
    """`value`: as the form sends it; `words` and `small` empty where nobody noted it."""

    code: str
    label: str
    changes: str
    value: str
    words: str
    small: str
    choices: tuple[tuple[str, str], ...]
    is_day: bool


@dataclass(frozen=True)
class Life:
    stage: str
    source: str
    rows: tuple[LifeRow, ...]


def life_of(patient: Patient, known: Known, protocol: Protocol, *, today: date) -> Life:
    """One query."""
    species, rules = Species(patient.species), protocol.rules
    noted = LifeFact.objects.filter(mine(patient), struck_at=None).select_related("entered_by")
    by_code = {row.code: row for row in noted.order_by("entered_at", "pk")}
    case = Case(known.animal, known.history, protocol, today)
    grown = case.turns(_GROWN)
    rows = []
    for asked in asked_of(species):
        row = by_code.get(asked.code)
        if asked.code is LifeCode.WEANED and row is None and grown is not None and grown <= today:
            continue
        rows.append(
            LifeRow(
                code=asked.code,
                label=asked.label,
                changes=asked.changes,
                value=row.value if row else "",
                words=value_words(row.code, row.value, rules=rules, species=species) if row else "",
                small=f"{row.entered_by.full_name}, {day(timezone.localdate(row.entered_at))}" if row else "",
                choices=stages(rules, species) if asked.code is LifeCode.STAGE else (),
                is_day=asked.code not in {LifeCode.STAGE, LifeCode.LIFESPAN},
            )
        )
    return Life(*_stage(case), rows=tuple(rows))


def as_typed(life: Life, typed: Mapping[str, str]) -> Life:
    """What was refused stands in the form again."""
    return replace(life, rows=tuple(replace(row, value=typed.get(row.code, "")) for row in life.rows))


def _stage(case: Case) -> tuple[str, str]:
    stage = life_stage(case)
    if stage is None:
        return "not known: the birth date is missing", ""
    source = source_words(stage.source, stage.certainty)
    if not stage.certain:
        return f"{stage.label.lower()}, or senior already: the expected lifespan is not known", source
    until = f", until {day_words(stage.until)}" if stage.until else ""
    return f"{stage.label.lower()}{until}", source
