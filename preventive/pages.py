"""The prevention page of a visit and the patient's panel, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils import timezone

from clinic.care.in_house import Outcome
from clinic.care.models import Test
from clinic.patients.models import Measurement, Patient
from clinic.patients.units import Units, temperature_in, weight_in
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.measures import units_of
from clinic.visits.models import Record, Visit
from preventive.actions.doses import NO_SITE
from preventive.asking import NOT_INJECTED
from preventive.due import Action, Due, DueGroup, Pause, Standing, grouped, standing
from preventive.facts import Species
from preventive.forms import NOBODY
from preventive.in_house import by_kind, for_results, on_wish
from preventive.knowing import Known, supply_fact
from preventive.models import Decline, Deferral, Dose, Lot, Product, ProductKind, Supply, TreatmentGiven
from preventive.outside_form import Vaccine, vaccines_for
from preventive.products import PreventiveFacts, preventive_facts, vaccine_facts
from preventive.protocol import Protocol
from preventive.queries import answered_by, dues_of, groups_at, known_at, veterinarians
from preventive.rabies_people import giver_rule
from preventive.safety import SafetyQuestion
from preventive.sites import published_sites
from preventive.versions import protocol_in_force
from preventive.wording import (
    SHAPES,
    antigens,
    backwards,
    cited,
    dates_words,
    day,
    now_words,
    standing_words,
    thing,
)

GIVES = frozenset({Action.START, Action.GO_ON, Action.RESTART, Action.ONE_DOSE})
OPEN = frozenset({Standing.OVERDUE, Standing.DUE, Standing.DUE_SOON})
AT_THE_VISIT = frozenset({"visit"})
COUNTS = (1, 2, 3, 6, 12)
DEFER_WHY = ("unwell", "fever", "reacted before", "none in the refrigerator", "too much for one day")
DECLINE_WHY = ("not needed", "afraid of a reaction", "cost", "done elsewhere", "gave no reason")


@dataclass(frozen=True)
class Reason:
    text: str
    source: str


@dataclass(frozen=True)
class DueRow:
    """One line of the list: how it stands, its dates, what to do now, and why. `item`: explained apart."""

    code: str
    item: str
    title: str
    shape: str
    tone: str
    words: str
    dates: str
    now: str
    why: tuple[Reason, ...]
    uncounted: tuple[str, ...]
    changes: tuple[str, ...]
    category: str
    can_put_off: bool
    hollow: bool


@dataclass(frozen=True)
class Asked:
    """A question that wants a reason; `reason` as it was typed. `kind`: stop, warn, ask."""

    name: str
    kind: str
    text: str
    source: str
    reason: str = ""


@dataclass(frozen=True)
class LotChoice:
    value: str
    product: str
    small: str
    label: str
    checked: bool


@dataclass(frozen=True)
class SiteChoice:
    code: str
    label: str
    published: bool
    chosen: bool


@dataclass(frozen=True)
class Vial:
    """One vaccine that may be given; choosing a lot says that it is given."""

    key: str
    number: int
    title: str
    lots: tuple[LotChoice, ...]
    sites: tuple[SiteChoice, ...]
    expired: str
    asked: tuple[Asked, ...] = ()
    needs_site: bool = True
    has_tag: bool = False
    tag: str = ""


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
class SupplyChoice:
    product_id: int
    name: str
    small: str
    size: str
    sizes: tuple[str, ...]
    lots: tuple[LotChoice, ...]
    gone: str
    checked: bool


@dataclass(frozen=True)
class Recorded:
    """Something recorded at this visit; `row` names it for striking it out."""

    row: str
    title: str
    small: str
    struck: str
    may_strike: bool


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


def prevention_page(
    visit: Visit,
    *,
    actor: Actor,
    today: date,
    typed: Mapping[str, str] | None = None,
    asked: Mapping[str, tuple[SafetyQuestion, ...]] | None = None,
) -> PreventionPage:
    """`typed`: the form as it was sent, so that nothing is lost; `asked`: open questions by vial's key."""
    protocol = protocol_in_force()
    known = known_at(visit, today=today)
    groups = groups_at(known, protocol, today=today)
    sent, open_questions = typed or {}, asked or {}
    units = units_of(actor)
    rows = [(each, due_row(each, today)) for each in groups if each.first.kind not in AT_THE_VISIT]
    products = _in_stock(visit.patient.species)
    tests = _tests(visit.record, groups, protocol, today)
    return PreventionPage(
        now=tuple(row for group, row in rows if _section(group, today) == "now"),
        ask=tuple(row for group, row in rows if _section(group, today) == "ask"),
        later=tuple(row for group, row in rows if _section(group, today) == "later"),
        rest=tuple(row for group, row in rows if _section(group, today) == "rest"),
        vials=_vials(groups, products, known, protocol, today, sent, open_questions),
        tests=tests,
        on_wish=tuple(
            TestRow(each.kind, each.title, "", None, (), "")
            for each in on_wish(visit.patient.species)
            if each.kind not in {row.kind for row in tests}
        ),
        supplies=_supplies(products, known, today, sent),
        supply_asked=_asked("supply", open_questions, sent),
        first_on=_first_on(groups, today),
        recorded=_recorded(visit.record, actor, protocol),
        sites=sites_on_drawing(visit.patient.species, protocol),
        temperature=_temperature(visit, units),
        weight=weight_in(Decimal(f"{known.animal.weight_kg:g}"), units.weight)
        if known.animal.weight_kg
        else "",
        elsewhere=vaccines_for(visit.patient.species, protocol.rules),
        supervisors=_supervisors(visit, actor, sent.get("supervising")),
        giver_rule=_giver_words(protocol),
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


def panel(patient: Patient, *, today: date) -> tuple[DueRow, ...]:
    """What is due for the patient, the most pressing first; empty for one that died."""
    if patient.deceased_on:
        return ()
    groups = grouped(dues_of(patient, today=today))
    order = (
        Standing.OVERDUE,
        Standing.DUE,
        Standing.HOLD,
        Standing.DUE_SOON,
        Standing.DEFERRED,
        Standing.DECLINED,
    )
    shown = [
        each for each in groups if _section(each, today) != "rest" or standing(each.first, today) in order
    ]
    ranks = {at: number for number, at in enumerate((*order, Standing.UPCOMING))}

    def rank(group: DueGroup) -> tuple[int, date]:
        return ranks.get(standing(group.first, today), len(ranks)), group.first.target or date.max

    return tuple(due_row(each, today) for each in sorted(shown, key=rank))


def _section(group: DueGroup, today: date) -> str:
    at = standing(group.first, today)
    if at in {Standing.NOT_APPLICABLE, Standing.COMPLETE}:
        return "rest"
    if at is Standing.DUE and group.first.then is Action.ASK:
        return "ask"
    return "now" if at in {*OPEN, Standing.HOLD} else "later"


def due_row(group: DueGroup, today: date) -> DueRow:
    due = group.first
    at = standing(due, today)
    shape, tone = SHAPES[at]
    if at is Standing.DUE and due.then is Action.ASK:
        shape, tone = "new", ""
    return DueRow(
        code=due.group if len(group.dues) > 1 else due.code,
        item=due.code,
        title=thing(group) if due.kind == "vaccine" else group.label,
        shape=shape,
        tone=tone,
        words=standing_words(due, today),
        dates=dates_words(due),
        now=now_words(due),
        why=(*_reasons(due), *_pause(due.pause)),
        uncounted=tuple(
            dict.fromkeys(
                f"{each.given}: {each.text} ({each.source})" for d in group.dues for each in d.uncounted
            )
        ),
        changes=tuple(dict.fromkeys(each.text for d in group.dues for each in d.changes)),
        category=due.category,
        can_put_off=at in OPEN and due.then is not Action.ASK,
        hollow=shape in {"new", "begun"},
    )


def _reasons(due: Due) -> tuple[Reason, ...]:
    steps = dict.fromkeys((*due.why, *due.needs))
    return tuple(Reason(step.text, _source(step.source, step.certainty)) for step in steps)


def _source(source: str, certainty: str) -> str:
    return f"{source} (from memory, to be checked)" if certainty == "C" else source


def _pause(pause: Pause | None) -> tuple[Reason, ...]:
    if pause is None:
        return ()
    since = f"since {day(pause.since)}" if pause.since else "by the record"
    return (Reason(f"{pause.kind.value.capitalize()}: {pause.reason}", since),)


def _asked(
    key: str, questions: Mapping[str, tuple[SafetyQuestion, ...]], sent: Mapping[str, str]
) -> tuple[Asked, ...]:
    return tuple(
        Asked(
            f"reason-{key}-{each.code}",
            each.level,
            each.text,
            _source(each.source, each.certainty),
            sent.get(f"reason-{key}-{each.code}", ""),
        )
        for each in questions.get(key, ())
        # the question before every vaccine stands once above them all
        if each.code != "well"
    )


def _in_stock(species: str) -> list[Product]:
    """Products of the species that are still used, with their lots."""
    rows = Product.objects.filter(species__contains=[species], retired_on=None)
    return list(rows.prefetch_related("lots"))


def _vials(
    groups: tuple[DueGroup, ...],
    products: list[Product],
    known: Known,
    protocol: Protocol,
    today: date,
    sent: Mapping[str, str],
    asked: Mapping[str, tuple[SafetyQuestion, ...]],
) -> tuple[Vial, ...]:
    """What is to be given today, then one more for anything else in the refrigerator."""
    wanted: dict[str, tuple[str, set[str]]] = {}
    for group in groups:
        due = group.first
        if due.kind == "vaccine" and standing(due, today) in OPEN and due.action in GIVES:
            title, codes = wanted.setdefault(due.group, (due.group_label, set()))
            codes |= _antigens_of(group, protocol)
    vaccines = [each for each in products if each.kind == ProductKind.VACCINE]
    vials: list[Vial] = []
    offered: set[int] = set()
    for key, title, fitting in _one_vial_a_product(wanted, vaccines):
        if fitting:
            offered |= {each.pk for each in fitting}
            vials.append(_vial(key, len(vials) + 1, title, fitting, known, protocol, today, sent, asked))
    others = [each for each in vaccines if each.pk not in offered]
    if others:
        vials.append(
            _vial("other", len(vials) + 1, "Another vaccine", others, known, protocol, today, sent, asked)
        )
    return tuple(vials)


def _one_vial_a_product(
    wanted: Mapping[str, tuple[str, set[str]]], vaccines: list[Product]
) -> list[tuple[str, str, list[Product]]]:
    """Items that the same products cover share a vial: their first key, joined titles, the products."""
    joined: dict[tuple[int, ...], tuple[str, str, list[Product]]] = {}
    for key, (title, codes) in wanted.items():
        fitting = [each for each in vaccines if codes & set(vaccine_facts(each.facts).antigens)]
        products = tuple(each.pk for each in fitting)
        if products in joined:
            first, titles, _ = joined[products]
            joined[products] = (first, f"{titles}; {title}", fitting)
        else:
            joined[products] = (key, title, fitting)
    return list(joined.values())


def _antigens_of(group: DueGroup, protocol: Protocol) -> set[str]:
    if group.first.code == "rabies":
        return {protocol.rules.rabies.antigen}
    rule = protocol.rules.vaccines[group.first.group]
    named = {due.code.partition(":")[2] for due in group.dues} - {""}
    return named or set(rule.antigens)


def _vial(
    key: str,
    number: int,
    title: str,
    products: list[Product],
    known: Known,
    protocol: Protocol,
    today: date,
    sent: Mapping[str, str],
    asked: Mapping[str, tuple[SafetyQuestion, ...]],
) -> Vial:
    lots = [(product, lot) for product in products for lot in product.lots.all()]
    good = sorted(
        (each for each in lots if not not_offered(each[1], today)),
        key=lambda e: (e[0].name, e[1].expires_on),
    )
    ended = [words for _, lot in lots if (words := not_offered(lot, today))]
    labels = [vaccine_facts(each.facts) for each in products]
    codes = tuple(sorted({antigen for label in labels for antigen in label.antigens}))
    published = (
        published_sites(protocol, known.animal.species, codes)
        if len(products) == 1 or key != "other"
        else frozenset()
    )
    chosen = sent.get(f"site-{key}", "")
    return Vial(
        key=key,
        number=number,
        title=title,
        lots=tuple(_lot(product, lot, sent.get(f"lot-{key}", "")) for product, lot in good),
        sites=_sites(known.animal.species, protocol, published, chosen),
        expired=f"{'; '.join(ended)}: not offered." if ended else "",
        asked=_asked(key, asked, sent),
        needs_site=not all(NOT_INJECTED.issuperset(label.routes) for label in labels),
        has_tag=protocol.rules.rabies.antigen in codes,
        tag=sent.get(f"tag-{key}", ""),
    )


def not_offered(lot: Lot, today: date) -> str:
    """Why nothing is given from a lot; empty where something is."""
    if lot.recalled_on is not None:
        return f"{lot.number} was recalled on {day(lot.recalled_on)}"
    if lot.expires_on < today:
        return f"{lot.number} ended on {day(lot.expires_on)}"
    return f"{lot.number} is used up by the count" if lot.on_hand == 0 else ""


def _lot(product: Product, lot: Lot, chosen: str) -> LotChoice:
    label = vaccine_facts(product.facts)
    route = {"SC": "under the skin", "IM": "into the muscle", "IN": "into the nose", "PO": "by mouth"}
    how = f"{label.volume} {route.get(label.routes[0].value, '')}".strip()
    return LotChoice(
        value=str(lot.pk),
        product=product.name,
        small=how,
        label=f"Lot {lot.number}, ends {day(lot.expires_on)}{_left(lot)}",
        checked=chosen == str(lot.pk),
    )


def _left(lot: Lot) -> str:
    return "" if lot.on_hand is None else f", {lot.on_hand} left"


def _sites(
    species: Species, protocol: Protocol, published: frozenset[str], chosen: str
) -> tuple[SiteChoice, ...]:
    choices = [
        SiteChoice(code, site.label, code in published, code == chosen)
        for code, site in protocol.rules.sites.items()
        if code not in NO_SITE.values()
    ]
    return tuple(sorted(choices, key=lambda each: not each.published))


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


def _supplies(
    products: list[Product], known: Known, today: date, sent: Mapping[str, str]
) -> tuple[SupplyChoice, ...]:
    found = []
    for product in products:
        if product.kind != ProductKind.PREVENTIVE:
            continue
        label = preventive_facts(product.facts)
        band = label.band_for(known.animal.weight_kg)
        size = sent.get(f"band-{product.pk}") or (band.name if band else "")
        found.append(
            SupplyChoice(
                product_id=product.pk,
                name=product.name,
                small=_protects(label),
                size=size,
                sizes=tuple(each.name for each in label.bands),
                lots=_boxes(product, size, today, sent.get(f"lot-of-{product.pk}")),
                gone="; ".join(words for lot in product.lots.all() if (words := not_offered(lot, today))),
                checked=sent.get("product") == str(product.pk),
            )
        )
    return tuple(found)


def _boxes(product: Product, size: str, today: date, chosen: str | None) -> tuple[LotChoice, ...]:
    """Lots that may be handed out; of the fitting size the one that ends first is proposed."""
    good = [each for each in product.lots.all() if not not_offered(each, today)]
    good.sort(key=lambda each: (each.expires_on, each.number))
    fitting = next((str(each.pk) for each in good if each.band in {"", size}), "")
    picked = fitting if chosen is None else chosen
    return tuple(
        LotChoice(
            value=str(lot.pk),
            product=product.name,
            small=lot.band,
            label=f"{_number_and_size(lot)}, ends {day(lot.expires_on)}{_left(lot)}",
            checked=picked == str(lot.pk),
        )
        for lot in good
    )


def _number_and_size(lot: Lot) -> str:
    return f"{lot.number}, {lot.band}" if lot.band else lot.number


def _protects(label: PreventiveFacts) -> str:
    words = {"heartworm": "heartworm", "fleas_ticks": "fleas and ticks", "intestinal": "intestinal worms"}
    against = ", ".join(words.get(each, each) for each in label.protects)
    return f"{against}; every {label.interval.words}; {', '.join(label.ingredients)}"


def _first_on(groups: tuple[DueGroup, ...], today: date) -> date:
    """The day the last preventive that went home is due again; today where there is none."""
    days = [
        g.first.target for g in groups if g.first.kind == "prevention" and g.first.last_on and g.first.target
    ]
    coming = [each for each in days if each > today]
    return min(coming, default=today)


def _recorded(record: Record, actor: Actor, protocol: Protocol) -> tuple[Recorded, ...]:
    """All that was recorded at this visit, struck out too."""
    people = ("entered_by", "struck_by")
    rows: list[Recorded] = []
    for dose in Dose.objects.filter(visit=record.visit_id).select_related("given_by", *people):
        site = protocol.rules.sites.get(dose.site)
        parts = [f"lot {dose.lot}" if dose.lot else "", site.label if site else "", dose.sequence]
        parts += [f"given by {dose.given_by.full_name}" if dose.given_by else dose.get_source_display()]
        title = f"{antigens(dose.antigens, protocol.rules)}: {dose.product_facts.get('name', '')}".rstrip(
            ": "
        )
        rows.append(_one("dose", dose, title, ", ".join(part for part in parts if part), actor))
    for supply in Supply.objects.filter(visit=record.visit_id).select_related(*people):
        words = backwards(supply_fact(supply), supply.form, protocol.calendar)
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
