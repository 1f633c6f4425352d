"""A recording's two sensors to the tracked joint angle, and how they were aligned, in plain values."""

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import ABSENT, Exercise
from imu_rom.errors import CannotAnswerError
from imu_rom.motion.ball_track import BallTrack
from imu_rom.motion.joints import joint_motion, needs_frames
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.segment_tracking import SegmentTrack, track_segment
from imu_rom.motion.tracking import HingeTrack, track_hinge
from imu_rom.recording.model import Recording
from imu_rom.session.ball import ball_track
from imu_rom.session.mountings import declared_mountings, mounting_rotations
from imu_rom.session.result import Alignment
from imu_rom.settings import Settings

__all__ = [
    "alignment_found",
    "exercise_track",
    "facing_mountings",
    "hinge_track",
    "turn_middle_deg",
    "within_a_turn_deg",
]

Floats = NDArray[np.float64]
# Segment frames that leave the angle surer than this need no help.
LARGEST_UNSURE_DEG = 2.0
# So much of the whole recording, walking and all, must agree with a hinge.
LEAST_HINGE_SHARE = 0.9
BESIDE_S = 1.0
METHOD = "hinge axis from the movement, angle from both gyroscopes and from what the joint's centre feels"
FACED_BY_MOUNTING = "which way both sensors face from the declared mounting"
METHOD_ONE_SENSOR = "axis from the movement of the one sensor, its turn about it from gravity"


def hinge_track(
    recording: Recording,
    proximal: str,
    distal: str,
    settings: Settings,
    mountings: tuple[Floats | None, Floats | None] = (None, None),
    *,
    must_move: bool = False,
) -> HingeTrack:
    """Track the hinge between two sensors.

    Parameters
    ----------
    recording : Recording
        What was measured.
    proximal, distal : str
        Tracked points of the two sensors; ``ABSENT`` for one that is not worn.
    settings : Settings
        All tunables.
    mountings : tuple of two ndarrays of shape (3, 3), or None
        Declared, from sensor to segment: they tell which way both axes face where the recording does not.
    must_move : bool
        True refuses a joint that does not move.

    Returns
    -------
    HingeTrack
        Angle of either sign and any zero.

    Raises
    ------
    RecordingError
        A tracked point is not in the recording.
    CannotAnswerError
        The joint does not move and must.
    """
    sensors = [recording.sensor(point) for point in (proximal, distal) if point != ABSENT]
    if len(sensors) == 1:
        track: HingeTrack = track_segment(
            (sensors[0].accelerometer_m_s2, sensors[0].gyroscope_rad_s),
            sensors[0].missing,
            recording.rate_hz,
            settings.angle,
            distal_worn=distal != ABSENT,
            attitude_deg=settings.uncertainty.attitude_deg,
        )
    else:
        track = track_hinge(
            (sensors[0].accelerometer_m_s2, sensors[0].gyroscope_rad_s),
            (sensors[1].accelerometer_m_s2, sensors[1].gyroscope_rad_s),
            sensors[0].missing | sensors[1].missing,
            recording.rate_hz,
            settings.angle,
            mountings,
        )
    if must_move:
        _check_it_moves(track, recording, proximal, distal)
    return track


def _check_it_moves(track: HingeTrack, recording: Recording, proximal: str, distal: str) -> None:
    if track.moves:
        return
    if ABSENT in (proximal, distal):
        point = proximal if distal == ABSENT else distal
        raise CannotAnswerError(
            f"the sensor on {point!r} never turns",
            where=recording.label,
            do="check that it was worn and that it is on the segment that moves",
        )
    raise CannotAnswerError(
        f"the joint does not move: {proximal!r} and {distal!r} never turn against each other",
        where=recording.label,
        do="check that both sensors were worn and that these are the right tracked points",
    )


def facing_mountings(exercise: Exercise, recording: Recording) -> tuple[Floats | None, Floats | None]:
    """Give both mountings where they can tell whether the joint's axis points the same way in both sensors.

    Parameters
    ----------
    exercise : Exercise
        With joint, motion, side and mounting.
    recording : Recording
        With each sensor's declared axes.

    Returns
    -------
    proximal, distal : ndarray of shape (3, 3), or None
        From sensor to segment. None for both where either is not declared, or where the motion's axis moves with the
        distal segment: at a well bent joint it then points elsewhere in the proximal one.
    """
    both = mounting_rotations(declared_mountings(exercise, recording)[0], exercise)
    keeps = joint_motion(exercise.joint, exercise.motion).axis_keeps_to_proximal
    return both if keeps and all(each is not None for each in both) else (None, None)


