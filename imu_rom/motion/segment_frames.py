"""Sensor to body segment in all three directions: what a joint that turns about more than one axis needs.

A sensor's axes are tied to its segment's (X forward, Y up, Z right, as the person stands in the neutral pose) by two
directions that are known in both. Which two depends on what the recording offers:

* the **declared mounting**, levelled: up from gravity in the neutral pose, the rest from what was declared;
* the **neutral pose and one functional movement**: up from gravity in the pose, and the axis about which the segment
  turned in a movement whose name is known;
* **two known poses**: gravity in each.

Two directions give the frame by TRIAD (Black 1964, doi:10.2514/3.2555): the first is kept, the second settles the turn
about it. More than two are weighed by Wahba's problem (1965, doi:10.1137/1007077; SciPy's ``Rotation.align_vectors``).
The other segment follows from the neutral pose, in which both face the same way, once their relative heading is known.

Each frame carries its own standard uncertainty and a quality from 0 to 1. How far people leave the plane that they are
asked to move in enters as ``PLANE_DEG``: common practice, no source.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from imu_rom.motion.angle import quaternion_product

__all__ = [
    "FunctionalAxis",
    "SegmentFrame",
    "facing_alike",
    "frame_from_mounting",
    "frame_from_movement",
    "frame_from_poses",
    "functional_axis",
    "triad",
]

Floats = NDArray[np.float64]

UP = np.array([0.0, 1.0, 0.0])
# How far a movement "straight forward" is off straight, and a sensor off its declared mounting.
PLANE_DEG = 5.0
MOUNTING_DEG = 5.0
# Sway and the filter's error in the direction of gravity over a pose of some seconds.
GRAVITY_DEG = 0.5
# A known pose is taken this exactly.
POSE_DEG = 2.0
# Quality falls to one half at this standard uncertainty.
HALF_QUALITY_DEG = 10.0
LARGEST_DEG = 90.0


@dataclass(frozen=True)
class SegmentFrame:
    """How one sensor sits on its segment.

    Parameters
    ----------
    method : str
        What it was found from, in words.
    matrix : ndarray of shape (3, 3)
        Takes sensor components to segment components (X forward, Y up, Z right).
    standard_uncertainty_deg : float
        Of the turn about the segment's upward axis, which is the part that gravity can't show.
    quality : float
        From 0 (it does not show) to 1.
    """

    method: str
    matrix: Floats
    standard_uncertainty_deg: float
    quality: float

    def in_sensor(self, direction: ArrayLike) -> Floats:
        """Turn a direction of the segment into the sensor's axes.

        Parameters
        ----------
        direction : array_like of shape (3,)
            Segment components.

        Returns
        -------
        ndarray of shape (3,)
            Sensor components.
        """
        return np.asarray(self.matrix.T @ np.asarray(direction, dtype=float))


@dataclass(frozen=True)
class FunctionalAxis:
    """Axis about which a segment turned in a movement.

    Parameters
    ----------
    direction : ndarray of shape (3,)
        Unit vector in the sensor's axes, right-handed in the direction of the movement.
    standard_uncertainty_deg : float
        From the scatter between its samples; how far people leave the plane is not in it.
    planarity : float
        Share of the movement that is about this axis: 1 for a hinge.
    excursion_deg : float
        Largest turn.
    """

    direction: Floats
    standard_uncertainty_deg: float
    planarity: float
    excursion_deg: float


def _unit(vector: ArrayLike) -> Floats:
    values = np.asarray(vector, dtype=float)
    return np.asarray(values / np.linalg.norm(values))


def _quality(standard_uncertainty_deg: float) -> float:
    return float(1.0 / (1.0 + (standard_uncertainty_deg / HALF_QUALITY_DEG) ** 2))


def triad(first: ArrayLike, second: ArrayLike, first_known: ArrayLike, second_known: ArrayLike) -> Floats:
    """Rotation that takes two measured directions to two known ones.

    Parameters
    ----------
    first, second : array_like of shape (3,)
        Measured directions in sensor axes, not parallel to each other.
    first_known, second_known : array_like of shape (3,)
        The same in segment axes. The first is met exactly, the second as nearly as that leaves it.

    Returns
    -------
    ndarray of shape (3, 3)
        Takes sensor components to segment components.

    References
    ----------
    H. D. Black, "A passive system for determining the attitude of a satellite", AIAA J 2 (1964) 1350-1351,
    doi:10.2514/3.2555.
    """
    frames = []
    for one, other in ((first, second), (first_known, second_known)):
        along = _unit(one)
        across = _unit(np.cross(along, _unit(other)))
        frames.append(np.stack([along, across, np.cross(along, across)], axis=1))
    return np.asarray(frames[1] @ frames[0].T)


def functional_axis(turns: Floats) -> FunctionalAxis:
    """Find the axis of a movement that starts from a pose and comes back to it.

    Parameters
    ----------
    turns : ndarray of shape (m, 3)
        Rotation vector of the segment since the pose, in the sensor's axes, radians.

    Returns
    -------
    FunctionalAxis
        Mean axis of the samples beyond half of the largest turn, each with the same say.
    """
    size = np.linalg.norm(turns, axis=1)
    largest = float(np.quantile(size, 0.98)) if len(size) else 0.0
    if largest < np.radians(1.0):
        return FunctionalAxis(np.array([1.0, 0.0, 0.0]), LARGEST_DEG, 0.0, float(np.degrees(largest)))
    deep = size > 0.5 * largest
    directions = turns[deep] / size[deep, None]
    mean = directions.mean(axis=0)
    length = float(np.linalg.norm(mean))
    off = directions - np.outer(directions @ mean, mean) / length**2
    scatter = float(np.degrees(np.sqrt(np.mean(np.sum(off**2, axis=1)) / 2)))
    # samples of one swing share their error; two to four swings are asked for
    return FunctionalAxis(mean / length, scatter / np.sqrt(2.0), length, float(np.degrees(largest)))


def frame_from_movement(up: ArrayLike, axis: FunctionalAxis, known_axis: ArrayLike) -> SegmentFrame:
    """Frame from gravity in the neutral pose and one movement whose axis is known.

    Parameters
    ----------
    up : array_like of shape (3,)
        Direction to the sky in the pose, sensor axes.
    axis : FunctionalAxis
        Of the movement, sensor axes.
    known_axis : array_like of shape (3,)
        The same in segment axes.

    Returns
    -------
    SegmentFrame
        Its uncertainty grows as the axis nears the vertical, about which gravity shows nothing; there its quality is
        near 0.
    """
    level = float(np.linalg.norm(np.cross(_unit(up), axis.direction)))
    level = min(level, float(np.linalg.norm(np.cross(UP, _unit(known_axis)))))
    moved = np.degrees(np.radians(GRAVITY_DEG) / max(np.radians(axis.excursion_deg), 1e-3))
    spread = float(np.hypot(np.hypot(axis.standard_uncertainty_deg, PLANE_DEG), moved))
    spread = min(LARGEST_DEG, spread / max(level, 1e-3))
    if level < 1e-3:
        return SegmentFrame("neutral pose alone", _levelled(np.eye(3), _unit(up)), LARGEST_DEG, 0.0)
    matrix = triad(up, axis.direction, UP, known_axis)
    return SegmentFrame("neutral pose and one movement", matrix, spread, _quality(spread) * axis.planarity)


def _levelled(matrix: Floats, up: Floats) -> Floats:
    """Turn a frame by the shortest way so that up is its second axis."""
    found = matrix @ up
    cosine = float(np.clip(found @ UP, -1.0, 1.0))
    across = np.cross(found, UP)
    if np.linalg.norm(across) < 1e-9:
        return matrix if cosine > 0 else np.diag([1.0, -1.0, -1.0]) @ matrix
    skew = np.array([[0, -across[2], across[1]], [across[2], 0, -across[0]], [-across[1], across[0], 0]])
    return np.asarray((np.eye(3) + skew + skew @ skew / (1.0 + cosine)) @ matrix)


def frame_from_mounting(matrix: Floats, up: ArrayLike) -> SegmentFrame:
    """Frame from a declared mounting, levelled by gravity in the neutral pose.

    Parameters
    ----------
    matrix : ndarray of shape (3, 3)
        Declared: takes sensor components to segment components.
    up : array_like of shape (3,)
        Direction to the sky in the pose, sensor axes.

    Returns
    -------
    SegmentFrame
        What gravity shows of the mounting's error counts for what it can't show too.
    """
    off = np.degrees(np.arccos(np.clip((matrix @ _unit(up))[1], -1.0, 1.0)))
    spread = min(LARGEST_DEG, float(np.hypot(MOUNTING_DEG, off / np.sqrt(2.0))))
    return SegmentFrame("declared mounting, levelled", _levelled(matrix, _unit(up)), spread, _quality(spread))


def frame_from_poses(up: Floats, known_up: Floats, pose_deg: float = POSE_DEG) -> SegmentFrame:
    """Frame from gravity in two or more poses in which the segment's inclination is known.

    Parameters
    ----------
    up : ndarray of shape (k, 3)
        Direction to the sky in each pose, sensor axes.
    known_up : ndarray of shape (k, 3)
        The same in segment axes: (0, 1, 0) for an upright segment, (1, 0, 0) for a thigh that lies level in sitting.
    pose_deg : float
        Standard deviation of how people take such a pose.

    Returns
    -------
    SegmentFrame
        Two poses go by TRIAD, the first of them (the neutral pose) exactly; more by Wahba's problem. Poses that differ
        little show little.

    Raises
    ------
    ValueError
        There are fewer than two poses, or not as many known as measured.
    """
    if len(up) < 2 or len(up) != len(known_up):
        raise ValueError(f"a frame from poses needs two or more of them, got {len(up)} and {len(known_up)} known")
    level = float(np.max(np.linalg.norm(np.cross(_unit(known_up[0]), known_up / _lengths(known_up)), axis=1)))
    seen = float(np.max(np.linalg.norm(np.cross(_unit(up[0]), up / _lengths(up)), axis=1)))
    level = min(level, seen)
    if level < 1e-3:
        return SegmentFrame("neutral pose alone", _levelled(np.eye(3), _unit(up[0])), LARGEST_DEG, 0.0)
    if len(up) == 2:
        matrix = triad(up[0], up[1], known_up[0], known_up[1])
        # angles between the poses that don't agree are taken for the poses' own error
        off = np.degrees(
            abs(np.arccos(_unit(up[0]) @ _unit(up[1])) - np.arccos(_unit(known_up[0]) @ _unit(known_up[1])))
        )
    else:
        from scipy.spatial.transform import Rotation  # noqa: PLC0415  loads slowly

        found, off = Rotation.align_vectors(known_up / _lengths(known_up), up / _lengths(up))
        matrix, off = found.as_matrix(), np.degrees(off / np.sqrt(len(up)))
    spread = min(LARGEST_DEG, float(np.hypot(pose_deg, off) / level))
    return SegmentFrame(f"{'two' if len(up) == 2 else len(up)} known poses", matrix, spread, _quality(spread))


def _lengths(vectors: Floats) -> Floats:
    return np.asarray(np.linalg.norm(vectors, axis=1, keepdims=True))


def facing_alike(
    frame: SegmentFrame, quaternion: Floats, other_quaternion: Floats, heading_rad: float, other_up: ArrayLike
) -> Floats:
    """Frame of the other segment: in the neutral pose both stand in the same attitude.

    Parameters
    ----------
    frame : SegmentFrame
        Of the one sensor.
    quaternion, other_quaternion : ndarray of shape (4,)
        Attitude of both sensors in the pose, scalar first, each to its own world.
    heading_rad : float
        Rotation about the vertical from the one's world to the other's.
    other_up : array_like of shape (3,)
        Direction to the sky in the pose, in the other sensor's axes.

    Returns
    -------
    ndarray of shape (3, 3)
        Takes the other sensor's components to its segment's.
    """
    half = heading_rad / 2.0
    turn = np.array([np.cos(half), 0.0, 0.0, np.sin(half)])
    between = quaternion_product(other_quaternion * [1.0, -1.0, -1.0, -1.0], quaternion_product(turn, quaternion))
    w, v = between[0], between[1:]
    skew = np.array([[0, -v[2], v[1]], [v[2], 0, -v[0]], [-v[1], v[0], 0]])
    # takes the one sensor's components to the other's
    matrix = np.eye(3) + 2.0 * w * skew + 2.0 * skew @ skew
    return _levelled(frame.matrix @ matrix.T, _unit(other_up))
