"""Clinical angles of whole rotations: against SciPy's sequences, near the poses where they fail, and what errors do."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.motion.joint_rotation import GIMBAL_ZONE_DEG, motion_angle_deg, yxy_angles_deg, zxy_angles_deg
from imu_rom.motion.joints import JOINTS, joint_motion

MOTIONS = [motion for joint in JOINTS.values() for motion in joint.motions]
HINGED = [motion for motion in MOTIONS if motion.joint != "shoulder"]
SIDES = ("left", "right")

turns = st.floats(-179.0, 179.0)
sides = st.sampled_from(SIDES)
components = st.floats(-1.0, 1.0)


@st.composite
def rotations(draw):
    """Any rotation, as a quaternion whose length is not near zero."""
    quaternion = draw(st.tuples(components, components, components, components).filter(lambda q: np.dot(q, q) > 0.05))
    return Rotation.from_quat(quaternion)


def wrapped_deg(angle_deg):
    return (np.asarray(angle_deg) + 180.0) % 360.0 - 180.0


def shoulder(name, rotation, side="right"):
    angle_deg, in_zone = motion_angle_deg(rotation, joint_motion("shoulder", name), side)
    return angle_deg[0], in_zone[0]


def lifted(plane_deg, elevation_deg, rotation_deg=0.0):
    """Right arm in the angles of Wu et al. 2005, elevation counted positive here."""
    return Rotation.from_euler("YXY", [plane_deg, -elevation_deg, rotation_deg], degrees=True)


@given(turns, st.floats(0.1, 179.9), turns)
def test_shoulder_angles_of_wu_2005_come_back(plane_deg, elevation_deg, rotation_deg):
    ours = yxy_angles_deg(lifted(plane_deg, elevation_deg, rotation_deg))[0]
    assert np.abs(wrapped_deg(ours - [plane_deg, -elevation_deg, rotation_deg])).max() < 1e-6


@given(rotations())
def test_shoulder_angles_are_scipys_with_the_other_sign_of_elevation(rotation):
    ours = yxy_angles_deg(rotation)[0]
    if not -179.9 < ours[1] < -0.1:
        return  # gimbal lock, of which SciPy warns
    plane, elevation, turn = rotation.as_euler("YXY", degrees=True)
    assert np.abs(wrapped_deg(ours - [plane + 180.0, -elevation, turn + 180.0])).max() < 1e-6


@given(turns, st.sampled_from([0.0, 180.0]), turns)
def test_hanging_or_upright_arm_still_has_angles_that_make_up_its_rotation(plane_deg, elevation_deg, rotation_deg):
    rotation = lifted(plane_deg, elevation_deg, rotation_deg)
    ours = yxy_angles_deg(rotation)[0]
    assert np.isfinite(ours).all()
    assert np.degrees((Rotation.from_euler("YXY", ours, degrees=True) * rotation.inv()).magnitude()) < 3e-5


@given(turns, st.floats(1.0, 179.0), turns)
def test_a_left_arm_has_the_angles_of_its_mirror_image(plane_deg, elevation_deg, rotation_deg):
    left = Rotation.from_euler("YXY", [-plane_deg, elevation_deg, -rotation_deg], degrees=True)
    ours = yxy_angles_deg(left, "left")[0]
    assert np.abs(wrapped_deg(ours - [plane_deg, -elevation_deg, rotation_deg])).max() < 1e-6


@pytest.mark.parametrize("side", SIDES)
def test_plane_of_elevation_is_0_out_to_the_side_and_90_forward(side):
    outward = np.array([0.0, 0.0, 1.0 if side == "right" else -1.0])
    for plane_deg, goes_to in ((0.0, outward), (90.0, np.array([1.0, 0.0, 0.0]))):
        arm = np.cos(np.radians(50.0)) * np.array([0.0, -1.0, 0.0]) + np.sin(np.radians(50.0)) * goes_to
        stays = np.cross([0.0, -1.0, 0.0], goes_to)
        before = np.stack([[0.0, -1.0, 0.0], stays, np.cross([0.0, -1.0, 0.0], stays)], axis=1)
        after = np.stack([arm, stays, np.cross(arm, stays)], axis=1)
        angles = yxy_angles_deg(Rotation.from_matrix(after @ before.T), side)[0]
        assert angles == pytest.approx([plane_deg, -50.0, -plane_deg], abs=1e-9)


def test_worked_example_has_the_named_angles_of_the_hip():
    # R = Rz(10) Rx(5) Ry(3): flexion 10, adduction 5, internal rotation 3 at a right hip
    rotation = Rotation.from_matrix(
        [[0.982666, -0.172987, 0.066655], [0.177902, 0.981060, -0.076626], [-0.052137, 0.087156, 0.994829]]
    )
    right = {name: motion_angle_deg(rotation, joint_motion("hip", name), "right")[0][0] for name in NAMES_OF_THE_HIP}
    left = {name: motion_angle_deg(rotation, joint_motion("hip", name), "left")[0][0] for name in NAMES_OF_THE_HIP}
    assert list(right.values()) == pytest.approx([10.0, -10.0, 5.0, -5.0, 3.0, -3.0], abs=5e-5)
    assert list(left.values()) == pytest.approx([10.0, -10.0, -5.0, 5.0, -3.0, 3.0], abs=5e-5)


NAMES_OF_THE_HIP = ("flexion", "extension", "adduction", "abduction", "internal rotation", "external rotation")


@given(st.sampled_from(HINGED), sides, st.floats(-80.0, 80.0), st.floats(-80.0, 80.0), st.floats(-80.0, 80.0))
def test_angles_composed_by_the_sequence_come_back_by_their_names(motion, side, first, second, third):
    """At every joint but the shoulder a named angle is the one of z-x'-y'' about its own axis, whatever the others."""
    joint = JOINTS[motion.joint]
    about = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    rotation = Rotation.from_euler(joint.sequence, [first, second, third], degrees=True)
    measured, in_zone = motion_angle_deg(rotation, motion, side)
    assert measured[0] == pytest.approx(np.dot([first, second, third], about @ motion.axis(side)), abs=1e-7)
    assert in_zone[0] == (abs(second) > 90.0 - GIMBAL_ZONE_DEG)


