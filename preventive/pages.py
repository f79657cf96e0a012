"""The prevention page of a visit, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from clinic.care.in_house import Outcome
from clinic.care.models import Test
from clinic.patients.models import Measurement
from clinic.patients.units import Units, temperature_in, weight_in
from clinic.people.actor import Actor
from clinic.platform.measures import units_of
from clinic.visits.models import Record, Visit
from preventive.due import DueGroup, standing
from preventive.due_rows import OPEN, DueRow, due_row, section
from preventive.forms import NOBODY
from preventive.handing_out import SupplyChoice, first_on, supplies
from preventive.in_house import by_kind, for_results, on_wish
from preventive.models import Product
from preventive.outside_form import Vaccine, vaccines_for
from preventive.protocol import Protocol
from preventive.queries import answered_by, groups_at, known_at, veterinarians
from preventive.rabies_people import giver_rule
from preventive.recorded import Recorded, recorded
from preventive.safety import SafetyQuestion
from preventive.versions import composed, place_and_choices
from preventive.vials import Asked, Vial, asked_of, vials
from preventive.wording import cited, standing_words

AT_THE_VISIT = frozenset({"visit"})

COUNTS = (1, 2, 3, 6, 12)

DEFER_WHY = ("unwell", "fever", "reacted before", "none in the refrigerator", "too much for one day")

DECLINE_WHY = ("not needed", "afraid of a reaction", "cost", "done elsewhere", "gave no reason")


@dataclass(frozen=True)
class TestRow:
    """A test that is due, or taken at this visit. `test_id` None: not taken yet."""

    __test__ = False

    kind: str
    title: str
    words: str
    test_id: int | None
    outcomes: tuple[Outcome, ...]
    result: str


@dataclass(frozen=True)
class Site:
    """A place on the drawing: its view and where it stands there."""

    code: str
    label: str
    place: str
    view: str


@dataclass(frozen=True)
class PreventionPage:
    now: tuple[DueRow, ...]
    ask: tuple[DueRow, ...]
    later: tuple[DueRow, ...]
    rest: tuple[DueRow, ...]
    vials: tuple[Vial, ...]
    tests: tuple[TestRow, ...]
    on_wish: tuple[TestRow, ...]
    supplies: tuple[SupplyChoice, ...]
    supply_asked: tuple[Asked, ...]
    first_on: date
    recorded: tuple[Recorded, ...]
    sites: tuple[Site, ...]
    temperature: str
    weight: str
    elsewhere: tuple[Vaccine, ...]
    supervisors: tuple[tuple[str, str, bool], ...]
    giver_rule: str
    lost: int


def prevention_page(
    visit: Visit,
    *,
    actor: Actor,
    today: date,
    typed: Mapping[str, str] | None = None,
    asked: Mapping[str, tuple[SafetyQuestion, ...]] | None = None,
) -> PreventionPage:
    """`typed`: the form as it was sent, so that nothing is lost; `asked`: open questions by vial's key."""
    choices = place_and_choices()
    protocol = composed(choices)
    known = known_at(visit, today=today)
    groups = groups_at(known, protocol, today=today)
    sent, open_questions = typed or {}, asked or {}
    units = units_of(actor)
    rows = [(each, due_row(each, today)) for each in groups if each.first.kind not in AT_THE_VISIT]
    products = _in_stock(visit.patient.species)
    tests = _tests(visit.record, groups, protocol, today)
    return PreventionPage(
        now=tuple(row for group, row in rows if section(group, today) == "now"),
        ask=tuple(row for group, row in rows if section(group, today) == "ask"),
        later=tuple(row for group, row in rows if section(group, today) == "later"),
        rest=tuple(row for group, row in rows if section(group, today) == "rest"),
        vials=vials(groups, products, known, protocol, today, sent, open_questions),
        tests=tests,
        on_wish=tuple(
            TestRow(each.kind, each.title, "", None, (), "")
            for each in on_wish(visit.patient.species)
            if each.kind not in {row.kind for row in tests}
        ),
        supplies=supplies(products, known, today, sent),
        supply_asked=asked_of("supply", open_questions, sent),
        first_on=first_on(groups, today),
        recorded=recorded(visit.record, actor, protocol),
        sites=sites_on_drawing(visit.patient.species, protocol),
        temperature=_temperature(visit, units),
        weight=weight_in(Decimal(f"{known.animal.weight_kg:g}"), units.weight)
        if known.animal.weight_kg
        else "",
        elsewhere=vaccines_for(visit.patient.species, protocol.rules),
        supervisors=_supervisors(visit, actor, sent.get("supervising")),
        giver_rule=_giver_words(protocol),
        lost=len(choices.lost),
    )


