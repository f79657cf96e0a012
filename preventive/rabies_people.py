"""Who may give a rabies dose, under whom, and who signs its certificate, by the law of the place. Pure."""

from collections.abc import Iterator

from preventive.protocol import Protocol
from preventive.rules import GiverRule, RabiesGiver, RabiesSigner, SignerRule
from preventive.safety import SafetyQuestion


def giver_rule(protocol: Protocol) -> GiverRule | None:
    """The place's, else the one for places without; None in versions from before there was one."""
    return protocol.jurisdiction.giver or protocol.rules.rabies.giver


def signer_rule(protocol: Protocol) -> SignerRule | None:
    return protocol.jurisdiction.signer or protocol.rules.rabies.signer


def giver_questions(
    protocol: Protocol,
    antigens: tuple[str, ...],
    *,
    by_veterinarian: bool,
    has_supervisor: bool,
    present: bool | None,
) -> Iterator[SafetyQuestion]:
    """What stands against this person giving it; nothing for another vaccine, or for a veterinarian.

    `present`: whether the supervising veterinarian is in the house, None where nobody was asked.
    """
    rule = giver_rule(protocol)
    if rule is None or by_veterinarian or protocol.rules.rabies.antigen not in antigens:
        return
    if rule.who is RabiesGiver.VETERINARIAN:
        yield _question("rabies_giver", rule, "A veterinarian must have given it.")
    elif not has_supervisor:
        yield _question("rabies_supervisor", rule, "Name the veterinarian who answers for it.")
    elif rule.who is RabiesGiver.ON_PREMISES and present is False:
        yield _question("rabies_premises", rule, "No veterinarian is in the house.")


def _question(code: str, rule: GiverRule, words: str) -> SafetyQuestion:
    text = f"{rule.text} {words} Follow local law."
    return SafetyQuestion(code, "warn", text, rule.source, rule.certainty.value)


def may_sign(protocol: Protocol, *, signs: int, answers: int | None) -> bool:
    """Whether this veterinarian (`signs`) may sign for the one who answers for the dose."""
    rule = signer_rule(protocol)
    return rule is None or rule.who is RabiesSigner.ANY or signs == answers
