"""One sitting from recording and plan to verdicts: composition only."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.assignment import exercise_shown
from imu_rom.dose.comparison import compare_session
from imu_rom.dose.one_sensor import still_standard_uncertainty_deg
from imu_rom.dose.plan import Plan
from imu_rom.dose.stage_applied import plan_as_applied
from imu_rom.dose.zero import zero_meaning, zero_standard_uncertainty_deg
from imu_rom.errors import CannotAnswerError
from imu_rom.findings import Finding
from imu_rom.motion.ball_track import BallTrack
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.motion.stillness import find_still_stretches
from imu_rom.recording.model import InputFile, Recording
from imu_rom.session.ball import ball_neutral_pose, ball_sign, findings_in_sets
from imu_rom.session.budget import clock_standard_uncertainty_s, hinge_budget, placements_worn
from imu_rom.session.findings import (
    analysis_findings,
    check_clipping,
    own_uncertainty_findings,
    stage_findings,
    track_findings,
)
from imu_rom.session.floor import floor_reference
from imu_rom.session.holds import hold_sets
from imu_rom.session.marks import apply_marks
from imu_rom.session.mountings import declared_mountings
from imu_rom.session.one_sensor import check_movement_can_be_counted, one_sensor_findings
from imu_rom.session.result import (
    AngleMeasurement,
    ExerciseResult,
    Mark,
    SensorSlip,
    SessionResult,
    StillStretch,
    ZeroPose,
)
from imu_rom.session.sets import exercise_sets
from imu_rom.session.slips import ZeroWatch, watch_zero
from imu_rom.session.trace import angle_trace
from imu_rom.session.tracked import (
    alignment_found,
    exercise_track,
    hinge_track,
    turn_middle_deg,
    within_a_turn_deg,
)
from imu_rom.session.zero import (
    check_pose_is_measured,
    check_sign_can_be_settled,
    neutral_pose,
    settle_sign,
    still_stretch,
    zero_pose,
)
from imu_rom.session.zero_findings import zero_findings
from imu_rom.settings import Settings

__all__ = ["analyse", "measure_angle", "still_stretches"]

Floats = NDArray[np.float64]


def analyse(
    recording: Recording,
    plan: Plan,
    *,
    stage: str | None = None,
    exercise_name: str | None = None,
    span_s: tuple[float, float] | None = None,
    neutral: tuple[float, float] | None = None,
    settings: Settings | None = None,
    marks: Sequence[Mark] = (),
    inputs: Sequence[InputFile] = (),
) -> SessionResult:
    """Analyse one recording against its plan.

    Parameters
    ----------
    recording : Recording
        What was measured.
    plan : Plan
        What was prescribed.
    stage : str, optional
        Stage of the plan that held; None takes the one of the recording's day, where both are dated, else the current
        one.
    exercise_name : str, optional
        Exercise of the plan's stage; None takes the recording's task.
    span_s : tuple of float, optional
        (start_s, stop_s) outside which no set is looked for.
    neutral : tuple of float, optional
        (start_s, stop_s) of the neutral pose; None finds it.
    settings : Settings, optional
        All tunables; None takes the defaults.
    marks : sequence of Mark, optional
        A person's corrections.
    inputs : sequence of InputFile, optional
        Further files that were read (plan, settings, marks), for provenance.

    Returns
    -------
    SessionResult
        The answer with all that led to it.

    Raises
    ------
    PlanError
        The plan is for another person or exercise, or no stage of it held on the recording's day.
    RecordingError
        A tracked point is not in the recording.
    CannotAnswerError
        The recording does not carry what the question needs: pose, movement, sign, repetitions.
    """
    settings = settings or Settings()
    asked, plan = plan, plan_as_applied(plan, recording.recorded_at, stage)
    own = plan.own_uncertainty
    if own is not None:
        settings = replace(settings, uncertainty=own.applied_to(settings.uncertainty))
        inputs = (*inputs, *own.checks)
    exercise = exercise_shown(plan, subject=recording.subject, task=recording.task, name=exercise_name)
    mountings = declared_mountings(exercise, recording)
    track = exercise_track(recording, exercise, neutral, settings)
    if not track.facing_is_clear:
        raise CannotAnswerError(
            "the recording does not show which way both sensors face: nothing tilts, pushes or swings them together",
            where=recording.label,
            do=("correct the declared mounting" if len(mountings[0]) > 1 else "declare the mounting of both sensors")
            + ", or record it again with a few steps walked between the sets",
        )
    check_sign_can_be_settled(exercise, mountings)
    if isinstance(track, BallTrack):
        pose = ball_neutral_pose(track, neutral, settings.pose, needs_calibration=not mountings[0])
        sign = ball_sign(track, pose, mountings)
    else:
        pose = neutral_pose(track, neutral, settings.pose, needs_calibration=not mountings[0])
        sign = settle_sign(exercise, track, pose, mountings)
    check_pose_is_measured(pose, track, recording.gaps)

    pose_deg = exercise.neutral_deg or 0.0
    angle_deg, coarse_deg = (
        sign.factor * within_a_turn_deg(each, pose.level_rad, turn_middle_deg(exercise, sign.factor)) + added_deg
        for each, added_deg in ((track.angle_rad, pose_deg), (track.coarse_angle_rad, 0.0))
    )

    def sets_in(coarse_deg: Floats, angle_deg: Floats) -> list[RepetitionSet]:
        if exercise.is_held:
            by_hand = [mark for mark in marks if mark.action == "hold"]
            all_sets = hold_sets(
                recording, track, (coarse_deg, angle_deg - pose_deg), pose, exercise, settings, by_hand
            )
        else:
            all_sets = exercise_sets(track, coarse_deg, pose, exercise, settings, given=neutral is not None)
        if span_s is None:
            return all_sets
        return [each for each in all_sets if each.start_s < span_s[1] and each.stop_s > span_s[0]]

    found = sets_in(coarse_deg, angle_deg)
    if not found:
        raise CannotAnswerError(
            f"no repetition of {exercise.name!r} was found: nothing moves back and forth by "
            f"{settings.repetitions.smallest_excursion_deg:g} deg or more on the spot",
            where=recording.label,
            do="check that this is the recording of that exercise and that "
            + ("both sensors were worn" if exercise.sensors == "both" else "the sensor was worn"),
        )
    check_movement_can_be_counted(exercise, found, recording.label)
    # a joint of more axes, or one sensor beside a segment that may move, has no one angle that standing would repeat
    watched = exercise.angle_is_known and not isinstance(track, BallTrack)
    watch = watch_zero(track, coarse_deg, pose, found, settings) if watched else ZeroWatch()
    if watch.corrects:
        angle_deg = angle_deg - watch.zero_deg(np.asarray(recording.time_s))
        coarse_deg = coarse_deg - watch.zero_deg(track.motion.time_s)
        found = sets_in(coarse_deg, angle_deg)
    sets = apply_marks(
        found,
        [mark for mark in marks if not (exercise.is_held and mark.action == "hold")],
        settings.repetitions.complete_share,
    )
    check_clipping(recording, exercise, sets, track, settings.repetitions.longest_clipping_s)
    points = (exercise.proximal, exercise.distal)
    budget = hinge_budget(
        track,
        coarse_deg,
        pose,
        sets,
        settings.uncertainty,
        placements_worn(recording, points, exercise.joint, exercise.placement),
        own_sources={} if own is None else own.sources,
        zero_deg=zero_standard_uncertainty_deg(exercise, settings.uncertainty),
        still_deg=still_standard_uncertainty_deg(exercise, settings.uncertainty),
        clock_s=clock_standard_uncertainty_s(recording, track),
    )
    comparison = compare_session(
        exercise,
        sets,
        recording.rate_hz,
        angle_deg,
        u_shared_deg=budget.constant_deg("session"),
        u_set_deg=budget.constant_deg("set"),
        growth=(budget.share("session"), budget.share("set")),
        floor=floor_reference(track, pose, sign.factor, settings.uncertainty) if exercise.ends_on_floor else None,
        gaps=sorted({(gap.start_s, gap.stop_s) for gap in recording.gaps if gap.tracked_point in points}),
        doubts=watch.doubts,
        disturbed=[
            *watch.undecided,
            *(_floor_lost(watch.slips) if exercise.ends_on_floor else ()),
            *(
                (each.code, each.start_s, each.stop_s)
                for each in recording.findings
                if each.code == "clipping" and each.start_s is not None and each.stop_s is not None
            ),
        ],
        worn_start_s=float(track.motion.time_s[pose.start]),
        worn_stop_s=track.worn_stop_s,
    )
    result = ExerciseResult(
        exercise=exercise,
        zero=zero_pose(
            track, pose, sign.factor, given=neutral is not None, meaning=zero_meaning(exercise), pose_deg=pose_deg
        ),
        alignment=alignment_found(track, sign.factor, sign.source, pose),
        comparison=comparison,
        u_shared_deg=budget.u_shared_deg,
        u_set_deg=budget.u_set_deg,
        budget=budget,
        worn_start_s=track.worn_start_s,
        worn_stop_s=track.worn_stop_s,
        trace=angle_trace(recording, track, angle_deg, budget, pose, sets, watch.doubts),
        later_poses=watch.poses,
        slips=watch.slips,
    )
    findings = [*recording.findings, *track_findings(track), *analysis_findings(track, pose, result)]
    findings += findings_in_sets(track, sets) if isinstance(track, BallTrack) else []
    findings += [*stage_findings(asked, plan), *own_uncertainty_findings(own), *zero_findings(watch, result)]
    findings += one_sensor_findings(exercise, track, pose, sets, stood_again=bool(watch.poses))
    return SessionResult(
        recording=recording,
        plan=plan,
        inputs=(*recording.files, *inputs),
        settings=settings,
        exercises=(result,),
        marks=tuple(marks),
        findings=tuple(sorted(findings, key=_in_time)),
    )


def _floor_lost(slips: Sequence[SensorSlip]) -> list[tuple[str, float, float]]:
    """Say from when the foot's own foot-flat inclination is no reference any more: its sensor may have slipped."""
    return [("slip", each.earliest_s, float("inf")) for each in slips if each.sensor != "proximal"]


