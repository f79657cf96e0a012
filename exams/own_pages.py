"""The pages of the clinic's own walk as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404
from django.urls import reverse

from clinic.people.actor import Actor
from clinic.people.rights import Right
from exams.lines import applicable
from exams.own_models import WalkEdition, WalkProposal
from exams.own_order import ordered
from exams.own_walk import CannotChange, Changes, home_of, offered_at, with_change
from exams.own_words import (
    SIDES,
    URGENCY,
    Difference,
    asked_words,
    change_words,
    differences,
    effect_words,
    finding_facts,
    line_name,
    species_words,
)
from exams.sentences import for_owner
from exams.state import FindingEntry
from exams.versions import InForce, in_force, published
from exams.walk import FindingCode, Structure, Walk
from exams.walk_texts import is_a_test

SHOWN_EDITIONS = 200


@dataclass(frozen=True)
class LineRow:
    code: str
    name: str
    asked: str
    findings: int
    differs: tuple[str, ...]
    twin: str
    species: str
    url: str


@dataclass(frozen=True)
class StationBlock:
    code: str
    title: str
    lines: tuple[LineRow, ...]


@dataclass(frozen=True)
class StationLink:
    code: str
    short: str
    differs: int
    current: bool


@dataclass(frozen=True)
class ProposalRow:
    words: str
    why: str
    by: str
    at: datetime
    url: str


@dataclass(frozen=True)
class WalkPage:
    stations: tuple[StationLink, ...]
    blocks: tuple[StationBlock, ...]
    differs: tuple[tuple[Difference, str], ...]
    proposals: tuple[ProposalRow, ...]
    edition: int
    query: str
    trouble: str
    may_propose: bool


def walk_page(*, query: str, at: str, actor: Actor) -> WalkPage:
    """One station's lines, or every line and finding that the words are found in. Two queries."""
    force = in_force()
    walk, told = force.walk, differences(published(), force.walk, force.changes)
    by_place = _by_place(walk, told)
    words = query.split()
    chosen = at if at in walk.station else walk.stations[0].code
    blocks = []
    for station in walk.stations:
        lines = [
            s for s in station.structures if (_found(walk, s, words) if words else station.code == chosen)
        ]
        if lines:
            blocks.append(
                StationBlock(station.code, station.title, tuple(_line_row(walk, s, by_place) for s in lines))
            )
    return WalkPage(
        stations=tuple(
            StationLink(
                s.code, s.short, sum(d.station == s.code for d in told), not words and s.code == chosen
            )
            for s in walk.stations
        ),
        blocks=tuple(blocks),
        differs=tuple((d, _url_of(walk, d)) for d in told),
        proposals=open_proposals(force),
        edition=force.edition,
        query=query,
        trouble=force.trouble,
        may_propose=actor.may(Right.PROPOSE_WALK),
    )


def _url_of(walk: Walk, d: Difference) -> str:
    return (
        reverse("walk-finding", args=[d.code]) if d.kind == "finding" else reverse("walk-line", args=[d.code])
    )


def _by_place(walk: Walk, told: tuple[Difference, ...]) -> dict[str, list[str]]:
    """The differences by the line where they show."""
    found: dict[str, list[str]] = {}
    for d in told:
        places = walk.finding[d.code].structures if d.kind == "finding" else (d.code,)
        words = f"{d.words}: {d.title}" if d.kind == "finding" else d.words
        for place in places:
            found.setdefault(place, []).append(words)
    return found


def _found(walk: Walk, s: Structure, words: list[str]) -> bool:
    texts = [s.name, s.code, walk.station[s.station].title]
    for code in offered_at(walk, s.code):
        f = walk.finding[code]
        texts += [f.name, f.code, f.owner_line, *f.spoken]
    return any(all(w.casefold() in text.casefold() for w in words) for text in texts)


def _line_row(walk: Walk, s: Structure, by_place: dict[str, list[str]]) -> LineRow:
    return LineRow(
        code=s.code,
        name=s.name,
        asked=asked_words(s),
        findings=len(offered_at(walk, s.code)),
        differs=tuple(by_place.get(s.code, ())),
        twin=line_name(walk, walk.structure[s.twin]) if s.twin else "",
        species="" if len(s.species) > 1 else f"{species_words(s.species)} only",
        url=reverse("walk-line", args=[s.code]),
    )


def open_proposals(force: InForce) -> tuple[ProposalRow, ...]:
    rows = WalkProposal.objects.filter(state=WalkProposal.State.OPEN).select_related("by")
    return tuple(
        ProposalRow(
            change_words(force.walk, row.change),
            row.why,
            row.by.full_name,
            row.at,
            reverse("walk-proposal", args=[row.pk]),
        )
        for row in rows
    )


