"""Findings in words: for the record, in the trade's terms, and for the owner, in the owner's line."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from clinic.letters.document import MadeFrom
from clinic.letters.spelling import spelled
from clinic.letters.texts import SOURCE, Texts, variant_here
from clinic.letters.wording import ended
from exams.lines import Line
from exams.owner_texts import LEFT_RIGHT, capital, lower, texts_of
from exams.qualifiers import JOIN, how, in_words
from exams.state import ABNORMAL, MEASURED, NORMAL, REFILL_STEPS, FindingEntry, LineAnswer
from exams.teeth import tooth
from exams.tooth_chart import HOW_MISSING, KNOWN_EXTRACTION, MISSING, charted_words
from exams.urgency import WORDS
from exams.walk import Station, Walk

Say = Callable[[str, str], str]

# of a unit's code; others are words already
UNIT_WORDS = {
    "C": "°C",
    "F": "°F",
    "per-min": "a minute",
    "mm-per-min": "mm in a minute",
    "bcs-9": "of 9",
    "mcs-4": "",
    "pain-4": "",
}
BODY = "bcs-9"
WHAT_TO_DO = " (open mass record)"  # in a finding's name, for whoever enters it
# a finding named for several grades: "heart murmur grade III-IV of VI"
SPAN = re.compile(r"\b[IVX\d]+-[IVX\d]+ of [IVX\d]+")


@dataclass(frozen=True, slots=True)
class OwnerSentence:
    """Where it is, what was seen, and the clinical term in brackets, which stands last."""

    heading: str
    text: str
    term: str
    lang: str = ""  # where it is not the letter's
    both: bool = False  # it goes out in the clinicians' language as well
    made_from: MadeFrom | None = None  # of the text without its heading; the grade is its tail


def for_record(walk: Walk, line: Line, answer: LineAnswer, say: Say | None = None) -> str:
    """One line as the record says it: "left: excess wax, moderate, brown; in part: wax in the way"."""
    told = {
        NORMAL: "" if answer.findings else "normal",
        ABNORMAL: "" if answer.findings else "abnormal",
        MEASURED: value_words(answer, say),
    }.get(answer.status, f"not examined, {reason_words(walk, answer) or 'no reason yet'}")
    parts = [told, *(finding_words(walk, f) for f in answer.findings)]
    if answer.charted:
        parts += charted_words(answer.charted, line.side)
    if answer.value and answer.status in (NORMAL, ABNORMAL):
        parts.append(value_words(answer, say))
    parts += [f"taken as {WORDS[f.urgency]}: {f.urgency_why}" for f in answer.findings if f.urgency]
    if answer.in_part:
        parts.append(f"in part: {reason_words(walk, answer) or 'no reason yet'}")
    if answer.together:
        parts.append("marked together")
    if answer.spoken:
        parts.append("spoken")
    words = "; ".join(p for p in parts if p)
    side = "" if all(f.both_sides for f in answer.findings) and answer.findings else line.side_words
    return f"{side}: {words}" if side else words


def value_words(answer: LineAnswer, say: Say | None = None) -> str:
    """The number as people write it: "38.6 °C", "96 a minute". `say`: as one reader puts it."""
    if say and answer.value and (said := say(answer.value, answer.unit)):
        return said
    if answer.unit == "per-min" and not answer.value[:1].isdigit():  # panting, purring: no rate
        return answer.value
    if answer.unit == "s" and answer.value in REFILL_STEPS:
        return REFILL_STEPS[answer.value]
    return f"{answer.value} {UNIT_WORDS.get(answer.unit, answer.unit)}".strip()


def finding_words(
    walk: Walk, entry: FindingEntry, *, for_letter: bool = False, texts: Texts | None = None
) -> str:
    """The clinical term with what qualifies it: "excess wax, moderate, brown".

    A letter leaves out what is the staff's own: the note, and who has yet to confirm. `texts`: of a letter,
    which spell the term as the clinic's country does.
    """
    finding = walk.finding[entry.code]
    scale = walk.scale.get(entry.scale)
    grade = scale.grade(entry.grade) if scale else None
    english = (texts.english or texts) if texts else None
    name = english(term) if english and (term := f"term.{entry.code}") in english else finding.name
    name = name if entry.awake_estimate else name.removesuffix(", provisional stage")
    name = name.removesuffix(WHAT_TO_DO)
    degree = f"grade {grade.label}" if grade and grade.label[0].isdigit() else grade.label if grade else ""
    if grade and SPAN.search(name):
        name, degree = SPAN.sub(grade.label, name), ""
    if len(finding.grades) == 1:
        degree = ""
    spell = variant_here() if for_letter else ""
    parts = [
        lower(name),
        entry.severity,
        degree,
        *(_qualified(walk, entry.code, k, v, spell) for k, v in entry.qualifiers.items()),
        f"tooth {entry.tooth}" if entry.tooth else "",
        f"provisional, {entry.made_in or 'awake'}" if entry.awake_estimate else "",
        "not confirmed" if entry.unconfirmed and not for_letter else "",
        "" if for_letter else entry.note,
    ]
    return ", ".join(p for p in parts if p)


def _qualified(walk: Walk, code: str, name: str, value: str, variant: str) -> str:
    """One qualifier; words that were chosen from a list as `variant` spells them, typed ones as they are."""
    words = in_words(walk.qualifiers, code, name, value)
    chosen = how(walk.qualifiers, code, name)
    ours = chosen.kind == "flag" or all(each in chosen.values for each in value.split(JOIN))
    return spelled(words, variant) if ours else words


def for_owner(
    walk: Walk,
    line: Line,
    entry: FindingEntry,
    *,
    pet: str = "your pet",
    species: str = "dog",
    texts: Texts | None = None,
    both: bool = False,
) -> OwnerSentence:
    """The owner's line under a heading that carries the side; grade in words; the clinical term apart.

    pet: the animal's name. The line says what was seen, never a diagnosis. `texts`: in the owner's language
    (none: English). What it does not say is said in English altogether, never half and half. `both`: the same
    was found left and right, and is said once.
    """
    t = texts or texts_of(walk)
    # nobody need look under the gum for a tooth that is known to be out
    taken_out = entry.code == MISSING and entry.qualifiers.get(HOW_MISSING) == KNOWN_EXTRACTION
    key = "tooth.taken_out" if taken_out else f"finding.{entry.code}"
    if both and f"both.{entry.code}" in t:
        key = f"both.{entry.code}"
    degree_key = _degree_key(walk, entry)
    if t.lang(key) or (degree_key and t.lang(degree_key)):
        assert t.english is not None
        t, lang = t.english, SOURCE
    else:
        lang = ""
    named = {"pet": pet, "Pet": capital(pet)}
    text = t(key, **named)
    degree = _degree(t, degree_key) if degree_key else ""
    if degree:
        text = f"{text} {degree}"
    term = f"({finding_words(walk, entry, for_letter=True, texts=t)})"
    grave = walk.finding[entry.code].urgency == "E"
    first = t.made_from(key, named).form.split(" ", 1)[0]
    of_both = key.startswith("both.") or first in (*t.listed("both.opens"), "{Pet}", "{pet}")
    heading = (
        both_heading(t, line.station, of_both=of_both) if both else owner_heading(t, line, entry, species)
    )
    made_from = t.made_from(key, named, tail=degree)
    return OwnerSentence(heading, text, term, lang, t.both(key, grave=grave), made_from)


def _degree(t: Texts, key: str) -> str:
    """As a sentence: "This is mild."; "Grade 3 of 6, medium."; what is no word of its own is named."""
    said = t(key)
    if key.startswith("severity."):
        return t("walk.severity", degree=said)
    return ended(capital(said)) if said[:1].islower() else t("walk.degree", degree=said)


def _degree_key(walk: Walk, entry: FindingEntry) -> str:
    """The text of severity or grade; empty where the finding's own line says it, or the picture of the
    body's condition does."""
    if entry.severity:
        return f"severity.{entry.severity}"
    scale = walk.scale.get(entry.scale)
    grade = scale.grade(entry.grade) if scale else None
    if scale is None or grade is None or len(walk.finding[entry.code].grades) == 1 or scale.key == BODY:
        return ""
    return f"grade.{scale.key}.{grade.key}"


