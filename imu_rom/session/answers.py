"""The exercises of one leg, shoe and zero: angle, pose, sign, sets, whose they are, verdicts. Composition only."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.comparison import SessionComparison, compare_session
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.one_sensor import still_standard_uncertainty_deg
from imu_rom.dose.zero import zero_meaning, zero_standard_uncertainty_deg
from imu_rom.errors import CannotAnswerError
from imu_rom.findings import Finding
from imu_rom.motion.ball_frames import blocks_of
from imu_rom.motion.ball_track import BallTrack
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.tracking import HingeTrack
from imu_rom.recording.model import Recording
from imu_rom.session.allotting import Allotted, allotted_sets, elsewhere, left_out_findings
from imu_rom.session.ball import ball_neutral_pose, ball_sign, findings_in_sets
from imu_rom.session.budget import clock_standard_uncertainty_s, hinge_budget, placements_worn
from imu_rom.session.findings import analysis_findings, check_clipping, track_findings
from imu_rom.session.floor import floor_reference
from imu_rom.session.mountings import declared_mountings
from imu_rom.session.one_sensor import check_movement_can_be_counted, one_sensor_findings
from imu_rom.session.parts import Span
from imu_rom.session.result import ExerciseResult, Mark, SensorSlip
from imu_rom.session.said_poses import SaidPoses
from imu_rom.session.slips import ZeroWatch, watch_zero
from imu_rom.session.trace import angle_trace
from imu_rom.session.tracked import alignment_found, turn_middle_deg, within_a_turn_deg
from imu_rom.session.wearings import Wearing, track_within
from imu_rom.session.zero import (
    Sign,
    check_pose_is_measured,
    check_sign_can_be_settled,
    neutral_pose,
    settle_sign,
    zero_pose,
)
from imu_rom.session.zero_findings import zero_findings
from imu_rom.settings import Settings

__all__ = ["Question", "answer_wearing", "unanswered"]

Floats = NDArray[np.float64]
ABOUT_THE_POSE = ("other-posture", "pose-unconfirmed", "zero-held", "one-sensor")


@dataclass(frozen=True)
class Question:
    """What is asked of a recording, besides its exercises.

    Parameters
    ----------
    recording : Recording
        What was measured.
    said_by : str
        Who says which exercises it holds (`imu_rom.session.parts.Parts`).
    poses : SaidPoses
        Poses whose times somebody says.
    settings : Settings
        All tunables, the plan's own uncertainty in them.
    own_sources : mapping of str to str
        Where the plan's own uncertainties come from.
    marks : tuple of Mark
        A person's corrections.
    alone : bool
        True where the recording is of one exercise alone.
    """

    recording: Recording
    said_by: str
    poses: SaidPoses
    settings: Settings
    own_sources: Mapping[str, str]
    marks: tuple[Mark, ...]
    alone: bool


@dataclass(frozen=True)
class _Angle:
    """The tracked angle with its sign, 0 in the neutral pose."""

    track: HingeTrack
    pose: NeutralPose
    sign: Sign
    angle_deg: Floats
    coarse_deg: Floats

    def moved(self, watch: ZeroWatch, time_s: Floats) -> "_Angle":
        """Take the way of the zero off."""
        return replace(
            self,
            angle_deg=self.angle_deg - watch.zero_deg(time_s),
            coarse_deg=self.coarse_deg - watch.zero_deg(self.track.motion.time_s),
        )


def _angle(question: Question, exercise: Exercise, window_s: Span) -> _Angle:
    recording, settings, neutral = question.recording, question.settings, question.poses.neutral
    mountings = declared_mountings(exercise, recording)
    check_sign_can_be_settled(exercise, mountings, neutral, question.poses.second)
    track = track_within(recording, exercise, window_s, neutral, settings, question.poses.second)
    if not track.facing_is_clear:
        raise CannotAnswerError(
            "the recording does not show which way both sensors face: nothing tilts, pushes or swings them together",
            where=recording.label,
            do=("correct the declared mounting" if len(mountings[0]) > 1 else "declare the mounting of both sensors")
            + ", or record it again with a few steps walked between the sets",
        )
    if isinstance(track, BallTrack):
        pose = ball_neutral_pose(track, neutral, settings.pose, needs_calibration=not mountings[0])
        sign = ball_sign(track, pose, mountings)
    else:
        pose = neutral_pose(track, neutral, settings.pose, needs_calibration=not mountings[0])
        sign = settle_sign(exercise, track, pose, mountings)
    check_pose_is_measured(pose, track, recording.gaps)
    if question.poses.second is not None:
        pose = replace(pose, second=blocks_of(track.motion, question.poses.second))
    middle_deg = turn_middle_deg(exercise, sign.factor)
    return _Angle(
        track=track,
        pose=pose,
        sign=sign,
        angle_deg=sign.factor * within_a_turn_deg(track.angle_rad, pose.level_rad, middle_deg),
        coarse_deg=sign.factor * within_a_turn_deg(track.coarse_angle_rad, pose.level_rad, middle_deg),
    )


def answer_wearing(question: Question, wearing: Wearing) -> tuple[list[ExerciseResult], list[Finding], set[Mark]]:
    """Answer the exercises that share leg, shoe and zero.

    Parameters
    ----------
    question : Question
        What is asked.
    wearing : Wearing
        The exercises and their part of the recording.

    Returns
    -------
    results : list of ExerciseResult
        In the order of the wearing's parts.
    findings : list of Finding
        What was noticed; those about one of several exercises begin with its name.
    touched : set of Mark
        Corrections that were about these exercises.

    Raises
    ------
    CannotAnswerError
        The part does not carry what the question needs: pose, movement, sign, repetitions.
    """
    settings = question.settings
    angle, watch, found = _watched(question, wearing)
    results, findings, touched = [], track_findings(angle.track), set()
    if question.said_by == "events" or not question.alone:
        findings += left_out_findings(angle.track, angle.coarse_deg, angle.pose, wearing.parts, settings)
    corrected = []
    for each in found:
        marks = [mark for mark in question.marks if question.alone or each.touched_by(mark)]
        touched |= set(marks)
        corrected.append(each.corrected(marks, settings.repetitions.complete_share))
    for each in corrected:
        try:
            result, noticed = _answer(question, each, angle, watch, corrected)
        except CannotAnswerError as error:
            if question.alone:
                raise
            findings.append(unanswered((each.exercise,), error))
            continue
        results.append(result)
        findings += noticed if question.alone else [_named(one, each.exercise) for one in noticed]
    return results, findings, touched


def _watched(question: Question, wearing: Wearing) -> tuple[_Angle, ZeroWatch, list[Allotted]]:
    """Give angle and sets after a look whether the zero held."""
    recording, settings = question.recording, question.settings
    angle = _angle(question, wearing.parts[0].exercise, wearing.window_s)

    def sets_in(angle: _Angle) -> list[Allotted]:
        return allotted_sets(
            recording,
            angle.track,
            (angle.coarse_deg, angle.angle_deg),
            angle.pose,
            wearing.parts,
            question.said_by,
            settings,
            question.marks,
            given=question.poses.neutral is not None,
        )

    found = sets_in(angle)
    if not any(each.sets for each in found):
        raise _nothing_found(found[0].exercise, recording.label, settings)
    for each in found:
        if each.sets:
            check_movement_can_be_counted(each.exercise, each.sets, recording.label)
    # a joint of more axes, or one sensor beside a segment that may move, has no one angle that standing would repeat
    if not found[0].exercise.angle_is_known or isinstance(angle.track, BallTrack):
        return angle, ZeroWatch(), found
    alike = [each.sets for each in found]
    every = sorted((one for sets in alike for one in sets), key=lambda one: one.start_s)
    watch = watch_zero(angle.track, angle.coarse_deg, angle.pose, every, settings, alike)
    if watch.corrects:
        angle = angle.moved(watch, np.asarray(recording.time_s))
        found = sets_in(angle)
    return angle, watch, found


def _answer(
    question: Question, own: Allotted, angle: _Angle, watch: ZeroWatch, found: Sequence[Allotted]
) -> tuple[ExerciseResult, list[Finding]]:
    recording, settings, exercise, sets = question.recording, question.settings, own.exercise, own.sets
    track, pose, sign = angle.track, angle.pose, angle.sign
    if not sets and not question.alone:
        raise _nothing_found(exercise, recording.label, settings)
    pose_deg = exercise.neutral_deg or 0.0
    angle_deg = angle.angle_deg + pose_deg
    check_clipping(recording, exercise, sets, track, settings.repetitions.longest_clipping_s)
    points = (exercise.proximal, exercise.distal)
    budget = hinge_budget(
        track,
        angle.coarse_deg,
        pose,
        sets,
        settings.uncertainty,
        placements_worn(recording, points, exercise.joint, exercise.placement),
        own_sources=question.own_sources,
        zero_deg=zero_standard_uncertainty_deg(exercise, settings.uncertainty),
        still_deg=still_standard_uncertainty_deg(exercise, settings.uncertainty),
        clock_s=clock_standard_uncertainty_s(recording, track),
        slips_s=sorted(each.time_s for each in watch.slips),
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
        elsewhere=elsewhere(own, found, recording.duration_s),
    )
    result = ExerciseResult(
        exercise=exercise,
        zero=zero_pose(
            track,
            pose,
            sign.factor,
            source=question.poses.neutral_source,
            meaning=zero_meaning(exercise),
            pose_deg=pose_deg,
        ),
        alignment=alignment_found(track, sign.factor, sign.source, pose),
        comparison=_undecided(comparison, own) if own.allotment.is_undecided else comparison,
        u_shared_deg=budget.u_shared_deg,
        u_set_deg=budget.u_set_deg,
        budget=budget,
        worn_start_s=track.worn_start_s,
        worn_stop_s=track.worn_stop_s,
        trace=angle_trace(recording, track, angle_deg, budget, pose, sets, watch.doubts),
        later_poses=watch.poses,
        slips=watch.slips,
        allotment=None if question.alone and question.said_by != "events" else own.allotment,
    )
    findings = analysis_findings(track, pose, result)
    findings += findings_in_sets(track, sets) if isinstance(track, BallTrack) else []
    findings += zero_findings(watch, result)
    findings += one_sensor_findings(exercise, track, pose, sets, stood_again=bool(watch.poses))
    return result, findings


def _undecided(comparison: SessionComparison, own: Allotted) -> SessionComparison:
    """Leave every verdict open: nobody can tell what these sets are to be compared with."""
    return replace(
        comparison,
        sets=tuple(replace(each, verdict="undecided") for each in comparison.sets),
        prescribed_repetitions=own.prescribed_repetitions,
    )


def _named(finding: Finding, exercise: Exercise) -> Finding:
    """Begin with the exercise's name, but for what is about the pose that several share."""
    if finding.code in ABOUT_THE_POSE:
        return finding
    return replace(finding, sentence=f"{exercise.name}: {finding.sentence}")


