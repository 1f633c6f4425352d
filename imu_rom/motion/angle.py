"""Attitudes of two sensors to the angle of the hinge between them.

With the axis j known in both sensors, each sensor's attitude is turned so that its z axis is j; then the distal
attitude in the proximal one's frame is a rotation about z alone, up to errors, and the joint angle is its twist 2
atan2(q_z, q_w). An axis that is off by e scales the excursion by cos e only (cos 5 deg = 0.996), and a relative
heading that is off turns about the vertical, which a level axis does not feel.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["aligned_rotation", "axis_to_z", "axis_world", "hinge_angle_rad", "quaternion_product", "up_in_sensor"]

Floats = NDArray[np.float64]


def quaternion_product(first: Floats, second: Floats) -> Floats:
    """Hamilton product of scalar-first quaternions.

    Parameters
    ----------
    first, second : ndarray of shape (n, 4) or (4,)
        Scalar-first quaternions; one of them may be a single one.

    Returns
    -------
    ndarray of shape (n, 4)
        first * second.
    """
    a, b, c, d = np.moveaxis(first, -1, 0)
    e, f, g, h = np.moveaxis(second, -1, 0)
    return np.stack(
        [
            a * e - b * f - c * g - d * h,
            a * f + b * e + c * h - d * g,
            a * g - b * h + c * e + d * f,
            a * h + b * g - c * f + d * e,
        ],
        axis=-1,
    )


def axis_to_z(axis: Floats) -> Floats:
    """Rotation, sensor <- aligned frame, that takes z to the axis by the shortest way.

    Parameters
    ----------
    axis : ndarray of shape (3,)
        Unit vector in sensor axes.

    Returns
    -------
    ndarray of shape (4,)
        Scalar-first unit quaternion.
    """
    x, y, z = axis
    if z < -0.999999:
        return np.array([0.0, 1.0, 0.0, 0.0])
    quaternion = np.array([1.0 + z, -y, x, 0.0])
    return np.asarray(quaternion / np.linalg.norm(quaternion))


def up_in_sensor(attitude: Floats) -> Floats:
    """Direction to the sky in sensor axes.

    Parameters
    ----------
    attitude : ndarray of shape (n, 4)
        Scalar-first quaternions, sensor -> world with z up.

    Returns
    -------
    ndarray of shape (n, 3)
        Unit vectors.
    """
    w, x, y, z = np.ascontiguousarray(attitude.T)
    return np.stack([2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)], axis=-1)


def axis_world(attitude: Floats, axis: Floats) -> Floats:
    """Turn a vector from a sensor's axes into that sensor's world.

    Parameters
    ----------
    attitude : ndarray of shape (n, 4)
        Scalar-first quaternions, sensor -> world.
    axis : ndarray of shape (3,) or (n, 3)
        Vector in sensor axes, one for all samples or one for each.

    Returns
    -------
    ndarray of shape (n, 3)
        Unit vectors.
    """
    # v + w t + q x t with t = 2 q x v; written out, as np.cross takes four times as long
    w, x, y, z = np.ascontiguousarray(attitude.T)
    a, b, c = np.asarray(axis).T
    turned_x, turned_y, turned_z = 2.0 * (y * c - z * b), 2.0 * (z * a - x * c), 2.0 * (x * b - y * a)
    world = np.empty((len(attitude), 3))
    world[:, 0] = a + w * turned_x + (y * turned_z - z * turned_y)
    world[:, 1] = b + w * turned_y + (z * turned_x - x * turned_z)
    world[:, 2] = c + w * turned_z + (x * turned_y - y * turned_x)
    return world


def _aligned(attitude: Floats, axis: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Parts of the attitude of a frame that is turned in the sensor until its z is the axis."""
    a, b, c, d = np.ascontiguousarray(attitude.T)
    e, f, g, _ = axis_to_z(axis)
    return a * e - b * f - c * g, a * f + b * e - d * g, a * g + c * e + d * f, b * g - c * f + d * e


def aligned_rotation(
    attitudes: tuple[Floats, Floats], axes: tuple[Floats, Floats], relative_heading_rad: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Rotation from proximal to distal sensor, each in axes whose z is the joint's axis.

    Parameters
    ----------
    attitudes : tuple of two ndarrays of shape (n, 4)
        Proximal and distal: scalar-first quaternions, sensor -> world with z up, each with its own heading.
    axes : tuple of two ndarrays of shape (3,)
        Unit vector of the axis in each sensor's axes.
    relative_heading_rad : ndarray of shape (n,)
        Rotation about the vertical from distal world to proximal world.

    Returns
    -------
    w, x, y, z : ndarray of shape (n,)
        Parts of the quaternion, scalar first; x and y are 0 for a perfect hinge.
    """
    p, q, r, s = _aligned(attitudes[0], axes[0])
    e, f, g, h = _aligned(attitudes[1], axes[1])
    # z-rotation applied on the left of the distal attitude
    cosine, sine = np.cos(relative_heading_rad / 2), np.sin(relative_heading_rad / 2)
    e, f, g, h = cosine * e - sine * h, cosine * f - sine * g, cosine * g + sine * f, cosine * h + sine * e
    return (
        p * e + q * f + r * g + s * h,
        p * f - q * e - r * h + s * g,
        p * g + q * h - r * e - s * f,
        p * h - q * g + r * f - s * e,
    )


def hinge_angle_rad(
    proximal_attitude: Floats,
    distal_attitude: Floats,
    proximal_axis: Floats,
    distal_axis: Floats,
    relative_heading_rad: Floats,
) -> Floats:
    """Angle of the distal segment against the proximal one about their shared axis.

    Parameters
    ----------
    proximal_attitude, distal_attitude : ndarray of shape (n, 4)
        Scalar-first quaternions, sensor -> world with z up, each with its own heading.
    proximal_axis, distal_axis : ndarray of shape (3,)
        Unit vector of the axis in each sensor's axes.
    relative_heading_rad : ndarray of shape (n,)
        Rotation about the vertical from distal world to proximal world.

    Returns
    -------
    ndarray of shape (n,)
        Radians, right-handed about the axis, zero arbitrary, unwrapped over time.
    """
    scalar, _, _, along = aligned_rotation(
        (proximal_attitude, distal_attitude), (proximal_axis, distal_axis), relative_heading_rad
    )
    return np.asarray(np.unwrap(2.0 * np.arctan2(along, scalar)))
