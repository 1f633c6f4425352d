"""Exposure against plan, per repetition, set and session, under uncertainty.

Each measured angle is off by a part that the whole session shares (its zero), a slow part that the repetitions of one
set share, and a part of the repetition's own. Probabilities of one repetition take all three together; those of a set
take the first two as common to its repetitions; the interval of a session takes only the first as common to its sets.

Exposure is counted within the repetitions, partial ones included: it adds up from repetition to set to session, and
what lies between repetitions (pauses, rests, walking) is the time outside.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose import conformance
from imu_rom.dose.angle_path import angle_path, sustained_level
from imu_rom.dose.compared import Answer, RepetitionComparison, SessionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure import (
    COVERAGE_FACTOR,
    ExposureCurve,
    exposure_curve,
    time_past_interval,
    total_curve,
)
from imu_rom.dose.floor import FloorReference, floor_contact
from imu_rom.dose.measured_exposure import (
    MeasuredAngle,
    repetition_exposure,
    session_exposure,
    summed_exposure,
    unseen_between,
)
from imu_rom.dose.prescription import prescribed_time_per_set
from imu_rom.dose.verdict import (
    JointProbability,
    SetVerdict,
    joint_reached,
    joint_time,
    joint_within_limit,
    needed_repetitions,
    set_verdict,
)
from imu_rom.motion.repetitions import Repetition, RepetitionSet

__all__ = [
    "RepetitionComparison",
    "SessionComparison",
    "SetComparison",
    "compare_repetition",
    "compare_session",
    "compare_set",
]

Floats = NDArray[np.float64]
Stretch = tuple[float, float]

PASSED_FOR_S = 0.2
"""The limit counts as passed once the angle stays past it this long without a break."""


def compare_repetition(
    exercise: Exercise,
    number: int,
    repetition: Repetition,
    measured: MeasuredAngle,
    floor: FloorReference | None = None,
) -> RepetitionComparison:
    """Compare one repetition with the plan.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    number : int
        From 1 within its set.
    repetition : Repetition
        What was done.
    measured : MeasuredAngle
        Joint angle of the whole recording.
    floor : FloorReference or None
        Inclination of foot and shank, where the plan asks for the floor.

    Returns
    -------
    RepetitionComparison
        Exposure, probabilities and answers.
    """
    path = angle_path(
        measured.rate_hz, measured.angle_deg, repetition.start_s, repetition.stop_s, without_data=measured.gaps
    )
    stretch = (repetition.start_s, repetition.stop_s)
    u_deg = math.hypot(measured.u_common_at(repetition.end_range_deg, stretch), repetition.end_range_uncertainty_deg)
    touched_by = measured.codes_in(repetition.start_s, repetition.stop_s)
    sustained_deg = sustained_level(path, PASSED_FOR_S)

    probability_within, has_limit = None, exercise.limit_deg is not None
    if exercise.limit_deg is not None and exercise.angle_is_known:
        probability_within = float(conformance.conformance_probability(sustained_deg, u_deg, upper=exercise.limit_deg))
    within_limit = _answered(probability_within, exercise.decide.limit, touched_by, asked=has_limit)

    probability_reached, deeper = None, False
    if exercise.end_range_deg is not None and exercise.angle_is_known:
        lower_deg, upper_deg = exercise.end_range_deg
        reached_deg = _reached_deg(exercise, repetition)
        probability_reached = float(conformance.conformance_probability(reached_deg, u_deg, lower=lower_deg))
        deeper = reached_deg > upper_deg and within_limit != "no"
    contact = floor_contact(repetition, floor) if floor is not None and exercise.ends_on_floor else None
    if contact is not None and floor is not None:
        u_foot_deg = math.hypot(floor.u_set_deg, contact.foot_own_uncertainty_deg)
        probability_reached = float(
            conformance.conformance_probability(contact.foot_deg, u_foot_deg, lower=-exercise.floor_tolerance_deg)
        )

    return RepetitionComparison(
        number=number,
        repetition=repetition,
        end_range_low_deg=repetition.end_range_deg - COVERAGE_FACTOR * u_deg,
        end_range_high_deg=repetition.end_range_deg + COVERAGE_FACTOR * u_deg,
        exposure=repetition_exposure(exercise, repetition, measured, path),
        curve=exposure_curve(path),
        probability_reached=probability_reached,
        reached=_answered(probability_reached, exercise.decide.reached, touched_by, asked=exercise.asks_end_range),
        probability_within_limit=probability_within,
        within_limit=within_limit,
        deeper_than_asked=deeper,
        touched_by=touched_by,
        sustained_deg=sustained_deg if math.isfinite(sustained_deg) else None,
        floor=contact,
    )


def _reached_deg(exercise: Exercise, repetition: Repetition) -> float:
    """Angle that is compared with the window: what was held where a hold is prescribed, else the deepest."""
    if exercise.tempo.end_range_hold_s and repetition.held_deg is not None:
        return repetition.held_deg
    return repetition.end_range_deg


def _answered(probability: float | None, decide: float, touched_by: tuple[str, ...], *, asked: bool) -> Answer:
    if not asked:
        return "not prescribed"
    return "undecided" if touched_by or probability is None else conformance.answer(probability, decide)


def compare_set(
    exercise: Exercise,
    number: int,
    done: RepetitionSet,
    measured: MeasuredAngle,
    floor: FloorReference | None = None,
) -> SetComparison:
    """Compare one set with the plan.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    number : int
        From 1 within the exercise.
    done : RepetitionSet
        What was done.
    measured : MeasuredAngle
        Joint angle of the whole recording.
    floor : FloorReference or None
        Inclination of foot and shank, where the plan asks for the floor.

    Returns
    -------
    SetComparison
        Counts, exposure, joint probabilities and verdict.
    """
    repetitions = tuple(
        compare_repetition(exercise, place, each, measured, floor)
        for place, each in enumerate(done.repetitions, start=1)
    )
    complete = [each for each in repetitions if each.repetition.complete]
    unseen = unseen_between(done, measured.gaps)
    hidden = _hidden_repetitions(exercise, len(complete), repetitions, unseen)

    within_limit = reached = above = below = None
    prescribed = prescribed_time_per_set(exercise)
    threshold = exercise.compression_threshold if exercise.angle_is_known else None
    if exercise.limit_deg is not None and exercise.angle_is_known:
        within_limit = _joint_within_limit(exercise.limit_deg, repetitions, measured, more_unseen=hidden > 0)
    if prescribed is not None and threshold is not None:
        above, below = joint_time(
            _set_curve(repetitions, unseen),
            threshold.deg,
            prescribed[:2],
            measured.u_common_at(threshold.deg, (done.start_s, done.stop_s)),
        )
    depth_asked = exercise.asks_end_range or exercise.limit_deg is not None or prescribed is not None
    if depth_asked or above is not None:
        reached = _joint_reached(exercise, repetitions, measured, floor, hidden)

    return SetComparison(
        number=number,
        start_s=done.start_s,
        stop_s=done.stop_s,
        interruptions=done.interruptions,
        repetitions=repetitions,
        complete=len(complete),
        partial=len(repetitions) - len(complete),
        prescribed_repetitions=exercise.repetitions,
        reached=sum(each.reached == "yes" for each in complete),
        short=sum(each.reached == "no" for each in complete),
        undecided=sum(each.reached == "undecided" for each in complete),
        past_limit=sum(each.within_limit == "no" for each in repetitions),
        hold_s=sum(each.repetition.hold_s for each in repetitions),
        exposure=summed_exposure([each.exposure for each in repetitions], unseen) if threshold is not None else None,
        prescribed_low_s=None if prescribed is None else prescribed[0],
        prescribed_high_s=None if prescribed is None else prescribed[1],
        prescribed_derived=prescribed is not None and prescribed[2],
        probability_reached=reached.measured
        if reached is not None and exercise.asks_end_range and exercise.angle_is_known
        else None,
        probability_within_limit=None if within_limit is None else within_limit.measured,
        probability_above_window=None if above is None else above.measured,
        probability_below_window=None if below is None else below.measured,
        verdict=_verdict(exercise, within_limit, reached, above, below, depth_asked=depth_asked),
    )


def _verdict(
    exercise: Exercise,
    within_limit: JointProbability | None,
    reached: JointProbability | None,
    above: JointProbability | None,
    below: JointProbability | None,
    *,
    depth_asked: bool,
) -> SetVerdict:
    verdict = set_verdict(within_limit, reached, above, below, exercise.decide)
    # enough repetitions were done, but one sensor can't tell how deep they went
    return "undecided" if verdict == "met" and depth_asked and not exercise.angle_is_known else verdict


def _set_curve(repetitions: Sequence[RepetitionComparison], unseen: Sequence[Stretch]) -> ExposureCurve:
    curve = total_curve([each.curve for each in repetitions])
    return replace(curve, unseen_s=curve.unseen_s + sum(stop_s - start_s for start_s, stop_s in unseen))


def _hidden_repetitions(
    exercise: Exercise, complete: int, repetitions: Sequence[RepetitionComparison], unseen: Sequence[Stretch]
) -> int:
    """Missing repetitions that may lie in the time without data between the others."""
    shortest_s = min(each.repetition.stop_s - each.repetition.start_s for each in repetitions)
    room = sum(int((stop_s - start_s) / shortest_s) for start_s, stop_s in unseen)
    return min(room, max(exercise.repetitions - complete, 0))


def _stretch(repetitions: Sequence[RepetitionComparison]) -> Stretch:
    return repetitions[0].repetition.start_s, repetitions[-1].repetition.stop_s


def _joint_within_limit(
    limit_deg: float, repetitions: Sequence[RepetitionComparison], measured: MeasuredAngle, *, more_unseen: bool
) -> JointProbability:
    levels = [-math.inf if each.sustained_deg is None else each.sustained_deg for each in repetitions]
    return joint_within_limit(
        np.array(levels),
        np.array([each.repetition.end_range_uncertainty_deg for each in repetitions]),
        limit_deg,
        measured.u_common_at(limit_deg, _stretch(repetitions)),
        judged=np.array([not each.touched_by for each in repetitions]),
        more_unseen=more_unseen,
    )


def _joint_reached(
    exercise: Exercise,
    repetitions: Sequence[RepetitionComparison],
    measured: MeasuredAngle,
    floor: FloorReference | None,
    hidden: int,
) -> JointProbability:
    complete = [each for each in repetitions if each.repetition.complete]
    levels = [_reached_deg(exercise, each.repetition) for each in complete]
    own = [each.repetition.end_range_uncertainty_deg for each in complete]
    asked = exercise.end_range_deg if exercise.angle_is_known else None
    lower_deg = -math.inf if asked is None else asked[0]
    u_common_deg = measured.u_common_at(lower_deg, _stretch(repetitions))
    contacts = [each.floor for each in complete if each.floor is not None]
    if floor is not None and len(contacts) == len(complete):
        levels = [each.foot_deg for each in contacts]
        own = [each.foot_own_uncertainty_deg for each in contacts]
        lower_deg, u_common_deg = -exercise.floor_tolerance_deg, floor.u_set_deg
    return joint_reached(
        np.array(levels),
        np.array(own),
        lower_deg,
        needed_repetitions(exercise.decide.share_of_repetitions, exercise.repetitions, len(complete)),
        u_common_deg,
        judged=np.array([not each.touched_by for each in complete], dtype=np.bool_),
        # a partial repetition that a gap cuts may have been a complete one
        could_count=sum(bool(each.touched_by) for each in repetitions) + hidden,
    )


def compare_session(
    exercise: Exercise,
    sets: Sequence[RepetitionSet],
    rate_hz: float,
    angle_deg: Floats,
    *,
    u_shared_deg: float,
    u_set_deg: float,
    floor: FloorReference | None = None,
    gaps: Sequence[Stretch] = (),
    disturbed: Sequence[tuple[str, float, float]] = (),
    growth: tuple[float, float] = (0.0, 0.0),
    doubts: Sequence[tuple[float, float, float]] = (),
    worn_start_s: float = 0.0,
    worn_stop_s: float = math.inf,
    elsewhere: Sequence[Stretch] = (),
) -> SessionComparison:
    """Compare one exercise of a session with the plan.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    sets : sequence of RepetitionSet
        What was done, in time order.
    rate_hz : float
        Sampling rate of the joint angle.
    angle_deg : ndarray of shape (n,)
        Joint angle of the whole recording in degrees, positive towards end range.
    u_shared_deg, u_set_deg : float
        Standard uncertainty shared by the session, and of the slow part shared by the repetitions of one set.
    floor : FloorReference, optional
        Inclination of foot and shank, where the plan asks for the floor.
    gaps : sequence of tuple of float, optional
        (start_s, stop_s) without data, of either sensor.
    disturbed : sequence of tuple, optional
        (code, start_s, stop_s) of other findings, such as clipping, that make a repetition undecided.
    growth : tuple of float, optional
        Growth of both with the distance of the angle from its zero, degrees a degree.
    doubts : sequence of tuple of float, optional
        (start_s, stop_s, u_deg): further standard uncertainty of the zero within a stretch, such as after a slip.
    worn_start_s, worn_stop_s : float, optional
        Stretch in which the sensors were worn.
    elsewhere : sequence of tuple of float, optional
        (start_s, stop_s) that belong to other exercises, and don't count as time outside the sets of this one.

    Returns
    -------
    SessionComparison
        Sets, totals, and the time past the threshold outside the repetitions.
    """
    measured = MeasuredAngle(rate_hz, angle_deg, u_shared_deg, u_set_deg, gaps, disturbed, growth, doubts)
    compared = tuple(compare_set(exercise, number, each, measured, floor) for number, each in enumerate(sets, start=1))
    exposure = outside = None
    if exercise.compression_threshold is not None and exercise.angle_is_known:
        threshold_deg = exercise.compression_threshold.deg
        unseen = [unseen_between(each, gaps) for each in sets]
        curves = [_set_curve(each.repetitions, pieces) for each, pieces in zip(compared, unseen, strict=True)]
        exposure = session_exposure(
            summed_exposure([each.exposure for each in compared]),
            curves,
            [(each.start_s, each.stop_s) for each in sets],
            threshold_deg,
            measured,
        )
        counted = [(each.start_s, each.stop_s) for one in sets for each in one.repetitions]
        counted += [piece for pieces in unseen for piece in pieces]
        counted += elsewhere
        path = angle_path(rate_hz, angle_deg, worn_start_s, worn_stop_s, without_data=gaps, left_out=counted)
        outside = time_past_interval(
            path, threshold_deg, measured.u_common_at(threshold_deg, (worn_start_s, worn_stop_s))
        )
    return SessionComparison(
        sets=compared,
        complete=sum(each.complete for each in compared),
        partial=sum(each.partial for each in compared),
        prescribed_sets=exercise.sets,
        prescribed_repetitions=exercise.sets * exercise.repetitions,
        exposure=exposure,
        outside_sets_s=None if outside is None else outside[0],
        outside_sets_low_s=None if outside is None else outside[1],
        outside_sets_high_s=None if outside is None else outside[2],
    )
