"""Both segments' frames of a joint that turns about more than one axis, chosen by what the recording offers.

Each sensor may have a frame of its own: from a declared mounting, from the functional movement. The better one of the
surer sensor is taken; the other segment's frame follows from the neutral pose, in which both face alike, and from the
relative heading there. So whatever that heading is off by, the joint's angle is zero in the pose.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import axis_world, quaternion_product
from imu_rom.motion.ball_pose import MovementFound, turns_since
from imu_rom.motion.coarse import CoarseMotion
from imu_rom.motion.heading import RelativeHeading
from imu_rom.motion.heading_looks import Drift, Look, looks_of, smooth_looks
from imu_rom.motion.joint_model import Motion, Side, Vector
from imu_rom.motion.segment_frames import (
    SegmentFrame,
    facing_alike,
    frame_from_mounting,
    frame_from_movement,
    frame_from_poses,
    functional_axis,
)
from imu_rom.motion.segment_looks import relative_rotation

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = [
    "JointFrames",
    "KnownPose",
    "Sought",
    "blocks_of",
    "find_frames",
    "mean_up",
    "relative_attitude",
    "segment_attitude",
]

Floats = NDArray[np.float64]

UP = np.array([0.0, 1.0, 0.0])
RIGHT = np.array([0.0, 0.0, 1.0])
LARGEST_DEG = 90.0


@dataclass(frozen=True)
class KnownPose:
    """A pose besides the neutral one in which the distal segment's inclination is known.

    Parameters
    ----------
    span_s : tuple of float
        (start_s, stop_s), as a person named it.
    up : ndarray of shape (3,)
        Direction to the sky in the distal segment's axes.
    standard_uncertainty_deg : float
        How exactly it is taken.
    """

    span_s: tuple[float, float]
    up: Floats
    standard_uncertainty_deg: float

    @classmethod
    def turned(
        cls, span_s: tuple[float, float], axis: Vector, angle_deg: float, standard_uncertainty_deg: float
    ) -> "KnownPose":
        """Give the pose in which the distal segment is turned from the neutral pose about an axis.

        Parameters
        ----------
        span_s : tuple of float
            (start_s, stop_s).
        axis : tuple of float
            Unit vector in body axes (X forward, Y up, Z right), right-handed.
        angle_deg : float
            By how much.
        standard_uncertainty_deg : float
            How exactly it is taken.

        Returns
        -------
        KnownPose
            With the sky as the turned segment sees it (Rodrigues' formula, turned back).
        """
        about, back = np.array(axis), -np.radians(angle_deg)
        up = UP * np.cos(back) + np.cross(about, UP) * np.sin(back) + about * (about @ UP) * (1.0 - np.cos(back))
        return cls(span_s, up, standard_uncertainty_deg)


@dataclass(frozen=True)
class Sought:
    """Which angle is wanted, and what is known beforehand.

    Parameters
    ----------
    motion : Motion
        The motion that counts as positive.
    side : {"left", "right"}
        Side of the body.
    calibration : Motion or None
        The movement after the neutral pose; None where none is agreed on.
    proximal_mounting, distal_mounting : ndarray of shape (3, 3) or None
        Declared: takes sensor components to segment components.
    pose_s : tuple of float or None
        (start_s, stop_s) of a neutral pose that a person named.
    second_pose : KnownPose or None
        A second pose that a person named.
    """

    motion: Motion
    side: Side
    calibration: Motion | None = None
    proximal_mounting: Floats | None = None
    distal_mounting: Floats | None = None
    pose_s: tuple[float, float] | None = None
    second_pose: KnownPose | None = None


@dataclass(frozen=True)
class JointFrames:
    """Both segments' frames.

    Parameters
    ----------
    proximal, distal : SegmentFrame
        How each sensor sits.
    between_rad : float
        Standard uncertainty of the turn of one frame against the other, about the vertical of the pose.
    together_rad : float
        Of the turn of both together.
    heading_rad : float
        Relative heading at the pose that goes with them.
    """

    proximal: SegmentFrame
    distal: SegmentFrame
    between_rad: float
    together_rad: float
    heading_rad: float

    @property
    def quality(self) -> float:
        """From 0 (the recording does not show how the sensors sit) to 1."""
        return min(self.proximal.quality, self.distal.quality)

    def attitudes(self, motion: CoarseMotion) -> tuple[Floats, Floats]:
        """Give the attitudes of both segments.

        Parameters
        ----------
        motion : CoarseMotion
            Both sensors.

        Returns
        -------
        proximal, distal : ndarray of shape (m, 4)
            Scalar first, segment to its sensor's world.
        """
        return (
            segment_attitude(motion.proximal_quaternion, self.proximal.matrix),
            segment_attitude(motion.distal_quaternion, self.distal.matrix),
        )


def segment_attitude(quaternion: Floats, matrix: Floats) -> Floats:
    """Attitude of a segment from its sensor's.

    Parameters
    ----------
    quaternion : ndarray of shape (n, 4)
        Sensor to world, scalar first.
    matrix : ndarray of shape (3, 3)
        Takes sensor components to segment components.

    Returns
    -------
    ndarray of shape (n, 4)
        Segment to world, scalar first.
    """
    from scipy.spatial.transform import Rotation  # noqa: PLC0415  loads slowly

    x, y, z, w = Rotation.from_matrix(matrix.T).as_quat()
    return quaternion_product(quaternion, np.array([w, x, y, z]))


def blocks_of(motion: CoarseMotion, span_s: tuple[float, float]) -> tuple[int, int]:
    """Give the blocks of a stretch.

    Parameters
    ----------
    motion : CoarseMotion
        For the times.
    span_s : tuple of float
        (start_s, stop_s).

    Returns
    -------
    start, stop : int
        First block and the one after the last; at least one.
    """
    start, stop = np.searchsorted(motion.time_s, span_s).tolist()
    start = min(start, len(motion.missing) - 1)
    return start, max(stop, start + 1)


def mean_up(up: Floats, start: int, stop: int) -> Floats:
    """Mean direction to the sky over a stretch.

    Parameters
    ----------
    up : ndarray of shape (m, 3)
        Directions in sensor axes.
    start, stop : int
        The stretch.

    Returns
    -------
    ndarray of shape (3,)
        Unit vector.
    """
    mean = up[start:stop].mean(axis=0)
    return np.asarray(mean / np.linalg.norm(mean))


def relative_attitude(motion: CoarseMotion, heading_rad: Floats) -> Floats:
    """Attitude of the distal sensor in the proximal one's axes.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    heading_rad : ndarray of shape (m,)
        Rotation about the vertical from distal world to proximal world.

    Returns
    -------
    ndarray of shape (m, 4)
        Scalar first.
    """
    rotation = relative_rotation(motion.proximal_quaternion, motion.distal_quaternion, heading_rad)
    return np.asarray(rotation.as_quat()[:, [3, 0, 1, 2]])


def _own_frames(
    motion: CoarseMotion, pose: MovementFound, heading_rad: Floats, sought: Sought
) -> tuple[SegmentFrame | None, SegmentFrame | None]:
    """Find the surest frame that the recording offers for each sensor by itself."""
    offered: tuple[list[SegmentFrame], list[SegmentFrame]] = ([], [])
    ups = [mean_up(each, pose.start, pose.stop) for each in (motion.proximal_up, motion.distal_up)]
    for which, mounting in enumerate((sought.proximal_mounting, sought.distal_mounting)):
        if mounting is not None:
            offered[which].append(frame_from_mounting(mounting, ups[which]))
    if sought.calibration is not None and pose.movement is not None:
        turns = turns_since(relative_attitude(motion, heading_rad), pose.start, pose.stop)
        axis = functional_axis(turns[pose.movement.start : pose.movement.stop])
        offered[1].append(frame_from_movement(ups[1], axis, sought.calibration.axis(sought.side)))
    second = sought.second_pose
    if second is not None:
        seen = np.stack([ups[1], mean_up(motion.distal_up, *blocks_of(motion, second.span_s))])
        offered[1].append(frame_from_poses(seen, np.stack([UP, second.up]), second.standard_uncertainty_deg))
    return _surest(offered[0]), _surest(offered[1])


def _surest(frames: "Sequence[SegmentFrame]") -> SegmentFrame | None:
    shown = [each for each in frames if each.quality > 0]
    return min(shown, key=lambda each: each.standard_uncertainty_deg) if shown else None


def _facing_look(motion: CoarseMotion, at: int, proximal: SegmentFrame, distal: SegmentFrame) -> Look:
    """In the pose both segments face the same way, as far as each one's own frame tells."""
    heading = []
    for quaternion, frame in ((motion.proximal_quaternion, proximal), (motion.distal_quaternion, distal)):
        x, y, _ = axis_world(quaternion[at : at + 1], frame.in_sensor(RIGHT))[0].tolist()
        heading.append(np.arctan2(y, x))
    spread = float(np.radians(np.hypot(proximal.standard_uncertainty_deg, distal.standard_uncertainty_deg)))
    return looks_of("how both sensors sit", motion.time_s[at : at + 1], np.array([heading[0] - heading[1]]), spread)


def find_frames(
    motion: CoarseMotion, pose: MovementFound, shown: list[Look], drift: Drift, sought: Sought
) -> tuple[JointFrames, RelativeHeading] | None:
    """Find both segments' frames.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    pose : MovementFound
        Neutral pose and functional movement.
    shown : list of Look
        What shows the relative heading before postures do.
    drift : Drift
        How the heading drifts.
    sought : Sought
        What is known beforehand.

    Returns
    -------
    tuple of JointFrames and RelativeHeading, or None
        The frames and the heading before postures show more of it; None where nothing shows which way either segment
        faces.
    """
    heading = smooth_looks(shown, motion.time_s, motion.missing, drift)
    own = _own_frames(motion, pose, heading.angle_rad, sought)
    middle = (pose.start + pose.stop) // 2
    if own[0] is not None and own[1] is not None:
        looks = [*shown, _facing_look(motion, middle, own[0], own[1])]
        heading = smooth_looks(looks, motion.time_s, motion.missing, drift)
    first = 1 if own[1] is not None else 0
    frame = own[first]
    if frame is None:
        return None
    quaternions = (motion.proximal_quaternion[middle], motion.distal_quaternion[middle])
    ups = [mean_up(each, pose.start, pose.stop) for each in (motion.proximal_up, motion.distal_up)]
    turn = float(heading.angle_rad[middle])
    between = float(heading.standard_uncertainty_rad[middle])
    matrix = facing_alike(frame, quaternions[first], quaternions[1 - first], turn if first else -turn, ups[1 - first])
    spread = min(LARGEST_DEG, float(np.hypot(frame.standard_uncertainty_deg, np.degrees(between))))
    other = SegmentFrame("facing alike in the neutral pose", matrix, spread, frame.quality)
    proximal, distal = (other, frame) if first else (frame, other)
    together = float(np.radians(frame.standard_uncertainty_deg))
    return JointFrames(proximal, distal, between, together, turn), heading
