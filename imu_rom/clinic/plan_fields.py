"""The fields of a plan that most changes are about, as a form has them: read from its text and written back into it.

What is written is never checked here: whatever somebody types goes into the text as it stands, and the reader of plans
says what is wrong with it and where, exactly as for a plan that was edited by hand.
"""

import math
import re
from collections.abc import Mapping, MutableMapping
from dataclasses import dataclass
from typing import Any, Literal

import tomlkit
from tomlkit.items import AoT, Table

from imu_rom.clinic.plan_changes import edited, table_of
from imu_rom.errors import PlanError
from imu_rom.wording.cautions import is_about_legs

__all__ = ["CRITERIA", "EXERCISE", "HEAD", "FieldValue", "PlanField", "StageFields", "stage_fields", "with_fields"]

Kind = Literal["number", "words", "window", "yes"]

_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")
_WINDOW = re.compile(r"([+-]?\d+(?:\.\d+)?) to ([+-]?\d+(?:\.\d+)?)(?: deg)?")
_WHOLE = re.compile(r"[+-]?\d{1,15}")


@dataclass(frozen=True)
class PlanField:
    """One field of the form.

    Parameters
    ----------
    path : tuple of str
        Keys that lead to it within its table.
    label : str
        What it is called.
    unit : str
        Behind the field; may be empty.
    kind : {"number", "words", "window", "yes"}
        What is written into it.
    choices : tuple of str
        The words that there are; empty where any may stand.
    """

    path: tuple[str, ...]
    label: str
    unit: str = ""
    kind: Kind = "number"
    choices: tuple[str, ...] = ()


HEAD = (
    PlanField(("record",), "Recorded, such as 2 sessions a week", "", "words"),
    PlanField(("settles_within_h",), "Pain settles within", "h"),
    PlanField(("irritability",), "Irritability", "", "words", ("low", "moderate", "high")),
)

_LEGS = ("single leg", "both legs", "other leg", "unweighted")
EXERCISE = (
    PlanField(("in_words",), "In words, for the patient", "", "words"),
    PlanField(("sets",), "Sets"),
    PlanField(("repetitions",), "Repetitions in each"),
    PlanField(("per_day",), "Sessions a day"),
    PlanField(("days_per_week",), "Days a week"),
    PlanField(("end_range_deg",), "End range", "deg, such as 5 to 10", "window"),
    PlanField(("limit_deg",), "Limit", "deg"),
    PlanField(("compression_threshold", "deg"), "Compressive angle", "deg"),
    PlanField(("tempo_s", "eccentric"), "Into the end range", "s"),
    PlanField(("tempo_s", "end_range_hold"), "Hold there", "s"),
    PlanField(("tempo_s", "concentric"), "Back", "s"),
    PlanField(("tempo_s", "top_pause"), "Pause at the start", "s"),
    PlanField(("rest_s",), "Rest between sets", "s"),
    PlanField(("load", "eccentric"), "Who carries the way in", "", "words", _LEGS),
    PlanField(("load", "concentric"), "Who carries the way back", "", "words", _LEGS),
    PlanField(("load", "external_kg"), "Added weight", "kg"),
    PlanField(("footwear",), "Footwear", "", "words"),
    PlanField(("heel_lift_mm",), "Heel lift", "mm"),
)

# of an arm's exercise they are shown only where the plan has them
_OF_LEGS = (("load", "eccentric"), ("load", "concentric"), ("footwear",), ("heel_lift_mm",))

CRITERIA = (
    PlanField(("share_of_dose",), "Share of the dose done", "0 to 1"),
    PlanField(("pain_during",), "Pain during, at most", "of 10"),
    PlanField(("pain_after",), "Pain after, at most", "of 10"),
    PlanField(("pain_next_morning",), "Pain next morning, at most", "of 10"),
    PlanField(("days_stable",), "Held for", "days in a row"),
    PlanField(("no_rise_week_on_week",), "Morning pain and stiffness must not rise", "", "yes"),
    PlanField(("load_test", "name"), "Load test", "", "words"),
    PlanField(("load_test", "pain"), "Pain in it, at most", "of 10"),
    PlanField(("side_difference_deg",), "Difference between the sides, at most", "deg"),
)


@dataclass(frozen=True)
class FieldValue:
    """A field with what stands in it.

    Parameters
    ----------
    name : str
        Its name in the form.
    field : PlanField
        What it is.
    value : str
        As text; empty where the plan leaves it out.
    """

    name: str
    field: PlanField
    value: str


@dataclass(frozen=True)
class StageFields:
    """The form of one stage.

    Parameters
    ----------
    stages : tuple of str
        Names of all stages.
    number : int
        Which of them, from 0.
    head, criteria : tuple of FieldValue
        Of the plan and of the stage.
    exercises : tuple of (str, tuple of FieldValue)
        Name of each exercise of the stage and its fields; an arm's without what legs carry and wear, where empty.
    """

    stages: tuple[str, ...]
    number: int
    head: tuple[FieldValue, ...]
    criteria: tuple[FieldValue, ...]
    exercises: tuple[tuple[str, tuple[FieldValue, ...]], ...]


