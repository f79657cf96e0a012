"""Turns plain protocol data into frozen dataclasses, refusing unknown keys and wrong shapes.

Protocol files are edited by hand, so a misspelt key must be an error with its place in the file.
"""

import dataclasses
import types
import typing
from collections.abc import Mapping
from enum import Enum
from functools import cache
from typing import Any, TypeVar

from preventive.dates import Span

T = TypeVar("T")


class DecodingError(ValueError):
    """The data does not fit the rule it is read as; the message names the place."""


def decode(cls: type[T], data: object, where: str) -> T:
    """Read ``data`` as ``cls``. A mapping's key becomes the ``code`` of a value that has that field."""
    return typing.cast(T, _decode(cls, data, where))


def _decode(hint: Any, data: object, where: str) -> object:
    origin = typing.get_origin(hint)
    if origin in (typing.Union, types.UnionType):
        return None if data is None else _decode(_without_none(hint), data, where)
    if origin is tuple:
        return _decode_tuple(typing.get_args(hint)[0], data, where)
    if origin is not None and issubclass(origin, Mapping):
        return _decode_mapping(typing.get_args(hint)[1], data, where)
    if hint is Span:
        return _decode_span(data, where)
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _decode_dataclass(hint, data, where)
    return _decode_scalar(hint, data, where)


def _without_none(hint: Any) -> Any:
    return next(arg for arg in typing.get_args(hint) if arg is not type(None))


def _decode_tuple(item: Any, data: object, where: str) -> tuple[object, ...]:
    if not isinstance(data, list):
        raise DecodingError(f"{where}: a list is expected")
    return tuple(_decode(item, value, f"{where}[{n}]") for n, value in enumerate(data))


def _decode_mapping(item: Any, data: object, where: str) -> dict[str, object]:
    if not isinstance(data, dict):
        raise DecodingError(f"{where}: a table is expected")
    return {key: _decode(item, _coded(item, key, value), f"{where}.{key}") for key, value in data.items()}


def _coded(item: Any, key: str, value: object) -> object:
    wants_code = dataclasses.is_dataclass(item) and any(f.name == "code" for f in dataclasses.fields(item))
    return {**value, "code": key} if wants_code and isinstance(value, dict) else value


def _decode_span(data: object, where: str) -> Span:
    try:
        return Span.parse(str(data))
    except ValueError as error:
        raise DecodingError(f"{where}: {data!r} is no span of time such as '12 wk'") from error


@cache
def _hints(cls: type) -> dict[str, Any]:
    """Asked for once a class: what a label says is decoded for every dose."""
    return typing.get_type_hints(cls)


def _decode_dataclass(cls: type, data: object, where: str) -> object:
    if not isinstance(data, dict):
        raise DecodingError(f"{where}: a table is expected")
    hints = _hints(cls)
    unknown = sorted(set(data) - set(hints))
    if unknown:
        raise DecodingError(f"{where}: unknown keys {', '.join(unknown)}")
    values = {key: _decode(hints[key], value, f"{where}.{key}") for key, value in data.items()}
    try:
        return cls(**values)
    except TypeError as error:
        raise DecodingError(f"{where}: {error}") from error


def _decode_scalar(hint: Any, data: object, where: str) -> object:
    if isinstance(hint, type) and issubclass(hint, Enum):
        try:
            return hint(data)
        except ValueError as error:
            raise DecodingError(f"{where}: {error}") from error
    if hint is float and type(data) is int:
        return float(data)
    if type(data) is not hint:
        raise DecodingError(f"{where}: {getattr(hint, '__name__', hint)} is expected, not {data!r}")
    return data
