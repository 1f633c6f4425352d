"""What is wrong with the form of a plan file, from pydantic's errors to faults in plain words."""

from collections.abc import Mapping
from functools import cache
from typing import Any, get_args

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from imu_rom.dose.form_table import LABEL, ONE_LINE, PROTOCOL_NAME, Table
from imu_rom.dose.plan_fault import FieldPath, PlanFault, nearest
from imu_rom.dose.plan_windows import RECORD_WORDS, WINDOW_WORDS

__all__ = ["form_faults", "shown"]

_PATTERNS = {
    ONE_LINE: "must be text on one line, without spaces around it",
    LABEL: "must be plain letters and digits only, as in BIDS labels",
    PROTOCOL_NAME: "must be small letters and digits, joined by hyphens",
}

# fields that take words or numbers, whose kind alone would say too little
_IN_WORDS = {"end_range_deg": f"must be {WINDOW_WORDS}", "record": f"must be {RECORD_WORDS}"}

# lists of tables
_LISTED = {"stage", "exercise", "own_range", "calendar"}

# of each table its fields, by the keys that lead to it
_Names = dict[tuple[str, ...], list[str]]


def shown(value: object) -> str:
    """Write a value from a plan file into a sentence.

    Parameters
    ----------
    value : object
        As ``tomllib`` gives it.

    Returns
    -------
    str
        Short text on one line.
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) > 10**15:
        return "a very large number"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        text = f"[{', '.join(map(shown, value[:5]))}{', ...' if len(value) > 5 else ''}]"
    elif isinstance(value, str):
        text = repr(value)
    else:
        text = str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


_NOTHING = "nothing"
_UNITS = {"_s": " s", "_h": " h", "_deg": " deg", "_kg": " kg", "_mm": " mm", "_set": " s"}


# what somebody may have meant by a value that a field does not take
_ADVICE = {
    ("end_range_reference", "floor"): "write end_range = 'floor' instead",
    ("day_starts_at", "3"): "write 03:00:00",
}


def _unit(path: FieldPath) -> str:
    for part in path:
        for ending, unit in _UNITS.items():
            if isinstance(part, str) and part.endswith(ending):
                return unit
    return ""


def _table_model(annotation: Any) -> type[Table] | None:  # noqa: ANN401
    """Find the table that a field holds, through lists and optional values."""
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return annotation
    return next((model for each in get_args(annotation) if (model := _table_model(each))), None)


def form_faults(errors: ValidationError, form: type[Table]) -> tuple[PlanFault, ...]:
    """Say in plain words what is wrong with the form of a plan file.

    Parameters
    ----------
    errors : ValidationError
        What pydantic found.
    form : type
        The form of the whole file, for the names of its fields.

    Returns
    -------
    tuple of PlanFault
        A field that is misspelt is one mistake.
    """
    names = _field_names(form)
    faults = {each["loc"]: _fault(each, names) for each in errors.errors(include_url=False)}
    # a misspelt field is one mistake, not an unknown field and a missing one
    for path, fault in list(faults.items()):
        if fault.at_name and fault.do:
            for missing in [each for each, other in faults.items() if other.got == _NOTHING and each[:-1] == path[:-1]]:
                if nearest(str(path[-1]), [str(missing[-1])]) == fault.do:
                    del faults[missing]
    return tuple(faults.values())


@cache
def _field_names(form: type[Table]) -> _Names:
    names: _Names = {}

    def collect(model: type[Table], place: tuple[str, ...]) -> None:
        fields = {field.alias or name: field.annotation for name, field in model.model_fields.items()}
        names[place] = list(fields)
        for name, annotation in fields.items():
            inner = _table_model(annotation)
            if inner is not None:
                collect(inner, (*place, name))

    collect(form, ())
    return names


def _unknown_field(path: FieldPath, names: _Names) -> PlanFault:
    # name the table's known field that is most like it, or the table where it belongs
    place = tuple(part for part in path[:-1] if isinstance(part, str))
    name, known = str(path[-1]), names[place]
    elsewhere = [".".join(each) for each, there in names.items() if each and name in there]
    advice = nearest(name, known) or (f"it belongs in {elsewhere[0]}" if elsewhere else "")
    must = f"must be a field of {'.'.join(place)}" if advice and place else f"must be one of {', '.join(known)}"
    return PlanFault(path, must, f"unknown field {shown(name)}", advice, at_name=True)


def _fault(error: ErrorDetails, names: _Names) -> PlanFault:
    path, kind, context = error["loc"], error["type"], error.get("ctx", {})
    if kind == "extra_forbidden":
        return _unknown_field(path, names)
    if kind == "missing":
        return PlanFault(path, "must be given", _NOTHING)
    if kind == "list_type" and path[-1] in _LISTED:
        header = ".".join(part for part in path if isinstance(part, str))
        return PlanFault(path, f"must be a list of tables, each under [[{header}]]", shown(error["input"]))
    unit = _unit(path)
    must = _IN_WORDS.get(str(path[-1])) if kind in {"list_type", "string_type"} else None
    must = (
        must
        or {
            "words": str(context.get("must")),
            "bool_type": "must be true or false",
            "time_type": "must be a time of day such as 03:00:00, without quotes",
            "string_type": "must be text in quotes",
            "int_type": "must be a whole number",
            "float_type": f"must be a number{unit and f' in{unit}'}",
            "finite_number": f"must be a finite number{unit and f' in{unit}'}",
            "date_type": "must be a date such as 2026-12-01, without quotes or time",
            "list_type": "must be a list in [brackets]",
            "dict_type": "must be a table",
            "model_type": "must be a table",
            "string_pattern_mismatch": _PATTERNS.get(context.get("pattern", ""), ""),
            "string_too_long": f"must be at most {context.get('max_length')} characters long",
            "literal_error": f"must be {context.get('expected')}",
            "greater_than": f"must be more than {context.get('gt'):g}{unit}" if "gt" in context else "",
            "greater_than_equal": f"must be at least {context.get('ge'):g}{unit}" if "ge" in context else "",
            "less_than": f"must be less than {context.get('lt'):g}{unit}" if "lt" in context else "",
            "less_than_equal": f"must be at most {context.get('le'):g}{unit}" if "le" in context else "",
            "too_short": "must hold at least one entry" if context.get("min_length") == 1 else "must be [low, high]",
            "too_long": "must hold at most 10 entries" if context.get("max_length") == 10 else "must be [low, high]",
        }.get(kind)
        or f"must be different ({error['msg']})"
    )
    return PlanFault(path, must, shown(error["input"]), _ADVICE.get((str(path[-1]), str(error["input"])), ""))
