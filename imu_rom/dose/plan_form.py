"""The form of a plan: names and kinds of its fields, checked by pydantic; imported only where a plan is read."""

from collections.abc import Mapping
from dataclasses import fields
from datetime import date, time
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError, create_model

from imu_rom.dose.criteria import Criteria, LoadTest
from imu_rom.dose.exercise_form import ExerciseForm, exercise_from_form
from imu_rom.dose.form_faults import form_faults
from imu_rom.dose.form_table import PROTOCOL_NAME, Label, Sentence, Table, Text
from imu_rom.dose.plan import CalendarEntry, OwnRange, OwnUncertainty, Plan, Protocol, Stage
from imu_rom.dose.plan_fault import PlanFault
from imu_rom.dose.plan_windows import sessions_per_week
from imu_rom.dose.study import Study, ValidRecording
from imu_rom.settings import UncertaintySettings

__all__ = ["plan_from_mapping"]

_Pain = Annotated[float, Field(ge=0, le=10)]
_Week = Annotated[int, Field(ge=1, le=520)]


class _LoadTest(Table):
    name: Text
    pain: _Pain


class _Criteria(Table):
    share_of_dose: Annotated[float, Field(gt=0, le=1)] | None = None
    pain_during: _Pain | None = None
    pain_after: _Pain | None = None
    pain_next_morning: _Pain | None = None
    no_rise_week_on_week: bool = False
    days_stable: Annotated[int, Field(ge=1, le=365)] | None = None
    load_test: _LoadTest | None = None
    side_difference_deg: Annotated[float, Field(gt=0, le=90)] | None = None
    in_words: list[Sentence] = Field(default_factory=list)


class _Stage(Table):
    name: Text
    from_: date | None = Field(default=None, alias="from")
    until: date | None = None
    goal: Sentence | None = None
    weeks: Annotated[list[_Week], Field(min_length=2, max_length=2)] | None = None
    criteria: _Criteria = _Criteria()
    exercise: Annotated[list[ExerciseForm], Field(min_length=1)]


class _Protocol(Table):
    name: Annotated[str, Field(pattern=PROTOCOL_NAME, max_length=64)]
    citation: Sentence
    from_memory: Sentence | None = None


class _Head(Table):
    format: Literal[1]
    title: Text | None = None
    patient: Text | None = None
    bids_subject: Label | None = None
    tendon_site: Text
    from_: date | None = Field(default=None, alias="from")
    stage: Text | None = None
    irritability: Literal["low", "moderate", "high"] | None = None
    settles_within_h: Annotated[float, Field(gt=0, le=168)] | None = None
    record: Annotated[float | None, BeforeValidator(sessions_per_week)] = None
    day_starts_at: time | None = None
    time_zone: Text | None = None
    protocol: _Protocol | None = None


class _OwnRange(Table):
    side: Literal["left", "right"]
    deg: float
    standard_uncertainty_deg: Annotated[float, Field(gt=0, le=20)] | None = None
    on: date
    by: Text
    joint: Text | None = None
    motion: Text | None = None


class _CalendarEntry(Table):
    from_: date = Field(alias="from")
    stage: Text
    why: Sentence | None = None


class _ValidRecording(Table):
    least_repetitions_share: Annotated[float, Field(gt=0, le=1)] | None = None
    largest_u_shared_deg: Annotated[float, Field(gt=0, le=30)] | None = None
    largest_unseen_share: Annotated[float, Field(ge=0, le=1)] | None = None
    without_findings: Annotated[list[Text], Field(max_length=20)] = Field(default_factory=list)


class _Study(Table):
    declared_on: date
    primary_threshold_deg: Annotated[float, Field(ge=-180, le=180)] | None = None
    registration: Sentence | None = None
    valid_recording: _ValidRecording = _ValidRecording()


class _NamedChecks(Table):
    # one name or a list of them
    from_: Annotated[
        Annotated[list[Text], Field(min_length=1, max_length=10)] | None,
        BeforeValidator(lambda value: [value] if isinstance(value, str) else value),
    ] = Field(default=None, alias="from")


# the parts are those of the settings, with their ranges, so that both always have the same names
_PARTS: dict[str, Any] = {
    each.name: (Annotated[float, Field(ge=each.metadata["low"], le=each.metadata["high"])] | None, None)
    for each in fields(UncertaintySettings)
    if each.metadata["low"] is not None
}
_Uncertainty = create_model("_Uncertainty", __base__=_NamedChecks, **_PARTS)


