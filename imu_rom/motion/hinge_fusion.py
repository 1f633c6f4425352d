"""Angle of a hinge from both gyroscopes over short times and both accelerometers over long ones.

The gyroscopes give how fast the joint turns; summed up they are right for seconds and drift over minutes. What the
joint's centre feels (`joint_centre`) gives the angle itself: the same force is seen from both sides, and the angle is
what turns one view into the other about the axis (after Seel, Raisch and Schauer 2014, doi:10.3390/s140406891). It is
right for hours and noisy in each moment. Their difference is a slow curve, and how slow is asked of the data.

Left over are what a sensor's data sheet calls scale and offset: a gyroscope that reads 0.5 % too much makes each
excursion too large, an accelerometer's offset bends it. Both change with the movement, which the slow curve does not,
so they are estimated along with it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import aligned_rotation, axis_to_z
from imu_rom.motion.coarse import CoarseMotion, block_mean
from imu_rom.motion.joint_centre import AngleFaults, JointCentre, Segment, fit_joint_centre
from imu_rom.motion.orientation import Attitude
from imu_rom.motion.smoothing import best_time_constant, slow_curve, true_before

__all__ = ["HingeFusion", "along_axis", "fuse_hinge", "joint_centre_of", "turning_rad"]

Floats = NDArray[np.float64]

GRAVITY_M_S2 = 9.81
ROUNDS = 2
FIRST_TIME_CONSTANT_S = 8.0
# Scale of both gyroscopes, and how late one kind of sensor is against the other, in s. Common practice, no source.
FAULT_SPREAD = np.array([0.006, 0.006, 0.02])
SMALLEST_SPREAD_RAD = np.radians(1.0)
# Below this share of gravity across the axis the angle is not seen.
LEAST_ACROSS = 0.15
# A drift that fast is held to be possible: the filter is a little too sure of its bias right after a rest.
SLOPE_SPREADS = 1.5


@dataclass(frozen=True)
class HingeFusion:
    """The fused angle and what it rests on.

    Parameters
    ----------
    angle_rad : ndarray of shape (n,)
        One value a sample, unwrapped, zero as in the angle that it started from.
    drift_standard_uncertainty_rad : ndarray of shape (m,)
        Of the slow curve, at the coarse rate; grows where gravity does not show the angle.
    observed : ndarray of bool of shape (m,)
        True where gravity or another push across the axis shows the angle.
    centre : JointCentre
        Levers and accelerometer offsets.
    time_constant_s : float
        Changes slower than this are taken from the accelerometers, faster ones from the gyroscopes.
    """

    angle_rad: Floats
    drift_standard_uncertainty_rad: Floats
    observed: NDArray[np.bool_]
    centre: JointCentre
    time_constant_s: float


def along_axis(vectors: Floats, axis: Floats) -> Floats:
    """Turn vectors from a sensor's axes into axes whose z is the joint's axis.

    Parameters
    ----------
    vectors : ndarray of shape (m, 3)
        In the sensor's axes.
    axis : ndarray of shape (3,)
        Unit vector of the joint's axis in the sensor's axes.

    Returns
    -------
    ndarray of shape (m, 3)
        In the axes that `angle.axis_to_z` defines.
    """
    w, x, y, z = axis_to_z(axis)
    # rows of the transposed rotation matrix: aligned <- sensor
    matrix = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )
    return np.asarray(vectors @ matrix)


def _segments(motion: CoarseMotion, axes: tuple[Floats, Floats]) -> tuple[Segment, Segment]:
    sides = zip(
        (motion.proximal_force_m_s2, motion.distal_force_m_s2),
        (motion.proximal_rate, motion.distal_rate),
        axes,
        strict=True,
    )
    first, second = (
        Segment.of(along_axis(force, axis), along_axis(rate, axis), motion.rate_hz) for force, rate, axis in sides
    )
    return first, second


def joint_centre_of(
    motion: CoarseMotion, axes: tuple[Floats, Floats], angle_rad: Floats, usable: NDArray[np.bool_]
) -> JointCentre:
    """Fit the joint's centre for given axes and angle, whatever the angle's zero.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    axes : tuple of two ndarrays of shape (3,)
        The joint's axis in the proximal and the distal sensor's axes.
    angle_rad : ndarray of shape (m,)
        Joint angle at the coarse rate.
    usable : ndarray of bool of shape (m,)
        Samples to use; at least one.

    Returns
    -------
    JointCentre
        With its cost, by which two ways of joining the sensors can be compared.
    """
    segments = _segments(motion, axes)
    level = _mean_turn(segments[0].force_m_s2[usable], segments[1].force_m_s2[usable], angle_rad[usable])
    late = AngleFaults((np.gradient(angle_rad) * motion.rate_hz)[:, None], np.zeros(1), FAULT_SPREAD[2:])
    return fit_joint_centre(*segments, angle_rad + level, late, usable)


def _mean_turn(proximal: Floats, distal: Floats, angle_rad: Floats) -> float:
    """Give what is to be added to the angle so that both forces agree on the whole."""
    first, second = (force[:, 0] + 1j * force[:, 1] for force in (proximal, distal))
    return float(np.angle(np.sum(first * np.conj(second * np.exp(1j * angle_rad)))))


def turning_rad(
    attitudes: tuple[Attitude, Attitude],
    rates_rad_s: tuple[Floats, Floats],
    axes: tuple[Floats, Floats],
    relative_heading_rad: Floats,
    missing: NDArray[np.bool_],
    rate_hz: float,
) -> tuple[Floats, Floats, Floats]:
    """Sum up how far the joint turned, by the gyroscopes alone.

    Parameters
    ----------
    attitudes : tuple of two Attitudes
        Proximal and distal, each with its own heading.
    rates_rad_s : tuple of two ndarrays of shape (n, 3)
        Angular rates in sensor axes, each the mean over the step before its sample.
    axes : tuple of two ndarrays of shape (3,)
        The joint's axis in each sensor's axes.
    relative_heading_rad : ndarray of shape (n,)
        From distal world to proximal world.
    missing : ndarray of bool of shape (n,)
        True in gaps, where nothing is summed.
    rate_hz : float
        Sampling rate.

    Returns
    -------
    joint, proximal, distal : ndarray of shape (n,)
        Radians turned since the first sample: the joint about its axis, and each segment about it.

    Notes
    -----
    With the relative attitude (w, x, y, z) in axes whose z is the joint's, the twist 2 atan2(z, w) changes by
    c2 - c1 + (x (w (b1 + b2) + z (a2 - a1)) + y (z (b2 - b1) - w (a1 + a2))) / (w^2 + z^2), with the rates (a, b, c)
    of both sensors in those axes: what the derivative of the quaternion gives. For a perfect hinge x = y = 0.
    """
    quaternions = (attitudes[0].quaternion, attitudes[1].quaternion)
    w, x, y, z = aligned_rotation(quaternions, axes, relative_heading_rad)
    aligned = []
    for rate, attitude, axis in zip(rates_rad_s, attitudes, axes, strict=True):
        bias = attitude.gyroscope_bias_rad_s
        aligned.append(along_axis(rate if bias is None else rate - bias, axis).T)
    (a1, b1, c1), (a2, b2, c2) = aligned
    across = x * (w * (b1 + b2) + z * (a2 - a1)) + y * (z * (b2 - b1) - w * (a1 + a2))
    steps = (c2 - c1 + across / np.maximum(w * w + z * z, 1e-6), c1, c2)
    joint, proximal, distal = (np.cumsum(np.where(missing, 0.0, each)) / rate_hz for each in steps)
    return joint, proximal, distal


@dataclass(frozen=True)
class _View:
    """The angle as forces show it, and how well."""

    angle_rad: Floats
    spread_rad: Floats
    weight: Floats
    observed: NDArray[np.bool_]


def _seen(segments: tuple[Segment, Segment], centre: JointCentre, angle_rad: Floats) -> _View:
    first, second = (centre.at_centre(segment, which) for which, segment in enumerate(segments))
    across = np.sqrt(np.hypot(first[:, 0], first[:, 1]) * np.hypot(second[:, 0], second[:, 1]))
    cosine, sine = np.cos(angle_rad), np.sin(angle_rad)
    off_x = first[:, 0] - (cosine * second[:, 0] - sine * second[:, 1])
    off_y = first[:, 1] - (sine * second[:, 0] + cosine * second[:, 1])
    off = np.sqrt(off_x**2 + off_y**2 + (first[:, 2] - second[:, 2]) ** 2)
    spread = (2.0 * centre.spread_m_s2 + off) / np.maximum(across, 0.03 * GRAVITY_M_S2)
    flat = np.clip((across / GRAVITY_M_S2 - LEAST_ACROSS) / (1.0 - LEAST_ACROSS), 0.0, 1.0)
    weight = (flat * SMALLEST_SPREAD_RAD / np.maximum(spread, SMALLEST_SPREAD_RAD)) ** 2
    seen = np.arctan2(first[:, 1], first[:, 0]) - np.arctan2(second[:, 1], second[:, 0])
    return _View(np.asarray(seen), spread, weight, flat**2 > 0.02)


def fuse_hinge(
    motion: CoarseMotion,
    axes: tuple[Floats, Floats],
    turned_rad: tuple[Floats, Floats, Floats],
    start_rad: Floats,
    worn: NDArray[np.bool_],
    drift_rad_s: Floats,
) -> HingeFusion:
    """Fuse both gyroscopes with what the joint's centre feels.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    axes : tuple of two ndarrays of shape (3,)
        The joint's axis in the proximal and the distal sensor's axes.
    turned_rad : tuple of three ndarrays of shape (n,)
        From `turning_rad`.
    start_rad : ndarray of shape (m,)
        Angle to start from, such as the attitudes give.
    worn : ndarray of bool of shape (m,)
        True where both sensors are worn and deliver.
    drift_rad_s : ndarray of shape (m,)
        Standard uncertainty of the drift where nothing shows the angle.

    Returns
    -------
    HingeFusion
        The angle.
    """
    rate_hz = motion.rate_hz
    turned, first, second = (block_mean(each, motion.block) for each in turned_rad)
    speed = np.gradient(turned) * rate_hz
    segments = _segments(motion, axes)
    # what happens while the sensors are put on may move the curve as it likes
    cut = motion.missing | (np.diff(worn, prepend=worn[:1]) != 0)
    say = (~motion.missing).astype(np.float64)
    slow = slow_curve(start_rad - turned, say, cut, rate_hz, FIRST_TIME_CONSTANT_S)
    courses = np.stack([first, second, speed], axis=1)
    slope_spread = SLOPE_SPREADS * float(np.median(drift_rad_s[worn])) / SMALLEST_SPREAD_RAD if worn.any() else None
    share = np.zeros(3)
    known, time_constant_s, error = say, FIRST_TIME_CONSTANT_S, 0.0
    for _ in range(ROUNDS):
        base = slow + courses @ share
        # what the slow curve takes away is no fault of scale
        moving = [each - slow_curve(each, known, cut, rate_hz, time_constant_s) for each in courses.T]
        faults = AngleFaults(np.stack(moving, axis=1), share, FAULT_SPREAD)
        centre = fit_joint_centre(*segments, turned + base, faults, worn)
        base += faults.course @ (centre.fault_share - share)
        slow = base - courses @ centre.fault_share
        share = centre.fault_share
        view = _seen(segments, centre, turned + base)
        off = view.angle_rad - turned
        off = base + np.angle(np.exp(1j * (off - base)))
        likely = (off - base) / (3.0 * np.maximum(view.spread_rad, SMALLEST_SPREAD_RAD))
        known = say * view.weight / (1.0 + likely**2) ** 2
        off -= courses @ share
        time_constant_s, error = best_time_constant(off, known * worn, cut, rate_hz)
        slow = slow_curve(off, known, cut, rate_hz, time_constant_s, slope_spread=slope_spread)
    sample = np.arange(len(turned_rad[0]))
    middle = (np.arange(len(slow)) + 0.5) * motion.block - 0.5
    angle = turned_rad[0] + share[0] * turned_rad[1] + share[1] * turned_rad[2] + np.interp(sample, middle, slow)
    observed = view.observed & worn
    return HingeFusion(
        angle_rad=np.asarray(angle),
        drift_standard_uncertainty_rad=_drift_rad(observed, error, rate_hz, drift_rad_s),
        observed=observed,
        centre=centre,
        time_constant_s=time_constant_s,
    )


def _drift_rad(observed: NDArray[np.bool_], error: float, rate_hz: float, drift_rad_s: Floats) -> Floats:
    """Uncertainty of the slow curve: what foretelling showed where it is seen, growing from there elsewhere."""
    seconds = np.arange(len(observed)) / rate_hz
    if not observed.any():
        return np.asarray(drift_rad_s * seconds)
    seen = seconds[observed]
    position = true_before(observed)
    before = seconds - seen[np.clip(position - 1, 0, len(seen) - 1)]
    after = seen[np.clip(position, 0, len(seen) - 1)] - seconds
    distance = np.minimum(np.abs(before), np.abs(after))
    return np.asarray(np.hypot(error, drift_rad_s * np.where(observed, 0.0, distance)))