def owner_degree(walk: Walk, entry: FindingEntry, texts: Texts | None = None) -> str:
    """Severity or grade in an owner's words: "moderate", "grade 3 of 6, medium"; empty: the line says it."""
    key = _degree_key(walk, entry)
    return (texts or texts_of(walk))(key) if key else ""


def owner_heading(t: Texts, line: Line, entry: FindingEntry, species: str = "dog") -> str:
    """Where it is, side first and spelled out: "Left ear", "Right back leg", "Tooth 307 (lower left ...)"."""
    if entry.tooth:
        return tooth_heading(t, entry.tooth, species)
    side = line.side if line.side != "-" else entry.qualifiers.get("side", "")
    station = f"station.{line.station}"
    if entry.both_sides or not side:
        return t(f"{station}.name")
    if side in LEFT_RIGHT:
        return t(f"{station}.{side}")
    left_right, _, number = side.partition("-")
    if left_right in ("left", "right"):
        return capital(t("walk.gland", side=t(f"side.{left_right}"), n=number))
    if side.isdigit():
        return t(
            "walk.at", station=t(f"{station}.name"), where=f"{side}, {tooth_name(t, int(side), species)}"
        )
    return t("walk.at", station=t(f"{station}.name"), where=t(f"side.{side}"))


def both_heading(t: Texts, station: str, *, of_both: bool = True) -> str:
    """ "Both ears" before what is said of both; "Left ear and right ear" before what is said of one."""
    place = f"station.{station}"
    if of_both:
        return t(f"{place}.both")
    return t("both.and", left=t(f"{place}.left"), right=lower(t(f"{place}.right")))


