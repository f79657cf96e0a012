"""Reactions after a dose or a preventive: signs, what they stop, to whom they are reported. Pure.

Undesirable whether or not the product caused it, also a lack of effect; at once, or up to about two weeks
later (section on adverse events of the reference; A). Follow local law on reporting.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from preventive.rules import ReportRule

# ours: the words by which a reaction is told; the first of them want somebody at once
SIGNS: Mapping[str, str] = {
    "collapse": "collapse",
    "breathing": "trouble breathing",
    "face": "swollen face or eyelids",
    "hives": "hives or itching",
    "vomiting": "vomiting",
    "diarrhoea": "diarrhoea",
    "fever": "fever, tired, not eating",
    "place": "pain or swelling at the place",
    "seizure": "tremor, staggering or seizure",
    "no-effect": "it did not work",
    "other": "something else",
}
AT_ONCE = frozenset({"collapse", "breathing", "face", "seizure"})
USUAL_WITHIN = timedelta(days=14)
_ON_SKIN = frozenset({"spot-on", "collar", "spray"})


@dataclass(frozen=True, slots=True)
class Suspect:
    """One product that was given: its kind, form and the day. `kind`: vaccine or preventive."""

    name: str
    kind: str
    given_on: date
    form: str = ""


def reports_for(suspects: Iterable[Suspect], rules: Mapping[str, ReportRule]) -> tuple[ReportRule, ...]:
    """Whom to tell, by the kinds of what was given; the last for places outside the United States."""
    codes: list[str] = []
    for suspect in suspects:
        if suspect.kind == "vaccine":
            codes.append("vaccine")
            continue
        codes.append("medicine")
        if suspect.form in _ON_SKIN:
            codes.append("insecticide")
    return tuple(rules[code] for code in dict.fromkeys([*codes, "elsewhere"]) if code in rules)


def signs_words(codes: Sequence[str], words: str = "") -> str:
    """hives or itching, vomiting; the owner’s words. Without a full stop: more is said behind it."""
    named = ", ".join(SIGNS[code] for code in codes if code != "other")
    return "; ".join(part for part in (named, words.strip().rstrip(".")) if part)


def is_unusually_late(began_on: date, suspects: Iterable[Suspect]) -> bool:
    """Whether every suspected product was given more than about two weeks before it began."""
    given = [each.given_on for each in suspects]
    return bool(given) and began_on - max(given) > USUAL_WITHIN


def alert_text(names: Sequence[str], signs: str, began_on: date, *, vaccine: bool) -> str:
    """What everybody sees first; at most 200 characters, whole words."""
    what = ("vaccine " if vaccine else "") + ", ".join(names)
    text = f"Reaction after {what}, {began_on.day} {began_on:%B %Y}: {signs}"
    return text if len(text) <= 200 else text[:199].rsplit(" ", 1)[0] + "…"
