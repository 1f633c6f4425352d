"""Inertial sensors on a straight edge that is set to known angles: what each is off by, and the two together.

What such a check can tell, and what it can't. How a sensor sits on the edge is not known, so a single position says
nothing: an accelerometer's bias and a slanted seat look the same. Between two positions the seat drops out. So the
first position is the reference, and all errors are those of the change since then, as in use all angles are those
since the neutral pose. The axis of tilting is not known either; it is the one about which the direction of gravity,
in the sensor's own axes, moves in a plane. Turning about the vertical is invisible to an accelerometer and harmless.

The two sensors' difference needs no reference at all, as long as both sit on the same edge: it should stay what it was.
That is the error that a joint angle has from the accelerometers.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.small_samples import coverage_factor, effective_degrees

__all__ = [
    "PairPosition",
    "SensorPosition",
    "SensorReadings",
    "TiltPlane",
    "pair_positions",
    "read_rests",
    "sensor_positions",
    "tilt_plane",
    "unit",
    "wrapped_deg",
]

Floats = NDArray[np.float64]

BATCH_S = 0.5
"""Means over so long are taken as independent of each other: what wanders more slowly shows in their spread."""
WELL_KNOWN = float("inf")
SMALLEST_SHARE_LEFT = 0.1
UNSEEN_ACROSS_DEG = 1.0
"""Taken where the angles don't show it, as with two of them (common practice, no source)."""


@dataclass(frozen=True)
class SensorReadings:
    """One sensor over the still stretches.

    Parameters
    ----------
    up : ndarray of shape (n, 3)
        Direction to the sky in sensor axes, as the accelerometer has it, one row a stretch.
    gravity_m_s2 : ndarray of shape (n,)
        Length of the mean specific force.
    rate_rad_s, rate_uncertainty_rad_s : ndarray of shape (n, 3)
        Mean angular rate, which at rest is the gyroscope's bias, and its standard uncertainty.
    batches : tuple of ndarray of shape (m, 3)
        Direction to the sky over each half second of each stretch.
    accelerometer_noise_m_s2, gyroscope_noise_rad_s : float
        Standard deviation of one sample about its neighbours, mean of the three axes.
    """

    up: Floats
    gravity_m_s2: Floats
    rate_rad_s: Floats
    rate_uncertainty_rad_s: Floats
    batches: tuple[Floats, ...]
    accelerometer_noise_m_s2: float
    gyroscope_noise_rad_s: float


@dataclass(frozen=True)
class TiltPlane:
    """Tilt of one sensor about the axis that its own readings show.

    Parameters
    ----------
    axis : ndarray of shape (3,)
        Unit vector in sensor axes about which the edge was tilted, its sign such that tilts follow the reference.
    tilt_deg : ndarray of shape (n,)
        Change of tilt since the first position, -180 to 180.
    out_of_plane_deg : ndarray of shape (n,)
        How far each direction is out of the plane of tilting: a twisted edge, or axes that are not square.
    across_deg : float
        Offset of all directions across the plane that would explain these: a bias of the accelerometer across it, or an
        edge that leans. A fitted plane hides most of such an offset.
    u_tilt_deg : ndarray of shape (n,)
        Standard uncertainty of each position's own tilt from noise and wander.
    degrees : ndarray of shape (n,)
        Degrees of freedom of these.
    """

    axis: Floats
    tilt_deg: Floats
    out_of_plane_deg: Floats
    across_deg: float
    u_tilt_deg: Floats
    degrees: Floats


@dataclass(frozen=True)
class SensorPosition:
    """One sensor in one position, against the reference.

    Parameters
    ----------
    tilt_deg : float
        Change of tilt since the first position.
    error_deg : float
        That, less the change of the reference.
    u_deg : float
        Standard uncertainty of the error: reference, noise, twist of the edge.
    low_deg, high_deg : float
        95 % interval of the error.
    out_of_plane_deg : float
        How far the direction is out of the plane of tilting.
    """

    tilt_deg: float
    error_deg: float
    u_deg: float
    low_deg: float
    high_deg: float
    out_of_plane_deg: float


@dataclass(frozen=True)
class PairPosition:
    """Two sensors in one position.

    Parameters
    ----------
    angle_deg : float
        Change of the angle between them since the first position: the distal sensor's tilt less the proximal one's, or
        the tilt of the one that was turned.
    error_deg : float
        That, less what it should be.
    u_deg : float
        Standard uncertainty of the error.
    low_deg, high_deg : float
        95 % interval of the error.
    """

    angle_deg: float
    error_deg: float
    u_deg: float
    low_deg: float
    high_deg: float


