"""The walk's data keeps the rules of its vocabulary."""

import hashlib
import re
from collections import defaultdict

import pytest

from exams import walk as walk_module
from exams.urgency import holds
from exams.walk import WalkError, from_json, load_walk, to_json
from exams.walk_texts import NAMES_A_TEST, faults_of, owner_line_faults
from tests.exams.walkhelp import walk
from tests.for_each import for_each

STRUCTURES = [s for st in walk().stations for s in st.structures]
FINDINGS = [f for st in walk().stations for f in st.findings]
STRUCTURE, FINDING = walk().structure, walk().finding
SPLIT_OFF = {"EYE.tear-test", "EYE.stain", "BCM.score", "BCM.muscle-score", "HLB.ortolani", "HLB.drawer"}
WITHOUT_FINDING = {"FLB.axilla", "SKN.marks", "ABD.prostate", "LUN.percussion"}
MEASURED = [
    "VIT.weight",
    "VIT.temperature",
    "VIT.heart-rate",
    "VIT.pulse-rate",
    "VIT.respiratory-rate",
    "VIT.refill",
    "VIT.blood-pressure",
    "GEN.pain",
    "EYE.tear-test",
    "EYE.pressure",
    "BCM.score",
    "BCM.muscle-score",
    "BCM.growth",
    "HRT.rate",
]
SIDES_OF_TWINS = {("pair", "pair"), ("pair", "limb"), ("pair", "none")}


def test_it_has_every_station_structure_and_finding_once() -> None:
    assert (len(walk().stations), len(STRUCTURES), len(FINDINGS)) == (21, 183, 431)
    assert (len(STRUCTURE), len(FINDING)) == (183, 431)
    assert [s.order for s in walk().stations] == list(range(1, 22))
    assert len({(s.station, s.name) for s in STRUCTURES}) == 183


def test_no_code_and_no_name_is_changed_or_used_again() -> None:
    def address(items):
        return hashlib.sha256("\n".join(sorted(items)).encode()).hexdigest()[:16]

    assert address(f"{f.code}|{f.name}" for f in FINDINGS) == "ca2bc68c085ab242"
    assert (
        address(f"{s.station}|{s.name}" for s in STRUCTURES if s.code not in SPLIT_OFF) == "453dd0ae13cff2c0"
    )


def test_it_begins_with_the_measured_values_and_ends_with_the_nerves() -> None:
    assert [s.code for s in walk().stations][:5] == ["VIT", "GEN", "EYE", "NOS", "EAR"]
    assert walk().stations[-1].code == "NEU"


@for_each(STRUCTURES, named=lambda s: s.code)
def test_a_structure_keeps_its_rules(s) -> None:
    assert re.fullmatch(rf"{s.station}\.[a-z]+(-[a-z]+)*", s.code)
    assert s.normal_means
    assert s.how_to_check
    if s.depth == "measured":
        assert s.value
    else:
        assert not s.value
        assert s.asked == {"routine": "every", "indication": "called-for"}[s.depth]
    assert s.depth != "routine" or not NAMES_A_TEST.search(s.normal_means)


def test_exactly_these_lines_are_measured() -> None:
    assert {s.code for s in STRUCTURES if s.depth == "measured"} == set(MEASURED)


@pytest.mark.parametrize("s", [s for s in STRUCTURES if s.twin], ids=lambda s: s.code)
def test_a_twin_names_a_home_elsewhere_that_is_asked_the_same(s) -> None:
    home = STRUCTURE[s.twin]
    assert home.station != s.station
    assert not home.twin
    assert (home.depth, home.asked, home.value, home.species, home.applies_when) == (
        s.depth,
        s.asked,
        s.value,
        s.species,
        s.applies_when,
    )
    assert home.sided == "none" or (home.sided, s.sided) in SIDES_OF_TWINS


@pytest.mark.parametrize("s", [s for s in STRUCTURES if s.within], ids=lambda s: s.code)
def test_a_further_test_stands_within_a_routine_line_of_its_station(s) -> None:
    host = STRUCTURE[s.within]
    assert (host.station, host.depth, host.sided, host.within) == (s.station, "routine", s.sided, "")
    assert s.asked == "called-for"


