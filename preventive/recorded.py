"""All that was recorded for prevention at one visit, struck out too."""

from dataclasses import dataclass

from clinic.letters.texts import SOURCE
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Record
from preventive.letter import ROOM, backwards
from preventive.models import Decline, Deferral, Dose, Supply, TreatmentGiven
from preventive.protocol import Protocol
from preventive.wording import antigens, day


@dataclass(frozen=True)
class Recorded:
    """Something recorded at this visit; `row` names it for striking it out."""

    row: str
    title: str
    small: str
    struck: str
    may_strike: bool


def recorded(record: Record, actor: Actor, protocol: Protocol) -> tuple[Recorded, ...]:
    """All that was recorded at this visit, struck out too."""
    people = ("entered_by", "struck_by")
    rows: list[Recorded] = []
    english = ROOM.of_files(SOURCE)
    for dose in Dose.objects.filter(visit=record.visit_id).select_related("given_by", *people):
        site = protocol.rules.sites.get(dose.site)
        parts = [f"lot {dose.lot}" if dose.lot else "", site.label if site else "", dose.sequence]
        parts += [f"given by {dose.given_by.full_name}" if dose.given_by else dose.get_source_display()]
        title = f"{antigens(dose.antigens, protocol.rules)}: {dose.product_facts.get('name', '')}".rstrip(
            ": "
        )
        rows.append(_one("dose", dose, title, ", ".join(part for part in parts if part), actor))
    for supply in Supply.objects.filter(visit=record.visit_id).select_related(*people):
        words = english("prevention.backwards", **backwards(supply, protocol.calendar, english))
        lot = f", lot {supply.lot}" if supply.lot else ""
        title = f"{supply.count} × {supply.product_name}"
        rows.append(_one("supply", supply, title, f"{supply.band}{lot}. {words}", actor))
    for each in TreatmentGiven.objects.filter(visit=record.visit_id).select_related(*people):
        rows.append(_one("treatmentgiven", each, each.get_kind_display().capitalize(), each.words, actor))
    for model, word in ((Decline, "declined"), (Deferral, "put off")):
        for row in model.objects.filter(visit=record.visit_id).select_related(*people):
            title = f"{_item(row.code, protocol)}: {word} until {day(row.until)}"
            rows.append(_one(model._meta.model_name or "", row, title, row.reason, actor))
    return tuple(rows)


def _item(code: str, protocol: Protocol) -> str:
    """A code's own name."""
    rules = protocol.rules
    if code == "rabies":
        return rules.rabies.label
    for table in (
        rules.vaccines,
        rules.tests,
        rules.heartworm,
        rules.retrovirus,
        rules.prevention,
        rules.deworming,
        rules.dental,
    ):
        if code in table:
            return table[code].label
    return rules.antigens.get(code.partition(":")[2], code)


def _one(
    sort: str, row: Dose | Supply | TreatmentGiven | Decline | Deferral, title: str, small: str, actor: Actor
) -> Recorded:
    struck = ""
    if row.struck_at and row.struck_by:
        struck = f"struck out by {row.struck_by.full_name}: {row.struck_reason}"
    own = row.entered_by_id == actor.staff.pk and actor.may(Right.STRIKE_OWN)
    return Recorded(
        f"{sort}:{row.pk}", title, small, struck, not struck and (own or actor.may(Right.STRIKE_ANY))
    )