@given(rotations())
def test_flexion_and_abduction_of_the_shoulder_are_first_angles_of_two_cardan_sequences(rotation):
    """z-x'-y'' for flexion and x-z'-y'' for abduction, as published; SciPy's own sequences are the oracle."""
    matrix = rotation.as_matrix()
    for name, sequence, factor, side, second in (
        ("flexion", "ZXY", 1.0, "right", matrix[2, 1]),
        ("flexion", "ZXY", 1.0, "left", matrix[2, 1]),
        ("abduction", "XZY", -1.0, "right", matrix[0, 1]),
        ("abduction", "XZY", 1.0, "left", matrix[0, 1]),
    ):
        # SciPy warns of gimbal lock
        if abs(second) < 0.9998:
            first = rotation.as_euler(sequence, degrees=True)[0]
            assert abs(wrapped_deg(shoulder(name, rotation, side)[0] - factor * first)) < 1e-6


@given(turns, st.floats(0.0, 139.0), turns)
def test_internal_rotation_of_the_shoulder_is_plane_of_elevation_plus_axial_rotation(plane, elevation, axial):
    measured, in_zone = shoulder("internal rotation", lifted(plane, elevation, axial))
    assert abs(wrapped_deg(measured - (plane + axial))) < 1e-6
    assert not in_zone


@given(turns, st.floats(0.0, 139.0))
def test_lifting_the_arm_by_the_shortest_way_does_not_rotate_it(plane_deg, elevation_deg):
    plane = np.radians(plane_deg)
    lift = Rotation.from_rotvec(np.radians(elevation_deg) * np.array([-np.cos(plane), 0.0, np.sin(plane)]))
    assert shoulder("internal rotation", lift)[0] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("flexion_deg", [-40.0, -5.0, -0.5, 0.0, 0.5, 5.0, 60.0, 120.0, 179.0, 185.0])
def test_flexion_runs_smoothly_through_the_hanging_arm_and_past_straight_up(flexion_deg):
    """Where y-x'-y'' jumps: just behind the line of the body, and overhead; whatever the arm's own rotation."""
    for turn_deg in (-80.0, 0.0, 60.0):
        rotation = Rotation.from_euler("ZY", [flexion_deg, turn_deg], degrees=True)
        assert shoulder("flexion", rotation) == (pytest.approx(flexion_deg, abs=1e-9), False)
        assert shoulder("extension", rotation) == (pytest.approx(-flexion_deg, abs=1e-9), False)