def tooth_name(t: Texts, number: int, species: str) -> str:
    """lower left third premolar"""
    told = tooth(species, number)
    jaw, _, side = told.quadrant.partition("-")
    own = f"tooth.side.{side}"  # where a tooth's side is another word than that of a leg
    return t(
        "tooth.baby" if told.deciduous else "tooth.adult",
        jaw=t(f"tooth.jaw.{jaw}"),
        side=t(own if own in t else f"side.{side}"),
        kind=t(f"tooth.kind.{number % 100}"),
    )


def tooth_heading(t: Texts, number: int, species: str) -> str:
    return t("tooth.one", n=number, name=tooth_name(t, number, species))


def place_for_owner(walk: Walk, structure: str, side: str, species: str, texts: Texts | None = None) -> str:
    """A structure by its station, side first: "Left ear", "Tooth 307 (lower left ...)"."""
    t = texts or texts_of(walk)
    station = f"station.{walk.structure[structure].station}"
    if side.isdigit():
        return tooth_heading(t, int(side), species)
    return t(f"{station}.{side}" if side in LEFT_RIGHT else f"{station}.name")


def joined(names: Iterable[str], t: Texts, *, pet: str = "") -> str:
    """Several places in one sentence; a name that holds an "and" itself ends the list without another; what
    begins with the `pet`'s name keeps its capital."""
    words = [
        name if number == 0 or (pet and name.startswith(pet)) else lower(name)
        for number, name in enumerate(names)
    ]
    if len(words) < 2:
        return words[0] if words else ""
    first = words[0]
    for name in words[1:-1]:
        first = t("walk.list", first=first, second=name)
    last = "walk.list_last_bare" if t("walk.and") in words[-1] else "walk.list_last"
    return t(last, first=first, last=words[-1])


def normal_line(stations: Iterable[Station], texts: Texts) -> str:
    """Neighbours that were normal, joined: "Eyes, ears, nose and face: normal."."""
    names = joined((texts(f"station.{s.code}.name") for s in stations), texts)
    return texts("walk.normal", names=names) if names else ""


def line_name(t: Texts, line: Line) -> str:
    """What is looked at there, in the owner's language."""
    return t(f"structure.{line.structure}")


def why_for_owner(walk: Walk, reason: str, words: str, pet: str, t: Texts) -> str:
    """A reason as a sentence; somebody's own `words` stay as they are. Empty where the owner reads none."""
    if words:
        return t.own(ended(capital(words)))
    known, key = walk.reason.get(reason), f"reason.{reason}"
    return ended(capital(t(key, pet=pet, Pet=capital(pet)))) if known and known.owner else ""


def reason_words(walk: Walk, answer: LineAnswer) -> str:
    reason = walk.reason.get(answer.reason)
    said = [reason.words if reason and not reason.needs_words else "", answer.reason_words]
    return ", ".join(s for s in said if s)