def exercise_track(
    recording: Recording,
    exercise: Exercise,
    neutral: tuple[float, float] | None,
    settings: Settings,
    second_pose: tuple[float, float] | None = None,
) -> HingeTrack:
    """Track a plan's exercise: by the joint's axis where it is a hinge or one sensor is alone, else by segment frames.

    Parameters
    ----------
    recording : Recording
        What was measured.
    exercise : Exercise
        What was prescribed.
    neutral : tuple of float or None
        (start_s, stop_s) of a neutral pose that a person named.
    settings : Settings
        All tunables.
    second_pose : tuple of float, optional
        (start_s, stop_s) of the plan's second pose, where it was held.

    Returns
    -------
    HingeTrack
        Of a hinge: angle of either sign and any zero. A `BallTrack` else: with its sign, about zero in the pose. What
        the recording offers decides: where it does not show how the segments face each other, but the joint moved about
        one axis alone, that axis serves for any joint.

    Raises
    ------
    RecordingError
        A tracked point is not in the recording.
    CannotAnswerError
        The joint does not move, or nothing shows how the sensors sit on the body.
    """
    alone = ABSENT in (exercise.proximal, exercise.distal)
    points = (exercise.proximal, exercise.distal)
    mountings = (None, None) if alone else facing_mountings(exercise, recording)
    if alone or not needs_frames(exercise.joint, exercise.motion):
        return hinge_track(recording, *points, settings, mountings, must_move=True)
    track = ball_track(recording, exercise, neutral, settings, second_pose=second_pose)
    chosen: HingeTrack | None = track
    if track is None or track.unsure_deg > LARGEST_UNSURE_DEG:
        hinge = hinge_track(recording, *points, settings, mountings)
        if _moves_as_hinge(hinge, track):
            helped = (
                None
                if track is None
                else ball_track(recording, exercise, neutral, settings, hinge.heading, second_pose)
            )
            chosen = hinge if helped is None or helped.unsure_deg > LARGEST_UNSURE_DEG else helped
            if chosen is hinge and track is not None and _sign_is_in_frames(exercise, recording):
                chosen = helped or track
    if chosen is None:
        raise CannotAnswerError(
            f"the recording does not show how the sensors sit on the body, which a {exercise.joint} needs: no neutral "
            "pose with the calibration movement (two to four slow movements to one side and back that tilt the limb, "
            "straight after standing still) was found in it",
            where=recording.label,
            do="record it again with such a movement, or declare the mounting and name the pose by --neutral "
            "START:STOP",
        )
    _check_it_moves(chosen, recording, *points)
    return chosen


def _sign_is_in_frames(exercise: Exercise, recording: Recording) -> bool:
    """Whether nothing but a second known pose tells which way is positive, of which a hinge's axis knows nothing."""
    return exercise.calibration_movement is None and not declared_mountings(exercise, recording)[0]


def _moves_as_hinge(hinge: HingeTrack, frames: BallTrack | None) -> bool:
    """Whether a joint of more axes was moved about one alone, so clearly that a hinge's axis tells the angle."""
    if not (hinge.facing_is_clear and hinge.moves):
        return False
    if hinge.axis.inlier_share < LEAST_HINGE_SHARE:
        return False
    if frames is None:
        return True
    time_s = frames.motion.time_s
    first_s, last_s = float(time_s[frames.pose.start]), float(time_s[frames.pose.stop - 1])
    return hinge.worn_start_s <= first_s + BESIDE_S and hinge.worn_stop_s > last_s


def turn_middle_deg(exercise: Exercise, factor: int) -> float:
    """Give the middle of what the joint can reach, so that the turn's jump lies where it can't be.

    Parameters
    ----------
    exercise : Exercise
        With joint and motion.
    factor : {1, -1}
        Sign of the angle.

    Returns
    -------
    float
        Degrees from the pose, in the tracked angle's own direction: an arm raised past straight up goes on counting.
    """
    low_deg, high_deg = joint_motion(exercise.joint, exercise.motion).possible_range_deg
    return factor * (low_deg + high_deg) / 2


def within_a_turn_deg(angle_rad: Floats, level_rad: float, middle_deg: float = 0.0) -> Floats:
    """Angle about the pose within a turn: handling the sensors or a gap must not wind a joint up.

    Parameters
    ----------
    angle_rad : ndarray of shape (n,)
        Tracked angle.
    level_rad : float
        Tracked angle of the pose.
    middle_deg : float
        Middle of the turn, from `turn_middle_deg`.

    Returns
    -------
    ndarray of shape (n,)
        Degrees from the pose, within 180 of the middle.
    """
    off = angle_rad - level_rad
    turns = np.round((off - np.radians(middle_deg)) / (2 * np.pi))
    return np.asarray(np.degrees(off - 2 * np.pi * turns))


def alignment_found(track: HingeTrack, factor: int, sign_source: str, pose: NeutralPose | None) -> Alignment:
    """Describe how sensor axes were tied to the joint.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle with its axis.
    factor : {1, -1}
        Sign of the angle.
    sign_source : str
        What settled it.
    pose : NeutralPose or None
        Neutral pose, with its calibration movement where there is one.

    Returns
    -------
    Alignment
        In plain values.
    """
    calibration = None if pose is None else pose.calibration
    ends = (None, None) if calibration is None else (calibration.start, calibration.stop)
    times = [None if at is None else float(track.motion.time_s[at]) for at in ends]
    method = METHOD_ONE_SENSOR if isinstance(track, SegmentTrack) else METHOD
    method = f"{method}, {FACED_BY_MOUNTING}" if track.faced_by_mounting and not track.facing_is_seen else method
    method = method if pose is None else f"{method}, zero from the neutral pose"
    return Alignment(
        method=track.method if isinstance(track, BallTrack) else method,
        proximal_axis=None if _absent(track, distal=False) else _vector(factor * track.axis.proximal),
        distal_axis=None if _absent(track, distal=True) else _vector(factor * track.axis.distal),
        axis_residual_deg=track.axis.residual_deg,
        axis_standard_uncertainty_deg=track.axis.standard_uncertainty_deg,
        quality=track.axis.quality,
        sign_source=sign_source,
        calibration_start_s=times[0],
        calibration_stop_s=times[1],
    )


def _absent(track: HingeTrack, *, distal: bool) -> bool:
    return isinstance(track, SegmentTrack) and track.distal_worn is not distal


def _vector(axis: Floats) -> tuple[float, float, float]:
    x, y, z = axis.tolist()
    return x, y, z
