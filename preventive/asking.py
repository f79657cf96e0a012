"""What is asked before a dose is given. Pure.

Levels as in `safety`: "stop" is not passed, "warn" a clinician decides with a reason, "ask" whoever gives it
answers with a reason. Follow local law and the product's label; the licensed veterinarian decides.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from preventive.case import Case
from preventive.dates import day_words
from preventive.due import Action, Due, Standing, paused_on
from preventive.facts import Animal, Dose, History, ProductKind, Route, Species
from preventive.protocol import Protocol
from preventive.safety import SafetyQuestion
from preventive.schedule import due_items
from preventive.sites import site_questions
from preventive.vaccines import last_result

NOT_INJECTED = frozenset({Route.INTRANASAL, Route.ORAL})
INJECTED = frozenset({Route.SUBCUTANEOUS, Route.INTRAMUSCULAR})
PROPOSED = "proposed"
_STOPS = frozenset({"before_birth", "future", "duplicate"})
SUPPRESSES = "immunosuppressant"  # a kind in the protocol's list of ingredients
_LIVING = frozenset({ProductKind.LIVE})


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """A dose about to be given. `routes`: the label's. `well` None: nobody asked whether it is ill.

    `in_use`: ingredients of its medicines, in lower case.
    """

    dose: Dose
    routes: tuple[Route, ...]
    well: bool | None = None
    reactions: tuple[str, ...] = ()
    in_use: tuple[str, ...] = ()


def dose_questions(
    animal: Animal, history: History, protocol: Protocol, on: date, proposed: Proposed
) -> tuple[SafetyQuestion, ...]:
    """All questions this dose raises on this day, stops first; one of a code."""
    case = Case(animal, history, protocol, on)
    found = [
        *_state(case, proposed),
        *_label(case, proposed),
        *_dues(case, proposed),
        *_site(case, proposed),
    ]
    one_each: dict[str, SafetyQuestion] = {}
    for question in found:
        one_each.setdefault(question.code, question)
    return tuple(sorted(one_each.values(), key=lambda each: ("stop", "warn", "ask").index(each.level)))


def _ours(code: str, level: str, text: str, source: str = "common practice") -> SafetyQuestion:
    return SafetyQuestion(code, level, text, source, "C")


def _state(case: Case, proposed: Proposed) -> Iterator[SafetyQuestion]:
    """How the animal is: ill, immunosuppressed, pregnant, reacted before."""
    conditions, live = case.animal.conditions, proposed.dose.product.kind in _LIVING
    if proposed.well is None:
        yield _ours("well", "ask", "Ill or feverish today? It is asked before every vaccine.")
    elif not proposed.well:
        yield _ours("ill", "warn", "Ill or feverish today, or not sure: put it off, or a clinician decides.")
    yield from _immunosuppressed(case, proposed, live)
    if live and "pregnant" in conditions:
        yield SafetyQuestion(
            "pregnant",
            "warn",
            "Pregnant: no modified-live vaccine; a veterinarian decides.",
            "WSAVA 2016 T3",
            "A",
        )
    yield from _retrovirus(case, live)
    for words in proposed.reactions:
        yield _ours("reaction", "warn", f"A reaction is on record: “{words}”. Give it all the same?")


def _immunosuppressed(case: Case, proposed: Proposed, live: bool) -> Iterator[SafetyQuestion]:
    """By the record's condition, or by a medicine in use."""
    kinds = case.rules.ingredients
    named = [name for name in dict.fromkeys(proposed.in_use) if kinds.get(name) == SUPPRESSES]
    if not named and "immunosuppressed" not in case.animal.conditions:
        return
    on = ", ".join(named) or "immunosuppressants"
    text = f"On {on}: a vaccine may not work, and a live one may do harm."
    yield _ours("immunosuppressed", "warn" if live else "ask", text)


def _retrovirus(case: Case, live: bool) -> Iterator[SafetyQuestion]:
    """A cat whose last test was positive, though nobody wrote the condition down."""
    if not live or case.animal.species is not Species.CAT:
        return
    for kind, name, condition in (("felv_ag", "FeLV", "felv_infected"), ("fiv_ab", "FIV", "fiv_infected")):
        last = last_result(case, kind)
        if last is not None and last[1] and condition not in case.animal.conditions:
            text = f"The last {name} test was positive ({day_words(last[0])}): no modified-live vaccine."
            yield SafetyQuestion("retrovirus", "warn", text, "WSAVA 2016 T3", "A")


def _label(case: Case, proposed: Proposed) -> Iterator[SafetyQuestion]:
    """Species, lot and route."""
    dose = proposed.dose
    if dose.product.species and case.animal.species not in dose.product.species:
        yield _counting(case, "wrong_species")
    if dose.lot_expires_on is not None and dose.lot_expires_on < case.on:
        yield _counting(case, "expired")
    if not dose.lot:
        yield _counting(case, "no_lot")
    if proposed.routes and dose.route not in proposed.routes:
        yield _route(proposed)


