"""Lumps charted on the wrong patient: taken off its map, put on the right one's with size and photographs.

A lump placed there today becomes a new lump here, with the next number this patient never had. A size taken
of a lump the wrong patient has had before is the size of the right one's lump at the same place, or begins a
new one there. That a lump is gone or was not looked at speaks of that patient's own lump and does not move.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import uuid4

from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.platform.registries import Movable
from clinic.visits.actions.urgency import note_urgency
from clinic.visits.errors import NotMoved
from clinic.visits.models import Record
from clinic.visits.movables import may_strike
from exams.applying import Batch, role_of
from exams.lump_places import Place
from exams.lump_rows import known_lumps
from exams.lump_today import GONE, MEASURED, MERGED, TARGET, LumpToday, axes_words
from exams.moving import begun
from exams.moving_photos import photos_at, put_photos
from exams.operations import Operation, apply, version_of
from exams.queries import Standing, standing, standing_of

SAID = {"": "placed, not measured", GONE: "gone", MERGED: "grown together"}


@dataclass(frozen=True)
class Charted:
    """One lump as the wrong patient's exam says it, and what it would be on the right one."""

    key: str
    lump: LumpToday
    place: Place
    there_key: str
    there_number: int
    is_new: bool


class ExamLumps:
    """What was said of lumps in one exam, offered for another."""

    name, order, title = "lumps", 21, "Lumps"

    def rows(self, record: Record, *, to: Record, actor: Actor, now: datetime) -> list[Movable]:
        today = timezone.localdate(now)
        here, there = _knowing(standing_of(record, today=today)), _knowing(standing_of(to, today=today))
        people = {
            str(s.pk): s
            for s in Staff.objects.filter(
                pk__in={int(n) for x in here.state.lumps.values() for n in (x.person, x.observed_by) if n}
            )
        }
        rows, fresh = [], 0
        for key, lump in _by_number(here):
            charted = _charted(key, lump, here, there, fresh)
            fresh += charted.is_new
            rows.append(_row(charted, there, actor, people, to.visit.patient))
        return rows

    def move(self, record: Record, keys: Sequence[str], *, to: Record, actor: Actor, now: datetime) -> None:
        here = standing(begun(record, actor, now))
        own = Batch(_knowing(here), actor=actor, by_grant=None, now=now)
        other = Batch(
            _knowing(standing(begun(to, actor, now)), held=True), actor=actor, by_grant=None, now=now
        )
        became = {}
        for key, lump in _by_number(here):
            if key not in keys:
                continue
            charted = _charted(key, lump, own.before, other.before, 0)
            for what, payload, more in _taps(charted, actor, record.visit.patient):
                _take(other, {**other.own(f"{TARGET}{charted.there_key}", what, payload), **more}, charted)
            _take(own, own.own(f"{TARGET}{key}", "clear", {"wrong_patient": to.visit.patient_id}), charted)
            became[f"{TARGET}{key}"] = f"{TARGET}{charted.there_key}"
        for batch in (own, other):
            batch.save()
            note_urgency(record=batch.exam.record, urgency=batch.after.urgency)
        put_photos(photos_at(record, became), became, to=to, actor=actor, now=now)


def _by_number(told: Standing) -> list[tuple[str, LumpToday]]:
    return sorted(told.state.lumps.items(), key=lambda each: each[1].number)


def _knowing(told: Standing, *, held: bool = False) -> Standing:
    """With the lumps of earlier exams. held: nobody numbers this patient's lumps meanwhile."""
    state = dataclasses.replace(told.state, known_lumps=known_lumps(told.exam.record, held=held))
    return dataclasses.replace(told, state=state)


def _charted(key: str, lump: LumpToday, here: Standing, there: Standing, fresh: int) -> Charted:
    known = here.state.known_lumps.by_id.get(key)
    place = lump.place or (known.place if known else None)
    assert place is not None, "a lump has its place"
    species = there.lines.animal.species
    # the drawings of both species have the same views, named for the species in front
    place = dataclasses.replace(place, drawing=f"{species}-{place.drawing.partition('-')[2]}")
    at_place = _there_already(place, there) if not lump.new else []
    if len(at_place) == 1:
        number = there.state.known_lumps.by_id[at_place[0]].number
        return Charted(key, lump, place, at_place[0], number, False)
    numbers = (there.state.known_lumps.last_number, *(x.number for x in there.state.lumps.values()))
    return Charted(key, lump, place, str(uuid4()), max(numbers) + 1 + fresh, True)