def stage_fields(text: str, number: int) -> StageFields:
    """Read the fields of a plan's stage.

    Parameters
    ----------
    text : str
        TOML of a plan that was checked.
    number : int
        Which stage, from 0; one that there is not is the first.

    Returns
    -------
    StageFields
        All fields that the form has.

    Raises
    ------
    PlanError
        The text is no plan.
    """
    document = edited(text)
    head = table_of(document)
    stages = _tables(document.get("stage"))
    if not stages:
        raise PlanError("must hold a [[stage]]", where="plan.toml")
    number = number if 0 <= number < len(stages) else 0
    stage = stages[number]
    return StageFields(
        stages=tuple(str(each.get("name", "")) for each in stages),
        number=number,
        head=_values(head, HEAD, "plan"),
        criteria=_values(stage.get("criteria", {}), CRITERIA, "criteria"),
        exercises=tuple(
            (f"{each.get('name', '')}, {each.get('side', '')}", _of_exercise(each, index))
            for index, each in enumerate(_tables(stage.get("exercise")))
        ),
    )


def with_fields(text: str, number: int, given: Mapping[str, str]) -> str:
    """Write the fields of a form into a plan's text, comments kept; a field that is empty is left out of the plan.

    Parameters
    ----------
    text : str
        TOML of a plan that was checked.
    number : int
        Which stage, from 0.
    given : mapping of str to str
        What was written into the fields, by name; what is not given stays.

    Returns
    -------
    str
        TOML, which may be no plan that can be followed.

    Raises
    ------
    PlanError
        The text is no plan.
    """
    document = edited(text)
    form = stage_fields(text, number)
    stage = _tables(document["stage"])[form.number]
    changed = [each for each in (*form.head, *form.criteria) if given.get(each.name, each.value) != each.value]
    for each in changed:
        if each.name.startswith("plan."):
            _set(table_of(document), each.field, given[each.name])
        else:
            if not isinstance(stage.get("criteria"), MutableMapping):
                _put_criteria(stage)
            _set(stage["criteria"], each.field, given[each.name])
    for exercise, (_, fields) in zip(_tables(stage.get("exercise")), form.exercises, strict=True):
        for each in fields:
            if given.get(each.name, each.value) != each.value:
                _set(exercise, each.field, given[each.name])
    return tomlkit.dumps(document)


def _put_criteria(stage: Any) -> None:  # noqa: ANN401 - tomlkit's tables and their proxies share no class
    """Put an empty table in front of the stage's exercises, which must come last."""
    exercises = stage.pop("exercise")
    stage["criteria"] = tomlkit.table()
    stage["exercise"] = exercises


def _tables(value: object) -> list[Table]:
    return list(value) if isinstance(value, AoT) else []


def _values(table: Mapping[str, Any], fields: tuple[PlanField, ...], before: str) -> tuple[FieldValue, ...]:
    return tuple(FieldValue(f"{before}.{'.'.join(each.path)}", each, _shown(_get(table, each.path))) for each in fields)


def _of_exercise(table: Mapping[str, Any], index: int) -> tuple[FieldValue, ...]:
    values = _values(table, EXERCISE, f"exercise.{index}")
    legs = is_about_legs({str(table.get("joint", ""))})
    return tuple(each for each in values if legs or each.value or each.field.path not in _OF_LEGS)


def _get(table: object, path: tuple[str, ...]) -> object:
    for key in path:
        if not isinstance(table, Mapping) or key not in table:
            return None
        table = table[key]
    return table


def _shown(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, list) and len(value) == 2:
        low, high = (float(each) for each in value)
        return f"at least {low:g}" if math.isinf(high) else f"{low:g} to {high:g}"
    if isinstance(value, float):
        return f"{float(value):g}"
    return str(value)


def _set(table: Any, field: PlanField, text: str) -> None:  # noqa: ANN401 - as above
    text = text.strip()
    *before, last = field.path
    for key in before:
        if not isinstance(table.get(key), MutableMapping):
            if not text:
                return
            table[key] = tomlkit.inline_table()
        table = table[key]
    if text:
        table[last] = _written(field.kind, text)
        if field.path == ("compression_threshold", "deg") and "basis" not in table:
            table["basis"] = "clinician"
    else:
        table.pop(last, None)


def _written(kind: Kind, text: str) -> object:
    """Give the value that a field's text means; what it can't mean stays text, for the reader of plans to refuse."""
    if kind == "yes":
        return text == "yes"
    if kind == "number" and _WHOLE.fullmatch(text):
        return int(text)
    if kind == "number" and _NUMBER.fullmatch(text):
        return float(text.replace(",", "."))
    if kind == "window" and (match := _WINDOW.fullmatch(" ".join(text.split()))):
        return [_written("number", each) for each in match.groups()]
    return text