class _PlanFile(Table):
    plan: _Head
    uncertainty: _Uncertainty | None = None  # type: ignore[valid-type]
    own_range: list[_OwnRange] = Field(default_factory=list)
    calendar: list[_CalendarEntry] = Field(default_factory=list)
    study: _Study | None = None
    stage: Annotated[list[_Stage], Field(min_length=1)]


def _criteria(form: _Criteria) -> Criteria:
    test = form.load_test
    return Criteria(
        share_of_dose=form.share_of_dose,
        pain_during_at_most=form.pain_during,
        pain_after_at_most=form.pain_after,
        pain_next_morning_at_most=form.pain_next_morning,
        no_rise_week_on_week=form.no_rise_week_on_week,
        days_stable=form.days_stable,
        load_test=None if test is None else LoadTest(name=test.name, pain_at_most=test.pain),
        side_difference_deg_at_most=form.side_difference_deg,
        in_words=tuple(form.in_words),
    )


def _stage(form: _Stage) -> Stage:
    return Stage(
        name=form.name,
        exercises=tuple(map(exercise_from_form, form.exercise)),
        from_date=form.from_,
        until_date=form.until,
        goal=form.goal,
        weeks=None if form.weeks is None else (form.weeks[0], form.weeks[1]),
        criteria=_criteria(form.criteria),
    )


def _own_range(form: _OwnRange) -> OwnRange:
    return OwnRange(
        side=form.side,
        own_range_deg=form.deg,
        measured_on=form.on,
        measured_by=form.by,
        standard_uncertainty_deg=form.standard_uncertainty_deg,
        joint=form.joint,
        motion=form.motion,
    )


def _own_uncertainty(form: _NamedChecks | None) -> OwnUncertainty | None:
    if form is None:
        return None
    parts = {name: value for name, value in form if name in _PARTS and value is not None}
    return OwnUncertainty(parts=parts, sources=dict.fromkeys(parts, "the plan"), named_checks=tuple(form.from_ or ()))


def _study(form: _Study | None) -> Study | None:
    if form is None:
        return None
    rule = form.valid_recording
    return Study(
        declared_on=form.declared_on,
        primary_threshold_deg=form.primary_threshold_deg,
        registration=form.registration,
        valid_recording=ValidRecording(
            least_repetitions_share=rule.least_repetitions_share,
            largest_u_shared_deg=rule.largest_u_shared_deg,
            largest_unseen_share=rule.largest_unseen_share,
            without_findings=tuple(rule.without_findings),
        ),
    )


def plan_from_mapping(tables: Mapping[str, object]) -> Plan | tuple[PlanFault, ...]:
    """Turn the tables of a plan file into a plan.

    Parameters
    ----------
    tables : mapping
        As ``tomllib`` gives them.

    Returns
    -------
    Plan or tuple of PlanFault
        The plan, its contradictions not yet looked for, the checks that it names not yet read and shares of the own
        range not yet turned into angles; or what is wrong with its form.
    """
    try:
        form = _PlanFile.model_validate(tables)
    except ValidationError as errors:
        return form_faults(errors, _PlanFile)
    head, stages = form.plan, tuple(map(_stage, form.stage))
    calendar = tuple(CalendarEntry(from_date=each.from_, stage=each.stage, why=each.why) for each in form.calendar)
    return Plan(
        title=head.title or head.tendon_site.capitalize(),
        tendon_site=head.tendon_site,
        stages=stages,
        current_stage=head.stage or (calendar[-1].stage if calendar else stages[0].name),
        patient=head.patient,
        bids_subject=head.bids_subject,
        own_uncertainty=_own_uncertainty(form.uncertainty),
        from_date=head.from_,
        calendar=calendar,
        own_ranges=tuple(map(_own_range, form.own_range)),
        irritability=head.irritability,
        settles_within_h=head.settles_within_h,
        sessions_recorded_per_week=head.record,
        day_starts_at=head.day_starts_at,
        time_zone=head.time_zone,
        protocol=None
        if head.protocol is None
        else Protocol(name=head.protocol.name, citation=head.protocol.citation, from_memory=head.protocol.from_memory),
        study=_study(form.study),
    )
