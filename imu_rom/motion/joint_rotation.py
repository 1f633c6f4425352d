"""Rotation of a distal segment against a proximal one, taken apart into angles.

Ways of reading one rotation R, distal to proximal coordinates, both in axes x forward, y up, z right:

* the twist about one axis, for a joint that is a hinge or nearly so, and for the rotation of a ball joint about the
  distal segment's long axis;
* the three angles z-x'-y'' of a joint coordinate system: flexion about the proximal segment's z axis (to the right),
  then ab- or adduction (at the ankle: inversion) about the floating axis, then internal rotation about the distal
  segment's long y axis. They don't depend on the order in which the rotations are imagined;
* the three angles y-x'-y'' of the shoulder: plane of elevation, elevation, axial rotation. With the arm hanging or
  straight up, the first and the third turn about the same line, which is where most of rehabilitation begins;
* where the long axis points, seen in one plane: what a goniometer at the shoulder shows. Seen in the sagittal plane it
  is the first angle of z-x'-y'', seen in the frontal plane the first of x-z'-y'', both well-behaved with the arm
  hanging.

For the shoulder `motion_angle_deg` takes flexion, abduction and scaption from the last, and internal rotation from the
twist, which equals plane of elevation plus axial rotation: it is free of the plane, is 0 wherever the arm is raised
from hanging by the shortest way, and fails with the arm straight up only.

References
----------
Grood, Suntay, "A joint coordinate system for the clinical description of three-dimensional motions: application to the
knee", J Biomech Eng 105 (1983) 136-144, doi:10.1115/1.3138397.
Wu et al., "ISB recommendation on definitions of joint coordinate system of various joints for the reporting of human
joint motion - part I: ankle, hip, and spine", J Biomech 35 (2002) 543-548, doi:10.1016/S0021-9290(01)00222-6.
Wu et al., "... - part II: shoulder, elbow, wrist and hand", J Biomech 38 (2005) 981-992,
doi:10.1016/j.jbiomech.2004.05.042.
Phadke, Braman, LaPrade, Ludewig, "Comparison of glenohumeral motion using different rotation sequences", J Biomech 44
(2011) 700-705, doi:10.1016/j.jbiomech.2010.10.042 (x-z'-y'' instead of y-x'-y'').
Senk, Cheze, "Rotation sequence as an important factor in shoulder kinematics", Clin Biomech 21 (2006) S3-S8,
doi:10.1016/j.clinbiomech.2005.09.007 (from memory: z-x'-y'' for flexion, x-z'-y'' for abduction).
"Interpreting the tilt-and-torsion method to express shoulder joint kinematics", Clin Biomech 92 (2022) 105573,
doi:10.1016/j.clinbiomech.2022.105573 (rotation of the humerus free of the plane of elevation).
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from imu_rom.motion.joint_model import Motion, Side
from imu_rom.recording.model import Floats

if TYPE_CHECKING:
    from scipy.spatial.transform import Rotation

__all__ = [
    "GIMBAL_LOCK_DEG",
    "GIMBAL_ZONE_DEG",
    "motion_angle_deg",
    "twist_angle_rad",
    "yxy_angles_deg",
    "zxy_angles_deg",
]

GIMBAL_LOCK_DEG = 1e-5
"""Within this of a sequence's singular poses, the first and the third angle turn about the same line."""

