"""The form of a plan: names and kinds of its fields, checked by pydantic; imported only where a plan is read."""

from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from functools import cache
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, create_model
from pydantic_core import ErrorDetails

from imu_rom.dose.exercise import ABSENT, Basis, CompressionThreshold, Decide, Exercise, Legs, Load, Tempo
from imu_rom.dose.plan import OwnUncertainty, Plan, Stage
from imu_rom.dose.plan_fault import FieldPath, PlanFault, nearest
from imu_rom.settings import UncertaintySettings

__all__ = ["plan_from_mapping", "shown"]

_ONE_LINE = r"^[^\p{Cc}\s](?:\P{Cc}*[^\p{Cc}\s])?$"
_LABEL = r"^[A-Za-z0-9]+$"
_PATTERNS = {
    _ONE_LINE: "must be text on one line, without spaces around it",
    _LABEL: "must be plain letters and digits only, as in BIDS labels",
}

_Text = Annotated[str, Field(pattern=_ONE_LINE, max_length=200)]
_Label = Annotated[str, Field(pattern=_LABEL, max_length=64)]
_Phase = Annotated[float, Field(gt=0, le=600)]
_Pause = Annotated[float, Field(ge=0, le=600)]
_Sure = Annotated[float, Field(gt=0.5, lt=1)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True)


class _Tempo(_Table):
    eccentric: _Phase | None = None
    end_range_hold: _Pause | None = None
    concentric: _Phase | None = None
    top_pause: _Pause | None = None


class _Threshold(_Table):
    deg: float
    basis: Basis


class _Load(_Table):
    eccentric: Legs | None = None
    concentric: Legs | None = None
    share_of_body_weight: Annotated[float, Field(ge=0, le=10)] | None = None
    external_kg: Annotated[float, Field(ge=0, le=500)] | None = None


class _Decide(_Table):
    reached: _Sure = Decide.reached
    limit: _Sure = Decide.limit
    share_of_repetitions: Annotated[float, Field(gt=0, le=1)] = Decide.share_of_repetitions


class _Exercise(_Table):
    name: _Label
    kind: Literal["repetitions", "hold", "stretch"] = "repetitions"
    joint: _Text
    motion: _Text
    side: Literal["left", "right"]
    proximal: _Text | None = None
    distal: _Text | None = None
    sensors: Literal["both", "distal only", "proximal only"] = "both"
    still_segment: _Text | None = None
    calibration_movement: _Text | None = None
    sets: Annotated[int, Field(ge=1, le=100)]
    repetitions: Annotated[int, Field(ge=1, le=1000)]
    tempo_s: _Tempo = _Tempo()
    rest_s: Annotated[float, Field(ge=0, le=3600)] | None = None
    start_deg: float | None = None
    # the edges are checked with the contradictions, where an open upper edge has a meaning
    end_range_deg: (
        Annotated[list[Annotated[float, Field(allow_inf_nan=True)]], Field(min_length=2, max_length=2)] | None
    ) = None
    end_range_reference: Literal["neutral", "own range"] = "neutral"
    end_range: Literal["angle", "floor"] = "angle"
    floor_tolerance_deg: Annotated[float, Field(gt=0, le=15)] = Exercise.floor_tolerance_deg
    zero: _Text | None = None
    neutral_deg: float | None = None
    neutral_uncertainty_deg: Annotated[float, Field(gt=0, le=20)] | None = None
    limit_deg: float | None = None
    compression_threshold: _Threshold | None = None
    past_threshold_s_per_set: (
        Annotated[list[Annotated[float, Field(ge=0, le=36_000)]], Field(min_length=2, max_length=2)] | None
    ) = None
    load: _Load = _Load()
    surface: Literal["floor", "step", "wedge"] | None = None
    step_height_mm: Annotated[float, Field(gt=0, le=1000)] | None = None
    footwear: _Text | None = None
    heel_lift_mm: Annotated[float, Field(ge=0, le=100)] | None = None
    mounting: dict[str, _Text] = Field(default_factory=dict)
    placement: dict[str, _Text] = Field(default_factory=dict)
    per_day: Annotated[float, Field(gt=0, le=24)] | None = None
    days_per_week: Annotated[float, Field(gt=0, le=7)] | None = None
    decide: _Decide = _Decide()


