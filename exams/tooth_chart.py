"""What is charted of one tooth beside its findings, and what the chart asks about. Pure.

Charted: which teeth stand at the place (a baby tooth, its successor, both, none), pockets in mm per site,
scales that were looked at and read 0, an extraction of today, questions answered with no.

Sources: AVDC periodontal stages; normal sulcus: dvm360, oral charting proceedings; eruption: common practice
(mixed teeth from 3-4 months, adult set complete by 6-7 months, ranges); staging awake: Bauer et al.,
PLOS ONE 2018;13(9):e0203930.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from exams.consciousness import is_firm
from exams.grading import periodontal_stage
from exams.guards import CLINICIAN, Refusal
from exams.lines import Absence, Line, Lines
from exams.state import FindingEntry, LineAnswer
from exams.teeth import (
    DECIDUOUS_UNTIL_DAYS,
    MIXED_UNTIL_DAYS,
    ToothError,
    at_position,
    retained,
    tooth,
    unexplained_gaps,
    valid_teeth,
)

TEETH = "MTH.teeth"
MISSING, RETAINED, PERIODONTAL, FURCATION, RESORPTION = "MTH-07", "MTH-12", "MTH-05", "MTH-04", "MTH-15"
HOW_MISSING = "known extraction / never seen / unknown"
KNOWN_EXTRACTION = "known extraction"
LOSS = "attachment loss %"
RADIOGRAPH = "dental X-ray?"
TYPE = "type 1 / type 2 / type 3"

SITES: Mapping[str, str] = {
    "mb": "mesiobuccal", "b": "buccal", "db": "distobuccal",
    "ml": "mesiolingual", "l": "lingual", "dl": "distolingual",
}  # fmt: skip
MOST_MM = 20.0
# normal sulcus: dvm360, oral charting proceedings
SULCUS_MM: Mapping[str, tuple[float, float]] = {"dog": (1, 3), "cat": (0.5, 1)}
ZEROS: Mapping[str, str] = {
    "periodontal-4": "PD 0", "gingivitis-3": "gingivitis 0", "calculus-3": "calculus 0",
    "mobility-3": "mobility 0", "furcation-3": "furcation 0",
}  # fmt: skip
ASKS = (MISSING, RETAINED, PERIODONTAL)
_KEYS = {"present", "pockets", "zeros", "extracted", "no"}
MONTH_DAYS = 30.4375


@dataclass(frozen=True, slots=True)
class Question:
    """What the chart asks, never says by itself: to record `code` of tooth `tooth` on the line `key`?"""

    key: str
    code: str
    tooth: int
    words: str


@dataclass(frozen=True, slots=True)
class Count:
    """Teeth there against the formula. `expected`: 42, 30, 28 or 26; 0 while baby and adult teeth mix."""

    expected: int
    there: int
    gone: tuple[int, ...]
    words: str


# ---- Reading what a tablet sent


def read_charted(
    sent: object,
    *,
    lines: Lines,
    line: Line,
    made_in: str,
    role: str,
    found: Sequence[FindingEntry],
    before: Mapping[str, Any],
) -> dict[str, Any]:
    """`charted` of a payload, checked. Raises Refusal. What stood before in another state may stay."""
    if not sent:
        return {}
    if line.structure != TEETH or not isinstance(sent, Mapping) or set(sent) - _KEYS:
        raise Refusal("bad-payload", "charted is said of a tooth")
    told: dict[str, Any] = {}
    if "present" in sent:
        told["present"] = _numbers(sent["present"], lines, line)
    pockets = _pockets(sent.get("pockets", {}))
    if pockets and pockets != before.get("pockets") and not is_firm(made_in):
        raise Refusal("probing", "pockets are probed under an anaesthetic: say first with which")
    zeros = _listed(sent.get("zeros", []), tuple(ZEROS))
    if any(f.scale in zeros for f in found):
        raise Refusal("grade", "a scale reads 0 or has its finding, not both")
    out = _numbers(sent.get("extracted", []), lines, line)
    if set(out) - set(before.get("extracted", ())):
        _check_extraction(made_in, role)
    told |= {
        "pockets": pockets,
        "zeros": zeros,
        "extracted": out,
        "no": _listed(sent.get("no", []), ASKS),
    }
    return {k: v for k, v in told.items() if v or k == "present"}


def _numbers(sent: object, lines: Lines, line: Line) -> list[int]:
    """Teeth of this place: its own number or that of the baby tooth before it."""
    if not isinstance(sent, list) or not all(isinstance(n, int) and not isinstance(n, bool) for n in sent):
        raise Refusal("bad-payload", "teeth are told by their numbers")
    for number in sent:
        try:
            tooth(lines.animal.species, number)
        except ToothError as error:
            raise Refusal("tooth", str(error)) from error
        if not at_position(int(line.side), number):
            raise Refusal("tooth", f"{number} does not stand at {line.side_words}")
    return sorted(set(sent))


def _pockets(sent: object) -> dict[str, str]:
    if not isinstance(sent, Mapping) or set(sent) - set(SITES):
        raise Refusal("bad-payload", "pockets are told by site")
    kept = {}
    for site in SITES:
        words = str(sent.get(site, "")).strip().replace(",", ".")
        if not words:
            continue
        try:
            depth = float(words)
        except ValueError as error:
            raise Refusal("pocket", f"{SITES[site]}: {words!r} is not a depth in mm") from error
        if not 0 <= depth <= MOST_MM:
            raise Refusal("pocket", f"{SITES[site]}: a pocket is 0 to {MOST_MM:g} mm deep")
        kept[site] = f"{depth:g}"
    return kept


def _listed(sent: object, known: Sequence[str]) -> list[str]:
    if not isinstance(sent, list) or set(sent) - set(known):
        raise Refusal("bad-payload", f"one of {', '.join(known)}")
    return [k for k in known if k in sent]


def _check_extraction(made_in: str, role: str) -> None:
    """Common practice, in many places the law: teeth are drawn by a veterinarian, under an anaesthetic."""
    if role != CLINICIAN:
        raise Refusal("role", "a clinician records an extraction; who may draw teeth is for local law")
    if not is_firm(made_in):
        raise Refusal("extraction", "extracted today: say first that it is anaesthetised, and with what")


# ---- Statements that cannot both hold


def check_stages(found: Iterable[FindingEntry]) -> None:
    """A stage is the worse of attachment loss and furcation (AVDC periodontal stages). Raises Refusal."""
    entries = tuple(found)
    by_tooth = {f.tooth: f for f in entries if f.code == PERIODONTAL and f.grade}
    for number, stage in by_tooth.items():
        furcation = next(
            (int(f.grade) for f in entries if f.code == FURCATION and f.tooth == number and f.grade), 0
        )
        loss = loss_percent(stage)
        least = periodontal_stage(loss or 0, furcation=furcation)
        wrong = int(stage.grade) != least if loss is not None else int(stage.grade) < least
        if wrong:
            seen = [f"{loss:g}% attachment loss" if loss is not None else "", _furcation(furcation)]
            words = " with ".join(s for s in seen if s)
            raise Refusal("stage", f"{words} is PD {least}: the worse column is the stage")


def loss_percent(stage: FindingEntry) -> float | None:
    """Attachment loss in percent of the root's length, when it was given. Raises Refusal."""
    words = stage.qualifiers.get(LOSS, "").rstrip("% ").replace(",", ".")
    if not words:
        return None
    try:
        loss = float(words)
    except ValueError as error:
        raise Refusal("qualifier", f"attachment loss: {words!r} is not a percentage") from error
    if not 0 <= loss <= 100:
        raise Refusal("qualifier", "attachment loss is 0 to 100 percent")
    return loss


