"""The exam in one look: what is abnormal, what became of it since last time, what nobody examined and why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse
from django.utils import timezone

from clinic.people.actor import Actor
from clinic.visits.models import Record
from exams import changes as since
from exams.changes import Change, changes
from exams.models import Exam, Finding
from exams.queries import SPARED, Standing, standing_of
from exams.rows import answer_of
from exams.sentences import finding_words, reason_words
from exams.state import NOT_EXAMINED, NOT_YET, LineAnswer
from exams.state import standing as line_standing
from exams.urgency import WORDS

SHAPES = {
    since.WORSE: ("high", "look"),
    since.NEW: ("abnormal", "look"),
    since.CHANGED: ("part", "look"),
    since.SAME: ("begun", "unseen"),
    since.BETTER: ("low", "normal"),
    since.GONE: ("normal", "normal"),
    since.UNSEEN: ("unseen", "unseen"),
}
ORDER = tuple(SHAPES)
LEFT_OUT = 8  # names in one sentence
LOOKED_BACK = 20  # exams among which the last full walk is looked for


@dataclass(frozen=True)
class Row:
    """One finding with what became of it. `was`: the earlier words, where they differ."""

    where: str
    words: str
    how: str
    shape: str
    tone: str
    was: str
    urgency: str
    station_url: str
    history_url: str


@dataclass(frozen=True)
class Unseen:
    """Places not examined, or seen in part, joined by the reason."""

    words: str
    why: str


@dataclass(frozen=True)
class Summary:
    """`last_on`: the day of the exam compared with, None when there is none. `begun`: something was seen."""

    rows: tuple[Row, ...]
    past: tuple[Row, ...]
    unseen: tuple[Unseen, ...]
    not_yet: str
    last_on: date | None
    counts: tuple[str, ...]
    begun: bool


def summary(record: Record, *, today: date) -> Summary:
    """Of an open or a signed record. Three queries."""
    told = standing_of(record, today=today)
    last_on, before = answers_before(record)
    found = changes(before, told.state, told.walk, told.lines)
    rows = [_row(change, told, record) for change in found]
    ranked = sorted(rows, key=lambda row: ORDER.index(row.how))
    still = tuple(row for row in ranked if row.how not in (since.GONE, since.UNSEEN))
    return Summary(
        rows=still,
        past=tuple(row for row in ranked if row.how in (since.GONE, since.UNSEEN)),
        unseen=tuple(_unseen(told)),
        not_yet=_not_yet(told),
        last_on=last_on,
        counts=tuple(f"{n} {how}" for how in ORDER if (n := sum(row.how == how for row in rows)) and last_on),
        begun=any(a.status != NOT_EXAMINED for a in told.state.answers.values()),
    )


def answers_before(record: Record) -> tuple[date | None, dict[str, LineAnswer] | None]:
    """What each line said when it was last looked at: the newest signed exam's answers, then those of the
    newest full walk before it for the lines that the newer one left out. Two queries."""
    signed = (
        Exam.objects.filter(
            record__visit__patient=record.visit.patient_id,
            record__signed_at__isnull=False,
            record__opened_at__lt=record.opened_at,
        )
        .select_related("record")
        .order_by("-record__opened_at")
    )
    exams = list(signed[:LOOKED_BACK])
    if not exams:
        return None, None
    wanted = exams[:1]
    if wanted[0].kind != Exam.Kind.FULL:
        wanted += [exam for exam in exams[1:] if exam.kind == Exam.Kind.FULL][:1]
    rows = Finding.objects.filter(exam__in=wanted).exclude(status="not-examined", reason__in=SPARED)
    by_exam: dict[int, dict[str, LineAnswer]] = {}
    for row in rows:
        by_exam.setdefault(row.exam_id, {})[row.line] = answer_of(row)
    told: dict[str, LineAnswer] = {}
    for exam in reversed(wanted):
        told |= by_exam.get(exam.pk, {})
    return timezone.localdate(exams[0].record.opened_at), told


def _row(change: Change, told: Standing, record: Record) -> Row:
    line = change.line
    now, before = _words(change, told, now=True), _words(change, told, now=False)
    shape, tone = SHAPES[change.how]
    patient = record.visit.patient_id
    letter = next(
        (j.urgency.letter for j in told.judged if j.line in line.stored_at and j.entry.code == change.code),
        "",
    )
    return Row(
        where=f"{line.name}, {line.side_words}" if line.side_words else line.name,
        words=now or before,
        how=change.how,
        shape=shape,
        tone=tone,
        was=before if now and before and before != now else "",
        urgency=WORDS.get(letter, "") if change.now else "",
        station_url=f"{reverse('visit-exam', args=[record.visit_id])}#{line.station}",
        history_url=reverse("structure-history", args=[patient, line.structure]),
    )


def _words(change: Change, told: Standing, *, now: bool) -> str:
    entry, value = (change.now, change.value_now) if now else (change.before, change.value_before)
    if entry is None:
        return "" if change.code else value
    known = entry.code in told.walk.finding  # a later walk may have retired it
    words = finding_words(told.walk, entry) if known else entry.code
    return f"{value}: {words}" if value else words


def _unseen(told: Standing) -> Iterable[Unseen]:
    """By reason; whole stations by their name."""
    groups: dict[tuple[bool, str], list[str]] = {}
    for station in told.walk.stations:
        own = [x for x in told.lines.at(station.code) if x.applies and not x.whole_station and not x.hidden]
        stands = [(x, line_standing(told.state, told.lines, x.key)[1]) for x in own]
        left = [(x, a) for x, a in stands if a and (a.status == NOT_EXAMINED or a.in_part)]
        whole = (
            len(left) == len(stands) and len({(a.in_part, a.reason, a.reason_words) for _x, a in left}) == 1
        )
        for line, answer in left:
            if answer.reason == "not-needed" and line.asked != "every":
                continue
            named = groups.setdefault(
                (answer.in_part, reason_words(told.walk, answer) or "no reason yet"), []
            )
            name = station.short if whole else line.name.partition(" (")[0]
            if name not in named:
                named.append(name)
    for (part, why), names in groups.items():
        yield Unseen(f"{_joined(names)}: {'seen in part' if part else 'not examined'}", why)


def _not_yet(told: Standing) -> str:
    """Stations with routine lines that nobody answered."""
    kind_leaves_out = told.state.kind != Exam.Kind.FULL
    open_at = [
        station.short
        for station in told.walk.stations
        if any(
            x.asked == "every" and x.applies and line_standing(told.state, told.lines, x.key)[0] == NOT_YET
            for x in told.lines.at(station.code)
            if not x.hidden and not x.whole_station
        )
    ]
    return "" if kind_leaves_out or not open_at else _joined(open_at)


def _joined(names: list[str]) -> str:
    more = f" and {len(names) - LEFT_OUT} more" if len(names) > LEFT_OUT else ""
    words = [names[0], *(n if n[:2].isupper() else n[:1].lower() + n[1:] for n in names[1:LEFT_OUT])]
    return ", ".join(words) + more


class ExamSummary:
    """The exam in one look, on the plan and beside the signature."""

    name, order, title, template = "exam", 10, "The exam in short", "exams/summary_part.html"

    def context(self, record: Record, *, actor: Actor, today: date) -> dict[str, Any]:
        return {"told": summary(record, today=today)}