def _nothing_found(exercise: Exercise, label: str, settings: Settings) -> CannotAnswerError:
    return CannotAnswerError(
        f"no repetition of {exercise.name!r} was found: nothing moves back and forth by "
        f"{settings.repetitions.smallest_excursion_deg:g} deg or more on the spot",
        where=label,
        do="check that this is the recording of that exercise and that "
        + ("both sensors were worn" if exercise.sensors == "both" else "the sensor was worn"),
    )


def unanswered(exercises: Sequence[Exercise], error: CannotAnswerError) -> Finding:
    """Say that exercises have no answer, beside those of the same recording that have one.

    Parameters
    ----------
    exercises : sequence of Exercise
        Which.
    error : CannotAnswerError
        Why.

    Returns
    -------
    Finding
        A problem, with what to do about it.
    """
    names = " and ".join(each.name for each in exercises)
    be = "is" if len(exercises) == 1 else "are"
    advice = f" To mend it: {error.do}." if error.do else ""
    return Finding("exercise-not-answered", "problem", f"{names} {be} not answered: {error.what}.{advice}")


def _floor_lost(slips: Sequence[SensorSlip]) -> list[tuple[str, float, float]]:
    """Say from when the foot's own foot-flat inclination is no reference any more: its sensor may have slipped."""
    return [("slip", each.earliest_s, float("inf")) for each in slips if each.sensor != "proximal"]
