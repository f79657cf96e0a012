"""The protocol in words: the law of the place, the questions on which the sources disagree, editions."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.shortcuts import get_object_or_404

from clinic.people.actor import Actor
from clinic.people.rights import Right
from preventive.actions.trying import SHOWN, TrialRow, both_protocols
from preventive.models import ProtocolEdition, ProtocolProposal
from preventive.own_values import OwnValue, contradictions, own_values
from preventive.proposals import asked_for
from preventive.protocol import Protocol, Setting, ValueOverride
from preventive.rabies_people import giver_rule, signer_rule
from preventive.rules import Jurisdiction
from preventive.versions import ANSWER, composed, place_and_choices
from preventive.wording import cited

OF_LAW = "rabies_"
LATE = {
    "label": "A late booster counts at once; the next date is by the label of the dose given.",
    "restart_12mo": "After a late booster the next is due in 12 months, whatever the label.",
    "primary_again": "A late booster counts as a first dose again, with its waiting time.",
}
HOW = {
    "due": "becomes due",
    "free": "is not due any more",
    "earlier": "is due earlier",
    "later": "is due later",
    "other": "changes otherwise",
}


@dataclass(frozen=True)
class Said:
    """One rule in words, with its source."""

    text: str
    source: str


@dataclass(frozen=True)
class Lost:
    """Something of the clinic's own that this release of the protocol has no place for."""

    words: str
    value: str
    why: str
    path: str  # "" for an answer to a question, which is answered anew


@dataclass(frozen=True)
class ProtocolPage:
    place: str
    law: tuple[Said, ...]
    of_law: tuple[Setting, ...]
    of_guidelines: tuple[Setting, ...]
    proposals: tuple[tuple[ProtocolProposal, str], ...]
    own: tuple[OwnValue, ...]
    lost: tuple[Lost, ...]
    disagree: tuple[str, ...]
    edition: ProtocolEdition | None
    version: str
    sources: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Trial:
    """What the change would do to every living animal of the practice, as far as it was tried."""

    on: date
    animals: int
    of: int
    ended: bool
    holds: bool
    touched: int
    counts: tuple[tuple[str, int], ...]
    rows: tuple[TrialRow, ...]
    more: int


def protocol_page() -> ProtocolPage:
    choices = place_and_choices()
    protocol = composed(choices)
    settings = protocol.settings
    proposals = list(ProtocolProposal.objects.filter(state=ProtocolProposal.State.OPEN).select_related("by"))
    return ProtocolPage(
        place=protocol.jurisdiction.label,
        law=tuple(law_of(protocol)),
        of_law=tuple(each for each in settings if each.code.startswith(OF_LAW)),
        of_guidelines=tuple(each for each in settings if not each.code.startswith(OF_LAW)),
        proposals=tuple((each, _words(each, protocol)) for each in proposals),
        own=tuple(each for each in own_values(protocol) if each.own),
        lost=tuple(_lost(each, protocol) for each in choices.lost),
        disagree=tuple(contradictions(protocol)) if choices.values else (),
        edition=ProtocolEdition.objects.select_related("by").first(),
        version=protocol.sha256,
        sources=tuple(sorted(protocol.rules.sources.items())),
    )


def _lost(each: ValueOverride, protocol: Protocol) -> Lost:
    if each.path.startswith(ANSWER):
        code = each.path.removeprefix(ANSWER)
        question = next((one.question for one in protocol.settings if one.code == code), code)
        return Lost(question, str(each.value).replace("_", " "), "", "")
    value = each.value.get("months", "") if isinstance(each.value, dict) else each.value
    return Lost(each.path, str(value), f"{each.by}: {each.reason}", each.path)


def _words(proposal: ProtocolProposal, protocol: Protocol) -> str:
    """Is leptospirosis vaccine core for dogs? Noncore: by lifestyle."""
    asked = asked_for(proposal, protocol)
    return asked.words if asked else "A question that the protocol no longer asks"


def value_groups(protocol: Protocol) -> tuple[tuple[str, tuple[OwnValue, ...]], ...]:
    """Every value a clinic may set, under what it is about."""
    groups: dict[str, list[OwnValue]] = {}
    for each in own_values(protocol):
        groups.setdefault(each.about, []).append(each)
    return tuple((about, tuple(rows)) for about, rows in groups.items())


def law_of(protocol: Protocol) -> Iterator[Said]:
    """The rabies rules of the practice's place, each with its source."""
    place: Jurisdiction = protocol.jurisdiction
    rabies = protocol.rules.rabies
    if place.min_age:
        yield Said(
            f"First dose not before {place.min_age.age.words} of age.",
            cited(place.min_age.source, place.min_age.certainty.value),
        )
    else:
        yield Said(
            f"First dose not before {rabies.min_age.words} of age where the label does not say.",
            cited(rabies.source, rabies.certainty.value),
        )
    if place.deadline:
        yield Said(
            f"First dose by {place.deadline.age.words} of age.",
            cited(place.deadline.source, place.deadline.certainty.value),
        )
    yield Said(
        f"Currently vaccinated {place.wait.days} days after the first dose; after a booster at once.",
        cited(place.wait.source, place.wait.certainty.value),
    )
    first = place.first_booster
    booster = "First booster by the label of the dose given."
    if first.after:
        booster = f"First booster {first.after.words} after the first dose, whatever the product."
    yield Said(booster, cited(first.source, first.certainty.value))
    if first.label_from_age:
        yield Said(
            f"From {first.label_from_age.words} of age the first booster is by the label.",
            cited(first.source, first.certainty.value),
        )
    yield Said(LATE[place.late.mode], cited(place.late.source, place.late.certainty.value))
    if place.maximum:
        yield Said(
            f"Never longer than {place.maximum.months} months.",
            cited(place.maximum.source, place.maximum.certainty.value),
        )
    if place.chip_first:
        yield Said(place.chip_first.text, cited(place.chip_first.source, place.chip_first.certainty.value))
    for rule in (giver_rule(protocol), signer_rule(protocol)):
        if rule:
            yield Said(rule.text, cited(rule.source, rule.certainty.value))
    for note in (*place.notes, *rabies.notes):
        yield Said(note.text, cited(note.source, note.certainty.value))


def access_proposal(proposal_id: int, *, actor: Actor) -> ProtocolProposal:
    actor.require(Right.SEE_RECORDS)
    rows = ProtocolProposal.objects.select_related("by", "decided_by")
    return get_object_or_404(rows, pk=proposal_id)


def trial_of(proposal: ProtocolProposal) -> Trial | None:
    """The newest trial; None before the first. Two queries. Nothing is reckoned here."""
    kept = proposal.trials.first()
    if kept is None:
        return None
    before, after = both_protocols(proposal)
    counts = {how: kept.counts[how] for how in HOW if kept.counts.get(how)}
    rows = [TrialRow(**row) for how in HOW for row in kept.rows.get(how, [])]
    return Trial(
        on=kept.on,
        animals=kept.tried,
        of=max(kept.of, kept.tried),
        ended=kept.ended_at is not None,
        holds=after is not None and (kept.before, kept.after) == (before.sha256, after.sha256),
        touched=kept.touched,
        counts=tuple((HOW[how], count) for how, count in counts.items()),
        rows=tuple(rows[:SHOWN]),
        more=max(sum(counts.values()) - SHOWN, 0),
    )