class _Stage(_Table):
    name: _Text
    from_: date | None = Field(default=None, alias="from")
    exercise: Annotated[list[_Exercise], Field(min_length=1)]


class _Head(_Table):
    format: Literal[1]
    title: _Text | None = None
    patient: _Text | None = None
    bids_subject: _Label | None = None
    tendon_site: _Text
    stage: _Text | None = None


class _NamedChecks(_Table):
    # one name or a list of them
    from_: Annotated[
        Annotated[list[_Text], Field(min_length=1, max_length=10)] | None,
        BeforeValidator(lambda value: [value] if isinstance(value, str) else value),
    ] = Field(default=None, alias="from")


# the parts are those of the settings, with their ranges, so that both always have the same names
_PARTS: dict[str, Any] = {
    each.name: (Annotated[float, Field(ge=each.metadata["low"], le=each.metadata["high"])] | None, None)
    for each in fields(UncertaintySettings)
    if each.metadata["low"] is not None
}
_Uncertainty = create_model("_Uncertainty", __base__=_NamedChecks, **_PARTS)


class _PlanFile(_Table):
    plan: _Head
    uncertainty: _Uncertainty | None = None  # type: ignore[valid-type]
    stage: Annotated[list[_Stage], Field(min_length=1)]


def _edges(values: list[float] | None) -> tuple[float, float] | None:
    return None if values is None else (values[0], values[1])


def _threshold(form: _Threshold | None) -> CompressionThreshold | None:
    return None if form is None else CompressionThreshold(deg=form.deg, basis=form.basis)


def _exercise(form: _Exercise) -> Exercise:
    return Exercise(
        name=form.name,
        joint=form.joint,
        motion=form.motion,
        side=form.side,
        proximal=form.proximal or ABSENT,
        distal=form.distal or ABSENT,
        sensors=form.sensors,
        still_segment=form.still_segment,
        sets=form.sets,
        repetitions=form.repetitions,
        kind=form.kind,
        calibration_movement=form.calibration_movement,
        tempo=Tempo(**{f"{name}_s": value for name, value in form.tempo_s}),
        rest_s=form.rest_s,
        start_deg=form.start_deg,
        end_range_deg=_edges(form.end_range_deg),
        end_range_reference=form.end_range_reference,
        end_range=form.end_range,
        floor_tolerance_deg=form.floor_tolerance_deg,
        zero=form.zero,
        neutral_deg=form.neutral_deg,
        neutral_uncertainty_deg=form.neutral_uncertainty_deg,
        limit_deg=form.limit_deg,
        compression_threshold=_threshold(form.compression_threshold),
        past_threshold_s_per_set=_edges(form.past_threshold_s_per_set),
        load=Load(**dict(form.load)),
        surface=form.surface,
        step_height_mm=form.step_height_mm,
        footwear=form.footwear,
        heel_lift_mm=form.heel_lift_mm,
        mounting=dict(form.mounting),
        placement=dict(form.placement),
        per_day=form.per_day,
        days_per_week=form.days_per_week,
        decide=Decide(**dict(form.decide)),
    )


def _own_uncertainty(form: _NamedChecks | None) -> OwnUncertainty | None:
    if form is None:
        return None
    parts = {name: value for name, value in form if name in _PARTS and value is not None}
    return OwnUncertainty(parts=parts, sources=dict.fromkeys(parts, "the plan"), named_checks=tuple(form.from_ or ()))


