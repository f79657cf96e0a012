"""The teeth in a letter: our chart with numbers at the teeth that are not as they should be, and a table."""

from __future__ import annotations

from collections.abc import Sequence

from clinic.letters.document import Figure, Figures, Section, Sentence, Table
from clinic.letters.texts import SOURCE, Texts
from clinic.letters.wording import capital, listed, words
from exams.consciousness import AWAKE
from exams.lines import Line
from exams.owner_texts import ROOM, texts_of
from exams.queries import Standing
from exams.sentences import tooth_heading, tooth_name
from exams.state import NOT_APPLICABLE, FindingEntry, LineAnswer, Since
from exams.state import standing as line_standing
from exams.teeth_pages import (
    PAPER_TYPE,
    SMALL_CHART_TYPE,
    Drawing,
    ToothMark,
    chart_svg,
    drawing_of,
    marks_of,
)
from exams.tooth_chart import LETTERS, MISSING, PERIODONTAL, TEETH

ENGLISH = ROOM(SOURCE)
BESIDE = 6  # so many marked teeth leave their numbers room on a chart beside its table
NAMED = 3  # so many teeth are named in words; more by their numbers


def heading(numbers: list[int], species: str, t: Texts = ENGLISH) -> str:
    """Of one tooth or of several with the same finding: "Teeth 108, 208 and 309"."""
    if len(numbers) == 1:
        return tooth_heading(t, numbers[0], species)
    return t("tooth.several", numbers=listed([str(n) for n in numbers], words(t.language)))


def place(limited: int, lines: int, t: Texts = ENGLISH) -> str:
    """Teeth not examined, or seen in part: all of them or some."""
    return t("tooth.all" if limited == lines else "tooth.some")


def teeth_section(standing: Standing, language: str = SOURCE) -> Section | None:
    """Nothing while every tooth that was looked at is as it should be."""
    lines, state, t = standing.lines, standing.state, texts_of(standing.walk, language)
    told: dict[str, list[tuple[Line, LineAnswer]]] = {}
    for line in lines.at(TEETH):
        word, answer = line_standing(state, lines, line.key)
        what = _words(answer, t) if answer and word != NOT_APPLICABLE else ""
        if answer and what:
            told.setdefault(what, []).append((line, answer))
    if not told:
        return None
    species = lines.animal.species
    marks = {m.number: m for m in marks_of(lines, state)}
    numbers: dict[int, str] = {}
    rows, said = [], []
    for what, here in told.items():
        teeth = [int(line.side) for line, _answer in here]
        for number in teeth:
            numbers[number] = str(len(numbers) + 1)
        names = _names([_tooth_of(line, answer) for line, answer in here], species, t)
        at = ",\u00a0".join(numbers[n] for n in teeth)
        key, by = f"teeth:{teeth[0]}", here[0][1].person
        rows.append(
            (
                Sentence(f"{key}:at", at, "the exam", strong=True),
                Sentence(f"{key}:tooth", names, "the exam"),
                Sentence(f"{key}:words", what, "the exam", what, by=standing.names.get(by, "")),
            )
        )
        said.append(f"{at}: {names}, {what}")
    own = drawing_of(lines.animal)
    figure = _figure(own, marks, numbers, t(f"teeth.chart_{species}", said="; ".join(said)), t)
    log = standing.state.awake_log
    first = any(f.awake_estimate for x in told.values() for _line, a in x for f in a.findings)
    looked = _states(log, t) if log else t(f"teeth.{AWAKE}")
    sentences = [t.sentence("teeth:state", "teeth.looked", "the exam", looked, state=looked)]
    if first:
        sentences.append(t.sentence("teeth:first", "tooth.first_impression", "the exam", "provisional"))
    if any(m.gone for m in marks.values()):
        sentences.append(t.sentence("teeth:how", "teeth.dashed", "the chart"))
    table = Table(tuple(rows), head=tuple(t.listed("teeth.head")))
    return Section(
        "teeth", t("teeth.title"), 35, (Figures((figure,), table=table, sentences=tuple(sentences)),)
    )


def _figure(own: Drawing, marks: dict[int, ToothMark], numbers: dict[int, str], alt: str, t: Texts) -> Figure:
    shown = [
        ToothMark(m.number, m.state, (numbers[m.number],) if m.number in numbers else (), m.gone)
        for m in marks.values()
        if m.number in numbers or m.gone
    ]
    words_of_sides = (t("teeth.right"), t("teeth.left"))
    few = len(numbers) <= BESIDE
    type_ = SMALL_CHART_TYPE if few else PAPER_TYPE
    svg = chart_svg(own, shown, alt=alt, paper=type_, words=words_of_sides)
    return Figure(svg=svg, alt=alt, shape="chart" if few else "wide")


def _states(log: Sequence[Since], t: Texts) -> str:
    """awake, then anaesthetised (propofol): each state once, with what brought it."""
    said: list[Since] = []
    for each in log:
        if said and said[-1].state == each.state:
            said[-1] = each  # said again: with better words
        else:
            said.append(each)
    states = [_state(each, t) for each in said]
    told = states[0]
    for state in states[1:]:
        told = t("teeth.then", first=told, next=state)
    return told


def _state(each: Since, t: Texts) -> str:
    state = t(f"teeth.{each.state}")
    return t("teeth.with", state=state, what=t.own(each.by_what)) if each.by_what else state


def _names(teeth: list[int], species: str, t: Texts) -> str:
    if len(teeth) > NAMED:
        return ", ".join(map(str, teeth))
    return capital("; ".join(t("teeth.named", name=tooth_name(t, n, species), n=n) for n in teeth))


def _tooth_of(line: Line, answer: LineAnswer) -> int:
    """The tooth that is spoken of: at the place of a permanent one it may be the baby tooth that stayed."""
    spoken = {each.tooth for each in answer.findings}
    one = spoken.pop() if len(spoken) == 1 else None
    return one or int(line.side)


def _words(answer: LineAnswer, t: Texts) -> str:
    """What is not as it should be on one tooth, worst first; empty: nothing is."""
    found = {f.code: f for f in answer.findings}
    said = [t("teeth.taken_out")] if answer.charted.get("extracted") else []
    for code in LETTERS:
        if code in found:
            said.append(_finding(found[code], t))
    if answer.charted.get("present") == [] and MISSING not in found:
        said.append(t("teeth.not_there"))
    if set(found) - set(LETTERS):
        said.append(t("teeth.above"))
    return ", ".join(said)


def _finding(entry: FindingEntry, t: Texts) -> str:
    """How the table says it; the walk says it in full."""
    if entry.code != PERIODONTAL:
        return t(f"teeth.{entry.code}")
    stage = t("teeth.stage", n=entry.grade) if entry.grade else t("teeth.disease")
    return t("teeth.first", what=stage) if entry.awake_estimate else stage
