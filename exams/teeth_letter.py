"""The teeth in a letter: our chart with numbers at the teeth that are not as they should be, and a table."""

from __future__ import annotations

from clinic.letters.document import Figure, Figures, Section, Sentence, Table
from exams.consciousness import AWAKE, spoken
from exams.lines import Line
from exams.queries import Standing
from exams.state import NOT_APPLICABLE, FindingEntry, LineAnswer
from exams.state import standing as line_standing
from exams.teeth import tooth
from exams.teeth_pages import Drawing, ToothMark, chart_svg, drawing_of, marks_of
from exams.tooth_chart import LETTERS, MISSING, PERIODONTAL, RETAINED, TEETH

FIRST_IMPRESSION = "This is a first impression; the teeth are staged under an anaesthetic."
# how the table says a finding; the walk says it in full
OWNER = {
    MISSING: "missing",
    "MTH-09": "broken, the nerve is open",
    "MTH-08": "chipped or broken, the nerve is not open",
    "MTH-15": "perhaps a defect where tooth and gum meet",
    "MTH-06": "loose",
    "MTH-04": "the root shows",
    RETAINED: "a baby tooth that did not fall out",
    "MTH-03": "the gum is inflamed",
    "MTH-02": "tartar",
    "MTH-10": "changed in colour",
    "MTH-11": "worn down",
    "MTH-14": "crowded, turned or extra",
}
NAMED = 3  # so many teeth are named in words; more by their numbers


def heading(numbers: list[int], species: str) -> str:
    """Of one tooth or of several with the same finding: "Teeth 108, 208 and 309"."""
    if len(numbers) == 1:
        return f"Tooth {numbers[0]} ({tooth(species, numbers[0]).name})"
    return f"Teeth {', '.join(map(str, numbers[:-1]))} and {numbers[-1]}"


def place(limited: int, lines: int) -> str:
    """Teeth not examined, or seen in part: all of them or some."""
    return "teeth" if limited == lines else "some teeth"


def teeth_section(standing: Standing) -> Section | None:
    """Nothing while every tooth that was looked at is as it should be."""
    lines, state = standing.lines, standing.state
    told: dict[str, list[tuple[Line, LineAnswer]]] = {}
    for line in lines.at(TEETH):
        word, answer = line_standing(state, lines, line.key)
        words = _words(answer) if answer and word != NOT_APPLICABLE else ""
        if answer and words:
            told.setdefault(words, []).append((line, answer))
    if not told:
        return None
    species = lines.animal.species
    marks = {m.number: m for m in marks_of(lines, state)}
    numbers: dict[int, str] = {}
    rows, said = [], []
    for words, here in told.items():
        teeth = [int(line.side) for line, _answer in here]
        for number in teeth:
            numbers[number] = str(len(numbers) + 1)
        names = _names(teeth, species)
        at = ", ".join(numbers[n] for n in teeth)
        key, by = f"teeth:{teeth[0]}", here[0][1].person
        rows.append(
            (
                Sentence(f"{key}:at", at, "the exam", strong=True),
                Sentence(f"{key}:tooth", names, "the exam"),
                Sentence(f"{key}:words", words, "the exam", words, by=standing.names.get(by, "")),
            )
        )
        said.append(f"{at}: {names}, {words}")
    own = drawing_of(lines.animal)
    figure = _figure(own, marks, numbers, f"Tooth chart of a {species}. {'; '.join(said)}.")
    log = standing.state.awake_log
    first = any(f.awake_estimate for x in told.values() for _line, a in x for f in a.findings)
    looked = f"Looked at {spoken(log) if log else AWAKE}."
    sentences = [Sentence("teeth:state", looked, "the exam", looked)]
    if first:
        sentences.append(Sentence("teeth:first", FIRST_IMPRESSION, "the exam", "provisional"))
    if any(m.gone for m in marks.values()):
        sentences.append(Sentence("teeth:how", "A dashed tooth is not there.", "the chart"))
    table = Table(tuple(rows), head=("No.", "Tooth", "What we found"))
    return Section("teeth", "Teeth", 35, (Figures((figure,), table=table, sentences=tuple(sentences)),))


def _figure(own: Drawing, marks: dict[int, ToothMark], numbers: dict[int, str], alt: str) -> Figure:
    shown = [
        ToothMark(m.number, m.state, (numbers[m.number],) if m.number in numbers else (), m.gone)
        for m in marks.values()
        if m.number in numbers or m.gone
    ]
    return Figure(svg=chart_svg(own, shown, alt=alt, paper=True), alt=alt, shape="wide")


def _names(teeth: list[int], species: str) -> str:
    if len(teeth) > NAMED:
        return ", ".join(map(str, teeth))
    names = "; ".join(f"{tooth(species, n).name} ({n})" for n in teeth)
    return names[:1].upper() + names[1:]


def _words(answer: LineAnswer) -> str:
    """What is not as it should be on one tooth, worst first; empty: nothing is."""
    found = {f.code: f for f in answer.findings}
    said = ["taken out"] if answer.charted.get("extracted") else []
    for code in LETTERS:
        if code in found:
            said.append(_finding(found[code]))
    if answer.charted.get("present") == [] and MISSING not in found:
        said.append("not there")
    if set(found) - set(LETTERS):
        said.append("see above")
    return ", ".join(said)


def _finding(entry: FindingEntry) -> str:
    if entry.code != PERIODONTAL:
        return OWNER[entry.code]
    stage = f"gum disease, stage {entry.grade} of 4" if entry.grade else "gum disease"
    return f"{stage} (first impression)" if entry.awake_estimate else stage
