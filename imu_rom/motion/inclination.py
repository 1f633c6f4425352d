"""How far one sensor has turned about an axis of its own since a pose, seen by gravity alone.

Gravity shows the turn about any axis that is not upright, without a heading and so without drift: seen along the axis,
the direction to the sky turns backwards by as much as the sensor turns forwards. An axis that is tilted by t against
the level leaves cos t of gravity to see it by, so that an error of the attitude filter's inclination grows to 1 / cos t
of it.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["axis_flatness", "inclination_rad"]

Floats = NDArray[np.float64]


def inclination_rad(up: Floats, axis: Floats, reference_up: Floats) -> Floats:
    """Turn of a sensor about an axis since a reference pose.

    Parameters
    ----------
    up : ndarray of shape (m, 3)
        Directions to the sky in the sensor's axes.
    axis : ndarray of shape (3,)
        Unit vector in the sensor's axes.
    reference_up : ndarray of shape (3,)
        Direction to the sky in the sensor's axes in the reference pose.

    Returns
    -------
    ndarray of shape (m,)
        Radians, -pi to pi, right-handed about the axis; 0 in the reference pose.
    """
    sine = np.asarray(up) @ np.cross(axis, reference_up)
    cosine = up @ (reference_up - (reference_up @ axis) * axis)
    return np.asarray(-np.arctan2(sine, cosine))


def axis_flatness(up: Floats, axis: Floats) -> Floats:
    """How level an axis lies.

    Parameters
    ----------
    up : ndarray of shape (m, 3)
        Directions to the sky in the sensor's axes.
    axis : ndarray of shape (3,)
        Unit vector in the sensor's axes.

    Returns
    -------
    ndarray of shape (m,)
        1 where it lies level, 0 where it stands upright.
    """
    return np.sqrt(np.clip(1.0 - (up @ axis) ** 2, 0.0, 1.0))
