"""The walk and two animals that the exam's pure tests share, and a short way to make operations."""

from __future__ import annotations

import itertools
from functools import cache
from typing import Any

from exams.lines import Lines, applicable
from exams.operations import Operation, apply, version_of
from exams.state import ExamState, Outcome
from exams.walk import Walk, load_walk

ADULT_DAYS = 2000
_numbers = itertools.count(1)


@cache
def walk() -> Walk:
    return load_walk()


@cache
def dog() -> Lines:
    """A neutered adult male dog."""
    return applicable(walk(), "dog", "male", True, ADULT_DAYS)


@cache
def queen() -> Lines:
    """An intact adult female cat."""
    return applicable(walk(), "cat", "female", False, ADULT_DAYS)


def op(target: str, what: str, payload: dict[str, Any] | None = None, **more: Any) -> Operation:
    fields: dict[str, Any] = {
        "key": f"op-{next(_numbers)}",
        "person": "oduya",
        "role": "clinician",
        "made_at": "2026-11-25T10:12:00+01:00",
        "walk_version": walk().sha256,
    }
    return Operation(target=target, what=what, payload=payload or {}, **(fields | more))


def tap(
    state: ExamState,
    target: str,
    what: str,
    payload: dict[str, Any] | None = None,
    lines: Lines | None = None,
    **more: Any,
) -> tuple[ExamState, Outcome]:
    """One operation that follows whatever stands."""
    lines = lines or dog()
    more.setdefault("follows", version_of(state, lines, target))
    return apply(state, op(target, what, payload, **more), walk(), lines)


def found(code: str, **more: Any) -> dict[str, Any]:
    return {"findings": [{"code": code, **more}]}


def listed(lines: Lines, place: str) -> dict[str, Any]:
    return {"lines": [line.key for line in lines.at(place)]}