@for_each(FINDINGS, named=lambda f: f.code)
def test_a_finding_keeps_its_rules(f) -> None:
    where = [STRUCTURE[c] for c in f.structures if c != "*"]
    assert f.whole_station or all(s.station == f.station for s in where)
    assert all(set(s.species) & set(f.species) for s in where)
    first = where[0].applies_when if where else ""
    assert not first or first in (f.applies_when, f.applies_when.split("-")[0])
    assert not (f.grades and f.severity_words), "severity words beside a grade that is in the code"
    if f.grade_scale:
        assert set(f.grades) <= {g.key for g in walk().scale[f.grade_scale].grades}
    else:
        assert not f.grades
    for s in STRUCTURES:
        if f.grades and s.value == f.grade_scale:
            assert s.code in f.structures, "names the line that its score is measured at"


@for_each(FINDINGS, named=lambda f: f.code)
def test_an_owner_line_is_short_plain_and_calm(f) -> None:
    assert list(owner_line_faults(f.owner_line)) == []


def test_ranks_count_from_one_among_findings_of_the_same_first_structure() -> None:
    ranks = defaultdict(list)
    for f in FINDINGS:
        ranks[f.station, f.structures[0]].append(f.rank)
    assert all(sorted(v) == list(range(1, len(v) + 1)) for v in ranks.values())


@pytest.mark.parametrize(
    ("scale", "without"),
    [
        ("bcs-9", {"5"}),
        *((k, set()) for k in ["patella-4", "murmur-6", "mentation-4", "dehydration-4", "pain-4", "mcs-4"]),
    ],
)
def test_the_codes_of_a_scale_cover_each_of_its_grades_once(scale, without) -> None:
    covered = sorted(g for f in FINDINGS if f.grade_scale == scale for g in f.grades)
    assert covered == sorted({g.key for g in walk().scale[scale].grades} - without)


def test_every_line_has_a_finding_or_a_reason_to_have_none() -> None:
    reached = {c for f in FINDINGS for c in f.structures}
    bare = {s.code for s in STRUCTURES if s.code not in reached and s.depth != "measured"}
    assert bare == WITHOUT_FINDING
    assert all(STRUCTURE[c].borrows or STRUCTURE[c].twin for c in WITHOUT_FINDING)


@pytest.mark.parametrize("scale", walk().scales, ids=lambda s: s.key)
def test_a_scale_names_its_source_its_permission_and_how_sure_we_are(scale) -> None:
    assert scale.source
    assert scale.permission
    assert scale.certainty in ("read", "restated", "memory")
    assert scale.certainty != "memory" or "checked" in f"{scale.note} {scale.source}"


def test_the_form_of_a_licensed_scale_is_not_in_the_data() -> None:
    licensed = [s for s in walk().scales if "licensed" in s.permission.lower()]
    assert {"cmps-sf", "cmps-feline"} <= {s.key for s in licensed}
    assert not any(s.grades or s.items for s in licensed)


def test_every_circumstance_that_moves_a_class_is_known_and_can_be_read() -> None:
    numbers = re.compile(r"^[a-z_]\w*\s*[<>=]")
    for f in FINDINGS:
        for change in f.change:
            for condition in change.all:
                assert holds(condition, {}) is False
                kind, _, code = condition.partition(":")
                if kind == "finding":
                    assert code in FINDING
                elif not numbers.match(condition):
                    assert condition in walk().circumstance, (f.code, condition)


def test_not_examined_asks_for_one_of_the_agreed_reasons() -> None:
    words = {r.words for r in walk().reasons_for("not-examined")}
    assert {"would not allow it", "too painful", "owner declined", "needs sedation", "no time"} <= words
    assert walk().reason["not-needed"].roles == ("clinician",)


def test_it_survives_storage_unchanged() -> None:
    again = from_json(to_json(walk()))
    assert again == walk()
    assert again.sha256 == walk().sha256


def test_a_changed_word_is_another_version(tmp_path) -> None:
    for path in walk_module.FOLDER.glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        (tmp_path / path.name).write_text(text.replace("Pale pink, open", "Pale, open"), encoding="utf-8")
    assert load_walk(tmp_path).sha256 != walk().sha256


def test_a_value_outside_its_list_is_refused_with_its_code(tmp_path) -> None:
    for path in walk_module.FOLDER.glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        (tmp_path / path.name).write_text(text.replace('urgency = "E"', 'urgency = "X"'), encoding="utf-8")
    with pytest.raises(WalkError, match=r"[A-Z]{3}-\d\d"):
        load_walk(tmp_path)


def test_no_text_of_the_whole_walk_breaks_a_rule() -> None:
    assert list(faults_of(walk())) == []
