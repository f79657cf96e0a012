"""What a proposal would make of the protocol, and the same in words; of questions and single values."""

from dataclasses import dataclass

from preventive.models import ProtocolProposal
from preventive.own_values import own_value, stored, value_words
from preventive.protocol import Option, Protocol, ValueOverride
from preventive.versions import Choices, composed


def with_proposal(choices: Choices, proposal: ProtocolProposal) -> Choices:
    """The choices as they would be; nothing is written."""
    if proposal.setting:
        return choices._replace(settings={**choices.settings, proposal.setting: proposal.option})
    others = tuple(each for each in choices.values if each.path != proposal.path)
    lost = tuple(each for each in choices.lost if each.path != proposal.path)
    if proposal.value is None:
        return choices._replace(values=others, lost=lost)
    value = own_value(composed(choices), proposal.path)
    text, by = str(proposal.value), proposal.by.full_name
    held = stored(value, text, reason=proposal.why, by=by) if value else text
    return choices._replace(values=(*others, ValueOverride(proposal.path, held, proposal.why, by)))


@dataclass(frozen=True)
class AskedFor:
    """What a proposal asks: the question or the value in words, its answer now, and the one proposed."""

    question: str
    now: Option
    then: Option

    @property
    def words(self) -> str:
        return f"{self.question} {self.then.label}"


def asked_for(proposal: ProtocolProposal, protocol: Protocol) -> AskedFor | None:
    """By the protocol in force; None for a question or a value that it no longer has."""
    if proposal.path:
        return _value(proposal, protocol)
    setting = next((each for each in protocol.settings if each.code == proposal.setting), None)
    if setting is None:
        return None
    named = {option.code: option for option in setting.options}
    then = named.get(proposal.option)
    return AskedFor(setting.question, named[setting.chosen], then) if then else None


def _value(proposal: ProtocolProposal, protocol: Protocol) -> AskedFor | None:
    value = own_value(protocol, proposal.path)
    if value is None:
        return _given_up(proposal) if proposal.value is None else None
    now = Option("", value.now_words, value.changes, value.source, value.certainty)
    if proposal.value is None:
        then = Option("", "as published", "The clinic’s own value is taken back.", "the protocol’s files", "")
    else:
        label = value_words(str(proposal.value), value.unit)
        then = Option("", label, value.changes, "the clinic’s own", "clinic")
    return AskedFor(f"{value.about}: {value.what}", now, then)


def _given_up(proposal: ProtocolProposal) -> AskedFor:
    """An own value for which the protocol has no place any more: taking it back changes no date."""
    kept = Option("", "kept on file, without effect", "The published protocol holds.", "the clinic’s own", "")
    gone = Option("", "taken back", "Nothing changes for any animal.", "the protocol’s files", "")
    return AskedFor(f"A value of our own that the protocol has no place for: {proposal.path}", kept, gone)


def proposal_words(proposal: ProtocolProposal, before: Protocol) -> str:
    """For the list of editions: the question or value, its new answer and the one before."""
    asked = asked_for(proposal, before)
    if asked is None:
        return "A question that the protocol no longer asks."
    return f"{asked.words}, instead of: {asked.now.label}."
