"""What the exam plugs into the visit: its step, what is missing before signing, what the signature does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.urls import reverse
from django.utils import timezone

from clinic.care.queries import lines_covered
from clinic.care.sources import Matter, problem_sources
from clinic.patients.actions import add_lasting_fact
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.platform.registries import (
    Flag,
    HeadsUpPlace,
    Missing,
    StepState,
    call_back_sources,
    exports,
    heads_up_places,
    intake_panels,
    letter_parts,
    letter_texts,
    merges,
    offline_pages,
    patient_panels,
    record_panels,
    sign_checks,
    sign_steps,
    thing_words,
    today_flags,
    visit_steps,
    wrong_patient_parts,
)
from clinic.visits.models import Record, Visit
from exams.actions import begin_exam, confirm_and_keep
from exams.digest import Missing as Lacking
from exams.digest import missing_to_sign, not_measured
from exams.letter import ExamInLetter, ExamTexts
from exams.lines import Line
from exams.lump_call_backs import LumpsAgain, LumpWords
from exams.lump_plugs import ExportLumps, LumpPanel, LumpsAnswered, MoveLumps
from exams.models import Exam, Finding
from exams.moving import ExamLines
from exams.moving_lumps import ExamLumps
from exams.moving_photos import ExamPhotos
from exams.moving_talk import ExamTalk
from exams.offline import PAGE as OFFLINE_PAGE
from exams.own_plugs import register_own
from exams.pages import earlier_words, structures_left
from exams.queries import Standing, earlier, exams_of, standing_for_page, standing_of
from exams.scale_plugs import ScalesAtIntake
from exams.sentences import WHAT_TO_DO, finding_words
from exams.state import absences_today
from exams.summary import ExamSummary
from exams.talk_plugs import register_talk
from exams.tooth_chart import TEETH, teeth_out
from exams.versions import published

REGIONS = {
    "EYE": "head", "NOS": "head", "EAR": "head", "MTH": "head", "THR": "head", "NEK": "back", "SPN": "back",
    "HRT": "chest", "LUN": "chest", "ABD": "belly", "HER": "belly", "PER": "rear", "GUM": "rear",
    "FLB": "front-legs", "HLB": "hind-legs",
}  # fmt: skip
PAIRED = ("EYE", "EAR", "FLB", "HLB")
PER_STATION = "exam-routine"


class ExamStep:
    """The exam among the steps of a visit."""

    name, order, title = "exam", 20, "Exam"

    def url(self, visit: Visit) -> str:
        return reverse("visit-exam", args=[visit.pk])

    def asks(self, visit: Visit) -> Mapping[str, Any]:
        return {}  # an exam's state is reckoned from more than counts

    def state(self, visit: Visit, told: Mapping[str, Any]) -> StepState:
        standing = standing_for_page(visit.record, today=timezone.localdate())
        digest = standing.digest
        begun = any(a.operation for a in standing.state.answers.values())
        if visit.record.is_signed:
            abnormal = sum(s.abnormal for s in digest.stations)
            return (
                StepState("abnormal", f"{abnormal} abnormal") if abnormal else StepState("normal", "signed")
            )
        left = structures_left(standing)
        if not begun:
            return StepState("new", "not begun")
        if left and standing.state.kind != "focused":
            return StepState("begun", f"{left} left")
        abnormal = sum(s.abnormal for s in digest.stations)
        return (
            StepState("abnormal", f"{abnormal} abnormal") if abnormal else StepState("normal", "all answered")
        )


class ExamAnswered:
    """What the walk still waits for."""

    name, order = "exam", 15

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        if record.visit.kind in (Visit.Kind.TELEPHONE, Visit.Kind.TECHNICIAN):
            return []
        standing = standing_of(record, today=timezone.localdate())
        url = reverse("visit-exam", args=[record.visit_id])
        lacking = missing_to_sign(
            standing.state,
            standing.walk,
            standing.lines,
            facts=standing.facts,
            planned=_planned(record, standing),
        )
        found: list[Missing] = []
        for each in lacking:
            found += _missing(each, standing, url)
        if left := not_measured(standing.state, standing.lines):
            names = ", ".join(dict.fromkeys(x.name.partition(" (")[0] for x in left))
            sentence = f"Not measured: {names}. The letter calls none of it normal."
            at = f"{url}#{left[0].station}"
            found.append(Missing("exam-not-measured", sentence, at, blocks=False))
        return found


def _planned(record: Record, standing: Standing) -> set[str]:
    """Codes of findings on a line that something was planned for: every line that has the code is covered."""
    covered = lines_covered(record)
    on: dict[str, set[str]] = {}
    for each in standing.judged:
        on.setdefault(each.entry.code, set()).add(each.line)
    return {code for code, lines in on.items() if lines <= covered}


def _missing(each: Lacking, standing: Standing, url: str) -> list[Missing]:
    if each.kind == "heads-up":
        return []  # the visit's own check asks for them, where they can be answered
    if each.kind == "measured":
        return []  # weight and body condition likewise
    if each.kind == "routine":
        # what a visit was for is asked after, and never in the way: signing says what was left aside
        whole, some = (
            standing.state.kind == "full",
            standing.state.kind == "focused" and standing.state.stations,
        )
        return list(_by_station(each, standing, url, blocks=whole)) if whole or some else []
    if each.kind == "plan":
        return [_plan(code, standing, url) for code in each.where]
    if each.kind == "nothing-examined":
        return [Missing("exam-nothing", "Nothing was examined.", url)]
    sentence = f"{each.words[:1].upper()}{each.words[1:]}: {_places(each.where, standing)}."
    # the signer confirms a technician's grades by signing: counted, never in the way
    blocks = each.kind != "unconfirmed"
    return [Missing(f"exam-{each.kind}", sentence, f"{url}#{each.where[0].partition('.')[0]}", blocks=blocks)]


def _by_station(each: Lacking, standing: Standing, url: str, *, blocks: bool) -> Any:
    for station in standing.walk.stations:
        here = [standing.lines[k] for k in each.where if k.partition(".")[0] == station.code]
        names = list(dict.fromkeys(x.name.partition(" (")[0] for x in here))
        if names:
            more = f" and {len(names) - 4} more" if len(names) > 4 else ""
            yield Missing(
                f"{PER_STATION}:{station.code}",
                f"{station.short}{'' if blocks else ', chosen for this visit'}: {len(names)} not looked at "
                f"({', '.join(names[:4]).lower()}{more}).",
                f"{url}#{station.code}",
                blocks=blocks,
            )


def _places(keys: tuple[str, ...], standing: Standing) -> str:
    names = [
        f"{x.name}, {x.side_words}" if x.side_words else x.name
        for x in (standing.lines[k] for k in keys if k in standing.lines)
    ]
    return "; ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")


def _plan(code: str, standing: Standing, url: str) -> Missing:
    lines = tuple(j.line for j in standing.judged if j.entry.code == code)
    name = standing.walk.finding[code].name.removesuffix(WHAT_TO_DO)
    plan = url.replace("/exam/", "/plan/")
    return Missing(f"exam-plan:{code}", f"{name} ({_places(lines, standing)}) has no plan yet.", plan)


class KeepExam:
    """Before all else is signed: grades are confirmed, unopened stations get their reason, values stay."""

    name, order = "exam", 10

    def run(self, record: Record, *, actor: Actor, now: datetime) -> None:
        exam = Exam.objects.filter(record=record).first()
        if exam is None:
            if record.visit.kind in (Visit.Kind.TELEPHONE, Visit.Kind.FULL):
                return  # nobody examined; a full walk without a look is not signed at all
            exam = begin_exam(record=record, actor=actor, now=now)  # so that it says what was left out
        standing = confirm_and_keep(exam=exam, record=record, actor=actor, now=now)
        for absence in (*absences_today(standing.state), *teeth_out(standing.state.answers)):
            add_lasting_fact(
                patient=record.visit.patient, structure=absence.what, why=absence.words, actor=actor, now=now
            )


class FindingMatters:
    """Today's abnormal findings, each worth a problem, and what guards ask of the ears."""

    name, order = "exam", 10

    def matters(self, record: Record) -> list[Matter]:
        standing = standing_of(record, today=timezone.localdate())
        ranked = sorted(standing.judged, key=lambda j: -"MRTE".index(j.urgency.letter))
        by_line: dict[str, list[Any]] = {}
        for each in ranked:
            if not each.entry.variant and standing.state.answers[each.line].status != "not-examined":
                by_line.setdefault(each.line, []).append(each)
        found = []
        for key, here in by_line.items():
            if key not in standing.lines:
                continue
            line = standing.lines[key]
            words = "; ".join(finding_words(standing.walk, j.entry) for j in here)
            where = f"{line.name}, {line.side_words}" if line.side_words else line.name
            name = standing.walk.finding[here[0].entry.code].name.removesuffix(WHAT_TO_DO)
            title = f"{name}, {line.side_words}" if line.side_words else name
            found.append(
                Matter((key,), line.station, title[:160], here[0].urgency.letter, f"{where}: {words}")
            )
        return found

    def facts(self, record: Record) -> Mapping[str, Any]:
        """An ear drum counts as seen whole only when it was called normal and not in part."""
        keys = {side: f"EAR.tympanum|{side}" for side in ("left", "right")}
        whole = set(
            Finding.objects.filter(
                exam__record=record, line__in=keys.values(), status="normal", in_part=False
            ).values_list("line", flat=True)
        )
        return {"ear-drum-seen-whole": {side: key in whole for side, key in keys.items()}}


