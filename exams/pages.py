"""The exam page as plain values: what the server draws first, and what the page's script is given."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from django.templatetags.static import static
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from clinic.care.panels import ProblemRow, problems_by_station
from clinic.patients.units import METRIC, Units
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.measures import units_of
from clinic.visits.intake import clinicians
from clinic.visits.models import Visit
from exams.applying import role_of
from exams.credit import credited
from exams.digest import StationDigest
from exams.guards import SHARED_QUALIFIERS
from exams.lines import Animal, Line
from exams.live import live_json
from exams.lump_pages import lumps_json
from exams.models import Finding
from exams.own_order import ordered
from exams.photos import Photo, photo_json, photos_of
from exams.prompts import prompts_json
from exams.queries import Earlier, Standing, last_exams
from exams.readings import KIND_OF, as_read
from exams.rows import answer_of
from exams.sentences import for_record
from exams.state import ABNORMAL, LIMB_ABSENT, LineAnswer
from exams.talk_pages import talk_json
from exams.teeth_pages import teeth_json
from exams.versions import lines_of, walk_of
from exams.walk import Station
from exams.wire import packed, walk_json


@dataclass(frozen=True)
class StationRow:
    """One station in the rail and on the walk."""

    code: str
    title: str
    short: str
    intro: str
    shape: str
    words: str
    flagged: bool
    problems: tuple[ProblemRow, ...] = ()


@dataclass(frozen=True)
class ExamPage:
    stations: tuple[StationRow, ...]
    left: int
    structures: int
    came_for: str
    last_on: date | None
    kind: str
    kind_reason: str
    data: dict[str, Any]
    walk: SafeString


def exam_page(visit: Visit, standing: Standing, *, actor: Actor) -> ExamPage:
    """An open exam. A fixed number of queries."""
    before = last_exams(visit.record)
    told = {s.code: s for s in standing.digest.stations}
    problems = problems_by_station(visit.patient)
    return ExamPage(
        stations=tuple(
            station_row(standing.walk.station[code], told[code], problems.get(code, ()))
            for code in walked_order(standing, actor)
        ),
        left=structures_left(standing),
        structures=len({x.structure for x in standing.lines if x.applies and not x.whole_station}),
        came_for=visit.owners_words or visit.booked_for,
        last_on=before[0].on if before else None,
        kind=standing.state.kind,
        kind_reason=standing.state.kind_reason,
        data=page_json(visit, standing, before, actor=actor),
        walk=mark_safe(walk_script(standing.exam.walk_id, standing.lines.animal)),  # noqa: S308 - escaped there
    )


def station_row(station: Station, told: StationDigest, problems: tuple[ProblemRow, ...] = ()) -> StationRow:
    return StationRow(
        code=station.code,
        title=plain_title(station),
        short=station.short,
        intro=station.intro,
        shape=told.standing,
        words=station_words(told),
        flagged=bool(told.heads_ups_open),
        problems=problems,
    )


def plain_title(station: Station) -> str:
    """Without the reference's own remark: "Forelimb (complete once for LEFT ...)" is "Forelimbs"."""
    return station.short if station.per_side else station.title


def station_words(told: StationDigest) -> str:
    """What is left or what was found, in the rail's few words."""
    return {
        "new": f"{told.structures_left} to do",
        "begun": f"{told.structures_left} left",
        "abnormal": f"{told.abnormal} abnormal",
        "normal": f"{told.not_examined} not ex." if told.not_examined else "all normal",
        "unseen": f"{told.not_examined} not ex.",
    }[told.standing]


def structures_left(standing: Standing) -> int:
    """Structures that this exam still has to answer, each once."""
    return sum(s.structures_left for s in standing.digest.stations)


def page_json(
    visit: Visit, standing: Standing, before: tuple[Earlier, ...], *, actor: Actor
) -> dict[str, Any]:
    """What the page's script needs beside the walk: how it stands, who taps, where to send."""
    units = units_of(actor)
    return {
        "visit": visit.pk,
        "order": walked_order(standing, actor),
        "state": live_json(standing),
        "shared": SHARED_QUALIFIERS,
        "measures": KIND_OF,
        "species": standing.lines.animal.species,
        "last": last_json(before, units),
        "reads": {"C": units.temperature, "kg": units.weight},
        "was": sorted({row.line for each in before for row in each.findings if row.status == ABNORMAL}),
        "lumps": lumps_json(visit.record, standing.lines),
        "teeth": teeth_json(standing, before, patient=visit.patient_id),
        "photos": [photo_json(row) for row in photos_of(visit.patient)],
        "talk": talk_json(standing),
        "prompts": prompts_json(visit, standing, actor=actor),
        "me": me_json(actor),
        "clinicians": [{"staff": str(c.pk), "name": c.full_name} for c in clinicians()],
        "urls": {
            "send": reverse("exam-operations", args=[visit.pk]),
            "state": reverse("exam-state", args=[visit.pk]),
            "token": reverse("exam-token", args=[visit.pk]),
            "photos": reverse("exam-photos", args=[visit.pk]),
            "history": reverse("structure-history", args=[visit.patient_id, "STRUCTURE"]),
            "summary": reverse("exam-summary", args=[visit.pk]),
            "talk": reverse("exam-talk", args=[visit.pk]),
            "recording": reverse("exam-recording", args=[visit.pk]),
            "here": reverse("exam-here", args=[visit.pk]),
            "none": reverse("exam-none-there", args=[visit.pk]),
            "there": reverse("exam-there-is-one", args=[visit.pk]),
            "plan": reverse("visit-plan", args=[visit.pk]),
            "sign": reverse("visit-sign", args=[visit.pk]),
            "login": reverse("account_login"),
            "drawing-bcs-9": static(f"clinic/drawings/bcs-{standing.lines.animal.species}.svg"),
        },
    }


