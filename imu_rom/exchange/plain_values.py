"""Frozen dataclasses to plain JSON values and back, by the names and types of their fields."""

import dataclasses
import json
import math
import types
from collections.abc import Callable, Hashable, Mapping, Sequence
from datetime import date
from functools import cache
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

import numpy as np

from imu_rom.errors import ResultError

__all__ = ["build", "fixed", "json_text", "plain", "rounded"]

# to a thousandth where the name says seconds or degrees; all else is a share, a probability or part of a unit vector
THOUSANDTHS = ("_s", "_deg")
DECIMALS, OTHER_DECIMALS = 3, 4

Builder = Callable[[Any, str], Any]
Value = TypeVar("Value")


def _decimals(name: str) -> int:
    return DECIMALS if name.endswith(THOUSANDTHS) else OTHER_DECIMALS


def fixed(value: float, decimals: int) -> float:
    """Round to a fixed number of decimals, without a minus zero.

    Parameters
    ----------
    value : float
        Finite or infinite number.
    decimals : int
        Digits behind the point.

    Returns
    -------
    float
        The nearest float to the rounded number.
    """
    value = float(value)
    return round(value, decimals) + 0.0 if math.isfinite(value) else value


def rounded(value: Value, name: str = "") -> Value:
    """Round every float inside frozen dataclasses, tuples, mappings and arrays to the decimals that a file keeps.

    Parameters
    ----------
    value : object
        What holds the numbers; it is not changed.
    name : str
        Name of the field that it stands in: names that end in ``_s`` or ``_deg`` keep 3 decimals, others 4.

    Returns
    -------
    object
        The same kind of object; NumPy scalars become Python's own.
    """
    same_kind: Value = _rounded(value, name)
    return same_kind


def _rounded(value: Any, name: str) -> Any:  # noqa: ANN401, PLR0911
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return fixed(value, _decimals(name))
    if isinstance(value, np.ndarray):
        # one by one: np.round takes some halves, such as 0.0005, to the other side than a number that stands alone
        decimals = _decimals(name)
        array = np.array([fixed(each, decimals) for each in value.ravel().tolist()]).reshape(value.shape)
        array.flags.writeable = False
        return array
    if isinstance(value, tuple):
        return tuple(_rounded(each, name) for each in value)
    if isinstance(value, Mapping):
        return {
            key: _rounded(each, f"{key}{name}" if name.endswith(THOUSANDTHS) else key) for key, each in value.items()
        }
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        parts = {each.name: _rounded(getattr(value, each.name), each.name) for each in dataclasses.fields(value)}
        return dataclasses.replace(value, **parts)
    if isinstance(value, np.generic):
        return _rounded(value.item(), name)
    return value


def plain(value: object) -> Any:  # noqa: ANN401, PLR0911
    """Turn a value into what JSON can hold.

    Parameters
    ----------
    value : object
        Dataclasses become mappings, tuples and arrays lists, dates ISO 8601 text, an infinite number None.

    Returns
    -------
    object
        Mappings, lists, text, numbers, booleans and None.

    Raises
    ------
    ValueError
        A number is NaN.
    """
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        if math.isnan(value):
            raise ValueError("a result must hold no NaN")
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.ndarray):
        if not np.isfinite(value).all():
            raise ValueError("a result's list of numbers must be finite")
        return value.tolist()
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, Sequence):
        return [plain(each) for each in value]
    if isinstance(value, date):
        return value.isoformat()
    if dataclasses.is_dataclass(value):
        return {each.name: plain(getattr(value, each.name)) for each in dataclasses.fields(value)}
    raise TypeError(f"{type(value).__name__} has no plain form")


def build(kind: type[Value], value: object, where: str) -> Value:
    """Build a dataclass from plain values, checking the type of every field.

    Parameters
    ----------
    kind : type
        Frozen dataclass; its fields are text, numbers, booleans, dates, literals, number arrays, other such
        dataclasses, or tuples, mappings and optional forms of these.
    value : object
        Plain mapping; keys that the dataclass doesn't know are ignored, missing ones take the field's default.
    where : str
        Place of the mapping, for the error.

    Returns
    -------
    object
        Instance of ``kind``.

    Raises
    ------
    ResultError
        A field is missing or of the wrong type, named by its place.
    """
    built: Value = _builder(cast("Hashable", kind))(value, where)
    return built


def _wrong(where: str, must: str, value: object) -> ResultError:
    shown = repr(value)
    return ResultError(f"must be {must}, got {shown if len(shown) <= 60 else shown[:57] + '...'}", where=where)


@cache
def _builder(kind: Any) -> Builder:  # noqa: ANN401, PLR0911
    origin, arguments = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        return _optional(tuple(_builder(each) for each in arguments if each is not types.NoneType), arguments)
    if origin is Literal:
        return _literal(arguments)
    if origin is tuple:
        return _tuple(arguments)
    if origin in (dict, Mapping):
        return _mapping(_builder(arguments[1]))
    if kind is np.ndarray or origin is np.ndarray:
        return _numbers
    if dataclasses.is_dataclass(kind):
        return _dataclass(kind)
    return {str: _text, float: _number, int: _whole, bool: _boolean, date: _date}[kind]