# ---- One line


@dataclass(frozen=True)
class FindingRow:
    code: str
    name: str
    small: str
    owner_line: str
    own: bool
    url: str


@dataclass(frozen=True)
class LinePage:
    code: str
    name: str
    station: str
    station_code: str
    normal_means: str
    how_to_check: str
    asked: str
    asked_now: str
    effect: str
    published: str
    decided_at: tuple[str, str] | None
    is_test: bool
    measured: bool
    findings: tuple[FindingRow, ...]
    differs: tuple[str, ...]
    twins: tuple[str, ...]


def line_page(structure: str, order: tuple[str, ...] = ()) -> LinePage:
    """`order`: the findings as they were moved on the page, not asked for yet. One query. Raises Http404."""
    force = in_force()
    walk, s = force.walk, force.walk.structure.get(structure)
    if s is None:
        raise Http404
    usual = offered_at(walk, structure)
    codes = (*(c for c in order if c in usual), *(c for c in usual if c not in order))
    home = home_of(walk, structure)
    by_place = _by_place(walk, differences(published(), walk, force.changes))
    return LinePage(
        code=s.code,
        name=s.name,
        station=walk.station[s.station].short,
        station_code=s.station,
        normal_means=s.normal_means,
        how_to_check=s.how_to_check,
        asked=s.asked,
        asked_now=asked_words(s),
        effect=effect_words(s),
        published=asked_words(published().structure[structure]),
        decided_at=(line_name(walk, home), reverse("walk-line", args=[home.code])) if s.twin else None,
        is_test=is_a_test(s),
        measured=s.depth == "measured",
        findings=tuple(_finding_row(walk.finding[c]) for c in codes),
        differs=tuple(by_place.get(structure, ())),
        twins=tuple(line_name(walk, t) for t in walk.twins.get(structure, ())),
    )


def _finding_row(f: FindingCode) -> FindingRow:
    small = ", ".join(
        part
        for part in (
            f.code,
            URGENCY[f.urgency],
            "" if len(f.species) > 1 else f"{species_words(f.species)} only",
            "goes with normal" if f.variant else "",
        )
        if part
    )
    url = reverse("walk-finding", args=[f.code]) if f.own else ""
    return FindingRow(f.code, f.name, small, f.owner_line, f.own, url)


def own_finding_of(code: str) -> tuple[InForce, FindingCode]:
    """A finding of the clinic's own, also a retired one. Raises Http404."""
    force = in_force()
    found = force.changes.findings.get(code)
    if found is None:
        raise Http404
    return force, found


def station_of(walk: Walk, structure: str) -> tuple[str, list[tuple[str, str]]]:
    """The station's short name and its lines to choose from. Raises Http404."""
    s = walk.structure.get(structure)
    if s is None:
        raise Http404
    station = walk.station[s.station]
    return station.short, [(x.code, x.name) for x in station.structures]


# ---- One proposal


@dataclass(frozen=True)
class Preview:
    """What approving would do. `facts`: name, before, after; `orders`: the findings before and after."""

    facts: tuple[tuple[str, str, str], ...] = ()
    orders: tuple[tuple[str, ...], tuple[str, ...]] | None = None
    toggle: str = ""
    severity: tuple[str, ...] = ()
    letter: tuple[tuple[str, str, str], ...] = ()
    trouble: str = ""


@dataclass(frozen=True)
class ProposalPage:
    id: int
    words: str
    why: str
    by: str
    at: datetime
    state: str
    state_words: str
    decided: str
    preview: Preview
    may_approve: bool
    mine: bool
    edition: int


def access_proposal(proposal_id: int, *, actor: Actor) -> WalkProposal:
    """404 when there is none."""
    actor.require(Right.PROPOSE_WALK)
    found = WalkProposal.objects.select_related("by", "decided_by").filter(pk=proposal_id).first()
    if found is None:
        raise Http404
    return found


def proposal_page(row: WalkProposal, *, actor: Actor) -> ProposalPage:
    """Before and after. Two queries."""
    force = in_force()
    is_open = row.state == WalkProposal.State.OPEN
    edition = WalkEdition.objects.filter(proposal=row).values_list("number", "words").first()
    decided = ""
    if row.decided_by and row.decided_at:
        why = f": {row.decided_why}" if row.decided_why else ""
        decided = f"{row.get_state_display()} by {row.decided_by.full_name}{why}"
    return ProposalPage(
        id=row.pk,
        words=edition[1] if edition else change_words(force.walk, row.change),
        why=row.why,
        by=row.by.full_name,
        at=row.at,
        state=row.state,
        state_words=row.get_state_display(),
        decided=decided,
        preview=_preview(force, row.change) if is_open else Preview(),
        may_approve=is_open and actor.may(Right.APPROVE_WALK),
        mine=is_open and row.by_id == actor.staff.pk,
        edition=edition[0] if edition else 0,
    )


