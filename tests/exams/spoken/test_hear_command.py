"""`manage.py hear`: what is printed, and a clear sentence when it cannot."""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from tests.exams.spoken.scoring import GIVEN


def said(*args: str) -> str:
    out = StringIO()
    call_command("hear", *args, stdout=out)
    return out.getvalue()


def test_proposals_in_the_scorers_shape() -> None:
    file = GIVEN / "d01.txt"
    found = json.loads(
        said(str(file), "--species", "dog", "--sex", "male-neutered", "--age-months", "72", "--json")
    )
    assert {"measurements", "findings", "heads_ups", "plan", "questions"} == set(found)
    assert ("heart rate", "92", "/min") in {(m["what"], m["value"], m["unit"]) for m in found["measurements"]}
    one = next(f for f in found["findings"] if f["codes"] == ["FLB-19"])
    assert (one["station"], one["structure"], one["side"], one["state"]) == (
        "FLB",
        "Nails, dewclaw",
        "left",
        "abnormal",
    )
    start, end = one["spans"][-1]
    assert file.read_text(encoding="utf-8")[start:end] == one["words"]


def test_spanish_and_plain_lines() -> None:
    out = said(str(GIVEN / "d08.txt"), "--species", "dog", "--language", "es")
    assert "body weight: 31.5 kg" in out
    assert "Plan" not in out
    assert "Cornea left: normal" in out


def test_what_cannot_be_heard_is_said(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="no-such"):
        said(str(tmp_path / "no-such.txt"), "--species", "dog")
    with pytest.raises(CommandError, match="language 'xx'"):
        said(str(GIVEN / "d01.txt"), "--species", "dog", "--language", "xx")