def test_arm_on_the_singular_line_is_marked_and_still_a_number():
    for name, side, elevations in (
        ("flexion", "right", (90.0, 0.0)),
        ("abduction", "right", (90.0, 90.0)),
        ("flexion", "left", (90.0, 0.0)),
    ):
        elevation, plane = elevations
        value, in_zone = shoulder(name, lifted(plane, elevation), side)
        assert in_zone
        assert np.isfinite(value)
    value, in_zone = shoulder("internal rotation", lifted(30.0, 180.0))
    assert in_zone
    assert np.isfinite(value)


@pytest.mark.parametrize(("off_deg", "inside"), [(GIMBAL_ZONE_DEG - 0.1, True), (GIMBAL_ZONE_DEG + 0.1, False)])
def test_the_zone_ends_where_it_says(off_deg, inside):
    # arm out to the side, off it towards the front; seen from the side, that is where flexion can't be told
    assert shoulder("flexion", lifted(off_deg, 90.0))[1] == inside
    assert shoulder("abduction", lifted(90.0 - off_deg, 90.0))[1] == inside
    # at the hip, that far from a full side split
    hip = Rotation.from_euler("ZXY", [10.0, -(90.0 - off_deg), 5.0], degrees=True)
    assert motion_angle_deg(hip, joint_motion("hip", "flexion"), "right")[1][0] == inside
    # of a twist half of the swing counts
    assert shoulder("internal rotation", lifted(20.0, 180.0 - 2.0 * off_deg))[1] == inside


@given(st.sampled_from(MOTIONS), sides, rotations(), rotations())
def test_outside_the_zone_an_error_of_the_attitude_counts_at_most_three_times(motion, side, rotation, other):
    axis = other.apply([0.0, 0.0, 1.0])
    error_deg = 0.01
    wrong = rotation * Rotation.from_rotvec(np.radians(error_deg) * axis)
    both, in_zone = motion_angle_deg(Rotation.concatenate([rotation, wrong]), motion, side)
    assert np.isfinite(both).all()
    if not in_zone.any():
        assert abs(wrapped_deg(both[1] - both[0])) < error_deg / np.sin(np.radians(GIMBAL_ZONE_DEG)) * 1.01


@given(st.sampled_from(MOTIONS), sides, rotations())
def test_the_opposite_motion_has_the_opposite_angle_and_the_same_zone(motion, side, rotation):
    angle_deg, in_zone = motion_angle_deg(rotation, motion, side)
    other_deg, also = motion_angle_deg(rotation, joint_motion(motion.joint, motion.opposite), side)
    assert abs(wrapped_deg(angle_deg[0] + other_deg[0])) < 1e-9
    assert in_zone[0] == also[0]


@given(st.sampled_from(MOTIONS), sides)
def test_every_angle_of_the_possible_range_is_counted_on_without_a_jump(motion, side):
    low, high = motion.possible_range_deg
    about = np.array(motion.axis(side))
    # the second of three angles goes to 90 degrees only: a leg lifted past a split is flexed and turned instead
    reach = 89.0 if motion.reading == "joint coordinate system" and about[0] else 360.0
    asked = np.linspace(max(low, -reach), min(high, reach), 50)
    measured, _ = motion_angle_deg(Rotation.from_rotvec(np.radians(asked)[:, None] * about), motion, side)
    assert measured == pytest.approx(asked, abs=1e-7)


def test_shapes_of_one_and_of_many():
    many = Rotation.from_euler("ZXY", [[10.0, 5.0, 3.0], [20.0, 5.0, 3.0]], degrees=True)
    for rotation, count in ((many, 2), (many[0], 1)):
        assert yxy_angles_deg(rotation).shape == zxy_angles_deg(rotation).shape == (count, 3)
        for name in ("flexion", "internal rotation"):
            for part in motion_angle_deg(rotation, joint_motion("shoulder", name), "right"):
                assert part.shape == (count,)