def wrapped_deg(angle: Floats) -> Floats:
    """Take whole turns off.

    Parameters
    ----------
    angle : ndarray
        Degrees.

    Returns
    -------
    ndarray
        From -180 to 180.
    """
    return np.asarray(angle - 360.0 * np.round(angle / 360.0))


def unit(vectors: Floats) -> Floats:
    """Bring vectors to the length 1.

    Parameters
    ----------
    vectors : ndarray of shape (..., 3)
        None of them zero.

    Returns
    -------
    ndarray of the same shape
        Unit vectors.
    """
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True))


def _batch_means(samples: Floats, width: int) -> Floats:
    count = len(samples) // width
    return np.asarray(samples[: count * width].reshape(count, width, 3).mean(axis=1))


def read_rests(
    force_m_s2: Floats, rate_rad_s: Floats, rests: Sequence[tuple[int, int]], rate_hz: float
) -> SensorReadings:
    """Read one sensor over its still stretches.

    Parameters
    ----------
    force_m_s2, rate_rad_s : ndarray of shape (n, 3)
        Specific force and angular rate, sensor axes.
    rests : sequence of (int, int)
        First sample of each stretch and the one after its last; each at least two batches of half a second long.
    rate_hz : float
        Sampling rate.

    Returns
    -------
    SensorReadings
        Means, their spread and the noise.
    """
    width = max(1, round(BATCH_S * rate_hz))
    forces, rates, rate_u, batches = [], [], [], []
    noise = np.zeros(2)
    for start, stop in rests:
        forces.append(force_m_s2[start:stop].mean(axis=0))
        rates.append(rate_rad_s[start:stop].mean(axis=0))
        halves = _batch_means(rate_rad_s[start:stop], width)
        rate_u.append(halves.std(axis=0, ddof=1) / np.sqrt(len(halves)))
        batches.append(unit(_batch_means(force_m_s2[start:stop], width)))
        # differences of neighbours feel the white noise and little else
        for index, samples in enumerate((force_m_s2, rate_rad_s)):
            noise[index] += np.mean(np.diff(samples[start:stop], axis=0).var(axis=0)) / 2.0
    noise = np.sqrt(noise / len(rests))
    means = np.array(forces)
    return SensorReadings(
        up=unit(means),
        gravity_m_s2=np.linalg.norm(means, axis=1),
        rate_rad_s=np.array(rates),
        rate_uncertainty_rad_s=np.array(rate_u),
        batches=tuple(batches),
        accelerometer_noise_m_s2=float(noise[0]),
        gyroscope_noise_rad_s=float(noise[1]),
    )


def tilt_plane(readings: SensorReadings, reference_deg: Floats) -> TiltPlane:
    """Find the axis of tilting in a sensor's own readings, and its tilt in each position.

    Parameters
    ----------
    readings : SensorReadings
        One sensor that was tilted.
    reference_deg : ndarray of shape (n,)
        Known angles, degrees; they only settle the axis' sign.

    Returns
    -------
    TiltPlane
        Axis and tilts; the axis is nearest to square to all directions of gravity, by least squares.
    """
    axis = np.linalg.svd(readings.up, full_matrices=True)[2][2]
    flat = unit(readings.up - (readings.up @ axis)[:, None] * axis)
    tilt = np.degrees(np.arctan2(np.cross(flat[0], flat) @ axis, flat @ flat[0]))
    change = np.radians(reference_deg - reference_deg[0])
    if np.cos(np.radians(tilt) - change).sum() < np.cos(-np.radians(tilt) - change).sum():
        axis, tilt = -axis, -tilt
    u_tilt, degrees = [], []
    for each, batch in zip(flat, readings.batches, strict=True):
        along = batch @ np.cross(axis, each)
        u_tilt.append(np.degrees(along.std(ddof=1) / np.sqrt(len(along))))
        degrees.append(len(along) - 1.0)
    out_of_plane = np.degrees(np.arcsin(np.clip(readings.up @ axis, -1.0, 1.0)))
    return TiltPlane(
        axis=axis,
        tilt_deg=tilt,
        out_of_plane_deg=out_of_plane,
        across_deg=_across_deg(np.radians(tilt), out_of_plane),
        u_tilt_deg=np.array(u_tilt),
        degrees=np.array(degrees),
    )


