"""The sets in the tracked angle: where to look, what to join, and whose they are by the plan's order."""

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import Exercise
from imu_rom.errors import CannotAnswerError
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.repetitions import RepetitionSet, find_sets, join_interrupted
from imu_rom.motion.surplus import parted_where_stood, without_surplus
from imu_rom.motion.tracking import HingeTrack
from imu_rom.settings import Settings

__all__ = ["found_sets", "sets_in_order", "sets_of", "where_sets_can_be"]

Floats = NDArray[np.float64]
# The last seconds before the sensors come off belong to the hand that takes them.
HANDLING_S = 2.0
# So many repetitions before the neutral pose are a set, not fidgeting.
FEWEST_BEFORE_POSE = 3


def found_sets(
    track: HingeTrack, angle_deg: Floats, pose: NeutralPose, repetitions: int, settings: Settings, *, given: bool
) -> list[RepetitionSet]:
    """Find all sets after the neutral pose, whichever exercise they belong to.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle, for walking and the worn part.
    angle_deg : ndarray of shape (m,)
        Joint angle at the coarse rate, with its sign, 0 in the neutral pose.
    pose : NeutralPose
        Neutral pose: what comes before is no set.
    repetitions : int
        Prescribed repetitions of a set: half as many before the pose make it doubtful.
    settings : Settings
        All tunables.
    given : bool
        True where a person named the pose, which may then lie anywhere.

    Returns
    -------
    list of RepetitionSet
        In time order; angles about the neutral pose.

    Raises
    ------
    CannotAnswerError
        A set was done before the pose.
    """
    motion = track.motion
    eligible = where_sets_can_be(track, pose)
    # nobody steps on or off while standing in the pose: a set may begin straight after it
    steps = ~(eligible | _in_pose(pose, len(eligible)))
    found = find_sets(angle_deg, eligible, motion.rate_hz, settings.repetitions, float(motion.time_s[0]), steps)
    pose_s = float(motion.time_s[pose.start])
    before = [each for each in found if each.start_s < pose_s]
    if given:
        return found
    if any(each.complete_count >= max(FEWEST_BEFORE_POSE, repetitions // 2) for each in before):
        raise CannotAnswerError(
            f"the neutral pose is not clear: repetitions were done from {before[0].start_s:.1f} s on, before the "
            f"first still stretch with a calibration movement after it, at {pose_s:.1f} s",
            do="name the pose by --neutral START:STOP",
        )
    return [each for each in found if each.start_s >= pose_s]


def sets_of(found: list[RepetitionSet], exercise: Exercise, settings: Settings) -> list[RepetitionSet]:
    """Part and join what was found into the sets of one exercise.

    Parameters
    ----------
    found : list of RepetitionSet
        From `found_sets`, in time order.
    exercise : Exercise
        What was prescribed: decides how interrupted sets are joined, never how many repetitions are found.
    settings : Settings
        All tunables.

    Returns
    -------
    list of RepetitionSet
        In time order; angles about the plan's zero.
    """
    parted = parted_where_stood(found, exercise.repetitions, settings.repetitions.complete_share)
    joined = join_interrupted(parted, [exercise.repetitions] * exercise.sets, settings.repetitions)
    return _finished(joined, exercise)


def sets_in_order(
    found: list[RepetitionSet], exercises: Sequence[Exercise], settings: Settings
) -> list[list[RepetitionSet]] | None:
    """Give what was found to exercises in the plan's order, each its prescribed number of sets.

    Parameters
    ----------
    found : list of RepetitionSet
        From `found_sets`, in time order.
    exercises : sequence of Exercise
        In the plan's order.
    settings : Settings
        All tunables.

    Returns
    -------
    list of list of RepetitionSet, or None
        The sets of each exercise; None where there are more or fewer sets than prescribed in all.
    """
    prescribed = [each.repetitions for each in exercises for _ in range(each.sets)]
    parted = parted_where_stood(found, max(prescribed), settings.repetitions.complete_share)
    joined = join_interrupted(parted, prescribed, settings.repetitions)
    if len(joined) != len(prescribed):
        return None
    left = iter(joined)
    return [_finished(list(itertools.islice(left, each.sets)), each) for each in exercises]


def _finished(sets: list[RepetitionSet], exercise: Exercise) -> list[RepetitionSet]:
    pose_deg = exercise.neutral_deg or 0.0
    return [_about_zero(each, pose_deg) for each in without_surplus(sets, exercise.repetitions)]


def where_sets_can_be(track: HingeTrack, pose: NeutralPose) -> NDArray[np.bool_]:
    """Tell where a set can be: on the spot, with the sensors worn, outside neutral pose and calibration movement.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.
    pose : NeutralPose
        With its calibration movement, where there is one.

    Returns
    -------
    ndarray of bool of shape (m,)
        On the samples of the track's motion.
    """
    motion = track.motion
    # a gap does not end a set: the repetitions that it touches are found by what is left of them, and undecided
    eligible = ~track.walks
    eligible &= motion.time_s > track.worn_start_s
    if track.worn_stop_s < motion.time_s[-1]:
        eligible &= motion.time_s < track.worn_stop_s - HANDLING_S
    return np.asarray(eligible & ~_in_pose(pose, len(eligible)))


def _in_pose(pose: NeutralPose, count: int) -> NDArray[np.bool_]:
    """Tell what lies within the neutral pose, the calibration movement and a second known pose."""
    inside = np.zeros(count, dtype=bool)
    inside[pose.start : pose.calibration.stop if pose.calibration is not None else pose.stop] = True
    if pose.second is not None:
        inside[slice(*pose.second)] = True
    return inside


def _about_zero(done: RepetitionSet, pose_deg: float) -> RepetitionSet:
    """Count the angles of a set from the zero instead of from the neutral pose."""
    if not pose_deg:
        return done
    moved = tuple(
        replace(
            each,
            end_range_deg=each.end_range_deg + pose_deg,
            held_deg=None if each.held_deg is None else each.held_deg + pose_deg,
            start_deg=each.start_deg + pose_deg,
        )
        for each in done.repetitions
    )
    return replace(done, repetitions=moved)
