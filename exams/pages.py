"""The exam page as plain values: what the server draws first, and what the page's script is given."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Visit
from exams.applying import role_of
from exams.digest import StationDigest
from exams.guards import SHARED_QUALIFIERS
from exams.lines import Line
from exams.live import live_json
from exams.models import Finding
from exams.queries import Earlier, Standing, last_exams, pulse
from exams.readings import KIND_OF
from exams.rows import answer_of
from exams.sentences import for_record
from exams.state import LineAnswer
from exams.walk import Station
from exams.wire import walk_json


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


def exam_page(visit: Visit, standing: Standing, *, actor: Actor) -> ExamPage:
    """An open exam. A fixed number of queries."""
    before = last_exams(visit.record)
    told = {s.code: s for s in standing.digest.stations}
    return ExamPage(
        stations=tuple(station_row(s, told[s.code]) for s in standing.walk.stations),
        left=structures_left(standing),
        structures=len({x.structure for x in standing.lines if x.applies and not x.whole_station}),
        came_for=visit.owners_words or visit.booked_for,
        last_on=before[0].on if before else None,
        kind=standing.state.kind,
        kind_reason=standing.state.kind_reason,
        data=page_json(visit, standing, before, actor=actor),
    )


def station_row(station: Station, told: StationDigest) -> StationRow:
    return StationRow(
        code=station.code,
        title=plain_title(station),
        short=station.short,
        intro=station.intro,
        shape=told.standing,
        words=station_words(told),
        flagged=bool(told.heads_ups_open),
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
    """What the page's script needs: the walk of this animal, how it stands, who taps, where to send."""
    return {
        "visit": visit.pk,
        "walk": walk_json(standing.walk, standing.lines),
        "state": live_json(standing, pulse=pulse(visit.pk)),
        "shared": SHARED_QUALIFIERS,
        "measures": KIND_OF,
        "species": standing.lines.animal.species,
        "last": last_json(before),
        "me": me_json(actor),
        "urls": {
            "send": reverse("exam-operations", args=[visit.pk]),
            "state": reverse("exam-state", args=[visit.pk]),
            "token": reverse("exam-token", args=[visit.pk]),
            "none": reverse("exam-none-there", args=[visit.pk]),
            "plan": reverse("visit-plan", args=[visit.pk]),
            "sign": reverse("visit-sign", args=[visit.pk]),
            "login": reverse("account_login"),
        },
    }


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


def last_json(exams: tuple[Earlier, ...]) -> dict[str, str]:
    """What was not normal when each line was last looked at: day and words, by line."""
    lines: dict[str, str] = {}
    for before in reversed(exams):
        day = f"{before.on.day} {before.on:%b %Y}"
        for row in before.findings:
            if row.line in before.lines:
                lines[row.line] = f"{day}: {earlier_words(before, row)}"
    return lines


def earlier_words(before: Earlier, row: Finding) -> str:
    """The record's words without the side, which the line gives."""
    line = before.lines[row.line]
    words = for_record(before.walk, line, answer_of(row)).removesuffix("; marked together")
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


def signed_page(standing: Standing, names: dict[str, str]) -> tuple[SignedStation, ...]:
    """A signed exam as it was frozen: what was found line by line, what was normal in one sentence."""
    told = {s.code: s for s in standing.digest.stations}
    return tuple(_signed(standing, s, told[s.code], names) for s in standing.walk.stations)


def _signed(
    standing: Standing, station: Station, told: StationDigest, names: dict[str, str]
) -> SignedStation:
    own = [x for x in standing.lines.at(station.code) if x.applies]
    answered = [(x, a) for x in own if (a := standing.state.answers.get(x.stored_at[0]))]
    normal = [x for x, a in answered if _is_plain(a)]
    spared = [x for x, a in answered if a.status == "not-examined" and a.reason == "not-needed"]
    lines = tuple(
        SignedLine(
            x.name,
            for_record(standing.walk, x, a),
            "part" if a.in_part else _shape(a.is_abnormal, a.status),
            names.get(a.person, ""),
        )
        for x, a in answered
        if x not in normal and x not in spared
    )
    together = any(a.together for x, a in answered if x in normal)
    said = [
        f"Normal: {_names(normal, own)}{' (some marked together)' if together else ''}." if normal else "",
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