def check_radiograph(entry: FindingEntry) -> None:
    """Stage and type of a resorption are read from an X-ray (AVDC nomenclature, memory). Raises Refusal."""
    if entry.code != RESORPTION or not (entry.grade or entry.qualifiers.get(TYPE)):
        return
    if entry.qualifiers.get(RADIOGRAPH) != "yes":
        raise Refusal("radiograph", "stage and type of a resorption need a dental X-ray: was one taken?")


def _furcation(stage: int) -> str:
    return f"furcation {stage}" if stage else ""


# ---- In words


def charted_words(charted: Mapping[str, Any], line_number: str) -> list[str]:
    """As the record says it: "stands there: 504, 104"; "pockets: buccal 3 mm"; "extracted today"."""
    said = []
    if "present" in charted and charted["present"] != [int(line_number)]:
        there = ", ".join(str(n) for n in charted["present"])
        said.append(f"stands there: {there}" if there else "no tooth there")
    said += [ZEROS[z] for z in charted.get("zeros", ())]
    pockets = charted.get("pockets")
    if pockets:
        said.append("pockets: " + ", ".join(f"{SITES[s]} {mm} mm" for s, mm in pockets.items()))
    if charted.get("extracted"):
        out = [str(n) for n in charted["extracted"]]
        said.append("extracted that day" + ("" if out == [line_number] else f": {', '.join(out)}"))
    return said


# ---- What the chart asks


def deepest(charted: Mapping[str, Any]) -> float:
    return max((float(mm) for mm in charted.get("pockets", {}).values()), default=0.0)


def questions(lines: Lines, answers: Mapping[str, LineAnswer]) -> tuple[Question, ...]:
    """Suggestions for what was charted, until recorded or answered with no. Nothing is recorded by itself."""
    animal = lines.animal
    months = animal.age_days / MONTH_DAYS if animal.age_days is not None else None
    asked = []
    for line in lines.at(TEETH):
        answer = answers.get(line.key)
        if answer is None or line.absent or not answer.charted:
            continue
        known = {f.code for f in answer.findings} | set(answer.charted.get("no", ()))
        asked += [q for q in _of_tooth(line, answer, animal.species, months) if q.code not in known]
    return tuple(asked)