def plan_from_mapping(tables: Mapping[str, object]) -> Plan | tuple[PlanFault, ...]:
    """Turn the tables of a plan file into a plan.

    Parameters
    ----------
    tables : mapping
        As ``tomllib`` gives them.

    Returns
    -------
    Plan or tuple of PlanFault
        The plan, its contradictions not yet looked for and the checks that it names not yet read; or what is wrong
        with its form.
    """
    try:
        form = _PlanFile.model_validate(tables)
    except ValidationError as errors:
        return _faults(errors)
    stages = tuple(
        Stage(name=each.name, exercises=tuple(map(_exercise, each.exercise)), from_date=each.from_)
        for each in form.stage
    )
    return Plan(
        title=form.plan.title or form.plan.tendon_site.capitalize(),
        tendon_site=form.plan.tendon_site,
        stages=stages,
        current_stage=form.plan.stage or stages[0].name,
        patient=form.plan.patient,
        bids_subject=form.plan.bids_subject,
        own_uncertainty=_own_uncertainty(form.uncertainty),
    )


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
_UNITS = {"_s": " s", "_deg": " deg", "_kg": " kg", "_mm": " mm", "_set": " s"}


# what somebody may have meant by a value that a field does not take
_ADVICE = {("end_range_reference", "floor"): "write end_range = 'floor' instead"}


def _unit(path: FieldPath) -> str:
    for part in path:
        for ending, unit in _UNITS.items():
            if isinstance(part, str) and part.endswith(ending):
                return unit
    return ""


def _table_model(annotation: Any) -> type[_Table] | None:  # noqa: ANN401
    """Find the table that a field holds, through lists and optional values."""
    if isinstance(annotation, type) and issubclass(annotation, _Table):
        return annotation
    return next((model for each in get_args(annotation) if (model := _table_model(each))), None)


def _faults(errors: ValidationError) -> tuple[PlanFault, ...]:
    faults = {each["loc"]: _fault(each) for each in errors.errors(include_url=False)}
    # a misspelt field is one mistake, not an unknown field and a missing one
    for path, fault in list(faults.items()):
        if fault.at_name and fault.do:
            for missing in [each for each, other in faults.items() if other.got == _NOTHING and each[:-1] == path[:-1]]:
                if nearest(str(path[-1]), [str(missing[-1])]) == fault.do:
                    del faults[missing]
    return tuple(faults.values())


@cache
def _field_names() -> dict[tuple[str, ...], list[str]]:
    # of each table, by the keys that lead to it
    names: dict[tuple[str, ...], list[str]] = {}

    def collect(model: type[_Table], place: tuple[str, ...]) -> None:
        fields = {field.alias or name: field.annotation for name, field in model.model_fields.items()}
        names[place] = list(fields)
        for name, annotation in fields.items():
            inner = _table_model(annotation)
            if inner is not None:
                collect(inner, (*place, name))

    collect(_PlanFile, ())
    return names


def _unknown_field(path: FieldPath) -> PlanFault:
    # name the table's known field that is most like it, or the table where it belongs
    place = tuple(part for part in path[:-1] if isinstance(part, str))
    name, known = str(path[-1]), _field_names()[place]
    elsewhere = [".".join(each) for each, names in _field_names().items() if each and name in names]
    advice = nearest(name, known) or (f"it belongs in {elsewhere[0]}" if elsewhere else "")
    must = f"must be a field of {'.'.join(place)}" if advice and place else f"must be one of {', '.join(known)}"
    return PlanFault(path, must, f"unknown field {shown(name)}", advice, at_name=True)


def _fault(error: ErrorDetails) -> PlanFault:
    path, kind, context = error["loc"], error["type"], error.get("ctx", {})
    if kind == "extra_forbidden":
        return _unknown_field(path)
    if kind == "missing":
        return PlanFault(path, "must be given", _NOTHING)
    if kind == "list_type" and path[-1] in {"stage", "exercise"}:
        header = ".".join(part for part in path if isinstance(part, str))
        return PlanFault(path, f"must be a list of tables, each under [[{header}]]", shown(error["input"]))
    unit = _unit(path)
    must = {
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
    }.get(kind) or f"must be different ({error['msg']})"
    return PlanFault(path, must, shown(error["input"]), _ADVICE.get((str(path[-1]), str(error["input"])), ""))
