import json
from dataclasses import fields, is_dataclass
from enum import StrEnum

import pytest

from preventive.dates import Span, Unit
from preventive.protocol import Overrides, Protocol, ProtocolError, ValueOverride, load_protocol
from tests.preventive.build import core, day, dog, due, history, under

GAP = "vaccines.dog_core.courses.any.series.gap_max"


def cited(value):
    """Every part of the rules that carries a source."""
    if is_dataclass(value):
        names = {f.name for f in fields(value)}
        yield from [value] if "source" in names else []
        for name in names:
            yield from cited(getattr(value, name))
    elif isinstance(value, dict):
        for part in value.values():
            yield from cited(part)
    elif isinstance(value, tuple):
        for part in value:
            yield from cited(part)


def test_a_stored_protocol_comes_back_as_it_was():
    stored = under()
    again = Protocol.from_json(stored.to_json())
    assert (again.rules, again.sha256) == (stored.rules, stored.sha256)
    assert len(stored.sha256) == 64


def test_every_choice_makes_another_version():
    versions = [under(), under("us-tx"), under(leap_day="march_1")]
    assert len({version.sha256 for version in versions}) == len(versions)


def test_every_entry_names_its_source():
    parts = list(cited(under().rules))
    assert len(parts) > 200
    assert all(part.source.strip() for part in parts)


@pytest.mark.parametrize(
    ("setting", "option"),
    [(setting.code, option.code) for setting in load_protocol().settings for option in setting.options],
)
def test_every_option_composes_and_says_what_it_changes(setting, option):
    chosen = load_protocol(overrides=Overrides({setting: option}))
    found = next(each for each in chosen.settings if each.code == setting)
    assert found.chosen == option
    assert all(each.changes and each.source for each in found.options)


# where the published sources disagree (AAHA, WSAVA, AAHA/AAFP, NASPHV, AHS, CAPC, ESCCAP, the places' law)
DISAGREE = {
    "dog_core_first_booster": 4,
    "cat_core_first_booster": 3,
    "cat_core_gap": 2,
    "dog_core_late_start": 3,
    "leptospira_category": 2,
    "leptospira_first_age": 2,
    "leptospira_lapse": 2,
    "parainfluenza_interval": 2,
    "rabies_late": 4,
    "rabies_wait": 5,
    "rabies_first_age": 2,
    "rabies_deadline": 3,
    "cat_heartworm_test": 2,
    "faecal_adult": 3,
    "senior_cat": 2,
    "leap_day": 2,
}


@pytest.mark.parametrize(("setting", "options"), DISAGREE.items())
def test_where_the_sources_disagree_the_practice_chooses_and_no_two_choices_read_alike(setting, options):
    """The place's own profile is one of the choices in three about rabies."""
    (found,) = [each for each in load_protocol().settings if each.code == setting]
    assert len({option.changes for option in found.options}) == len(found.options) == options
    chosen = [load_protocol(overrides=Overrides({setting: each.code})).rules for each in found.options]
    assert any(other != chosen[0] for other in chosen[1:])


@pytest.mark.parametrize(
    "overrides",
    [
        Overrides({"no_such": "x"}),
        Overrides({"leap_day": "never"}),
        Overrides(jurisdiction="atlantis"),
        Overrides(values=(ValueOverride("vaccines.unicorn.label", "x", "why", "who"),)),
        Overrides(values=(ValueOverride(GAP, "four weeks", "why", "who"),)),
        Overrides(values=(ValueOverride("vaccines.dog_core.labell", "x", "why", "who"),)),
    ],
)
def test_an_impossible_override_is_refused(overrides):
    with pytest.raises(ProtocolError):
        load_protocol(overrides=overrides)


def test_the_practice_s_own_value_is_marked_as_its_own():
    override = ValueOverride(GAP, "3 wk", "local outbreak", "Dr. Imre Fontaine")
    rules = load_protocol(overrides=Overrides(values=(override,)))
    series = rules.rules.vaccines["dog_core"].courses["any"].series
    assert (series.gap_max, series.certainty.value) == (Span(3, Unit.WEEK), "clinic")
    assert "local outbreak" in series.source
    item = due(dog("2025-01-06"), history(*core("2025-03-03")), "2025-03-03", "dog_core:CPV", rules)
    assert item.target == day("2025-03-24")
    assert json.loads(rules.to_json())["chosen"]["values"][0]["by"] == "Dr. Imre Fontaine"


def test_a_misspelt_key_is_refused_with_its_place(tmp_path):
    file = tmp_path / "wrong.toml"
    file.write_text('default_jurisdiction = "x"\n[antigens]\nCDV = "Distemper"\n[datse]\nx = 1\n')
    with pytest.raises(ProtocolError, match="datse"):
        load_protocol([file])


def test_a_key_given_twice_in_two_files_is_refused(tmp_path):
    for name in ("a.toml", "b.toml"):
        (tmp_path / name).write_text('[antigens]\nCDV = "Distemper"\n')
    with pytest.raises(ProtocolError, match="CDV is given twice"):
        load_protocol(sorted(tmp_path.glob("*.toml")))


def test_another_place_keeps_the_rest_of_the_protocol():
    travel = under().in_jurisdiction("eu-travel")
    assert travel.jurisdiction.wait.days == 21
    assert travel.rules.vaccines == under().rules.vaccines


def test_certainties_are_of_a_closed_list():
    assert all(isinstance(part.certainty, StrEnum) for part in cited(under().rules))
