"""Joints as data against poses that are built from where body landmarks go, for each joint, motion and side.

Nothing here is computed from the table's axes: a pose is two landmarks of the distal segment and the directions in
which they point once the motion is done, in words of the body. The table must give the same rotation.
"""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.errors import PlanError
from imu_rom.motion.joint_rotation import motion_angle_deg
from imu_rom.motion.joints import JOINTS, SCAPULAR_PLANE_DEG, joint_motion

FORWARD, UP, RIGHT = np.eye(3)
BACKWARD, DOWN, LEFT = -FORWARD, -UP, -RIGHT
SIDES = ("left", "right")


def outward(side):
    return RIGHT if side == "right" else LEFT


def inward(side):
    return -outward(side)


def scapular(side):
    turn = np.radians(SCAPULAR_PLANE_DEG)
    return np.cos(turn) * outward(side) + np.sin(turn) * FORWARD


# joint, motion: (landmark of the distal segment, the way it goes when the motion is done by 90 degrees),
#                (landmark that stays where it is)
# each landmark a direction from the joint in the zero pose, for the given side
POSES = {
    ("ankle", "dorsiflexion"): lambda _: ((FORWARD, UP), RIGHT),  # toes up; the line through both ankle bones stays
    ("ankle", "plantarflexion"): lambda _: ((FORWARD, DOWN), RIGHT),
    ("ankle", "inversion"): lambda side: ((DOWN, inward(side)), FORWARD),  # sole to the other foot; toes stay ahead
    ("ankle", "eversion"): lambda side: ((DOWN, outward(side)), FORWARD),
    ("knee", "flexion"): lambda _: ((DOWN, BACKWARD), RIGHT),  # heel back
    ("knee", "extension"): lambda _: ((DOWN, FORWARD), RIGHT),
    ("hip", "flexion"): lambda _: ((DOWN, FORWARD), RIGHT),  # knee forward
    ("hip", "extension"): lambda _: ((DOWN, BACKWARD), RIGHT),
    ("hip", "abduction"): lambda side: ((DOWN, outward(side)), FORWARD),  # knee out; kneecap stays ahead
    ("hip", "adduction"): lambda side: ((DOWN, inward(side)), FORWARD),
    ("hip", "internal rotation"): lambda side: ((FORWARD, inward(side)), DOWN),  # kneecap in; thigh stays
    ("hip", "external rotation"): lambda side: ((FORWARD, outward(side)), DOWN),
    ("shoulder", "flexion"): lambda _: ((DOWN, FORWARD), RIGHT),  # elbow forward
    ("shoulder", "extension"): lambda _: ((DOWN, BACKWARD), RIGHT),
    ("shoulder", "abduction"): lambda side: ((DOWN, outward(side)), FORWARD),  # elbow out; bent forearm stays ahead
    ("shoulder", "adduction"): lambda side: ((DOWN, inward(side)), FORWARD),
    ("shoulder", "scaption"): lambda side: ((DOWN, scapular(side)), np.cross(DOWN, scapular(side))),
    ("shoulder", "lowering in the scapular plane"): lambda side: (
        (DOWN, -scapular(side)),
        np.cross(DOWN, scapular(side)),
    ),
    ("shoulder", "internal rotation"): lambda side: (
        (FORWARD, inward(side)),
        DOWN,
    ),  # hand of the bent arm to the belly
    ("shoulder", "external rotation"): lambda side: ((FORWARD, outward(side)), DOWN),
    ("elbow", "flexion"): lambda _: ((DOWN, FORWARD), RIGHT),  # hand forward
    ("elbow", "extension"): lambda _: ((DOWN, BACKWARD), RIGHT),
    ("elbow", "pronation"): lambda side: ((FORWARD, inward(side)), DOWN),  # thumb of the hanging hand to the thigh
    ("elbow", "supination"): lambda side: ((FORWARD, outward(side)), DOWN),
    ("wrist", "flexion"): lambda _: ((DOWN, FORWARD), RIGHT),  # fingers to where the palm faces
    ("wrist", "extension"): lambda _: ((DOWN, BACKWARD), RIGHT),
    ("wrist", "radial deviation"): lambda side: ((DOWN, outward(side)), FORWARD),  # palm ahead, so the thumb is outward
    ("wrist", "ulnar deviation"): lambda side: ((DOWN, inward(side)), FORWARD),
}
ALL = [(*names, side) for names in POSES for side in SIDES]
IDS = [" ".join((side, *names)) for *names, side in ALL]
every_motion = pytest.mark.parametrize(("joint", "name", "side"), ALL, ids=IDS)


def pose(joint, name, side, angle_deg):
    """Distal to proximal rotation with the motion done by an angle, from the landmarks alone."""
    (landmark, goes_to), stays = POSES[joint, name](side)
    angle = np.radians(angle_deg)
    now = np.cos(angle) * landmark + np.sin(angle) * goes_to
    before = np.stack([landmark, stays, np.cross(landmark, stays)], axis=1)
    after = np.stack([now, stays, np.cross(now, stays)], axis=1)
    return Rotation.from_matrix(after @ before.T)


def test_every_motion_has_a_reference_pose():
    assert set(POSES) == {(joint.name, motion.name) for joint in JOINTS.values() for motion in joint.motions}


@every_motion
def test_axis_is_that_of_the_reference_pose(joint, name, side):
    turned = pose(joint, name, side, 25.0).as_rotvec(degrees=True)
    np.testing.assert_allclose(np.array(joint_motion(joint, name).axis(side)) * 25.0, turned, atol=1e-9)


@every_motion
@pytest.mark.parametrize("angle_deg", [-30.0, 0.0, 10.0, 35.0])
def test_named_angle_is_that_of_the_reference_pose(joint, name, side, angle_deg):
    measured, in_zone = motion_angle_deg(pose(joint, name, side, angle_deg), joint_motion(joint, name), side)
    np.testing.assert_allclose(measured, [angle_deg], atol=1e-9)
    assert not in_zone.any()


@pytest.mark.parametrize("joint", JOINTS.values(), ids=lambda joint: joint.name)
def test_each_motion_has_its_opposite_with_the_sign_and_range_turned_round(joint):
    assert len(joint.motions) % 2 == 0
    for motion in joint.motions:
        other = joint_motion(joint.name, motion.opposite)
        assert other.opposite == motion.name
        for side in SIDES:
            assert other.axis(side) == tuple(-each + 0.0 for each in motion.axis(side))
            assert np.linalg.norm(motion.axis(side)) == pytest.approx(1.0)
        low, high = motion.possible_range_deg
        assert low < 0 < high
        assert other.possible_range_deg == (-high, -low)
        assert motion.possible_range_source


def test_unknown_names_are_refused_with_the_known_ones():
    with pytest.raises(PlanError, match=r"joint must be one of ankle, knee, hip, shoulder, elbow, wrist, got 'toe'\."):
        joint_motion("toe", "flexion")
    with pytest.raises(PlanError, match=r"motion of the knee must be one of flexion, extension, got 'dorsiflexion'\."):
        joint_motion("knee", "dorsiflexion")
