"""The limits are data: whole, ordered, and refused when they contradict themselves."""

import copy
from decimal import Decimal

import pytest

from clinic.patients.limit_table import (
    CERTAINTIES,
    FOLDER,
    BadLimits,
    Setting,
    default_limits,
    limits_from,
    read_tables,
)
from clinic.patients.units import Unit
from clinic.patients.vitals import Context, Kind, judge


@pytest.fixture
def tables():
    return copy.deepcopy(read_tables(FOLDER))


def test_every_entry_names_its_source_and_certainty():
    limits = default_limits()
    entries = [*limits.plausible, *limits.intervals, *limits.levels, *limits.escalations]
    assert len(entries) > 100
    for entry in [*entries, *limits.rules.values()]:
        assert entry.source.work
        assert entry.source.certainty in CERTAINTIES


def test_what_is_from_memory_says_so():
    limits = default_limits()
    for entry in [*limits.plausible, *limits.intervals, *limits.levels, *limits.rules.values()]:
        assert entry.source.certainty != "C" or "from memory" in entry.source.work


def test_every_kind_is_measured():
    assert {kind.subject for kind in Kind} == set(default_limits().measures)


def test_a_clinic_may_change_a_limit(tables):
    for row in tables["intervals"]["interval"]:
        if row["kind"] == "temperature" and row["species"] == "dog" and row["low"] == Decimal("37.7"):
            row["high"] = Decimal("39.2")
    changed = limits_from(tables)
    context = Context("dog", Setting.CLINIC, age_days=2000)
    assert judge(Kind.TEMPERATURE, Decimal("39.4"), Unit.CELSIUS, context, changed).codes == ("VIT-01",)
    assert judge(Kind.TEMPERATURE, Decimal("39.4"), Unit.CELSIUS, context).codes == ()


def test_an_entry_without_a_source_is_refused(tables):
    del tables["intervals"]["interval"][0]["source"]
    with pytest.raises(BadLimits, match="source"):
        limits_from(tables)


def test_limits_out_of_order_are_refused(tables):
    tables["plausible"]["plausible"][0]["soft_low"] = Decimal(20)
    with pytest.raises(BadLimits, match="order"):
        limits_from(tables)


def test_a_code_without_a_class_is_refused(tables):
    tables["levels"]["level"][0]["code"] = "XXX-99"
    with pytest.raises(BadLimits, match="XXX-99"):
        limits_from(tables)


def test_an_unknown_kind_is_refused(tables):
    tables["levels"]["level"][0]["kind"] = "mood"
    with pytest.raises(BadLimits, match="mood"):
        limits_from(tables)


def test_an_unknown_rule_is_refused():
    with pytest.raises(BadLimits, match="nothing"):
        default_limits().rule("nothing")