GIMBAL_ZONE_DEG = 20.0
"""Within this of a reading's singular pose an error of the attitude counts 1 / sin 20 deg = 2.9 times or more in it;
common practice, no source."""


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
        Degrees: first and third in -180 to 180, second in -90 to 90. Within `GIMBAL_LOCK_DEG` of +-90 of the second the
        first and the third can't be told apart; the third is then 0 and the first holds all of it.

    Notes
    -----
    With R = Rz(a) Rx(b) Ry(c): sin b = R32, tan a = -R12 / R22, tan c = -R31 / R33; b is taken by atan2 from R32 and
    the length of (R12, R22), which keeps its digits near 90 degrees.
    """
    matrix = rotation.as_matrix().reshape(-1, 3, 3)
    across = np.hypot(matrix[:, 0, 1], matrix[:, 1, 1])
    second = np.arctan2(matrix[:, 2, 1], across)
    locked = across < np.radians(GIMBAL_LOCK_DEG)
    first = np.where(
        locked,
        np.arctan2(matrix[:, 1, 0], matrix[:, 0, 0]),
        np.arctan2(-matrix[:, 0, 1], matrix[:, 1, 1]),
    )
    third = np.where(locked, 0.0, np.arctan2(-matrix[:, 2, 0], matrix[:, 2, 2]))
    return np.asarray(np.degrees(np.stack([first, second, third], axis=1)))


def yxy_angles_deg(rotation: "Rotation", side: Side = "right") -> Floats:
    """Take the angles about y, x' and y'' of a rotation, in this order: plane of elevation, elevation, axial rotation.

    Parameters
    ----------
    rotation : scipy.spatial.transform.Rotation of length n
        Humerus to thorax coordinates, both in axes x forward, y up, z right.
    side : {"left", "right"}
        A left arm is mirrored at the middle plane first, so that the angles mean the same on both sides.

    Returns
    -------
    ndarray of shape (n, 3)
        Degrees: plane of elevation (0 out to the side, 90 forward) and axial rotation (internal positive) in -180 to
        180; elevation in -180 to 0, negative as Wu et al. 2005 count it. Within `GIMBAL_LOCK_DEG` of an elevation of 0
        or 180 the first and the third can't be told apart; the third is then 0 and the first holds all of it.

    Notes
    -----
    With R = Ry(a) Rx(b) Ry(c) and b <= 0: cos b = R22, tan a = -R12 / -R32, tan c = -R21 / R23, by atan2; b from R22
    and the length of (R12, R32), which keeps its digits near 0 and 180 degrees.
    """
    matrix = rotation.as_matrix().reshape(-1, 3, 3)
    if side == "left":
        matrix = matrix * np.outer((1.0, 1.0, -1.0), (1.0, 1.0, -1.0))
    across = np.hypot(matrix[:, 0, 1], matrix[:, 2, 1])
    second = -np.arctan2(across, matrix[:, 1, 1])
    locked = across < np.radians(GIMBAL_LOCK_DEG)
    first = np.where(
        locked,
        np.arctan2(-matrix[:, 2, 0], matrix[:, 0, 0]),
        np.arctan2(-matrix[:, 0, 1], -matrix[:, 2, 1]),
    )
    third = np.where(locked, 0.0, np.arctan2(-matrix[:, 1, 0], matrix[:, 1, 2]))
    return np.asarray(np.degrees(np.stack([first, second, third], axis=1)))


def motion_angle_deg(rotation: "Rotation", motion: Motion, side: Side) -> tuple[Floats, NDArray[np.bool_]]:
    """Angle by which a joint is moved in a named motion, as the clinic counts it.

    Parameters
    ----------
    rotation : scipy.spatial.transform.Rotation of length n
        Distal to proximal coordinates, both in axes x forward, y up, z right; the identity in the joint's zero pose.
    motion : Motion
        The motion that counts as positive; its ``reading`` says which of the formulas below is taken.
    side : {"left", "right"}
        Side of the body.

    Returns
    -------
    angle_deg : ndarray of shape (n,)
        Degrees, positive in the motion. Its jump of 360 degrees lies opposite to the middle of the possible range, so
        that an arm raised past straight up goes on counting.
    in_gimbal_zone : ndarray of bool of shape (n,)
        True where the angle is near a pose in which it is undefined: within `GIMBAL_ZONE_DEG` of it, or where an error
        counts as much as there. The angle is finite there, but not to be relied on.

    Notes
    -----
    "joint coordinate system": that angle of z-x'-y'' which turns about the motion's axis; undefined at +-90 degrees of
    the second.

    "long axis in a plane": with the long axis u = (0, -1, 0) of the hanging segment and d = R u, seen along the
    motion's axis n: atan2((n x u) . d, u . d). Undefined where d lies along n. For n = z it is the first angle of
    z-x'-y'', for n = -x minus the first of x-z'-y''.

    "twist about the long axis": `twist_angle_rad` about the motion's axis; undefined where the long axis is turned
    right round. The sum of the first and the third angle of y-x'-y'' (Notes of `twist_angle_rad` with q_w = cos(b/2)
    cos((a+c)/2) and q_y = cos(b/2) sin((a+c)/2)).
    """
    axis = np.array(motion.axis(side))
    if motion.reading == "joint coordinate system":
        index = int(np.argmax(np.abs(axis)))
        matrix = rotation.as_matrix().reshape(-1, 3, 3)
        lever = np.hypot(matrix[:, 0, 1], matrix[:, 1, 1])
        # z, x, y is the order of the three angles
        angle_deg = axis[index] * zxy_angles_deg(rotation)[:, (index + 1) % 3]
    elif motion.reading == "long axis in a plane":
        hanging = np.array([0.0, -1.0, 0.0])
        pointing = np.atleast_2d(rotation.apply(hanging))
        ahead, down = pointing @ np.cross(axis, hanging), pointing @ hanging
        lever = np.hypot(ahead, down)
        angle_deg = np.degrees(np.arctan2(ahead, down))
    else:
        quaternion = np.atleast_2d(rotation.as_quat())
        lever = np.hypot(quaternion[:, :3] @ axis, quaternion[:, 3])
        angle_deg = np.degrees(twist_angle_rad(rotation, axis))
    middle_deg = sum(motion.possible_range_deg) / 2.0
    angle_deg = middle_deg + (angle_deg - middle_deg + 180.0) % 360.0 - 180.0
    return np.asarray(angle_deg), np.asarray(lever < np.sin(np.radians(GIMBAL_ZONE_DEG)))