def _counting(case: Case, code: str, before: str = "") -> SafetyQuestion:
    rule = case.rules.counting[code]
    level = "stop" if code in _STOPS else "warn"
    return SafetyQuestion(code, level, f"{before}{rule.text}", rule.source, rule.certainty.value)


def _route(proposed: Proposed) -> SafetyQuestion:
    if proposed.dose.route in INJECTED and NOT_INJECTED.issuperset(proposed.routes):
        text = "This product goes into the nose or the mouth; injected it can do serious harm."
        return SafetyQuestion("injected", "stop", text, "label", "A")
    return SafetyQuestion("route", "warn", "Not a route of the product’s label.", "label", "C")


def _dues(case: Case, proposed: Proposed) -> Iterator[SafetyQuestion]:
    """What the schedule says of each antigen: it would not count, it is on hold, it is not due yet."""
    antigens = proposed.dose.antigens
    before = [due for due in _all(case) if _antigen(case, due) in antigens]
    yield from _uncounted(case, proposed, before)
    for due in before:
        yield from _held(case, proposed, due)
        yield from _untested(case, due)
    waiting = [due for due in before if due.action is Action.WAIT and paused_on(due.pause, case.on) is None]
    if before and len(waiting) == len(before):
        yield _not_due(waiting)


def _all(case: Case) -> tuple[Due, ...]:
    return due_items(case.animal, case.history, case.protocol, case.on)


def _antigen(case: Case, due: Due) -> str:
    """The antigen a due stands for; empty for what is no vaccine."""
    if due.kind != "vaccine":
        return ""
    if due.code == "rabies":
        return case.rules.rabies.antigen
    return due.code.partition(":")[2] or case.rules.vaccines[due.group].antigens[0]


def _uncounted(case: Case, proposed: Proposed, before: Iterable[Due]) -> Iterator[SafetyQuestion]:
    """The schedule is asked with the dose given: whatever would not count is said before it is given.

    Of two on one day either may be the one that counts: that it takes the other's place is said too.
    """
    given = replace(proposed.dose, id=PROPOSED)
    after = replace(case, history=replace(case.history, doses=(*case.history.doses, given)))
    known = {(due.code, entry.dose_id) for due in before for entry in due.uncounted}
    for due in _all(after):
        for entry in due.uncounted:
            of_it = _antigen(case, due) in proposed.dose.antigens
            replaced = of_it and entry.code == "duplicate" and (due.code, entry.dose_id) not in known
            if replaced or entry.dose_id == PROPOSED:
                yield _counting(case, entry.code, f"{due.label}: ")


def _held(case: Case, proposed: Proposed, due: Due) -> Iterator[SafetyQuestion]:
    if paused_on(due.pause, case.on) is not Standing.HOLD or due.pause is None:
        return
    is_caution_for_live = due.pause.since is None
    if is_caution_for_live and proposed.dose.product.kind not in {ProductKind.LIVE, ProductKind.UNKNOWN}:
        return
    yield _ours(
        f"hold:{due.group}", "warn", f"{due.label}: {due.pause.reason}", "the record, or the protocol"
    )


def _untested(case: Case, due: Due) -> Iterator[SafetyQuestion]:
    rule = case.rules.vaccines.get(due.group)
    if rule is None or not rule.needs_negative or due.last_on is not None:
        return
    if last_result(case, rule.needs_negative) is None and rule.notes:
        note = rule.notes[0]
        yield SafetyQuestion("untested", "warn", note.text, note.source, note.certainty.value)


def _not_due(waiting: list[Due]) -> SafetyQuestion:
    due = min(waiting, key=lambda each: each.target or date.max)
    day = day_words(due.target) if due.target else "a day not set"
    step = due.why[0] if due.why else None
    source, certainty = (step.source, step.certainty) if step else ("ours", "ours")
    return SafetyQuestion(
        "not_due", "ask", f"{due.group_label}: not due before {day}. Give it now?", source, certainty
    )


def _site(case: Case, proposed: Proposed) -> Iterator[SafetyQuestion]:
    steps = site_questions(case.protocol, case.animal.species, proposed.dose.antigens, proposed.dose.site)
    if steps:
        said: dict[str, list[str]] = {}
        for step in steps:
            about, colon, words = step.text.partition(": ")
            said.setdefault(words if colon else step.text, []).append(about if colon else "")
        text = " ".join(
            f"{', '.join(about)}: {words}" if about[0] else words for words, about in said.items()
        )
        yield SafetyQuestion("site", "ask", text, steps[0].source, steps[0].certainty)
