"""Products and turning vectors of many attitudes at once, as SciPy works them out, in a fraction of its time.

A session has some hundred thousand attitudes on the fine time base. SciPy 1.17 multiplies them one by one, which was
most of the time that a simulation took; these are the same formulas on whole arrays.
``tests/simulation/test_turning.py`` holds both next to each other.
"""

import numpy as np
from scipy.spatial.transform import Rotation

from imu_rom.recording.model import Floats

__all__ = ["product", "turning_vectors", "yaw_pitch_roll"]


def product(*attitudes: Rotation) -> Rotation:
    """Multiply rotations from left to right.

    Parameters
    ----------
    *attitudes : scipy.spatial.transform.Rotation
        Single ones or n each.

    Returns
    -------
    scipy.spatial.transform.Rotation
        As many, each the product of its row.

    Notes
    -----
    Hamilton's product of unit quaternions, scalar last as SciPy keeps them.
    """
    first, *others = attitudes
    for other in others:
        rows = _hamilton(*(np.atleast_2d(each.as_quat()).T for each in (first, other)))
        first = Rotation.from_quat(np.ascontiguousarray(rows.T))
    return first


def yaw_pitch_roll(angles_deg: Floats) -> Rotation:
    """Turn about the z axis, then about the new y axis, then about the new x axis.

    Parameters
    ----------
    angles_deg : ndarray of shape (n, 3)
        Yaw, pitch and roll.

    Returns
    -------
    scipy.spatial.transform.Rotation
        The n attitudes that are those of ``Rotation.from_euler("ZYX", angles_deg, degrees=True)``.
    """
    half_rad = np.deg2rad(angles_deg).T / 2
    yaw, pitch, roll = (_about(axis, each) for axis, each in zip((2, 1, 0), half_rad, strict=True))
    return Rotation.from_quat(np.ascontiguousarray(_hamilton(_hamilton(yaw, pitch), roll).T))


def turning_vectors(turns: Rotation) -> Floats:
    """Tell axis times angle of each turn.

    Parameters
    ----------
    turns : scipy.spatial.transform.Rotation
        The turns, n of them.

    Returns
    -------
    ndarray of shape (n, 3)
        In radians, at most half a turn long; those of ``Rotation.as_rotvec``.
    """
    quaternions = turns.as_quat(canonical=False)
    quaternions = np.where(quaternions[:, 3:] < 0, -quaternions, quaternions)
    sine = np.sqrt(np.sum(quaternions[:, :3] ** 2, axis=1))
    angle_rad = 2 * np.arctan2(sine, quaternions[:, 3])
    small = angle_rad <= 1e-3
    # where the angle is small, its ratio to the sine of its half by its series
    series = 2 + angle_rad**2 / 12 + 7 * angle_rad**4 / 2880
    ratio = np.where(small, series, angle_rad / np.sin(np.where(small, 1.0, angle_rad) / 2))
    vectors: Floats = quaternions[:, :3] * ratio[:, None]
    return vectors


def _about(axis: int, half_rad: Floats) -> Floats:
    quaternions = np.zeros((4, len(half_rad)))
    quaternions[axis], quaternions[3] = np.sin(half_rad), np.cos(half_rad)
    return quaternions


def _hamilton(first: Floats, second: Floats) -> Floats:
    (a, b, c, d), (e, f, g, h) = first, second
    rows = (
        d * e + h * a + (b * g - c * f),
        d * f + h * b + (c * e - a * g),
        d * g + h * c + (a * f - b * e),
        d * h - a * e - b * f - c * g,
    )
    return np.stack(rows)