def _there_already(place: Place, there: Standing) -> list[str]:
    """Lumps of the right patient in the same region, on the same side, that are still there."""
    return [
        key
        for key, known in there.state.known_lumps.by_id.items()
        if not known.gone and (known.place.region, known.place.side) == (place.region, place.side)
    ]


def _row(
    charted: Charted, there: Standing, actor: Actor, people: dict[str, Staff], right: Patient
) -> Movable:
    lump = charted.lump
    enterer = people.get(lump.person, actor.staff)
    here = f"Lump {lump.number}, {charted.place.words}"
    stands = there.state.lumps.get(charted.there_key)
    hinder = may_strike(enterer, actor) or _hinder(charted, there, actor, right)
    number = charted.there_number
    becomes = (
        f"It becomes {right.name}’s new lump {number}."
        if charted.is_new
        else f"It becomes today’s size of {right.name}’s lump {number}, at the same place."
    )
    return Movable(
        key=charted.key,
        where=here,
        words=_words(lump),
        seen_by=people.get(lump.observed_by, enterer),
        there=_words(stands) if stands else "",
        hinder=hinder,
        asks="" if hinder else becomes,
    )


def _words(lump: LumpToday) -> str:
    looks = ", ".join(word for name, word in lump.looks.items() if name != "note")
    sample = f"sample: {lump.sample}" if lump.sample else ""
    said = axes_words(lump.axes_mm) or SAID.get(lump.said, "not looked at")
    return "; ".join(x for x in (said, looks, lump.looks.get("note", ""), sample) if x)


def _hinder(charted: Charted, there: Standing, actor: Actor, right: Patient) -> str:
    if not actor.may(Right.OBSERVE):
        return f"This needs the right “{Right.OBSERVE.value}”."
    lump = charted.lump
    if not lump.new and lump.said != MEASURED:
        return "It speaks of a lump this patient has had before: take it back there."
    if charted.is_new and not lump.new and len(_there_already(charted.place, there)) > 1:
        return f"{right.name} has several lumps at this place: measure the right one by hand."
    if not charted.is_new and charted.there_key in there.state.lumps:
        return "That lump is answered there already."
    state = there.state
    for what, payload, more in _taps(charted, actor, right):
        target = f"{TARGET}{charted.there_key}"
        op = Operation(
            key=f"asked-{what}",
            target=target,
            what=what,
            payload=payload,
            person=str(actor.staff.pk),
            role=role_of(actor),
            made_at=more.get("made_at", ""),
            walk_version=there.walk.sha256,
            follows=version_of(state, there.lines, target),
        )
        state, outcome = apply(state, op, there.walk, there.lines)
        if not outcome.accepted:
            return f"{outcome.words[:1].upper()}{outcome.words[1:]}"
    return ""


Tap = tuple[str, dict[str, Any], dict[str, Any]]


def _taps(charted: Charted, actor: Actor, wrong: Patient) -> Iterator[Tap]:
    """what, payload, and who saw it and when: the lump as it would have been tapped there."""
    lump, origin = charted.lump, {"first_entered_on": wrong.pk}
    who = lump.observed_by or lump.person
    more = {"made_at": lump.made_at, **({"observed_by": who} if who and who != str(actor.staff.pk) else {})}
    if charted.is_new:
        first = {"first_seen": lump.first_seen, "first_words": lump.first_words} if lump.first_seen else {}
        yield "lump_place", {**dataclasses.asdict(charted.place), **first, **origin}, more
    if lump.said == MEASURED:
        looks: dict[str, Any] = dict(lump.looks)
        if "surface" in looks:
            looks["surface"] = looks["surface"].split(", ")
        size = {"axes": list(lump.axes_mm), "method": lump.method, "looks": looks, "looked_twice": True}
        yield "lump_measure", {**size, **origin}, more
    if lump.sample:
        yield "lump_sample", {"method": lump.sample, **origin}, more


def _take(batch: Batch, data: dict[str, Any], charted: Charted) -> None:
    outcome = batch.take(data)
    if not outcome.accepted:
        where = f"Lump {charted.lump.number}"
        raise NotMoved(where, f"{outcome.words[:1].upper()}{outcome.words[1:]}")