def _preview(force: InForce, change: dict[str, Any]) -> Preview:
    from exams.own_walk import composed_with

    try:
        changes = with_change(published(), force.changes, change)
    except CannotChange as error:
        return Preview(trouble=str(error))
    walk, kind = composed_with(published(), changes), change["kind"]
    if kind == "asked":
        return Preview(facts=_asked_facts(force.walk, walk, change["structure"]))
    if kind == "first":
        code = change["structure"]
        return Preview(orders=(_names(force.walk, code), _names(walk, code)))
    if kind == "finding":
        code = next(c for c in changes.findings if changes.findings[c] != force.changes.findings.get(c))
        before = force.changes.findings.get(code)
        was = dict(finding_facts(force.walk, before)) if before else {}
        f = changes.findings[code]
        return Preview(
            facts=tuple((name, was.get(name, ""), words) for name, words in finding_facts(walk, f)),
            toggle=f.name,
            severity=f.severity_words,
            letter=_in_the_letter(walk, f),
        )
    return Preview(facts=_undone(force.walk, walk, force.changes, changes))


def _asked_facts(before: Walk, after: Walk, structure: str) -> tuple[tuple[str, str, str], ...]:
    home = home_of(after, structure)
    lines = (home, *after.twins.get(home.code, ()))
    told = [(line_name(after, s), asked_words(before.structure[s.code]), asked_words(s)) for s in lines]
    was, now = before.structure[home.code], home
    return (*told, ("What that means", effect_words(was), effect_words(now)))


def _names(walk: Walk, code: str) -> tuple[str, ...]:
    return tuple(walk.finding[c].name for c in offered_at(walk, code))


def _undone(before: Walk, after: Walk, was: Changes, now: Changes) -> tuple[tuple[str, str, str], ...]:
    """What stood, line by line, and what stands after it."""
    then = {(d.kind, d.code): d for d in differences(published(), after, now)}
    return tuple(
        (
            f"{before.station[d.station].short}: {d.title}",
            d.words,
            then[d.kind, d.code].words if (d.kind, d.code) in then else "as published",
        )
        for d in differences(published(), before, was)
        if then.get((d.kind, d.code)) != d
    )


def _in_the_letter(walk: Walk, f: FindingCode) -> tuple[tuple[str, str, str], ...]:
    """How the letter of an invented dog and cat would say it: species, heading, text."""
    found = []
    for species, pet in (("dog", "Pomfret"), ("cat", "Quill")):
        lines = applicable(walk, species)
        line = next(
            (x for x in lines if f.code in x.codes and x.applies and x.structure in f.structures), None
        )
        if line:
            side = {"side": "left"} if line.side == "-" and f.side_text != "none" else {}
            said = for_owner(walk, line, FindingEntry(f.code, qualifiers=side), pet=pet, species=species)
            found.append((species, said.heading, said.text))
    return tuple(found)


# ---- Editions


@dataclass(frozen=True)
class EditionRow:
    number: int
    words: str
    why: str
    asked_by: str
    by: str
    at: datetime
    version: str
    current: bool
    url: str


def edition_rows() -> tuple[EditionRow, ...]:
    """Newest first. One query."""
    rows = WalkEdition.objects.select_related("by", "proposal__by").defer("changes")[:SHOWN_EDITIONS]
    return tuple(
        EditionRow(
            row.number,
            row.words,
            row.proposal.why,
            row.proposal.by.full_name,
            row.by.full_name,
            row.at,
            row.version_id[:12],
            n == 0,
            reverse("walk-proposal", args=[row.proposal_id]),
        )
        for n, row in enumerate(rows)
    )


# ---- One's own order of the stations


def own_order(actor: Actor) -> tuple[str, ...]:
    """The stations as this person walks them."""
    return ordered([s.code for s in published().stations], actor.staff.station_order)


def order_rows(order: tuple[str, ...]) -> list[tuple[str, str, bool]]:
    """Code, name, and whether it stands where the published walk has it."""
    codes = [s.code for s in published().stations]
    return [(c, published().station[c].short, codes.index(c) == n) for n, c in enumerate(order)]


SIDE_CHOICES = tuple(SIDES.items())
URGENCY_CHOICES = tuple((k, f"{v} ({k})") for k, v in URGENCY.items())
