"""Every coded finding can be recorded in an animal that can have it, and be said in words."""

from exams.lines import Animal, applicable, finding_fits
from exams.sentences import WHAT_TO_DO, for_owner, for_record
from exams.state import shown, start
from tests.exams.walkhelp import found, tap, walk
from tests.for_each import for_each

ANIMALS = [
    Animal(species, sex, neutered=False, age_days=age)
    for age in (2000, 50)
    for species in ("dog", "cat")
    for sex in ("male", "female")
]
LINES = {a: applicable(walk(), a.species, a.sex, a.neutered, a.age_days) for a in ANIMALS}


def needed(finding, line):
    """The least that this finding cannot stand without."""
    more = {"qualifiers": {}}
    if finding.side_text.startswith("L/R") and line.side == "-" and not finding.whole_station:
        more["qualifiers"]["side"] = "left"
    if finding.grade_scale == "patella-4":
        more["qualifiers"]["medial / lateral"] = "medial"
    return more


def first_place(finding):
    animal = next(a for a in ANIMALS if not finding_fits(finding, a))
    lines = LINES[animal]
    offering = [x for x in lines if x.applies and finding.code in (*x.codes, *x.limits)]
    return lines, min(offering, key=lambda x: x.structure != finding.structures[0])


@for_each(walk().finding.values(), named=lambda f: f.code)
def test_it_can_be_recorded_and_said(finding) -> None:
    lines, line = first_place(finding)
    what = "set_not_examined" if finding.variant == "limit" else "set_abnormal"
    payload = {**found(finding.code, **needed(finding, line)), "sure": True}  # some are asked about first
    state, outcome = tap(start(), line.key, what, payload, lines)
    assert outcome.accepted, outcome.words
    answer = shown(state, lines, line.key)
    entry = answer.findings[0]
    said = for_owner(walk(), line, entry, pet="Pomfret", species=lines.animal.species)
    assert said.heading
    assert "your pet" not in said.text.lower()
    assert finding.name[3:].removesuffix(WHAT_TO_DO) in for_record(walk(), line, answer)


def test_a_finding_that_has_a_side_is_never_recorded_without_one() -> None:
    for finding in walk().finding.values():
        lines, line = first_place(finding)
        if finding.side_text == "L/R" and line.side == "-" and not finding.whole_station:
            fixed = walk().structure[line.structure].side_text in ("L", "R")
            _, outcome = tap(start(), line.key, "set_abnormal", found(finding.code), lines)
            assert outcome.accepted is fixed, (finding.code, line.key)
