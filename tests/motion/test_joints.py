"""Joints as data, checked by turning a made-up distal segment and looking where a body point goes."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.errors import PlanError
from imu_rom.motion.joints import JOINTS, joint_motion, joint_named

FORWARD, UP, RIGHT = np.eye(3)


def moved(motion, point, angle_deg):
    """Where a point of the distal segment goes when the motion is done by angle_deg."""
    return Rotation.from_rotvec(motion.axis_right * np.deg2rad(angle_deg) * RIGHT).apply(point)


def test_dorsiflexion_lifts_the_toes():
    toes = 0.2 * FORWARD
    assert moved(joint_motion("ankle", "dorsiflexion"), toes, 20)[1] > 0.05
    assert moved(joint_motion("ankle", "plantarflexion"), toes, 20)[1] < -0.05


def test_knee_flexion_brings_a_hanging_shank_backward():
    heel = -0.4 * UP
    assert moved(joint_motion("knee", "flexion"), heel, 60)[0] < -0.2
    assert moved(joint_motion("knee", "extension"), heel, 60)[0] > 0.2


@pytest.mark.parametrize("joint", JOINTS.values(), ids=lambda joint: joint.name)
def test_each_motion_has_its_opposite_with_the_sign_and_range_turned_round(joint):
    assert len(joint.motions) == 2
    for motion in joint.motions:
        other = joint_motion(joint.name, motion.opposite)
        assert other.opposite == motion.name
        assert other.axis_right == -motion.axis_right
        low, high = motion.possible_range_deg
        assert low < 0 < high
        assert other.possible_range_deg == (-high, -low)
        assert motion.possible_range_source


@pytest.mark.parametrize("joint", JOINTS.values(), ids=lambda joint: joint.name)
def test_mirroring_at_the_middle_plane_multiplies_the_angles_as_declared(joint):
    angles_deg = np.array([25.0, 8.0, -6.0])
    mirror = np.diag([1.0, 1.0, -1.0])
    right = Rotation.from_euler(joint.sequence, angles_deg, degrees=True).as_matrix()
    left = Rotation.from_matrix(mirror @ right @ mirror).as_euler(joint.sequence, degrees=True)
    np.testing.assert_allclose(left, angles_deg * joint.left_mirror, atol=1e-9)


def test_worked_example_of_the_sequence():
    # R = Rz(10) Rx(5) Ry(3), values computed from the elementary matrices
    matrix = [
        [0.982666, -0.172987, 0.066655],
        [0.177902, 0.981060, -0.076626],
        [-0.052137, 0.087156, 0.994829],
    ]
    angles_deg = Rotation.from_matrix(matrix).as_euler(joint_named("ankle").sequence, degrees=True)
    np.testing.assert_allclose(angles_deg, [10, 5, 3], atol=1e-4)


def test_unknown_names_are_refused_with_the_known_ones():
    with pytest.raises(PlanError, match=r"joint must be one of ankle, knee, got 'elbow'\."):
        joint_motion("elbow", "flexion")
    with pytest.raises(PlanError, match=r"motion of the knee must be one of flexion, extension, got 'dorsiflexion'\."):
        joint_motion("knee", "dorsiflexion")
