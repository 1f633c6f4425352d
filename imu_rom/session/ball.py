"""A joint that turns about more than one axis in a session: what is sought, its pose, its sign, what to say of it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import Exercise, SecondPose
from imu_rom.errors import CannotAnswerError
from imu_rom.findings import Finding
from imu_rom.motion.ball_frames import KnownPose, Sought, mean_up
from imu_rom.motion.ball_track import BallTrack
from imu_rom.motion.ball_tracking import track_ball
from imu_rom.motion.heading import RelativeHeading
from imu_rom.motion.joints import joint_motion
from imu_rom.motion.pose import NeutralPose, PoseCandidate
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.recording.model import Recording
from imu_rom.session.mountings import declared_mountings, mounting_rotations
from imu_rom.session.zero import Sign, neutral_pose
from imu_rom.settings import PoseSettings, Settings

__all__ = ["ball_findings", "ball_neutral_pose", "ball_sign", "ball_track", "findings_in_sets"]

Floats = NDArray[np.float64]

POOR_QUALITY = 0.3
MANY_DEG = 10.0
AFTER_MOVEMENT_S = 2.0
LEAST_OTHER_PLANE_DEG = 8.0
# Of a second pose: how long and still it is held, and how far from what the plan says. Common practice, no source.
SHORTEST_POSE_BLOCKS = 12
LARGEST_SWAY_DEG = 8.0
LARGEST_POSE_ERROR_DEG = 15.0


def ball_track(
    recording: Recording,
    exercise: Exercise,
    neutral: tuple[float, float] | None,
    settings: Settings,
    main_axis: RelativeHeading | None = None,
    second_pose: tuple[float, float] | None = None,
) -> BallTrack | None:
    """Track the exercise's angle by both segments' frames.

    Parameters
    ----------
    recording : Recording
        What was measured.
    exercise : Exercise
        Joint, motion, side, calibration movement, mounting.
    neutral : tuple of float or None
        (start_s, stop_s) of a neutral pose that a person named.
    settings : Settings
        All tunables.
    main_axis : RelativeHeading, optional
        What the main axis of a movement in one plane shows of the heading.
    second_pose : tuple of float, optional
        (start_s, stop_s) in which the plan's second pose was held.

    Returns
    -------
    BallTrack or None
        The angle with its sign, zero in the pose; None where nothing shows how the sensors sit on the body.

    Raises
    ------
    RecordingError
        A tracked point is not in the recording.
    CannotAnswerError
        The limb is not held still in the second pose, or not at its angle.
    """
    sensors = [recording.sensor(point) for point in (exercise.proximal, exercise.distal)]
    matrices = mounting_rotations(declared_mountings(exercise, recording)[0], exercise)
    named = exercise.calibration_movement
    known = _known_pose(exercise, second_pose)
    track = track_ball(
        (sensors[0].accelerometer_m_s2, sensors[0].gyroscope_rad_s),
        (sensors[1].accelerometer_m_s2, sensors[1].gyroscope_rad_s),
        sensors[0].missing | sensors[1].missing,
        recording.rate_hz,
        settings.angle,
        settings.pose,
        Sought(
            motion=joint_motion(exercise.joint, exercise.motion),
            side=exercise.side,
            calibration=None if named is None else joint_motion(exercise.joint, named),
            proximal_mounting=matrices[0],
            distal_mounting=matrices[1],
            pose_s=neutral,
            second_pose=known,
        ),
        main_axis,
    )
    if track is not None and known is not None and exercise.second_pose is not None:
        _check_second_pose(track, known, exercise.second_pose)
    return track


def _known_pose(exercise: Exercise, span_s: tuple[float, float] | None) -> KnownPose | None:
    pose = exercise.second_pose
    if pose is None or span_s is None:
        return None
    axis = joint_motion(exercise.joint, pose.motion).axis(exercise.side)
    return KnownPose.turned(span_s, axis, pose.deg, pose.uncertainty_deg)


def _check_second_pose(track: BallTrack, known: KnownPose, pose: SecondPose) -> None:
    """Refuse a second pose that is none: not in the recording, moving, or at another angle."""
    motion, (first_s, last_s) = track.motion, known.span_s
    name = f"the second pose {first_s:g}:{last_s:g} s"
    start, stop = np.searchsorted(motion.time_s, known.span_s).tolist()
    if first_s < track.worn_start_s or last_s > track.worn_stop_s or stop - start < SHORTEST_POSE_BLOCKS:
        raise CannotAnswerError(
            f"{name} must lie within the time in which both sensors were worn, {track.worn_start_s:.1f} to "
            f"{track.worn_stop_s:.1f} s, and last at least half a second",
            do="name another stretch by --second-pose START:STOP",
        )
    ups = motion.distal_up[start:stop]
    held = mean_up(motion.distal_up, start, stop)
    moved_deg = float(np.degrees(np.arccos(np.clip(np.min(ups @ held), -1.0, 1.0))))
    if moved_deg > LARGEST_SWAY_DEG:
        raise CannotAnswerError(
            f"the limb tilts by {moved_deg:.0f} deg within {name}", do="name a stretch in which it was held still"
        )
    upright = mean_up(motion.distal_up, track.pose.start, track.pose.stop)
    apart_deg = float(np.degrees(np.arccos(np.clip(held @ upright, -1.0, 1.0))))
    if abs(apart_deg - pose.deg) > LARGEST_POSE_ERROR_DEG:
        raise CannotAnswerError(
            f"in {name} the limb is inclined by {apart_deg:.0f} deg from the neutral pose, and the plan's second pose "
            f"is {pose.deg:g} deg of {pose.motion}",
            do="name the stretch in which that pose was held, or correct the plan",
        )


def ball_neutral_pose(
    track: BallTrack, given: tuple[float, float] | None, settings: PoseSettings, *, needs_calibration: bool
) -> NeutralPose:
    """Find the neutral pose in the angle of the calibration movement, and its level in that of the exercise.

    Parameters
    ----------
    track : BallTrack
        Tracked angle.
    given : tuple of float or None
        (start_s, stop_s) of the pose; None finds it.
    settings : PoseSettings
        Limits.
    needs_calibration : bool
        True where nothing but the calibration movement shows how the sensors sit.

    Returns
    -------
    NeutralPose
        Where the angle is zero.

    Raises
    ------
    CannotAnswerError
        As `neutral_pose`.
    """
    angle = track.calibration_angle_rad.copy()
    movement = track.pose.movement
    if movement is not None:
        # a set of the opposite motion that follows without a step must not stand in for the movement
        stop = movement.stop + round(AFTER_MOVEMENT_S * track.motion.rate_hz)
        angle[stop:] = np.median(angle[track.pose.start : track.pose.stop])
    pose = neutral_pose(replace(track, coarse_angle_rad=angle), given, settings, needs_calibration=needs_calibration)

    def level(start: int, stop: int) -> float:
        return float(np.median(track.coarse_angle_rad[start:stop]))

    def levelled(each: PoseCandidate) -> PoseCandidate:
        return replace(each, level_rad=level(each.stretch.start, each.stretch.stop))

    return replace(
        pose,
        level_rad=level(pose.start, pose.stop),
        candidates=tuple(levelled(each) for each in pose.candidates),
        other_postures=tuple(levelled(each) for each in pose.other_postures),
    )


def ball_sign(track: BallTrack, pose: NeutralPose, mountings: tuple[dict[str, str], str]) -> Sign:
    """Say what settled which way is positive: frames have a sign of their own.

    Parameters
    ----------
    track : BallTrack
        Tracked angle.
    pose : NeutralPose
        With the calibration movement, where there is one.
    mountings : tuple of dict and str
        From `declared_mountings`.

    Returns
    -------
    Sign
        Always 1, with its source.

    Raises
    ------
    CannotAnswerError
        The declared mounting or the second pose and the calibration movement contradict each other.
    """
    methods = f"{track.frames.proximal.method} {track.frames.distal.method}"
    other = "second pose" if "known poses" in methods else mountings[1]
    if pose.calibration is not None and track.sought.calibration is not None and pose.calibration.direction < 0:
        raise CannotAnswerError(
            f"the sign of the angle can't be settled: the {other} and the calibration movement contradict each other",
            do=f"correct the {other}, or take it out and rely on the calibration movement",
        )
    by_movement = "known poses" not in methods and "mounting" not in methods
    return Sign(1, "calibration movement" if by_movement else other)


def _in_sets(track: BallTrack, sets: Sequence[RepetitionSet]) -> NDArray[np.bool_]:
    time_s = track.motion.time_s
    inside = np.zeros(len(time_s), dtype=bool)
    for one in sets:
        inside |= (time_s >= one.start_s) & (time_s <= one.stop_s)
    return inside


def ball_findings(track: BallTrack) -> list[Finding]:
    """Say how well the recording shows how the sensors sit.

    Parameters
    ----------
    track : BallTrack
        Tracked angle.

    Returns
    -------
    list of Finding
        Frames poorly seen.
    """
    found = []
    quality = track.axis.quality
    if quality < POOR_QUALITY:
        found.append(
            Finding(
                "axis-poorly-seen",
                "caution",
                f"The recording shows poorly how the sensors sit on the body (quality {quality:.2f} of 1): the "
                "calibration movement was small, left its plane, or turned about an upright axis. Movement in other "
                "planes then counts in part as movement in this one.",
            )
        )
    return found


def findings_in_sets(track: BallTrack, sets: Sequence[RepetitionSet]) -> list[Finding]:
    """Say what the angle of the sets leaves open, and how far the joint moved in its other planes.

    Parameters
    ----------
    track : BallTrack
        Tracked angle.
    sets : sequence of RepetitionSet
        Sets found.

    Returns
    -------
    list of Finding
        Heading unseen, where the angle feels it; other planes moved in by 8 degrees or more (5th to 95th percentile).
    """
    inside = _in_sets(track, sets)
    if not inside.any():
        return []
    return [*_heading_findings(track, inside), *_plane_findings(track, inside)]


def _heading_findings(track: BallTrack, inside: NDArray[np.bool_]) -> list[Finding]:
    time_s = track.motion.time_s
    hidden = np.degrees(track.drift_standard_uncertainty_rad)
    unseen = inside & ~track.observed
    if not unseen.any():
        return []
    largest = float(hidden[unseen].max())
    cause = (
        "nothing in the recording shows how both sensors face each other (a few steps after the pose would)"
        if np.max(track.frames_deg[unseen]) > np.max(track.heading_deg[unseen])
        else "gravity does not show turning about an upright line, and nothing else showed it for long"
    )
    return [
        Finding(
            "heading-unseen",
            "problem" if largest > MANY_DEG else "caution",
            f"For {unseen.sum() / track.motion.rate_hz:.0f} s of the sets the angle's standard uncertainty grows up to "
            f"{min(largest, 180.0):.0f} degrees, because {cause}.",
            float(time_s[unseen][0]),
            float(time_s[unseen][-1]),
        )
    ]


def _plane_findings(track: BallTrack, inside: NDArray[np.bool_]) -> list[Finding]:
    low, high = np.quantile(track.other_planes_deg[inside], (0.05, 0.95), axis=0)
    moved = [
        f"{name} {first:+.0f} to {last:+.0f} degrees"
        for name, first, last in zip(track.other_planes, low.tolist(), high.tolist(), strict=True)
        if last - first >= LEAST_OTHER_PLANE_DEG
    ]
    if not moved:
        return []
    return [
        Finding(
            "other-planes",
            "note",
            f"The {track.sought.motion.joint} also moved in other planes during the sets: {', '.join(moved)} (from the "
            "5th to the 95th percentile).",
        )
    ]