class UrgentToday:
    """E and T beside a visit on Today."""

    name, order = "exam", 20

    def flags(self, visits: list[Visit], *, today: date) -> dict[int, list[Flag]]:
        rows = Record.objects.filter(visit__in=visits, urgency__in=("T", "E")).values_list(
            "visit_id", "urgency"
        )
        words = {"E": Flag("danger", "emergency found"), "T": Flag("abnormal", "to treat soon")}
        return {visit: [words[letter]] for visit, letter in rows}


@dataclass(frozen=True)
class LastRow:
    station: str
    name: str
    words: str
    shape: str
    url: str


class LastExam:
    """On the patient's page: what was abnormal at the last exam, and what was not examined."""

    name, order = "last-exam", 30
    template, column, title = "exams/panel_last.html", "main", "Last exam"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        newest = next(iter(exams_of(patient, limit=1)), None)
        if newest is None:
            return {"on": None, "rows": []}
        before = earlier(newest)
        order = {line.key: n for n, line in enumerate(before.lines)}
        rows = [
            LastRow(
                station=before.walk.station[row.station].short,
                name=f"{line.name}, {line.side_words}" if line.side_words else line.name,
                words=earlier_words(before, row),
                shape="unseen" if row.status == "not-examined" else "abnormal",
                url=reverse("structure-history", args=[patient.pk, one_of(line)]),
            )
            for row in sorted(before.findings, key=lambda r: order.get(r.line, 0))
            if row.line in before.lines and (line := before.lines[row.line]) and _worth(row)
        ]
        url = reverse("visit-exam", args=[newest.record.visit_id])
        return {"on": before.on, "url": url, "rows": rows}


