"""Gaps in a recording: an attitude filter must not be led through samples that nobody measured.

Each stretch between gaps is filtered for itself, so that the inclination is right from its first sample on; its heading
starts anew, which the relative heading does too. Within a gap the angle is a straight line between both sides.
"""

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.orientation import Attitude, estimate_attitude
from imu_rom.recording.model import freeze

__all__ = ["attitude_between_gaps", "bridged_rad"]

Floats = NDArray[np.float64]


def _stretches(measured: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], measured.astype(np.int8), [0]])))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def attitude_between_gaps(
    accelerometer_m_s2: Floats,
    gyroscope_rad_s: Floats,
    missing: NDArray[np.bool_],
    rate_hz: float,
    filter_name: str = "vqf",
) -> Attitude:
    """Estimate the attitude of one sensor, each stretch between gaps for itself.

    Parameters
    ----------
    accelerometer_m_s2, gyroscope_rad_s : ndarray of shape (n, 3)
        Specific force and angular rate, sensor axes.
    missing : ndarray of bool of shape (n,)
        True in gaps.
    rate_hz : float
        Sampling rate.
    filter_name : str
        Attitude filter by its published name.

    Returns
    -------
    Attitude
        Sensor to world, world z up; in a gap the last attitude before it.
    """
    stretches = [(start, stop) for start, stop in _stretches(~missing) if stop - start > 1]
    if not missing.any() or not stretches:
        return estimate_attitude(accelerometer_m_s2, gyroscope_rad_s, rate_hz, filter_name)
    quaternion = np.zeros((len(missing), 4))
    bias = np.zeros((len(missing), 3))
    spread = np.zeros(len(missing))
    known = np.zeros(len(missing), dtype=bool)
    has_bias = True
    for start, stop in stretches:
        part = estimate_attitude(accelerometer_m_s2[start:stop], gyroscope_rad_s[start:stop], rate_hz, filter_name)
        quaternion[start:stop] = part.quaternion
        known[start:stop] = True
        has_bias = has_bias and part.gyroscope_bias_rad_s is not None
        if part.gyroscope_bias_rad_s is not None:
            bias[start:stop] = part.gyroscope_bias_rad_s
        if part.bias_standard_uncertainty_rad_s is not None:
            spread[start:stop] = part.bias_standard_uncertainty_rad_s
    held = np.maximum.accumulate(np.where(known, np.arange(len(known)), stretches[0][0]))
    return Attitude(
        quaternion=freeze(quaternion[held]),
        gyroscope_bias_rad_s=freeze(bias[held]) if has_bias else None,
        bias_standard_uncertainty_rad_s=freeze(spread[held]) if has_bias else None,
    )


def bridged_rad(angle_rad: Floats, missing: NDArray[np.bool_]) -> Floats:
    """Draw a straight line over each gap, and take out the turns that a heading lost in it may have wound up.

    Parameters
    ----------
    angle_rad : ndarray of shape (n,)
        Angle with nothing known in gaps.
    missing : ndarray of bool of shape (n,)
        True in gaps.

    Returns
    -------
    ndarray of shape (n,)
        Angle within half a turn from one side of each gap to the other.
    """
    if not missing.any() or missing.all():
        return angle_rad
    angle = np.array(angle_rad)
    for start, stop in _stretches(missing):
        if start > 0 and stop < len(angle):
            turns = np.round((angle[stop] - angle[start - 1]) / (2 * np.pi))
            angle[stop:] -= 2 * np.pi * turns
    index = np.arange(len(angle))
    return np.asarray(np.interp(index, index[~missing], angle[~missing]))
