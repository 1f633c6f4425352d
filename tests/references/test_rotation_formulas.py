"""Rotation formulas against SciPy's ``Rotation`` and against a worked example of the z-x'-y'' convention.

Convention: Wu et al. 2002, J Biomech 35:543-548, doi:10.1016/S0021-9290(01)00222-6, after Grood and Suntay 1983,
J Biomech Eng 105:136-144, doi:10.1115/1.3138397. The example's matrix is written out from its definition
Rz(10 deg) Rx(5 deg) Ry(3 deg), with six digits.
"""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.motion.joint_rotation import twist_angle_rad, zxy_angles_deg

WORKED_EXAMPLE_DEG = (10.0, 5.0, 3.0)
WORKED_EXAMPLE_MATRIX = [
    [0.982666, -0.172987, 0.066655],
    [0.177902, 0.981060, -0.076626],
    [-0.052137, 0.087156, 0.994829],
]

angles = st.floats(-180.0, 180.0)
components = st.floats(-1.0, 1.0)


@st.composite
def rotations(draw):
    """Any rotation, as a quaternion whose length is not near zero."""
    quaternion = draw(st.tuples(components, components, components, components).filter(lambda q: np.dot(q, q) > 0.05))
    return Rotation.from_quat(quaternion)


@st.composite
def directions(draw):
    vector = draw(st.tuples(components, components, components).filter(lambda v: np.dot(v, v) > 0.05))
    return np.array(vector) / np.linalg.norm(vector)


def wrapped_deg(angle_deg):
    return (np.asarray(angle_deg) + 180.0) % 360.0 - 180.0


def test_worked_example_by_scipy_and_by_us():
    rotation = Rotation.from_matrix(WORKED_EXAMPLE_MATRIX)
    assert np.abs(rotation.as_euler("ZXY", degrees=True) - WORKED_EXAMPLE_DEG).max() < 5e-5
    assert np.abs(zxy_angles_deg(rotation)[0] - WORKED_EXAMPLE_DEG).max() < 5e-5


def test_worked_example_is_the_product_it_is_said_to_be():
    product = Rotation.from_euler("ZXY", WORKED_EXAMPLE_DEG, degrees=True)
    assert np.abs(product.as_matrix() - WORKED_EXAMPLE_MATRIX).max() < 1e-6
    assert np.abs(zxy_angles_deg(product)[0] - WORKED_EXAMPLE_DEG).max() < 1e-9


@given(angles, st.floats(-89.9, 89.9), angles)
def test_away_from_gimbal_lock_the_angles_are_those_of_scipy(first, second, third):
    rotation = Rotation.from_euler("ZXY", (first, second, third), degrees=True)
    ours = zxy_angles_deg(rotation)[0]
    assert np.abs(wrapped_deg(ours - rotation.as_euler("ZXY", degrees=True))).max() < 1e-6
    assert np.abs(wrapped_deg(ours - (first, second, third))).max() < 1e-6


@given(angles, st.sampled_from([-90.0, 90.0]), st.floats(-1e-4, 1e-4), angles)
def test_in_gimbal_lock_the_angles_still_make_up_the_same_rotation(first, second, off, third):
    rotation = Rotation.from_euler("ZXY", (first, second + off, third), degrees=True)
    ours = zxy_angles_deg(rotation)[0]
    back = Rotation.from_euler("ZXY", ours, degrees=True)
    assert np.isfinite(ours).all()
    assert np.degrees((back * rotation.inv()).magnitude()) < 3e-5
    if off == 0.0:
        assert ours[2] == 0.0
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # SciPy says that it meets gimbal lock; so do we, in the docstring
            scipys = rotation.as_euler("ZXY", degrees=True)
        assert np.abs(wrapped_deg(ours - scipys)).max() < 1e-4


@given(st.lists(rotations(), min_size=1, max_size=4))
def test_any_rotation_is_made_up_of_its_angles(many):
    rotation = Rotation.concatenate(many)
    back = Rotation.from_euler("ZXY", zxy_angles_deg(rotation), degrees=True)
    assert np.degrees((back * rotation.inv()).magnitude()).max() < 3e-5


@given(directions(), st.floats(-179.9, 179.9))
def test_twist_of_a_turn_about_the_axis_is_its_angle(axis, angle_deg):
    rotation = Rotation.from_rotvec(np.radians(angle_deg) * axis)
    assert np.degrees(twist_angle_rad(rotation, axis))[0] == pytest.approx(angle_deg, abs=1e-6)
    assert np.degrees(twist_angle_rad(rotation, 3.0 * axis))[0] == pytest.approx(angle_deg, abs=1e-6)
    assert np.degrees(twist_angle_rad(rotation, -axis))[0] == pytest.approx(-angle_deg, abs=1e-6)


@given(rotations(), directions())
def test_what_is_left_beside_the_twist_does_not_turn_about_the_axis(rotation, axis):
    """Rotation = swing * twist: the swing's rotation vector is at right angles to the axis (checked through SciPy)."""
    quaternion = rotation.as_quat()
    if np.hypot(quaternion[:3] @ axis, quaternion[3]) < 1e-3:
        return  # the axis is turned right round: no twist is defined
    swing = rotation * Rotation.from_rotvec(twist_angle_rad(rotation, axis)[0] * axis).inv()
    assert abs(swing.as_rotvec() @ axis) < 1e-6


@given(rotations())
def test_twist_does_not_depend_on_the_quaternions_sign(rotation):
    other = Rotation.from_quat(-rotation.as_quat())
    both = [twist_angle_rad(each, (0.0, 0.0, 1.0))[0] for each in (rotation, other)]
    assert np.abs(both).max() <= np.pi
    assert abs(np.sin((both[0] - both[1]) / 2.0)) < 1e-9


def test_twist_where_it_is_undefined_is_a_number():
    right_round = Rotation.from_rotvec([np.pi, 0.0, 0.0])
    assert np.isfinite(twist_angle_rad(right_round, (0.0, 0.0, 1.0))).all()


def test_axis_without_a_direction_is_refused():
    with pytest.raises(ValueError, match="needs an axis that has a direction"):
        twist_angle_rad(Rotation.identity(), (0.0, 0.0, 0.0))


@pytest.mark.parametrize(
    ("segment", "moved"),
    [
        # with x forward, y up, z right a turn about +z lifts the toes: dorsiflexion is positive
        ([1.0, 0.0, 0.0], [0.0, 1.0, 0.0]),
        # and swings a hanging shank forward: knee flexion is negative about +z
        ([0.0, -1.0, 0.0], [1.0, 0.0, 0.0]),
    ],
)
def test_positive_turn_about_the_axis_to_the_right(segment, moved):
    quarter = Rotation.from_euler("ZXY", (90.0, 0.0, 0.0), degrees=True)
    assert np.allclose(quarter.apply(segment), moved)
    assert zxy_angles_deg(quarter)[0] == pytest.approx([90.0, 0.0, 0.0])
