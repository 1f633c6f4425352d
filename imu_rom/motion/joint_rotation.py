"""Rotation of a distal segment against a proximal one, taken apart into angles.

Two ways of reading one rotation:

* the twist about one axis, for a joint that is a hinge or nearly so;
* the three angles z-x'-y'' of a joint coordinate system: flexion about the proximal segment's z axis (to the right),
  then ab- or adduction (at the ankle: inversion) about the floating axis, then internal rotation about the distal
  segment's long y axis. They don't depend on the order in which the rotations are imagined.

References
----------
Grood, Suntay, "A joint coordinate system for the clinical description of three-dimensional motions: application to the
knee", J Biomech Eng 105 (1983) 136-144, doi:10.1115/1.3138397.
Wu et al., "ISB recommendation on definitions of joint coordinate system of various joints for the reporting of human
joint motion - part I: ankle, hip, and spine", J Biomech 35 (2002) 543-548, doi:10.1016/S0021-9290(01)00222-6.
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from imu_rom.recording.model import Floats

if TYPE_CHECKING:
    from scipy.spatial.transform import Rotation

__all__ = ["GIMBAL_ZONE_DEG", "twist_angle_rad", "zxy_angles_deg"]

GIMBAL_ZONE_DEG = 1e-5
"""Within this of +-90 degrees of the second angle, the first and the third turn about the same line."""


def twist_angle_rad(rotation: "Rotation", axis: ArrayLike) -> Floats:
    """Angle of the rotation about an axis, what turns the axis itself left aside.

    Parameters
    ----------
    rotation : scipy.spatial.transform.Rotation of length n
        Distal to proximal coordinates (attitude of the distal segment seen from the proximal one).
    axis : array_like of shape (3,)
        Direction of the axis, the same in both segments; its length is of no account.

    Returns
    -------
    ndarray of shape (n,)
        Radians in -pi to pi, right-handed about the axis; 0 where the rotation turns the axis right round, which leaves
        the twist undefined.

    Raises
    ------
    ValueError
        The axis has no length.

    Notes
    -----
    With the unit quaternion (w, v) and the unit axis j the twist is 2 atan2(v . j, w).
    """
    direction = np.asarray(axis, dtype=np.float64)
    length = np.linalg.norm(direction)
    if length == 0.0:
        raise ValueError("a twist needs an axis that has a direction, got (0, 0, 0)")
    quaternion = np.atleast_2d(rotation.as_quat())
    angle = 2.0 * np.arctan2(quaternion[:, :3] @ (direction / length), quaternion[:, 3])
    # a quaternion and its opposite are the same rotation, so half of the circle comes out a turn too far
    return np.asarray(np.arctan2(np.sin(angle), np.cos(angle)))


def zxy_angles_deg(rotation: "Rotation") -> Floats:
    """Take the angles about z, x' and y'' of a rotation, in this order.

    Parameters
    ----------
    rotation : scipy.spatial.transform.Rotation of length n
        Distal to proximal coordinates, both in axes x forward, y up, z right.

    Returns
    -------
    ndarray of shape (n, 3)
        Degrees: first and third in -180 to 180, second in -90 to 90. Within `GIMBAL_ZONE_DEG` of +-90 of the second the
        first and the third can't be told apart; the third is then 0 and the first holds all of it.

    Notes
    -----
    With R = Rz(a) Rx(b) Ry(c): sin b = R32, tan a = -R12 / R22, tan c = -R31 / R33; b is taken by atan2 from R32 and
    the length of (R12, R22), which keeps its digits near 90 degrees.
    """
    matrix = rotation.as_matrix().reshape(-1, 3, 3)
    across = np.hypot(matrix[:, 0, 1], matrix[:, 1, 1])
    second = np.arctan2(matrix[:, 2, 1], across)
    locked = across < np.radians(GIMBAL_ZONE_DEG)
    first = np.where(
        locked,
        np.arctan2(matrix[:, 1, 0], matrix[:, 0, 0]),
        np.arctan2(-matrix[:, 0, 1], matrix[:, 1, 1]),
    )
    third = np.where(locked, 0.0, np.arctan2(-matrix[:, 2, 0], matrix[:, 2, 2]))
    return np.asarray(np.degrees(np.stack([first, second, third], axis=1)))