def one_of(line: Line) -> str:
    """What a line's history is asked by: one tooth by itself, everything else with its other sides."""
    return line.key if line.structure == TEETH else line.structure


def _worth(row: Finding) -> bool:
    """Not what nobody needed that day, nor a value inside its interval."""
    if row.status == "not-examined":
        return row.reason != "not-needed"
    return row.status == "abnormal" or row.in_part or (row.status == "measured" and bool(row.findings))


class ExportFindings:
    """Every finding of a patient, a row each."""

    name, order = "findings", 30

    def rows(self, patient: Patient) -> list[dict[str, Any]]:
        found = Finding.objects.filter(record__visit__patient=patient).select_related("record", "person")
        return [
            {
                "on": row.record.opened_at.date().isoformat(),
                "line": row.line,
                "status": row.status,
                "findings": row.findings,
                "in_part": row.in_part,
                "reason": row.reason_words or row.reason,
                "value": row.value,
                "unit": row.unit,
                "by": row.person.full_name,
            }
            for row in found.order_by("record__opened_at", "line")
        ]


def register() -> None:
    """Called once, when the app is ready."""
    visit_steps.add(ExamStep())
    sign_checks.add(ExamAnswered())
    sign_checks.add(LumpsAnswered())
    sign_steps.add(KeepExam())
    letter_parts.add(ExamInLetter())
    letter_texts.add(ExamTexts())
    problem_sources.add(FindingMatters())
    today_flags.add(UrgentToday())
    intake_panels.add(ScalesAtIntake())
    patient_panels.add(LastExam())
    patient_panels.add(LumpPanel())
    call_back_sources.add(LumpsAgain())
    thing_words.add(LumpWords())
    merges.add(MoveLumps())
    exports.add(ExportFindings())
    exports.add(ExportLumps())
    wrong_patient_parts.add(ExamLines())
    wrong_patient_parts.add(ExamLumps())
    wrong_patient_parts.add(ExamPhotos())
    wrong_patient_parts.add(ExamTalk())
    record_panels.add(ExamSummary())
    offline_pages.add(OFFLINE_PAGE)
    register_own()
    register_talk()
    for station in published().stations:
        region = REGIONS.get(station.code, "all-over")
        heads_up_places.add(
            HeadsUpPlace(station.code, station.order, station.short, region, station.code in PAIRED)
        )