def _in_time(finding: Finding) -> tuple[float, str, str]:
    return (-1.0 if finding.start_s is None else finding.start_s, finding.code, finding.sentence)


def measure_angle(
    recording: Recording,
    proximal: str,
    distal: str,
    *,
    neutral: tuple[float, float] | str | None = "auto",
    settings: Settings | None = None,
) -> AngleMeasurement:
    """Measure a hinge-like joint's angle without a plan.

    Parameters
    ----------
    recording : Recording
        What was measured.
    proximal, distal : str
        Tracked points of the two sensors.
    neutral : "auto", tuple of float, or None
        Found, given as (start_s, stop_s), or none: then the zero is arbitrary.
    settings : Settings, optional
        All tunables; None takes the defaults.

    Returns
    -------
    AngleMeasurement
        Angle over time. Without a plan nothing says which way is positive: the sign is arbitrary.

    Raises
    ------
    RecordingError
        A tracked point is not in the recording.
    CannotAnswerError
        The joint does not move, or the neutral pose that was asked for can't be found.
    """
    settings = settings or Settings()
    track = hinge_track(recording, proximal, distal, settings, must_move=True)
    pose = None
    zero: ZeroPose | None = None
    if neutral is not None:
        given = None if isinstance(neutral, str) else neutral
        pose = neutral_pose(track, given, settings.pose, needs_calibration=False)
        check_pose_is_measured(pose, track, recording.gaps)
        zero = zero_pose(track, pose, 1, given=given is not None, meaning="the neutral pose", pose_deg=0.0)
    worn = (track.motion.time_s >= track.worn_start_s) & (track.motion.time_s <= track.worn_stop_s)
    level = pose.level_rad if pose else float(np.median(track.coarse_angle_rad[worn]))
    # without a pose nothing says where a turn begins: the angle stays unwound
    angle_deg = within_a_turn_deg(track.angle_rad, level) if pose else np.degrees(track.angle_rad - level)
    coarse_deg = np.degrees(track.coarse_angle_rad - level)
    placements = placements_worn(recording, (proximal, distal))
    clock_s = clock_standard_uncertainty_s(recording, track)
    budget = hinge_budget(track, coarse_deg, pose, (), settings.uncertainty, placements, clock_s=clock_s)
    return AngleMeasurement(
        trace=angle_trace(recording, track, angle_deg, budget, pose, ()),
        zero=zero,
        alignment=alignment_found(track, 1, "none", pose),
        sign_known=False,
        budget=budget,
        findings=tuple(sorted([*recording.findings, *track_findings(track)], key=_in_time)),
    )


def still_stretches(
    recording: Recording, proximal: str, distal: str, *, settings: Settings | None = None
) -> tuple[StillStretch, ...]:
    """List the stretches in which two sensors keep still, with their inclinations.

    Parameters
    ----------
    recording : Recording
        What was measured.
    proximal, distal : str
        Tracked points of the two sensors.
    settings : Settings, optional
        All tunables; None takes the defaults.

    Returns
    -------
    tuple of StillStretch
        In time order; nothing is said about the joint.
    """
    settings = settings or Settings()
    track = hinge_track(recording, proximal, distal, settings)
    return tuple(
        still_stretch(track, each, None, "" if each.sways else "nothing sways, as on a table", could=each.sways)
        for each in find_still_stretches(track.motion, settings.pose.shortest_pose_s)
    )
