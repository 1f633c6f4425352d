"""Zero and sign of a tracked angle: the neutral pose, then a declared mounting or the calibration movement."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import Exercise
from imu_rom.errors import CannotAnswerError
from imu_rom.motion.calibration import find_calibration
from imu_rom.motion.coarse import moving_mean
from imu_rom.motion.joints import joint_motion
from imu_rom.motion.pose import NeutralPose, PoseCandidate, find_neutral_pose
from imu_rom.motion.segment_tracking import SegmentTrack
from imu_rom.motion.stillness import Stillness, find_still_stretches, tilt_from_vertical_deg
from imu_rom.motion.tracking import HingeTrack
from imu_rom.recording.model import Gap
from imu_rom.session.mountings import mounting_rotations
from imu_rom.session.result import StillStretch, ZeroPose
from imu_rom.session.said_poses import NEUTRAL_POSE, SECOND_POSE
from imu_rom.settings import PoseSettings

__all__ = [
    "Sign",
    "neutral_pose",
    "settle_sign",
    "slow_angle",
    "still_stretch",
    "walking",
    "zero_pose",
]

Floats = NDArray[np.float64]

SLOW_S = 0.2
BESIDE_S = 1.0
# Sway and wobble stay below this in a pose that was named; a movement goes past it.
LARGEST_MOVEMENT_DEG = 8.0
# The joint's axis must lie this near to the motion's own in a declared mounting to tell a sign.
LARGEST_OBLIQUITY_COSINE = 0.5


def slow_angle(track: HingeTrack) -> Floats:
    """Joint angle at the coarse rate, smoothed over 0.2 s.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.

    Returns
    -------
    ndarray of shape (m,)
        Radians.
    """
    return moving_mean(track.coarse_angle_rad, max(1, round(SLOW_S * track.motion.rate_hz)))


def walking(track: HingeTrack) -> NDArray[np.bool_]:
    """Tell walking and turning round, at the coarse rate.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.

    Returns
    -------
    ndarray of bool of shape (m,)
        True while walking.
    """
    return track.walks


def neutral_pose(
    track: HingeTrack, given: tuple[float, float] | None, settings: PoseSettings, *, needs_calibration: bool
) -> NeutralPose:
    """Find the neutral pose, or take the given one.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.
    given : tuple of float or None
        (start_s, stop_s) of the pose; None finds it.
    settings : PoseSettings
        Limits.
    needs_calibration : bool
        True where nothing but the calibration movement can settle the sign.

    Returns
    -------
    NeutralPose
        Where the angle is zero.

    Raises
    ------
    CannotAnswerError
        There is no pose, it is not clear, or the given one lies outside the worn part or is not still.
    """
    angle, walks, motion = slow_angle(track), walking(track), track.motion
    if given is None:
        return find_neutral_pose(
            motion,
            angle,
            walks,
            track.worn_start_s,
            track.worn_stop_s,
            settings,
            needs_calibration=needs_calibration,
        )
    time_s = motion.time_s
    start, stop = np.searchsorted(time_s, given).tolist()
    if given[0] < 0 or given[1] > time_s[-1] + 1.0 or stop - start < 3:
        raise CannotAnswerError(
            f"the neutral pose {given[0]:g}:{given[1]:g} s must lie within the recording, 0 to {time_s[-1]:.1f} s, "
            "and last at least 0.2 s",
            do="name another stretch by --neutral START:STOP",
        )
    if given[0] < track.worn_start_s - BESIDE_S or given[1] > track.worn_stop_s + BESIDE_S:
        raise CannotAnswerError(
            f"the neutral pose {given[0]:g}:{given[1]:g} s lies outside the time in which both sensors were worn, "
            f"{track.worn_start_s:.1f} to {track.worn_stop_s:.1f} s",
            do="name a stretch of standing still within it",
        )
    moved_deg = float(np.degrees(np.ptp(angle[start:stop])))
    if moved_deg > LARGEST_MOVEMENT_DEG:
        raise CannotAnswerError(
            f"the joint moves by {moved_deg:.0f} deg within the neutral pose {given[0]:g}:{given[1]:g} s",
            do="name a stretch of standing still",
        )
    level = float(np.median(angle[start:stop]))
    # the movement straight after the given pose, else the first one after any still stretch at the same angle
    calibration = find_calibration(angle, walks, stop, level, motion.rate_hz, settings.longest_wait_s)
    stretches = find_still_stretches(motion, settings.shortest_pose_s)
    for each in stretches if calibration is None else []:
        here = float(np.median(angle[each.start : each.stop]))
        if abs(here - level) < np.radians(settings.largest_difference_deg) and time_s[each.start] > track.worn_start_s:
            calibration = find_calibration(angle, walks, each.stop, here, motion.rate_hz, settings.longest_wait_s)
            if calibration is not None:
                break
    candidates = tuple(
        PoseCandidate(each, float(np.median(angle[each.start : each.stop])), "another stretch was named")
        for each in stretches
    )
    return NeutralPose(start, stop, level, calibration, candidates, ())


def check_pose_is_measured(pose: NeutralPose, track: HingeTrack, gaps: tuple[Gap, ...]) -> None:
    """Refuse a gap over the neutral pose or the calibration movement.

    Parameters
    ----------
    pose : NeutralPose
        Pose and calibration movement.
    track : HingeTrack
        For the times.
    gaps : tuple of Gap
        Stretches without data.

    Raises
    ------
    CannotAnswerError
        A gap lies over either.
    """
    time_s = track.motion.time_s
    stop_s = float(time_s[pose.stop - 1])
    # a gap ends a still stretch, so one beside the pose lies in it
    stretches = [("neutral pose", float(time_s[pose.start]) - BESIDE_S, stop_s + BESIDE_S)]
    if pose.calibration is not None:
        stretches.append(("calibration movement", stop_s, float(time_s[pose.calibration.stop]) + BESIDE_S))
    for name, start_s, stop_s in stretches:
        for gap in gaps:
            if gap.start_s < stop_s and gap.stop_s > start_s:
                raise CannotAnswerError(
                    f"the sensor on {gap.tracked_point!r} delivered nothing from {gap.start_s:.1f} to "
                    f"{gap.stop_s:.1f} s, over the {name}",
                    do="record it again, or name another pose by --neutral START:STOP",
                )


@dataclass(frozen=True)
class Sign:
    """Factor that makes the plan's motion positive, and what settled it.

    Parameters
    ----------
    factor : {1, -1}
        Times the tracked angle.
    source : str
        "plan mounting", "recording mounting", "calibration movement" or "second pose".
    """

    factor: int
    source: str


def _unsettled() -> CannotAnswerError:
    return CannotAnswerError(
        "the sign of the angle can't be settled: neither a declared mounting nor a calibration movement tells it",
        do="declare the mounting in the plan, or record the calibration movement that the plan names",
    )


def check_sign_can_be_settled(
    exercise: Exercise,
    mountings: tuple[dict[str, str], str],
    neutral: tuple[float, float] | None = None,
    second_pose: tuple[float, float] | None = None,
) -> None:
    """Refuse a plan and recording that name nothing by which the sign could be told.

    Parameters
    ----------
    exercise : Exercise
        With its calibration movement.
    mountings : tuple of dict and str
        From `declared_mountings`.
    neutral : tuple of float, optional
        (start_s, stop_s) of the neutral pose, where a person named it.
    second_pose : tuple of float, optional
        (start_s, stop_s) in which the plan's second pose was held.

    Raises
    ------
    CannotAnswerError
        There is none of these; only one of two known poses was named; or a second pose that the plan does not know.
    """
    if second_pose is not None and exercise.second_pose is None:
        raise CannotAnswerError(
            f"the second pose {second_pose[0]:g}:{second_pose[1]:g} s is of no use: the plan has no second_pose for "
            f"{exercise.name!r}",
            do="leave --second-pose out, or say in the plan which pose it is",
        )
    if mountings[0] or exercise.calibration_movement is not None:
        return
    if second_pose is not None:
        # with no movement that marks it, any wait before a set could be taken for the neutral pose
        if neutral is None:
            raise CannotAnswerError(
                "the neutral pose is not clear: no calibration movement marks it",
                do=f"name it by --neutral START:STOP or an event {NEUTRAL_POSE!r}, as the second pose is named",
            )
        return
    if exercise.second_pose is not None:
        raise CannotAnswerError(
            "the sign of the angle can't be settled: the plan does it by a second pose, and when it was held is not "
            "said",
            do=f"say it by events {SECOND_POSE!r} and {NEUTRAL_POSE!r} beside the recording, or by --second-pose "
            "START:STOP and --neutral START:STOP",
        )
    raise _unsettled()


def settle_sign(
    exercise: Exercise, track: HingeTrack, pose: NeutralPose, mountings: tuple[dict[str, str], str]
) -> Sign:
    """Decide which way of the tracked angle is the plan's motion.

    Parameters
    ----------
    exercise : Exercise
        Joint, motion, side and calibration movement.
    track : HingeTrack
        Tracked angle with its axis.
    pose : NeutralPose
        With the calibration movement, where there is one.
    mountings : tuple of dict and str
        From `declared_mountings`.

    Returns
    -------
    Sign
        Factor and source.

    Raises
    ------
    CannotAnswerError
        Neither settles it, or they contradict each other.
    """
    motion = joint_motion(exercise.joint, exercise.motion)
    declared = []
    proximal, distal = mounting_rotations(mountings[0], exercise)
    # with the elbow well bent, pronation may turn either way about the upper arm's own axes
    telling = (proximal if motion.axis_keeps_to_proximal else None, distal)
    for mounting, axis in zip(telling, (track.axis.proximal, track.axis.distal), strict=True):
        if mounting is not None:
            along = float(mounting @ axis @ motion.axis(exercise.side))
            if abs(along) > LARGEST_OBLIQUITY_COSINE:
                declared.append(int(np.sign(along)))
    moved = None
    if pose.calibration is not None and exercise.calibration_movement is not None:
        way = 1 if exercise.calibration_movement == exercise.motion else -1
        moved = way * pose.calibration.direction
    answers = {*declared, *([] if moved is None else [moved])}
    if len(answers) == 2:
        raise CannotAnswerError(
            f"the sign of the angle can't be settled: the {mountings[1]} and "
            f"{'the calibration movement' if moved is not None and len(set(declared)) == 1 else 'itself'} contradict "
            "each other",
            do="correct the mounting, or take it out and rely on the calibration movement",
        )
    if declared:
        return Sign(declared[0], mountings[1])
    if moved is None:
        raise _unsettled()
    return Sign(moved, "calibration movement")


def still_stretch(
    track: HingeTrack, stretch: Stillness, angle_deg: float | None, why_not: str, *, could: bool
) -> StillStretch:
    """Describe a still stretch for people.

    Parameters
    ----------
    track : HingeTrack
        For times and inclinations.
    stretch : Stillness
        The stretch.
    angle_deg : float or None
        Joint angle there.
    why_not : str
        Why it can't be the neutral pose.
    could : bool
        Whether it could.

    Returns
    -------
    StillStretch
        With times and inclinations.
    """
    motion, inside = track.motion, slice(stretch.start, stretch.stop)
    distal_alone = isinstance(track, SegmentTrack) and track.distal_worn
    proximal_alone = isinstance(track, SegmentTrack) and not track.distal_worn
    return StillStretch(
        start_s=float(motion.time_s[stretch.start]),
        stop_s=float(motion.time_s[stretch.stop - 1]),
        proximal_inclination_deg=None if distal_alone else tilt_from_vertical_deg(motion.proximal_up[inside]),
        distal_inclination_deg=None if proximal_alone else tilt_from_vertical_deg(motion.distal_up[inside]),
        joint_angle_deg=angle_deg,
        sways=stretch.sways,
        could_serve=could,
        why_not=why_not,
    )


def zero_pose(
    track: HingeTrack, pose: NeutralPose, factor: int, *, source: str, meaning: str, pose_deg: float
) -> ZeroPose:
    """Describe the chosen pose and its candidates for people.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.
    pose : NeutralPose
        As chosen.
    factor : {1, -1}
        Sign of the angle.
    source : {"auto", "given", "events"}
        Who says when it was: nobody, the user, or events.
    meaning : str
        What the zero stands for.
    pose_deg : float
        Angle of the pose about that zero.

    Returns
    -------
    ZeroPose
        With all still stretches.
    """
    time_s = track.motion.time_s
    return ZeroPose(
        start_s=float(time_s[pose.start]),
        stop_s=float(time_s[pose.stop - 1]),
        source=source,
        candidates=tuple(
            still_stretch(
                track,
                each.stretch,
                float(factor * np.degrees(each.level_rad - pose.level_rad) + pose_deg) if _worn(track, each) else None,
                each.why_not,
                could=not each.why_not,
            )
            for each in pose.candidates
        ),
        meaning=meaning,
        pose_deg=pose_deg,
    )


def _worn(track: HingeTrack, candidate: PoseCandidate) -> bool:
    middle = track.motion.time_s[(candidate.stretch.start + candidate.stretch.stop) // 2]
    return bool(track.worn_start_s <= middle <= track.worn_stop_s)
