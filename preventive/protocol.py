"""Loads protocol files, composes them with the practice's choices, and fixes the result by its SHA-256.

Files are merged in order. A *setting* is a question on which the sources disagree: each of its options
says in words what it changes and carries the tables it puts in place of the default ones. The practice
may also replace single values, with a reason. The composed data is what a version row stores.
"""

import hashlib
import json
import tomllib
from collections.abc import Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from preventive.dates import Calendar
from preventive.decoding import DecodingError, decode
from preventive.rules import Certainty, Jurisdiction, Rules

PROTOCOL_FOLDER = Path(__file__).parent / "protocols"


class ProtocolError(ValueError):
    """The protocol data or an override cannot be used; the message says what and where."""


@dataclass(frozen=True, slots=True)
class ValueOverride:
    """The practice's own value at a dotted path, e.g. ``vaccines.dog_core.courses.any.series.gap_max``.

    A number in the path counts the entries of a list from 0: ``…courses.any.boosters.0.every``.
    A whole table may be set too, with its own source, e.g. a stricter local ordinance at
    ``jurisdictions.us-tx.maximum``. A path the rules do not know is refused when they are read.
    """

    path: str
    value: object
    reason: str
    by: str


@dataclass(frozen=True, slots=True)
class Overrides:
    """``settings``: option by setting code. ``jurisdiction``: code of the place, "" for the default."""

    settings: Mapping[str, str] = field(default_factory=dict)
    jurisdiction: str = ""
    values: tuple[ValueOverride, ...] = ()


NO_OVERRIDES = Overrides()


@dataclass(frozen=True, slots=True)
class Option:
    code: str
    label: str
    changes: str
    source: str
    certainty: str


@dataclass(frozen=True, slots=True)
class Setting:
    """A question on which sources disagree, its options, and the one in force."""

    code: str
    question: str
    options: tuple[Option, ...]
    chosen: str


@dataclass(frozen=True)
class Protocol:
    """Immutable composed protocol. ``data`` is plain JSON data and must not be changed."""

    data: Mapping[str, Any]

    @cached_property
    def rules(self) -> Rules:
        return _read_rules(self.data)

    @cached_property
    def sha256(self) -> str:
        """SHA-256, in hexadecimal, of the canonical JSON."""
        return hashlib.sha256(self.to_json().encode()).hexdigest()

    @cached_property
    def calendar(self) -> Calendar:
        return Calendar(self.rules.dates.leap_day)

    @property
    def jurisdiction(self) -> Jurisdiction:
        return self.rules.jurisdictions[self.data["chosen"]["jurisdiction"]]

    @property
    def settings(self) -> tuple[Setting, ...]:
        chosen = self.data["chosen"]["settings"]
        return tuple(_setting(code, body, chosen[code]) for code, body in self.data["settings"].items())

    def to_json(self) -> str:
        """Canonical JSON: sorted keys, no spaces, no ASCII escapes."""
        return json.dumps(self.data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)

    @classmethod
    def from_json(cls, text: str) -> "Protocol":
        """The protocol a version row stored. Raises ProtocolError if the data does not fit the rules."""
        return _checked(cls(json.loads(text)))

    def in_jurisdiction(self, code: str) -> "Protocol":
        """The same protocol under another place's rabies rules (e.g. for travel)."""
        chosen = {**self.data["chosen"], "jurisdiction": code}
        return _checked(replace(self, data={**self.data, "chosen": chosen}))


def load_protocol(paths: Iterable[Path] | None = None, overrides: Overrides = NO_OVERRIDES) -> Protocol:
    """Compose files (default: all that ship with the room) with the practice's choices.

    Raises ProtocolError for unknown settings, options, places, paths or keys.
    """
    files = sorted(PROTOCOL_FOLDER.glob("*.toml")) if paths is None else list(paths)
    data = _merged(files)
    chosen = _chosen(data, overrides)
    for setting, option in chosen["settings"].items():
        _apply_option(data, setting, option, chosen["jurisdiction"])
    for override in overrides.values:
        _apply_value(data, override)
    data["chosen"] = chosen
    return _checked(Protocol(json.loads(json.dumps(data))))