def _across_deg(tilt_rad: Floats, out_of_plane_deg: Floats) -> float:
    # a plane through the origin takes up the part of a constant offset that goes with the cosine and sine of the tilt
    taken_up = np.stack([np.cos(tilt_rad), np.sin(tilt_rad)], axis=1)
    ones = np.ones(len(tilt_rad))
    left = float(np.linalg.norm(ones - taken_up @ np.linalg.lstsq(taken_up, ones, rcond=None)[0]))
    if left < SMALLEST_SHARE_LEFT:
        return UNSEEN_ACROSS_DEG
    return float(np.linalg.norm(out_of_plane_deg)) / left


def _interval(error: float, parts: Sequence[tuple[float, float]]) -> tuple[float, float, float]:
    u_deg = float(np.sqrt(sum(u**2 for u, _ in parts)))
    half = coverage_factor(effective_degrees(parts)) * u_deg
    return u_deg, error - half, error + half


def _own_parts(plane: TiltPlane, index: int) -> list[tuple[float, float]]:
    # a plane that is askew by e changes a tilt within it by up to e^2 / 4, in either of two positions
    return [
        (float(np.degrees(np.radians(plane.across_deg) ** 2 / 2.0)), WELL_KNOWN),
        *((float(plane.u_tilt_deg[at]), float(plane.degrees[at])) for at in (0, index)),
    ]


def sensor_positions(plane: TiltPlane, reference_deg: Floats, u_reference_deg: float) -> list[SensorPosition]:
    """Compare one sensor's tilts with the reference.

    Parameters
    ----------
    plane : TiltPlane
        Tilts of a sensor that sits on the edge.
    reference_deg : ndarray of shape (n,)
        Known angles.
    u_reference_deg : float
        Standard uncertainty with which one angle is set, independent of the others.

    Returns
    -------
    list of SensorPosition
        One a position; the first is the reference and has no error.
    """
    change = reference_deg - reference_deg[0]
    errors = wrapped_deg(plane.tilt_deg - change)
    found = [SensorPosition(0.0, 0.0, 0.0, 0.0, 0.0, float(plane.out_of_plane_deg[0]))]
    for index in range(1, len(change)):
        error = float(errors[index])
        parts = [(float(np.sqrt(2.0) * u_reference_deg), WELL_KNOWN), *_own_parts(plane, index)]
        u_deg, low, high = _interval(error, parts)
        found.append(
            SensorPosition(float(plane.tilt_deg[index]), error, u_deg, low, high, float(plane.out_of_plane_deg[index]))
        )
    return found


def pair_positions(
    proximal: TiltPlane | None,
    distal: TiltPlane | None,
    resting: SensorReadings | None,
    reference_deg: Floats,
    u_reference_deg: float,
) -> list[PairPosition]:
    """Compare the angle between two sensors with what it should be.

    Parameters
    ----------
    proximal, distal : TiltPlane or None
        Tilts; None for the sensor that stayed where it was.
    resting : SensorReadings or None
        That sensor's readings; None where both were tilted together.
    reference_deg : ndarray of shape (n,)
        Known angles of what was tilted.
    u_reference_deg : float
        Standard uncertainty of one of them; it does not enter where both sensors were tilted together.

    Returns
    -------
    list of PairPosition
        One a position; the first is the reference.

    Raises
    ------
    ValueError
        Neither sensor was tilted.
    """
    change = reference_deg - reference_deg[0]
    nothing = PairPosition(0.0, 0.0, 0.0, 0.0, 0.0)
    if proximal is not None and distal is not None:
        angle = wrapped_deg(distal.tilt_deg - proximal.tilt_deg)
        found = [nothing]
        for index in range(1, len(change)):
            parts = _own_parts(proximal, index) + _own_parts(distal, index)
            value = float(angle[index])
            found.append(PairPosition(value, value, *_interval(value, parts)))
        return found
    turned = proximal if distal is None else distal
    if turned is None or resting is None:
        raise ValueError("at least one sensor must have been tilted")
    errors = wrapped_deg(turned.tilt_deg - change)
    found = [nothing]
    for index in range(1, len(change)):
        # which way the other sensor's change would count can't be seen, so all of it is a rectangle's half width
        moved = np.degrees(np.arccos(np.clip(resting.up[0] @ resting.up[index], -1.0, 1.0)))
        parts = [(float(np.sqrt(2.0) * u_reference_deg), WELL_KNOWN), (float(moved / np.sqrt(3.0)), WELL_KNOWN)]
        error = float(errors[index])
        limits = _interval(error, parts + _own_parts(turned, index))
        found.append(PairPosition(float(turned.tilt_deg[index]), error, *limits))
    return found
