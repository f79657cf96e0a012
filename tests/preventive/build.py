"""Short ways to write an animal, its doses and a protocol; dates are ISO text."""

from datetime import date
from functools import lru_cache
from itertools import count

from preventive.dates import PartialDate, Precision, Span
from preventive.due import Due
from preventive.facts import (
    Animal,
    Answer,
    Dose,
    History,
    ProductKind,
    Route,
    Species,
    Supply,
    TestResult,
    VaccineProduct,
    born,
)
from preventive.protocol import Overrides, Protocol, ValueOverride, load_protocol
from preventive.schedule import due_item

_number = count(1)

DOG_CORE = ("CDV", "CAV-2", "CPV")
CAT_CORE = ("FPV", "FHV-1", "FCV")


def day(text):
    return date.fromisoformat(text) if text else None


@lru_cache
def protocol(place="", settings=()) -> Protocol:
    return load_protocol(overrides=Overrides(dict(settings), place))


def under(place="", **settings) -> Protocol:
    return protocol(place, tuple(sorted(settings.items())))


def own(*values, place="", **settings) -> Protocol:
    """The clinic's own values, by dotted path."""
    chosen = tuple(ValueOverride(path, value, "ours", "Dr. Imre Fontaine") for path, value in values)
    return load_protocol(overrides=Overrides(settings, place, chosen))


def dog(birth, *yes, no=(), **facts) -> Animal:
    return animal(Species.DOG, birth, yes, no, facts)


def cat(birth, *yes, no=(), **facts) -> Animal:
    return animal(Species.CAT, birth, yes, no, facts)


def animal(species, birth, yes, no, facts) -> Animal:
    answers = [Answer(code, True) for code in yes] + [Answer(code, False) for code in no]
    dates = {"acquired_on", "last_exposure_on", "weaned_on", "chipped_on", "weighed_on"}
    facts = {key: day(value) if key in dates else value for key, value in facts.items()}
    known = born(day(birth)) if birth else None
    return Animal(species=species, birth=known, lifestyle=tuple(answers), **facts)


def dose(
    on, *antigens, kind="live", months=None, route="SC", precision="day", min_age=None, species=(), **facts
):
    product = VaccineProduct(
        name="Invented",
        kind=ProductKind(kind),
        licensed_months=months,
        min_age=Span.parse(min_age) if min_age else None,
        species=species,
    )
    facts.setdefault("id", f"dose-{next(_number)}")
    facts.setdefault("lot", "L1")
    given = PartialDate(day(on), Precision(precision))
    return Dose(antigens=antigens, given=given, product=product, route=Route(route), **facts)


def core(*days, antigens=DOG_CORE, **facts):
    return tuple(dose(on, *antigens, **facts) for on in days)


def rabies(on, months=12, **facts):
    return dose(on, "Rabies", months=months, kind="inactivated", **facts)


def result(kind, on, positive=False, low=False):
    return TestResult(kind=kind, on=day(on), positive=positive, low=low)


def supply(first_on, interval="1 mo", count=1, protects=("heartworm",), ingredients=(), product="Invented"):
    return Supply(
        product=product,
        interval=Span.parse(interval),
        count=count,
        first_on=day(first_on),
        protects=frozenset(protects),
        ingredients=ingredients,
    )


def history(*doses, **facts) -> History:
    return History(doses=doses, **facts)


def due(who, what, on, code, rules=None) -> Due:
    return due_item(who, what, rules or under(), day(on), code)


def dates(item: Due, *names):
    """The named dates as ISO text, for comparing with a table."""
    return tuple(value.isoformat() if (value := getattr(item, name)) else None for name in names)


def said(item: Due) -> str:
    return " ".join(step.text for step in (*item.why, *item.notes))


def changes(item: Due):
    return {change.text: change.on for change in item.changes}