def _of_tooth(line: Line, answer: LineAnswer, species: str, months: float | None) -> Iterable[Question]:
    number, present = int(line.side), answer.charted.get("present")
    if present is not None and months is not None:
        age = f"{int(months)} months"
        for baby in retained(set(present) - set(answer.charted.get("extracted", ())), months):
            beside = f"beside {baby - 400} " if baby - 400 in present else ""
            yield Question(
                line.key, RETAINED, baby, f"{baby} still stands {beside}at {age}. A retained baby tooth?"
            )
        if not present and unexplained_gaps(species, months, {number}, answer.charted.get("extracted", ())):
            yield Question(
                line.key,
                MISSING,
                number,
                f"{number} is not there at {age}, no extraction on record. A missing tooth?",
            )
    low, high = SULCUS_MM[species]
    if deepest(answer.charted) > high and not any(f.code == FURCATION for f in answer.findings):
        yield Question(
            line.key,
            PERIODONTAL,
            number,
            f"{number}: {deepest(answer.charted):g} mm is deeper than the usual {low:g} to {high:g} mm of a "
            f"{species}. Periodontal disease?",
        )


def count(lines: Lines, answers: Mapping[str, LineAnswer]) -> Count:
    """The teeth against the formula. Says nothing of places that nobody looked at."""
    animal, own = lines.animal, lines.at(TEETH)
    gone = tuple(int(x.side) for x in own if x.absent or _is_gone(int(x.side), answers.get(x.key)))
    age = animal.age_days
    if age is not None and DECIDUOUS_UNTIL_DAYS <= age < MIXED_UNTIL_DAYS:
        whole = len(valid_teeth(animal.species))
        return Count(0, 0, gone, f"Mixed teeth: the adult set of {whole} is complete by 6 to 7 months.")
    whole = len(own)
    there = whole - len(gone)
    words = f"{there} of {whole}" + (f"; not there: {', '.join(map(str, gone))}" if gone else "")
    return Count(whole, there, gone, words)


def _is_gone(number: int, answer: LineAnswer | None) -> bool:
    if answer is None:
        return False
    out = number in answer.charted.get("extracted", ()) or answer.charted.get("present") == []
    return out or any(f.code == MISSING for f in answer.findings)


def teeth_out(answers: Mapping[str, LineAnswer]) -> tuple[Absence, ...]:
    """Teeth that are out for good: extracted that day, or known to have been extracted before. The signing
    keeps them as lasting facts."""
    found: dict[int, str] = {}
    for key, answer in answers.items():
        structure, _, side = key.partition("|")
        if structure != TEETH:
            continue
        known = any(
            f.code == MISSING and f.qualifiers.get(HOW_MISSING) == KNOWN_EXTRACTION for f in answer.findings
        )
        if known:
            found[int(side)] = "extracted before"
        found |= dict.fromkeys(answer.charted.get("extracted", ()), "extracted")
    return tuple(Absence(f"tooth:{number}", words) for number, words in sorted(found.items()))


# ---- On the drawing: a short mark and what it means

# worst first; {g} is the grade. Letters are ours, plain and explained beside every chart.
LETTERS: Mapping[str, tuple[str, str]] = {
    "extracted": ("XX", "extracted that day"),
    MISSING: ("X", "missing"),
    "gone": ("X", "not there"),
    "MTH-09": ("F!", "broken, pulp exposed"),
    RESORPTION: ("R{g}", "resorption"),
    PERIODONTAL: ("P{g}", "periodontal stage"),
    "MTH-06": ("M{g}", "loose"),
    FURCATION: ("U{g}", "furcation or bare root"),
    "MTH-08": ("F", "broken, pulp not exposed"),
    RETAINED: ("B", "baby tooth kept"),
    "MTH-03": ("G{g}", "gingivitis"),
    "MTH-02": ("C{g}", "calculus"),
    "MTH-10": ("D", "discoloured"),
    "MTH-11": ("W", "worn"),
    "MTH-14": ("T", "crowded, rotated or extra"),
    "other": ("+", "another finding, in words below"),
}
FIRST_IMPRESSION = "?"  # behind a stage that was seen awake


def letters_of(answer: LineAnswer) -> tuple[str, ...]:
    """The marks of one tooth, worst first: ("X",), ("P2?", "C1")."""
    found = {f.code: f for f in answer.findings}
    beside = {
        "extracted": bool(answer.charted.get("extracted")),
        "gone": answer.charted.get("present") == [] and MISSING not in found,
        "other": bool(set(found) - set(LETTERS)),
    }
    told = []
    for code, (letter, _words) in LETTERS.items():
        entry = found.get(code)
        if entry:
            told.append(letter.format(g=entry.grade) + (FIRST_IMPRESSION if entry.awake_estimate else ""))
        elif beside.get(code):
            told.append(letter)
    return tuple(told)