def _supervisors(visit: Visit, actor: Actor, chosen: str | None) -> tuple[tuple[str, str, bool], ...]:
    """Value, name, whether chosen: the visit's clinician unless a veterinarian gives it or says otherwise."""
    vets = list(veterinarians())
    usual = actor.staff.pk if actor.staff in vets else visit.clinician_id
    picked = chosen if chosen is not None else str(usual or "")
    rows = [(str(each.pk), f"{each.full_name}, in the house", str(each.pk) == picked) for each in vets]
    return (*rows, (NOBODY, "no veterinarian is in the house", picked == NOBODY))


def _giver_words(protocol: Protocol) -> str:
    rule = giver_rule(protocol)
    return f"{rule.text.rstrip('.')} ({cited(rule.source, rule.certainty.value)})." if rule else ""


def _in_stock(species: str) -> list[Product]:
    """Products of the species that are still used, with their lots."""
    rows = Product.objects.filter(species__contains=[species], retired_on=None)
    return list(rows.prefetch_related("lots"))


_PLACES = {
    "LSH": ("shoulder", "left"),
    "LFL": ("flank", "left"),
    "LF-D": ("fore", "left"),
    "LH-D": ("hind", "left"),
    "TAIL": ("tail", "left"),
    "RSH": ("shoulder", "right"),
    "RFL": ("flank", "right"),
    "RF-D": ("fore", "right"),
    "RH-D": ("hind", "right"),
}


def sites_on_drawing(species: str, protocol: Protocol) -> tuple[Site, ...]:
    return tuple(
        Site(code, protocol.rules.sites[code].label, place, view) for code, (place, view) in _PLACES.items()
    )


def _tests(
    record: Record, groups: tuple[DueGroup, ...], protocol: Protocol, today: date
) -> tuple[TestRow, ...]:
    """Tests taken at this visit, with their outcomes; then those that are due and not taken."""
    taken = list(Test.objects.filter(record=record).prefetch_related("results").order_by("pk"))
    rows = [row for test in taken if (row := _taken(test)) is not None]
    kinds = {test.kind for test in taken}
    for group in groups:
        due = group.first
        if due.kind != "test" or standing(due, today) not in OPEN:
            continue
        together = protocol.rules.heartworm[due.code].together if due.code in protocol.rules.heartworm else ()
        for each in for_results(answered_by(due, protocol) | frozenset(together)):
            if each.kind not in kinds:
                kinds.add(each.kind)
                rows.append(TestRow(each.kind, each.title, standing_words(due, today), None, (), ""))
    return tuple(rows)


def _taken(test: Test) -> TestRow | None:
    known = by_kind(test.kind)
    if known is None:
        return None
    results = [each.value for each in test.results.all() if each.struck_at is None]
    return TestRow(
        test.kind, test.title, "taken", test.pk, () if results else known.outcomes, "; ".join(results)
    )


def _temperature(visit: Visit, units: Units) -> str:
    newest = (
        visit.measurements.filter(kind=Measurement.Kind.TEMPERATURE, struck_at=None, value__isnull=False)
        .order_by("-measured_at")
        .first()
    )
    if newest is None or newest.value is None:
        return ""
    at = timezone.localtime(newest.measured_at)
    return f"{temperature_in(newest.value, units.temperature)} at {at:%H:%M}"
