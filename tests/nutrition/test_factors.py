"""The data: every number sourced, one version one SHA-256, the clinic's changes visible."""

from dataclasses import replace

import pytest

from nutrition.factors import (
    CERTAINTY_SAYS,
    Factor,
    Factors,
    FactorsError,
    Sentence,
    UnknownFactor,
    load,
    species_of,
)
from tests.for_each import for_each
from tests.nutrition.builders import FACTORS


@for_each(FACTORS.entries(), named=lambda entry: entry.code)
def test_every_entry_has_a_source_or_says_that_it_is_common_practice(entry) -> None:
    assert entry.source or entry.certainty == "practice"
    assert entry.certainty in CERTAINTY_SAYS
    assert entry.says


def test_a_version_read_back_is_the_same_version() -> None:
    again = Factors.from_json(FACTORS.to_json())
    assert again == FACTORS
    assert again.sha256 == FACTORS.sha256
    assert len(again.sha256) == 64


def test_loading_twice_gives_one_version() -> None:
    assert load().sha256 == FACTORS.sha256


def test_a_clinics_change_makes_another_version_and_names_the_clinic() -> None:
    own = replace(FACTORS.factor("floor.dog"), value=0.85, certainty="clinic")
    changed = FACTORS.with_changes(own)
    assert changed.value("floor.dog") == 0.85
    assert changed.sha256 != FACTORS.sha256
    assert FACTORS.value("floor.dog") == 0.8
    assert len(changed.entries()) == len(FACTORS.entries())


def test_a_change_may_add_but_not_turn_a_number_into_words() -> None:
    extra = Sentence("caution.ours", "Ring the bell.", "", "clinic")
    assert FACTORS.with_changes(extra).sentence("caution.ours") == extra
    with pytest.raises(FactorsError, match=r"floor\.dog"):
        FACTORS.with_changes(Sentence("floor.dog", "no", "", "clinic"))


@pytest.mark.parametrize("ask", [lambda f: f.factor("nothing"), lambda f: f.table("floor.dog")])
def test_an_unknown_code_is_named(ask) -> None:
    with pytest.raises(UnknownFactor):
        ask(FACTORS)


@pytest.mark.parametrize(
    ("toml", "says"),
    [
        ('[[factor]]\ncode="x"\nsays="x"\nvalue=1\nunit=""\nsource=""\ncertainty="A"', "no source"),
        ('[[factor]]\ncode="x"\nsays="x"\nvalue=1\nunit=""\nsource="s"\ncertainty="Z"', "certainty"),
        (
            '[[factor]]\ncode="x"\nsays="x"\nvalue=1\nunit=""\nsource="s"\ncertainty="A"\nhue=1',
            "unknown field",
        ),
        ('[[factor]]\ncode="x"\nsays="x"\nunit=""\nsource="s"\ncertainty="A"', "value"),
        ('[[factor]]\ncode="x"\nsays="x"\nvalue=3\nlow=4\nunit=""\nsource="s"\ncertainty="A"', "own range"),
        ('[[table]]\ncode="x"\nsays="x"\nunit=""\nsource="s"\ncertainty="A"\nrows=[[2,1],[1,1]]', "rise"),
        ('[[needs]]\ncode="x"', "unknown kind"),
        (
            '[[need]]\ncode="x"\nspecies="dog"\nfamily="body_size"\nsays="x"\nvalue=1\nsource="s"\ncertainty="A"',
            "exponent",
        ),
        (
            '[[sentence]]\ncode="x"\nsays="x"\nsource="s"\ncertainty="A"\n'
            '[[sentence]]\ncode="x"\nsays="y"\nsource="s"\ncertainty="A"',
            "twice",
        ),
    ],
)
def test_data_that_cannot_be_trusted_is_refused(tmp_path, toml: str, says: str) -> None:
    (tmp_path / "bad.toml").write_text(toml)
    with pytest.raises(FactorsError, match=says):
        load(tmp_path)


def test_json_that_is_no_version_is_refused() -> None:
    with pytest.raises(FactorsError):
        Factors.from_json('{"factors": []}')


def test_whole_numbers_and_decimals_are_one_version(tmp_path) -> None:
    row = '[[factor]]\ncode="x"\nsays="x"\nvalue={}\nunit=""\nsource="s"\ncertainty="A"'
    versions = set()
    for value in ("70", "70.0"):
        (tmp_path / "one.toml").write_text(row.format(value))
        versions.add(load(tmp_path).sha256)
    assert len(versions) == 1


@pytest.mark.parametrize("species", ["dog", "cat"])
def test_every_score_is_put_in_words(species: str) -> None:
    assert len({FACTORS.sentence(f"bcs.{species}.{score}").says for score in range(1, 10)}) == 9


def test_only_dogs_and_cats_have_rules() -> None:
    assert species_of("cat") == "cat"
    with pytest.raises(FactorsError):
        species_of("rabbit")


def test_a_factor_is_not_changed_in_place() -> None:
    with pytest.raises(AttributeError):
        FACTORS.factor("floor.dog").value = 0.1  # type: ignore[misc]
    assert isinstance(FACTORS.factor("floor.dog"), Factor)