def _merged(files: list[Path]) -> dict[str, Any]:
    data: dict[str, Any] = {}
    for path in files:
        try:
            _merge(data, tomllib.loads(path.read_text(encoding="utf-8")))
        except (tomllib.TOMLDecodeError, ProtocolError) as error:
            raise ProtocolError(f"{path.name}: {error}") from error
    return data


def _merge(into: dict[str, Any], new: Mapping[str, Any], where: str = "") -> None:
    for key, value in new.items():
        if key not in into:
            into[key] = deepcopy(value)
        elif isinstance(into[key], dict) and isinstance(value, dict):
            _merge(into[key], value, f"{where}{key}.")
        elif isinstance(into[key], list) and isinstance(value, list):
            into[key].extend(deepcopy(value))
        else:
            raise ProtocolError(f"{where}{key} is given twice")


def _chosen(data: Mapping[str, Any], overrides: Overrides) -> dict[str, Any]:
    settings = data.get("settings", {})
    unknown = sorted(set(overrides.settings) - set(settings))
    if unknown:
        raise ProtocolError(f"no such setting: {', '.join(unknown)}")
    return {
        "settings": {code: overrides.settings.get(code, body["default"]) for code, body in settings.items()},
        "jurisdiction": overrides.jurisdiction or data["default_jurisdiction"],
        "values": [_recorded(override) for override in overrides.values],
    }


def _recorded(override: ValueOverride) -> dict[str, Any]:
    return {
        "path": override.path,
        "value": override.value,
        "reason": override.reason,
        "by": override.by,
    }


def _apply_option(data: dict[str, Any], setting: str, option: str, place: str) -> None:
    options = data["settings"][setting]["options"]
    if option not in options:
        raise ProtocolError(f"setting {setting} has no option {option}")
    for path, value in options[option].get("set", {}).items():
        table, key = _table_at(data, path.replace("{place}", place))
        table[key] = deepcopy(value)


def _apply_value(data: dict[str, Any], override: ValueOverride) -> None:
    table, key = _table_at(data, override.path)
    table[key] = override.value
    if "source" in table:
        table["source"] = f"the practice's own choice ({override.by}): {override.reason}"
        table["certainty"] = Certainty.CLINIC.value


def _table_at(data: dict[str, Any], path: str) -> tuple[dict[str, Any], str]:
    *parents, key = path.split(".")
    table: Any = data
    for name in parents:
        table = _inside(table, name)
    if not isinstance(table, dict):
        raise ProtocolError(f"no table holds {path}")
    return table, key


def _inside(table: Any, name: str) -> Any:
    if isinstance(table, dict):
        return table.get(name)
    if isinstance(table, list) and name.isdigit() and int(name) < len(table):
        return table[int(name)]
    return None


_NOT_RULES = frozenset({"settings", "chosen", "default_jurisdiction"})


def _read_rules(data: Mapping[str, Any]) -> Rules:
    body = {key: value for key, value in data.items() if key not in _NOT_RULES}
    try:
        return decode(Rules, body, "protocol")
    except DecodingError as error:
        raise ProtocolError(str(error)) from error


def _checked(protocol: Protocol) -> Protocol:
    rules = protocol.rules
    if protocol.data["chosen"]["jurisdiction"] not in rules.jurisdictions:
        raise ProtocolError(f"no such jurisdiction: {protocol.data['chosen']['jurisdiction']}")
    for rule in rules.vaccines.values():
        if rule.courses and rule.default not in rule.courses:
            raise ProtocolError(f"{rule.code}: the default course {rule.default} does not exist")
    return protocol


def _setting(code: str, body: Mapping[str, Any], chosen: str) -> Setting:
    options = tuple(
        Option(key, item["label"], item["changes"], item["source"], item["certainty"])
        for key, item in body["options"].items()
    )
    return Setting(code, body["question"], options, chosen)
