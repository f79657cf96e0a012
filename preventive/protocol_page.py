"""The protocol in words: the law of the place, the questions on which the sources disagree, editions."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from django.shortcuts import get_object_or_404

from clinic.people.actor import Actor
from clinic.people.rights import Right
from preventive.actions.trying import SHOWN, TrialRow, both_protocols
from preventive.models import ProtocolEdition, ProtocolProposal
from preventive.protocol import Protocol, Setting
from preventive.rules import Jurisdiction
from preventive.versions import protocol_in_force
from preventive.wording import span_words

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
class ProtocolPage:
    place: str
    law: tuple[Said, ...]
    of_law: tuple[Setting, ...]
    of_guidelines: tuple[Setting, ...]
    proposals: tuple[tuple[ProtocolProposal, str], ...]
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
    protocol = protocol_in_force()
    settings = protocol.settings
    proposals = list(ProtocolProposal.objects.filter(state=ProtocolProposal.State.OPEN).select_related("by"))
    return ProtocolPage(
        place=protocol.jurisdiction.label,
        law=tuple(law_of(protocol)),
        of_law=tuple(each for each in settings if each.code.startswith(OF_LAW)),
        of_guidelines=tuple(each for each in settings if not each.code.startswith(OF_LAW)),
        proposals=tuple((each, _asked_for(each, settings)) for each in proposals),
        edition=ProtocolEdition.objects.select_related("by").first(),
        version=protocol.sha256,
        sources=tuple(sorted(protocol.rules.sources.items())),
    )


def _asked_for(proposal: ProtocolProposal, settings: Sequence[Setting]) -> str:
    """Is leptospirosis vaccine core for dogs? Noncore: by lifestyle."""
    for setting in settings:
        if setting.code == proposal.setting:
            labels = {option.code: option.label for option in setting.options}
            return f"{setting.question} {labels.get(proposal.option, '')}"
    return "A question that the protocol no longer asks"


def _cited(source: str, certainty: str) -> str:
    notes = {"B": "; read as restated by others", "C": "; from memory, to be checked"}
    return f"{source}{notes.get(certainty, '')}"


def law_of(protocol: Protocol) -> Iterator[Said]:
    """The rabies rules of the practice's place, each with its source."""
    place: Jurisdiction = protocol.jurisdiction
    rabies = protocol.rules.rabies
    if place.min_age:
        yield Said(
            f"First dose not before {span_words(place.min_age.age)} of age.",
            _cited(place.min_age.source, place.min_age.certainty.value),
        )
    else:
        yield Said(
            f"First dose not before {span_words(rabies.min_age)} of age where the label does not say.",
            _cited(rabies.source, rabies.certainty.value),
        )
    if place.deadline:
        yield Said(
            f"First dose by {span_words(place.deadline.age)} of age.",
            _cited(place.deadline.source, place.deadline.certainty.value),
        )
    yield Said(
        f"Currently vaccinated {place.wait.days} days after the first dose; after a booster at once.",
        _cited(place.wait.source, place.wait.certainty.value),
    )
    first = place.first_booster
    booster = "First booster by the label of the dose given."
    if first.after:
        booster = f"First booster {span_words(first.after)} after the first dose, whatever the product."
    yield Said(booster, _cited(first.source, first.certainty.value))
    if first.label_from_age:
        yield Said(
            f"From {span_words(first.label_from_age)} of age the first booster is by the label.",
            _cited(first.source, first.certainty.value),
        )
    yield Said(LATE[place.late.mode], _cited(place.late.source, place.late.certainty.value))
    if place.maximum:
        yield Said(
            f"Never longer than {place.maximum.months} months.",
            _cited(place.maximum.source, place.maximum.certainty.value),
        )
    if place.chip_first:
        yield Said(place.chip_first.text, _cited(place.chip_first.source, place.chip_first.certainty.value))
    for note in (*place.notes, *rabies.notes):
        yield Said(note.text, _cited(note.source, note.certainty.value))


def access_proposal(proposal_id: int, *, actor: Actor) -> ProtocolProposal:
    actor.require(Right.SEE_RECORDS)
    rows = ProtocolProposal.objects.select_related("by", "decided_by")
    return get_object_or_404(rows, pk=proposal_id)


def question_of(proposal: ProtocolProposal) -> Setting:
    """The question as it stands today."""
    return next(each for each in protocol_in_force().settings if each.code == proposal.setting)


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
        holds=(kept.before, kept.after) == (before.sha256, after.sha256),
        touched=kept.touched,
        counts=tuple((HOW[how], count) for how, count in counts.items()),
        rows=tuple(rows[:SHOWN]),
        more=max(sum(counts.values()) - SHOWN, 0),
    )
