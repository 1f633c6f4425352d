"""The form of an exercise in a plan file, checked by pydantic; imported only where a plan is read."""

from typing import Annotated, Literal

from pydantic import Field, WrapValidator

from imu_rom.dose.exercise import ABSENT, Basis, CompressionThreshold, Decide, Exercise, Legs, Load, SecondPose, Tempo
from imu_rom.dose.form_table import Label, Sentence, Table, Text
from imu_rom.dose.plan_windows import SharesOfOwnRange, window

__all__ = ["ExerciseForm", "exercise_from_form"]

_Phase = Annotated[float, Field(gt=0, le=600)]
_Pause = Annotated[float, Field(ge=0, le=600)]
_Sure = Annotated[float, Field(gt=0.5, lt=1)]


class _Tempo(Table):
    eccentric: _Phase | None = None
    end_range_hold: _Pause | None = None
    concentric: _Phase | None = None
    top_pause: _Pause | None = None


class _Threshold(Table):
    deg: float
    basis: Basis


class _SecondPose(Table):
    motion: Text
    # nearer to upright or to upside down gravity shows little
    deg: Annotated[float, Field(ge=20, le=160)]
    uncertainty_deg: Annotated[float, Field(gt=0, le=30)] = SecondPose.uncertainty_deg


class _Load(Table):
    eccentric: Legs | None = None
    concentric: Legs | None = None
    share_of_body_weight: Annotated[float, Field(ge=0, le=10)] | None = None
    external_kg: Annotated[float, Field(ge=0, le=500)] | None = None


class _Decide(Table):
    reached: _Sure = Decide.reached
    limit: _Sure = Decide.limit
    share_of_repetitions: Annotated[float, Field(gt=0, le=1)] = Decide.share_of_repetitions


class ExerciseForm(Table):
    """An exercise as a plan file writes it."""

    name: Label
    kind: Literal["repetitions", "hold", "stretch"] = "repetitions"
    joint: Text
    motion: Text
    side: Literal["left", "right"]
    proximal: Text | None = None
    distal: Text | None = None
    sensors: Literal["both", "distal only", "proximal only"] = "both"
    still_segment: Text | None = None
    calibration_movement: Text | None = None
    second_pose: _SecondPose | None = None
    sets: Annotated[int, Field(ge=1, le=100)]
    repetitions: Annotated[int, Field(ge=1, le=1000)]
    tempo_s: _Tempo = _Tempo()
    rest_s: Annotated[float, Field(ge=0, le=3600)] | None = None
    start_deg: float | None = None
    # the edges are checked with the contradictions, where an open upper edge has a meaning
    end_range_deg: (
        Annotated[
            list[Annotated[float, Field(allow_inf_nan=True)]],
            Field(min_length=2, max_length=2),
            WrapValidator(window),
        ]
        | None
    ) = None
    # left out, it follows from end_range_deg; written, the contradictions check it
    end_range_reference: Literal["neutral", "own range"] | None = None
    end_range: Literal["angle", "floor"] = "angle"
    floor_tolerance_deg: Annotated[float, Field(gt=0, le=15)] = Exercise.floor_tolerance_deg
    zero: Text | None = None
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
    knee: Literal["straight", "bent"] | None = None
    footwear: Text | None = None
    heel_lift_mm: Annotated[float, Field(ge=0, le=100)] | None = None
    mounting: dict[str, Text] = Field(default_factory=dict)
    placement: dict[str, Text] = Field(default_factory=dict)
    repetition_maximum: Annotated[int, Field(ge=1, le=100)] | None = None
    per_day: Annotated[float, Field(gt=0, le=24)] | None = None
    days_per_week: Annotated[float, Field(gt=0, le=7)] | None = None
    in_words: Sentence | None = None
    decide: _Decide = _Decide()


def _edges(values: list[float] | None) -> tuple[float, float] | None:
    return None if values is None else (values[0], values[1])


def _threshold(form: _Threshold | None) -> CompressionThreshold | None:
    return None if form is None else CompressionThreshold(deg=form.deg, basis=form.basis)


def exercise_from_form(form: ExerciseForm) -> Exercise:
    """Turn an exercise of a plan file into one of the model.

    Parameters
    ----------
    form : ExerciseForm
        Its fields have the right kinds of value.

    Returns
    -------
    Exercise
        A window that is prescribed as shares of the own range has no angles yet.
    """
    written = form.end_range_deg
    by_share = isinstance(written, SharesOfOwnRange)
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
        second_pose=None if form.second_pose is None else SecondPose(**dict(form.second_pose)),
        tempo=Tempo(**{f"{name}_s": value for name, value in form.tempo_s}),
        rest_s=form.rest_s,
        start_deg=form.start_deg,
        end_range_deg=None if by_share else _edges(written),
        share_of_own_range=_edges(written) if by_share else None,
        end_range_reference=form.end_range_reference or ("own range" if by_share else "neutral"),
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
        knee=form.knee,
        footwear=form.footwear,
        heel_lift_mm=form.heel_lift_mm,
        mounting=dict(form.mounting),
        placement=dict(form.placement),
        repetition_maximum=form.repetition_maximum,
        per_day=form.per_day,
        days_per_week=form.days_per_week,
        in_words=form.in_words,
        decide=Decide(**dict(form.decide)),
    )
