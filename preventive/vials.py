"""The vaccines that may be given at a visit: what is due first, by lot and place, with what is asked."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from preventive.actions.doses import NO_SITE
from preventive.asking import NOT_INJECTED
from preventive.due import Action, DueGroup, standing
from preventive.due_rows import OPEN
from preventive.facts import Species
from preventive.knowing import Known
from preventive.models import Lot, Product, ProductKind
from preventive.products import VaccineFacts, vaccine_facts
from preventive.protocol import Protocol
from preventive.safety import SafetyQuestion
from preventive.sites import published_sites
from preventive.wording import ROUTES, day, source_words

GIVES = frozenset({Action.START, Action.GO_ON, Action.RESTART, Action.ONE_DOSE})


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
    """One vaccine that may be given; choosing a lot says that it is given.

    `routes`: code, words, whether chosen, where the labels name more than one way; empty: the usual one.
    """

    key: str
    number: int
    title: str
    lots: tuple[LotChoice, ...]
    sites: tuple[SiteChoice, ...]
    routes: tuple[tuple[str, str, bool], ...]
    expired: str
    asked: tuple[Asked, ...] = ()
    needs_site: bool = True
    has_tag: bool = False
    tag: str = ""


def vials(
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
        sites=site_choices(known.animal.species, protocol, published, chosen),
        routes=_routes(labels, sent.get(f"route-{key}", "")),
        expired=f"{'; '.join(ended)}: not offered." if ended else "",
        asked=asked_of(key, asked, sent),
        needs_site=not all(NOT_INJECTED.issuperset(label.routes) for label in labels),
        has_tag=protocol.rules.rabies.antigen in codes,
        tag=sent.get(f"tag-{key}", ""),
    )


def _routes(labels: list[VaccineFacts], chosen: str) -> tuple[tuple[str, str, bool], ...]:
    ways = dict.fromkeys(route.value for label in labels for route in label.routes)
    if len(ways) < 2:
        return ()
    usual = ROUTES[labels[0].routes[0].value] if len({label.routes[0] for label in labels}) == 1 else ""
    first = f"usual: {usual}" if usual else "the label’s usual way"
    others = [each for each in ways if ROUTES[each] != usual]
    return (("", first, not chosen), *((each, ROUTES[each], each == chosen) for each in others))


def not_offered(lot: Lot, today: date) -> str:
    """Why nothing is given from a lot; empty where something is."""
    if lot.recalled_on is not None:
        return f"{lot.number} was recalled on {day(lot.recalled_on)}"
    if lot.expires_on < today:
        return f"{lot.number} ended on {day(lot.expires_on)}"
    return f"{lot.number} is used up by the count" if lot.on_hand == 0 else ""


def _lot(product: Product, lot: Lot, chosen: str) -> LotChoice:
    label = vaccine_facts(product.facts)
    how = f"{label.volume} {ROUTES.get(label.routes[0].value, '')}".strip()
    return LotChoice(
        value=str(lot.pk),
        product=product.name,
        small=how,
        label=f"Lot {lot.number}, ends {day(lot.expires_on)}{left(lot)}",
        checked=chosen == str(lot.pk),
    )


def left(lot: Lot) -> str:
    return "" if lot.on_hand is None else f", {lot.on_hand} left"


def site_choices(
    species: Species, protocol: Protocol, published: frozenset[str], chosen: str
) -> tuple[SiteChoice, ...]:
    avoid = " (avoid)"  # said of the species that it is published for, and of no other
    avoided = {entry.site for entry in protocol.rules.avoid_sites if entry.species is species}
    choices = [
        SiteChoice(code, f"{site.label}{avoid if code in avoided else ''}", code in published, code == chosen)
        for code, site in protocol.rules.sites.items()
        if code not in NO_SITE.values()
    ]
    return tuple(sorted(choices, key=lambda each: (not each.published, each.code in avoided)))


def asked_of(
    key: str, questions: Mapping[str, tuple[SafetyQuestion, ...]], sent: Mapping[str, str]
) -> tuple[Asked, ...]:
    return tuple(
        Asked(
            f"reason-{key}-{each.code}",
            each.level,
            each.text,
            source_words(each.source, each.certainty),
            sent.get(f"reason-{key}-{each.code}", ""),
        )
        for each in questions.get(key, ())
        # the question before every vaccine stands once above them all
        if each.code != "well"
    )
