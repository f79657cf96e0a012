"""The feeding rules import no framework and never ask the clock; their conditions are the patient's."""

import ast
from pathlib import Path

import pytest

import nutrition
from nutrition import conditions

ROOM = Path(nutrition.__file__).parent
CORE = ["conditions", "energy", "explain", "factors", "foods", "growth", "ideal_weight", "label", "options"]
CORE += [
    "amounts",
    "change_table",
    "changeover",
    "growing",
    "plan",
    "programme",
    "trend",
    "reasons",
    "refusals",
    "reproduction",
    "weight_loss",
    "weeks_chart",
]
ALLOWED = {"nutrition", "collections", "dataclasses", "functools", "hashlib", "itertools", "json", "math"}
WORDS = {"clinic.letters.texts", "clinic.letters.wording"}  # what letters say is data; both are pure
ALLOWED |= {"datetime", "pathlib", "html", "statistics", "tomllib", "typing"}


@pytest.mark.parametrize("module", CORE)
def test_a_core_module_imports_nothing_but_the_core_and_plain_python(module: str) -> None:
    tree = ast.parse((ROOM / f"{module}.py").read_text())
    names = [n.module for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
    names += [alias.name for n in ast.walk(tree) if isinstance(n, ast.Import) for alias in n.names]
    outside = {name for name in names if name.split(".")[0] not in ALLOWED}
    assert outside <= WORDS
    inside = {name.split(".")[1] for name in names if name.startswith("nutrition.")}
    assert inside <= {*CORE, "letter_texts"}


def test_the_conditions_are_those_the_patient_record_knows() -> None:
    from clinic.patients.models import Condition

    known = {code for code, _ in Condition._meta.get_field("code").choices}
    assert set(conditions.SAYS) <= known