# as Django's json_script does, so that no text of the walk can end its own element
_ESCAPES = {ord(c): f"\\u{ord(c):04X}" for c in "<>&"}


@lru_cache(maxsize=32)
def walk_script(version: str, animal: Animal) -> str:
    """`walk_json` as the text of a script element: it is long, and the same for every animal of one kind."""
    plain = packed(walk_json(walk_of(version), lines_of(version, animal)))
    return json.dumps(plain, separators=(",", ":"), ensure_ascii=False).translate(_ESCAPES)


def walked_order(standing: Standing, actor: Actor) -> tuple[str, ...]:
    """The stations as whoever works on this tablet walks them."""
    return ordered([s.code for s in standing.walk.stations], actor.staff.station_order)


def me_json(actor: Actor) -> dict[str, Any]:
    """Whoever works on the tablet now, and what they may record."""
    return {
        "staff": str(actor.staff.pk),
        "name": actor.staff.full_name,
        "grant": str(actor.grant_id or ""),
        "role": role_of(actor),
        "observes": actor.may(Right.OBSERVE),
        "measures": actor.may(Right.MEASURE),
        "answers": actor.may(Right.ANSWER_HEADS_UP),
        "assesses": actor.may(Right.ASSESS),
    }


def last_json(exams: tuple[Earlier, ...], units: Units = METRIC) -> dict[str, str]:
    """What was not normal when each line was last looked at: day and words, by line."""
    lines: dict[str, str] = {}
    for before in reversed(exams):
        day = f"{before.on.day} {before.on:%b %Y}"
        for row in before.findings:
            if row.line in before.lines and not _gone_for_good(row):
                lines[row.line] = f"{day}: {earlier_words(before, row, units)}"
    return lines


def _gone_for_good(row: Finding) -> bool:
    """A limb found missing became a fact of the patient: the next visit knows, and is not warned again."""
    return bool(row.findings) and all(f["code"] in LIMB_ABSENT for f in row.findings)


def earlier_words(before: Earlier, row: Finding, units: Units = METRIC) -> str:
    """The record's words without the side, which the line gives."""
    line = before.lines[row.line]
    words = for_record(before.walk, line, answer_of(row), as_read(units))
    words = words.removesuffix("; spoken").removesuffix("; marked together")
    return words.removeprefix(f"{line.side_words}: ") if line.side_words else words


@dataclass(frozen=True)
class SignedLine:
    name: str
    words: str
    shape: str
    by: str


@dataclass(frozen=True)
class SignedStation:
    code: str
    title: str
    shape: str
    normal: str
    lines: tuple[SignedLine, ...]
    photos: tuple[Photo, ...] = ()


def signed_page(
    standing: Standing, names: dict[str, str], units: Units = METRIC
) -> tuple[SignedStation, ...]:
    """A signed exam as it was frozen: what was found line by line, what was normal in one sentence."""
    told = {s.code: s for s in standing.digest.stations}
    return tuple(_signed(standing, s, told[s.code], names, units) for s in standing.walk.stations)


def _signed(
    standing: Standing, station: Station, told: StationDigest, names: dict[str, str], units: Units
) -> SignedStation:
    own = [x for x in standing.lines.at(station.code) if x.applies]
    answered = [(x, a) for x in own if (a := standing.state.answers.get(x.stored_at[0]))]
    normal = [x for x, a in answered if _is_plain(a)]
    spared = [x for x, a in answered if a.status == "not-examined" and a.reason == "not-needed"]
    lines = tuple(
        SignedLine(
            x.name,
            for_record(standing.walk, x, a, as_read(units)),
            "part" if a.in_part else _shape(a.is_abnormal, a.status),
            credited(a, names),
        )
        for x, a in answered
        if x not in normal and x not in spared
    )
    together = any(a.together for x, a in answered if x in normal)
    spoken = any(a.spoken for x, a in answered if x in normal)
    how = " and ".join(w for w, so in (("marked together", together), ("spoken", spoken)) if so)
    said = [
        f"Normal: {_names(normal, own)}{f' (some {how})' if how else ''}." if normal else "",
        f"Not examined, not needed that day: {_names(spared, own)}." if spared else "",
    ]
    return SignedStation(
        station.code, plain_title(station), told.standing, " ".join(s for s in said if s), lines
    )


def _is_plain(answer: LineAnswer) -> bool:
    return answer.status == "normal" and not answer.findings and not answer.in_part


def _names(some: list[Line], own: list[Line]) -> str:
    """Structures by name; a side is said only where the other side reads otherwise."""
    words = []
    for structure in dict.fromkeys(x.structure for x in some):
        here = [x for x in some if x.structure == structure]
        whole = len(here) == sum(x.structure == structure for x in own)
        sides = ", ".join(x.side_words for x in here if x.side_words)
        words.append(here[0].name if whole or not sides else f"{here[0].name} ({sides})")
    return "; ".join(words)


def _shape(abnormal: bool, status: str) -> str:
    return "abnormal" if abnormal else {"not-examined": "unseen"}.get(status, "normal")
