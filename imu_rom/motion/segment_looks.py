"""Looks at the relative heading that need both segments' frames: postures, joint limits, and joints of two axes.

* **Standing** as in the neutral pose: both segments face the same way again, give or take how people put their feet.
* **Range of motion**: headings that would bend the joint further than a living one goes are ruled out (Lehmann, Laidig,
  Seel 2020, "Magnetometer-free motion tracking of one-dimensional joints by exploiting kinematic constraints" and the
  range-of-motion constraint of arXiv:2002.00639).
* **Two axes**: a joint that turns about one axis fixed in the proximal and one fixed in the distal segment keeps the
  angle between them, j1 . (R j2) = constant (Laidig, Lehmann, Begin, Seel 2019, doi:10.1109/EMBC.2019.8857535; Laidig,
  Weygers, Seel 2022, doi:10.3390/s22249850).
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import axis_world, quaternion_product
from imu_rom.motion.coarse import CoarseMotion
from imu_rom.motion.heading_looks import Look, looks_of
from imu_rom.motion.joint_model import Joint, Side
from imu_rom.motion.joint_rotation import motion_angle_deg

if TYPE_CHECKING:
    from scipy.spatial.transform import Rotation

__all__ = ["beyond_range_deg", "range_looks", "relative_rotation", "standing_looks", "two_axis_looks"]

Floats = NDArray[np.float64]

RANGE_STEP_S = 2.0
RANGE_LOOK_S = 20.0
HEADINGS = 48
# A joint limit is soft by about this much: people differ, and so do sensors on them.
RANGE_SPREAD_DEG = 10.0
# Looks at the same posture again and again are one look: so long a posture is taken to last.
POSTURE_S = 300.0
WIDEST_LOOK_RAD = np.radians(60.0)
TWO_AXIS_STEP_S = 1.0
FLATTEST_SLOPE = 0.15
# How far a joint of two axes leaves them: carrying angles, skin, axes that are not quite where they were thought.
TWO_AXIS_SPREAD_RAD = np.radians(4.0)
# Such errors last as long as the posture does.
TWO_AXIS_LASTS_S = 4.0


def _conjugate(quaternion: Floats) -> Floats:
    return np.asarray(quaternion * np.array([1.0, -1.0, -1.0, -1.0]))


def _about_vertical(angle_rad: Floats) -> Floats:
    nothing = np.zeros_like(angle_rad)
    return np.stack([np.cos(angle_rad / 2), nothing, nothing, np.sin(angle_rad / 2)], axis=-1)


def relative_rotation(proximal: Floats, distal: Floats, heading_rad: Floats) -> "Rotation":
    """Rotation of the distal segment against the proximal one.

    Parameters
    ----------
    proximal, distal : ndarray of shape (n, 4)
        Attitude of each segment, scalar first, to its own world (z up).
    heading_rad : ndarray of shape (n,)
        Rotation about the vertical from distal world to proximal world.

    Returns
    -------
    scipy.spatial.transform.Rotation of length n
        Distal to proximal coordinates.
    """
    from scipy.spatial.transform import Rotation  # noqa: PLC0415  loads slowly

    between = quaternion_product(_conjugate(proximal), quaternion_product(_about_vertical(heading_rad), distal))
    return Rotation.from_quat(between[:, [1, 2, 3, 0]])


def beyond_range_deg(rotation: "Rotation", joint: Joint, side: Side) -> Floats:
    """How far a joint is bent past what a living one can take, over all its motions.

    Parameters
    ----------
    rotation : scipy.spatial.transform.Rotation of length n
        Distal to proximal coordinates.
    joint : Joint
        With its motions and their possible ranges.
    side : {"left", "right"}
        Side of the body.

    Returns
    -------
    ndarray of shape (n,)
        Root of the summed squares, degrees; near a pose in which an angle is undefined that angle is left out.
    """
    total = np.zeros(len(rotation))
    # each motion is followed by its opposite, which says the same
    for motion in joint.motions[::2]:
        angle, undefined = motion_angle_deg(rotation, motion, side)
        low, high = motion.possible_range_deg
        total += np.where(undefined, 0.0, np.maximum(low - angle, 0.0) ** 2 + np.maximum(angle - high, 0.0) ** 2)
    return np.asarray(np.sqrt(total))


def range_looks(
    motion: CoarseMotion, proximal: Floats, distal: Floats, usable: NDArray[np.bool_], joint: Joint, side: Side
) -> Look:
    """Look at the heading by the joint's possible range.

    Parameters
    ----------
    motion : CoarseMotion
        For times.
    proximal, distal : ndarray of shape (m, 4)
        Segment attitudes, scalar first.
    usable : ndarray of bool of shape (m,)
        False where a sensor was not worn or delivered nothing.
    joint : Joint
        Its motions and ranges.
    side : {"left", "right"}
        Side of the body.

    Returns
    -------
    Look
        One each 20 s: middle and spread of the headings that are possible.
    """
    step, width = (max(1, round(each * motion.rate_hz)) for each in (RANGE_STEP_S, RANGE_LOOK_S))
    chosen = np.arange(0, len(usable), step)
    chosen = chosen[usable[chosen]]
    tried = np.arange(HEADINGS) * 2 * np.pi / HEADINGS
    if not len(chosen):
        return Look("range of motion", np.zeros(0), np.zeros(0), np.zeros(0))
    rotation = relative_rotation(
        np.repeat(proximal[chosen], HEADINGS, axis=0),
        np.repeat(distal[chosen], HEADINGS, axis=0),
        np.tile(tried, len(chosen)),
    )
    cost = (beyond_range_deg(rotation, joint, side).reshape(-1, HEADINGS) / RANGE_SPREAD_DEG) ** 2
    group = chosen // width
    first = np.flatnonzero(np.diff(group, prepend=-1))
    # samples of one look are one posture: their mean, not their sum
    cost = np.add.reduceat(cost, first, axis=0) / np.diff(first, append=len(group))[:, None]
    chance = np.exp(-0.5 * (cost - cost.min(axis=1, keepdims=True)))
    chance /= chance.sum(axis=1, keepdims=True)
    vector = chance @ np.exp(1j * tried)
    off = np.angle(np.exp(1j * (tried[None, :] - np.angle(vector)[:, None])))
    spread = np.sqrt(np.sum(chance * off**2, axis=1))
    spread = np.where(spread > WIDEST_LOOK_RAD, np.inf, spread * np.sqrt(POSTURE_S / RANGE_LOOK_S))
    time_s = motion.time_s[np.minimum((group[first] * width) + width // 2, len(usable) - 1)]
    return looks_of("range of motion", time_s, np.angle(vector), spread)


def standing_looks(
    motion: CoarseMotion,
    proximal: Floats,
    distal: Floats,
    stretches: list[tuple[int, int]],
    spread_rad: float,
) -> Look:
    """Look at the heading where both segments stand as in the neutral pose.

    Parameters
    ----------
    motion : CoarseMotion
        For times.
    proximal, distal : ndarray of shape (m, 4)
        Segment attitudes, scalar first.
    stretches : list of tuple of int
        First block and the one after the last of each stretch.
    spread_rad : float
        How differently people stand each time.

    Returns
    -------
    Look
        One a stretch.
    """
    middles = [(start + stop) // 2 for start, stop in stretches]
    # the headings of both segments' axes to the right
    right = np.array([0.0, 0.0, 1.0])
    where = [axis_world(each[middles], right) if middles else np.zeros((0, 3)) for each in (proximal, distal)]
    heading = [np.arctan2(each[:, 1], each[:, 0]) for each in where]
    return looks_of("standing as in the neutral pose", motion.time_s[middles], heading[0] - heading[1], spread_rad)


def two_axis_looks(
    motion: CoarseMotion,
    proximal_axis_world: Floats,
    distal_axis_world: Floats,
    cosine: float,
    heading_rad: Floats,
    usable: NDArray[np.bool_],
) -> Look:
    """Look at the heading of a joint of two axes, near a heading that is known roughly.

    Parameters
    ----------
    motion : CoarseMotion
        For times.
    proximal_axis_world, distal_axis_world : ndarray of shape (m, 3)
        The axis fixed in each segment, in that sensor's world.
    cosine : float
        Of the angle between both axes, which stays the same.
    heading_rad : ndarray of shape (m,)
        Heading thought so far, about which the constraint is taken as straight (a Gauss-Newton step).
    usable : ndarray of bool of shape (m,)
        False where a sensor was not worn or delivered nothing.

    Returns
    -------
    Look
        One a second; none where a turn about the vertical leaves the angle between the axes as it is.
    """
    p, d = proximal_axis_world, distal_axis_world
    along = p[:, 0] * d[:, 0] + p[:, 1] * d[:, 1]
    across = p[:, 1] * d[:, 0] - p[:, 0] * d[:, 1]
    c, s = np.cos(heading_rad), np.sin(heading_rad)
    off = along * c + across * s + p[:, 2] * d[:, 2] - cosine
    slope = across * c - along * s
    width = max(1, round(TWO_AXIS_STEP_S * motion.rate_hz))
    edges = np.arange(0, len(usable), width)
    say = usable.astype(float)
    square = np.add.reduceat(say * slope**2, edges)
    step = -np.add.reduceat(say * slope * off, edges) / np.maximum(square, 1e-9)
    count = np.maximum(np.add.reduceat(say, edges), 1e-9)
    size = np.sqrt(square / count)
    spread = np.where(
        (size > FLATTEST_SLOPE) & (count > width / 2),
        TWO_AXIS_SPREAD_RAD * np.sqrt(TWO_AXIS_LASTS_S / TWO_AXIS_STEP_S) / np.maximum(size, 1e-9),
        np.inf,
    )
    middle = np.minimum(edges + width // 2, len(usable) - 1)
    return looks_of(
        "two axes at a constant angle", motion.time_s[middle], heading_rad[middle] + np.clip(step, -0.5, 0.5), spread
    )
