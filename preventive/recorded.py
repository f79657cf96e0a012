"""What was recorded for prevention, struck out too: at one visit, or of one patient."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from clinic.letters.texts import SOURCE
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Record
from preventive.letter import ROOM, backwards
from preventive.models import Decline, Deferral, Dose, Source, StruckOut, Supply, TreatmentGiven
from preventive.protocol import Protocol
from preventive.wording import antigens, day

PEOPLE = ("entered_by", "struck_by")


@dataclass(frozen=True)
class Recorded:
    """Something recorded; `row` names it for striking it out."""

    row: str
    when: date
    title: str
    small: str
    struck: str
    may_strike: bool


def recorded(record: Record, actor: Actor, protocol: Protocol) -> tuple[Recorded, ...]:
    """All that was recorded at this visit."""
    here = Q(visit=record.visit_id)
    return (
        *_doses(here, actor, protocol),
        *supply_rows(Supply.objects.filter(here).select_related(*PEOPLE), actor, protocol),
        *treatments_in(here, actor),
        *put_offs_in(here, actor, protocol),
    )


def _doses(rows: Q, actor: Actor, protocol: Protocol) -> Iterator[Recorded]:
    for dose in Dose.objects.filter(rows).select_related("given_by", *PEOPLE):
        site = protocol.rules.sites.get(dose.site)
        parts = [f"lot {dose.lot}" if dose.lot else "", site.label if site else "", dose.sequence]
        parts += [f"given by {dose.given_by.full_name}" if dose.given_by else dose.get_source_display()]
        title = f"{antigens(dose.antigens, protocol.rules)}: {dose.product_facts.get('name', '')}"
        small = ", ".join(part for part in parts if part)
        yield _one("dose", dose, dose.given_on, title.rstrip(": "), small, actor)


def supply_rows(supplies: Iterable[Supply], actor: Actor, protocol: Protocol) -> tuple[Recorded, ...]:
    """Worded backwards: the last dose and the day the next is due, never until when it protects."""
    english = ROOM.of_files(SOURCE)
    found = []
    for supply in supplies:
        words = english("prevention.backwards", **backwards(supply, protocol.calendar, english))
        lot = f"lot {supply.lot}" if supply.lot else ""
        told = "" if supply.source == Source.HERE else supply.get_source_display()
        of = ", ".join(part for part in (supply.band, lot, told) if part)
        title = f"{supply.count} × {supply.product_name}"
        small = f"{of}. {words}" if of else words
        found.append(_one("supply", supply, supply.first_on, title, small, actor))
    return tuple(found)


def treatments_in(rows: Q, actor: Actor) -> tuple[Recorded, ...]:
    found = []
    for each in TreatmentGiven.objects.filter(rows).select_related(*PEOPLE):
        told = "" if each.source == Source.HERE else f"{day(each.on)}, {each.get_source_display()}"
        small = "; ".join(part for part in (each.words, told) if part)
        found.append(
            _one("treatmentgiven", each, each.on, each.get_kind_display().capitalize(), small, actor)
        )
    return tuple(found)


def put_offs_in(rows: Q, actor: Actor, protocol: Protocol) -> tuple[Recorded, ...]:
    """Declined, then put off: until when, why, and which risks were explained by whom."""
    found = []
    for no in Decline.objects.filter(rows).select_related("explained_by", *PEOPLE):
        title = f"{_item(no.code, protocol)}: declined until {day(no.until)}"
        risks = f"; {no.explained_by.full_name} explained: {no.risks_explained}" if no.risks_explained else ""
        signed = "; signed by the owner" if no.signed_by_owner else ""
        found.append(_one("decline", no, no.on, title, f"{no.reason}{risks}{signed}", actor))
    for later in Deferral.objects.filter(rows).select_related(*PEOPLE):
        title = f"{_item(later.code, protocol)}: put off until {day(later.until)}"
        found.append(_one("deferral", later, later.on, title, later.reason, actor))
    return tuple(found)


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
        rules.visits,
        rules.dental,
    ):
        if code in table:
            return table[code].label
    return rules.antigens.get(code.partition(":")[2], code)


def struck_words(row: StruckOut) -> str:
    """Struck out by Ada Brook: the wrong animal. Empty for what stands."""
    return f"struck out by {row.struck_by.full_name}: {row.struck_reason}" if row.struck_by else ""


def may_strike(row: StruckOut, actor: Actor) -> bool:
    own = row.entered_by_id == actor.staff.pk and actor.may(Right.STRIKE_OWN)
    return row.struck_at is None and (own or actor.may(Right.STRIKE_ANY))


def _one(sort: str, row: StruckOut, when: date, title: str, small: str, actor: Actor) -> Recorded:
    return Recorded(f"{sort}:{row.pk}", when, title, small, struck_words(row), may_strike(row, actor))
