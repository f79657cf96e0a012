"""The walk holds the exam's vocabulary to its depth: nothing of it is missing, blank or out of reach.

Source: exam_structures.csv and exam_findings.csv beside this file, the vocabulary as it was agreed on; all of
it common practice, no published source.
"""

import csv
from functools import cache
from pathlib import Path

import pytest

from clinic.letters.reading import reading
from exams.lines import Animal, applicable
from exams.walk_texts import NAMES_A_TEST
from exams.wire import walk_json
from tests.exams.walkhelp import walk
from tests.for_each import for_each

HERE = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


STRUCTURES, FINDINGS = rows("exam_structures"), rows("exam_findings")


@for_each(STRUCTURES, named=lambda r: r["code"])
def test_a_structure_stands_in_the_walk_field_by_field(row) -> None:
    s = walk().structure[row["code"]]
    plain = (
        "normal_means",
        "how_to_check",
        "sided",
        "depth",
        "asked",
        "value",
        "twin",
        "within",
        "applies_when",
    )
    assert {n: getattr(s, n) for n in plain} == {n: row[n] for n in plain}
    assert (s.name, s.side_text, s.applies_text) == (row["structure"], row["side"], row["applies"])
    assert (s.station, list(s.species)) == (row["station"], row["species"].split())


# a sentence of the vocabulary's is above the highest reading grade (clinic/letters/reading.py): said easier
EASED = frozenset({"HER-11", "HLB-26", "SKN-01", "VIT-01", "VIT-02", "VIT-09"})


@pytest.mark.parametrize("code", sorted(EASED))
def test_words_for_owners_differ_only_where_the_vocabulary_s_are_hard_to_read(code) -> None:
    (row,) = (each for each in FINDINGS if each["code"] == code)
    assert reading([row["owner_line"].replace("Your pet", "Ludo")]).hard
    assert not reading([walk().finding[code].owner_line.replace("Your pet", "Ludo")]).hard


@for_each(FINDINGS, named=lambda r: r["code"])
def test_a_finding_stands_in_the_walk_field_by_field(row) -> None:
    f = walk().finding[row["code"]]
    plain = ["urgency", "change_class_when", "variant", "grade_scale", "applies_when"]
    if f.code not in EASED:
        plain.append("owner_line")
    assert {n: getattr(f, n) for n in plain} == {n: row[n] for n in plain}
    assert (f.name, f.side_text, f.applies_text) == (row["finding"], row["side"], row["applies"])
    assert (f.station, f.rank) == (row["station"], int(row["rank"]))
    for name in ("structures", "grades", "severity_words", "species"):
        assert list(getattr(f, name)) == row[name].split(), name


@for_each(FINDINGS, named=lambda r: r["code"])
def test_a_finding_asks_at_least_what_the_vocabulary_asks(row) -> None:
    """The walk may ask more, and offer more answers."""
    asked = walk().finding[row["code"]].qualifiers
    for wanted in (q.strip() for q in row["qualifiers"].split(";")):
        assert wanted in ("", "-") or any(q.startswith(wanted) for q in asked), (wanted, asked)


def test_the_walk_has_nothing_beside_the_vocabulary() -> None:
    assert set(walk().structure) == {r["code"] for r in STRUCTURES}
    assert set(walk().finding) == {r["code"] for r in FINDINGS}


# ---- Within reach of somebody's finger

ANIMALS = [
    Animal(species, sex, neutered, days)
    for species in ("dog", "cat")
    for sex in ("male", "female")
    for neutered in (True, False)
    for days in (50, 150, 2000)
]


@cache
def page_of(animal: Animal):
    lines = applicable(walk(), animal.species, animal.sex, animal.neutered, animal.age_days)
    told = walk_json(walk(), lines)
    return [line for station in told["stations"] for line in station["lines"] if not line["absent"]]


def test_every_code_can_be_tapped_on_the_page_of_some_animal() -> None:
    offered = {c for animal in ANIMALS for line in page_of(animal) for c in (*line["codes"], *line["limits"])}
    assert set(walk().finding) - offered == set()


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_every_code_of_a_species_can_be_tapped_in_one_of_that_species(species) -> None:
    mine = [a for a in ANIMALS if a.species == species]
    offered = {c for animal in mine for line in page_of(animal) for c in (*line["codes"], *line["limits"])}
    theirs = {f.code for f in walk().finding.values() if species in f.species}
    assert theirs - offered == set()


def test_every_structure_is_a_line_of_some_animal() -> None:
    shown = {line["structure"] for animal in ANIMALS for line in page_of(animal)}
    assert set(walk().structure) - shown == set()


def test_no_animal_is_offered_what_it_cannot_have() -> None:
    for animal in ANIMALS:
        for line in page_of(animal):
            for code in (*line["codes"], *line["limits"]):
                assert animal.species in walk().finding[code].species, (animal, code)


@for_each(walk().finding)
def test_an_owner_can_be_told(code) -> None:
    assert walk().finding[code].owner_line.strip()


@pytest.mark.parametrize("station", walk().stations, ids=lambda s: s.code)
def test_a_station_says_how_it_is_looked_at(station) -> None:
    assert station.intro.endswith(".")
    assert all(s.how_to_check.strip() and s.normal_means.strip() for s in station.structures)


@pytest.mark.parametrize("animal", [Animal("dog", "male", True, 2000), Animal("cat", "female", False, 150)])
def test_nothing_that_one_tap_for_many_answers_speaks_of_a_test(animal) -> None:
    """What the page shows as normal beside a line that the station's tap fills."""
    for line in page_of(animal):
        if line["depth"] == "routine":
            assert not NAMES_A_TEST.search(line["normal_means"]), line["key"]


@pytest.mark.parametrize("words", ["No stain uptake", "Stable, no drawer", "Schirmer 15 mm", "15 to 25 mmHg"])
def test_the_rule_would_notice(words) -> None:
    assert NAMES_A_TEST.search(words)