def _optional(builders: tuple[Builder, ...], arguments: tuple[Any, ...]) -> Builder:
    none_allowed = types.NoneType in arguments

    def convert(value: object, where: str) -> object:
        if value is None and none_allowed:
            return None
        for each in builders[:-1]:
            try:
                return each(value, where)
            except ResultError:
                continue
        return builders[-1](value, where)

    return convert


def _literal(choices: tuple[object, ...]) -> Builder:
    must = "one of " + ", ".join(repr(each) for each in choices)

    def convert(value: object, where: str) -> object:
        if value not in choices:
            raise _wrong(where, must, value)
        return value

    return convert


def _tuple(arguments: tuple[Any, ...]) -> Builder:
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        item = _builder(arguments[0])

        def many(value: object, where: str) -> object:
            if not isinstance(value, list):
                raise _wrong(where, "a list", value)
            return tuple(item(each, f"{where}[{index}]") for index, each in enumerate(value))

        return many
    items = [_builder(each) for each in arguments]

    def few(value: object, where: str) -> object:
        if not isinstance(value, list) or len(value) != len(items):
            raise _wrong(where, f"a list of {len(items)}", value)
        return tuple(
            item(each, f"{where}[{index}]") for index, (item, each) in enumerate(zip(items, value, strict=True))
        )

    return few


def _mapping(item: Builder) -> Builder:
    def convert(value: object, where: str) -> object:
        if not isinstance(value, dict):
            raise _wrong(where, "an object", value)
        return {key: item(each, f"{where}.{key}") for key, each in value.items()}

    return convert


def _dataclass(kind: Any) -> Builder:  # noqa: ANN401
    hints = get_type_hints(kind)
    parts = [
        (each.name, _builder(hints[each.name]), each.default is each.default_factory is dataclasses.MISSING)
        for each in dataclasses.fields(kind)
        if each.init
    ]

    def convert(value: object, where: str) -> object:
        if not isinstance(value, dict):
            raise _wrong(where, "an object", value)
        given = {}
        for name, part, required in parts:
            if name in value:
                given[name] = part(value[name], f"{where}.{name}")
            elif required:
                raise ResultError(f"is missing {name!r}", where=where)
        return kind(**given)

    return convert


def _numbers(value: object, where: str) -> object:
    try:
        array = np.array(value, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        raise _wrong(where, "a list of numbers", value) from None
    if array.ndim != 1 or not np.isfinite(array).all():
        raise _wrong(where, "a list of numbers", value)
    array.flags.writeable = False
    return array


def _text(value: object, where: str) -> object:
    if not isinstance(value, str):
        raise _wrong(where, "text", value)
    return value


def _number(value: object, where: str) -> object:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _wrong(where, "a number", value)
    return value


def _whole(value: object, where: str) -> object:
    if isinstance(value, bool) or not isinstance(value, int):
        raise _wrong(where, "a whole number", value)
    return value


def _boolean(value: object, where: str) -> object:
    if not isinstance(value, bool):
        raise _wrong(where, "true or false", value)
    return value


def _date(value: object, where: str) -> object:
    try:
        return date.fromisoformat(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise _wrong(where, "a date such as 2026-12-01", value) from None


def json_text(value: Any) -> str:  # noqa: ANN401
    """Write plain values as JSON that a person can read and a program can compare line by line.

    Parameters
    ----------
    value : object
        Plain values.

    Returns
    -------
    str
        One key a line, lists of numbers or words on one line, a line end behind the last bracket.
    """
    encode = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode
    word = cache(encode)  # the same keys come back in each repetition
    lines: list[str] = []

    def add(item: Any, margin: str, before: str, behind: str) -> None:  # noqa: ANN401
        if isinstance(item, dict) and item:
            lines.append(f"{margin}{before}{{")
            last = len(item) - 1
            for index, (key, each) in enumerate(item.items()):
                add(each, margin + " ", f"{word(key)}: ", "," if index < last else "")
            lines.append(f"{margin}}}{behind}")
        elif isinstance(item, list) and any(isinstance(each, (dict, list)) for each in item):
            lines.append(f"{margin}{before}[")
            last = len(item) - 1
            for index, each in enumerate(item):
                add(each, margin + " ", "", "," if index < last else "")
            lines.append(f"{margin}]{behind}")
        elif type(item) is float and math.isfinite(item):
            lines.append(f"{margin}{before}{item!r}{behind}")  # as the encoder does, which takes ten times as long
        else:
            lines.append(f"{margin}{before}{encode(item)}{behind}")

    add(value, "", "", "")
    return "\n".join(lines) + "\n"
