"""JSON Schemas from the frozen dataclasses that are written: the same fields, so that the two can't part."""

import dataclasses
import types
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

__all__ = ["object_schema", "schema_of"]

SIMPLE: dict[object, dict[str, Any]] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    # what has no upper bound is null
    float: {"type": ["number", "null"]},
    date: {"type": "string", "format": "date"},
    datetime: {"type": "string", "format": "date-time"},
    type(None): {"type": "null"},
}


def object_schema(properties: Mapping[str, Any]) -> dict[str, Any]:
    """Describe an object that has all of these keys and no other.

    Parameters
    ----------
    properties : mapping of str to schema
        Its keys.

    Returns
    -------
    dict
        The schema.
    """
    return {
        "type": "object",
        "properties": dict(properties),
        "required": list(properties),
        "additionalProperties": False,
    }


def schema_of(kind: type, names: Sequence[str] | None = None) -> dict[str, Any]:
    """Describe a dataclass as `imu_rom.exchange.plain_values.plain` writes it.

    Parameters
    ----------
    kind : type
        A frozen dataclass.
    names : sequence of str, optional
        Its fields; all where None.

    Returns
    -------
    dict
        The schema, with all that lies within written out.

    Raises
    ------
    TypeError
        A field is of a kind that has no schema here.
    """
    hints = get_type_hints(kind)
    return object_schema({name: _of(hints[name]) for name in names or [each.name for each in dataclasses.fields(kind)]})


def _of(hint: Any) -> dict[str, Any]:  # noqa: ANN401
    if hint in SIMPLE:
        return SIMPLE[hint]
    if isinstance(hint, type) and dataclasses.is_dataclass(hint):
        return schema_of(hint)
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is Literal:
        return {"enum": list(arguments)}
    if origin is tuple:
        return {"type": "array", "items": _of(arguments[0])}
    if origin is dict:
        return {"type": "object", "additionalProperties": _of(arguments[1])}
    if origin in {Union, types.UnionType}:
        return {"anyOf": [_of(each) for each in arguments]}
    raise TypeError(f"has no schema: {hint}")
