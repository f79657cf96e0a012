"""Where an injection goes, and what becomes of a lump at its place."""

from dataclasses import dataclass
from datetime import date

from preventive.due import Step
from preventive.facts import Species
from preventive.protocol import Protocol


def published_sites(protocol: Protocol, species: Species, antigens: tuple[str, ...]) -> frozenset[str]:
    """Site codes published for all of these antigens together; empty where none was published."""
    sets = [
        frozenset(entry.sites)
        for antigen in antigens
        for entry in protocol.rules.published_sites
        if entry.species is species and antigen in entry.antigens
    ]
    return frozenset.intersection(*sets) if sets else frozenset()


def site_questions(
    protocol: Protocol, species: Species, antigens: tuple[str, ...], site: str
) -> tuple[Step, ...]:
    """What to ask before a dose is recorded at this site; discretion stays with the veterinarian."""
    questions = [
        Step(entry.text, entry.source, entry.certainty.value)
        for entry in protocol.rules.avoid_sites
        if entry.species is species and entry.site == site
    ]
    for antigen in antigens:
        questions += _wrong_site(protocol, species, antigen, site)
    return tuple(dict.fromkeys(questions))


def _wrong_site(protocol: Protocol, species: Species, antigen: str, site: str) -> list[Step]:
    rules = protocol.rules
    name = rules.antigens.get(antigen, antigen)
    return [
        Step(
            f"{name}: the published site is {_labels(protocol, entry.sites)}. Record this one?",
            entry.source,
            entry.certainty.value,
        )
        for entry in rules.published_sites
        if entry.species is species and antigen in entry.antigens and site and site not in entry.sites
        if site not in {"IN", "PO"}
    ]


def _labels(protocol: Protocol, sites: tuple[str, ...]) -> str:
    return ", or ".join(protocol.rules.sites[site].label.lower() for site in sites)


@dataclass(frozen=True, slots=True)
class LumpChecks:
    """The 3-2-1 rule from the day of injection: look on both days; over ``size_cm`` at any time."""

    growing_on: date
    present_on: date
    size_cm: float
    why: Step


def lump_checks(protocol: Protocol, injected_on: date) -> LumpChecks:
    rule, cal = protocol.rules.lump, protocol.calendar
    return LumpChecks(
        cal.due(injected_on, rule.growing_after),
        cal.due(injected_on, rule.present_after),
        rule.size_cm,
        Step(rule.text, rule.source, rule.certainty.value),
    )


def lump_wants_biopsy(checks: LumpChecks, on: date, *, largest_cm: float | None, growing: bool) -> bool:
    """Whether a lump that is there on ``on`` meets one of the three conditions."""
    if largest_cm is not None and largest_cm > checks.size_cm:
        return True
    return on >= checks.present_on or (growing and on >= checks.growing_on)


def next_look(checks: LumpChecks, seen_on: date) -> date | None:
    """The day of the next look at a lump that was still there on `seen_on`; None after the last of them."""
    return next((day for day in (checks.growing_on, checks.present_on) if seen_on < day), None)
