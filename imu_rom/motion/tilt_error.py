"""What an accelerometer's bias does to an angle that has its zero in one pose and is read in another.

Over seconds every attitude filter takes its inclination from the accelerometer. A bias b turns it by b / g, about an
axis that is fixed in the sensor; in the neutral pose that error is part of the zero and cancels. With the sensor
inclined otherwise the same bias turns it by another amount, so what is left grows with the change of inclination: for
small biases by b . (j x (up - up0)) / g about the joint's axis j, where up and up0 are the direction to the sky in the
sensor's axes now and in the pose. With the axis level and a change of inclination a the factor |up - up0| is
2 sin(a / 2). (Own derivation: first order in b / g; ``tests/motion/test_tilt_error.py`` holds it against rotations.)
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["growth_with_excursion", "tilt_error_deg"]

Floats = NDArray[np.float64]
GRAVITY_M_S2 = 9.81
SMALLEST_EXCURSION_DEG = 5.0


def tilt_error_deg(up: Floats, pose_up: Floats, axis: Floats, bias_m_s2: float) -> Floats:
    """Give the standard uncertainty that one sensor's accelerometer bias puts into the angle about an axis.

    Parameters
    ----------
    up : ndarray of shape (m, 3)
        Unit vectors to the sky in sensor axes.
    pose_up : ndarray of shape (3,)
        The same in the pose that gives the zero.
    axis : ndarray of shape (3,)
        Unit vector of the joint's axis in sensor axes.
    bias_m_s2 : float
        Standard deviation of each axis' bias.

    Returns
    -------
    ndarray of shape (m,)
        Degrees; 0 in the pose.
    """
    change = np.cross(axis, up - pose_up)
    return np.asarray(np.degrees(bias_m_s2 / GRAVITY_M_S2) * np.sqrt(np.einsum("ij,ij->i", change, change)))


def growth_with_excursion(uncertainty_deg: Floats, angle_deg: Floats) -> float:
    """Fit ``uncertainty = growth * |angle|`` by least squares of the squares.

    Parameters
    ----------
    uncertainty_deg, angle_deg : ndarray of shape (m,)
        Standard uncertainty and joint angle of each sample, the latter from its zero.

    Returns
    -------
    float
        Degrees a degree; 0 where the angle never leaves its zero by 5 degrees.
    """
    far = np.abs(angle_deg) >= SMALLEST_EXCURSION_DEG
    if not far.any():
        return 0.0
    squared = angle_deg[far] ** 2
    return float(np.sqrt(np.sum(uncertainty_deg[far] ** 2 * squared) / np.sum(squared**2)))
