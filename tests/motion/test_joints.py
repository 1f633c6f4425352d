"""Joints as data against poses that are built from where body landmarks go, for each joint, motion and side.

Nothing here is computed from the table's axes: a pose is two landmarks of the distal segment and the directions in
which they point once the motion is done, in words of the body. The table must give the same rotation.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.errors import CannotAnswerError, PlanError
from imu_rom.motion.joint_rotation import motion_angle_deg
from imu_rom.motion.joints import JOINTS, SCAPULAR_PLANE_DEG, joint_motion
from imu_rom.motion.mounting import mounting_rotation
from imu_rom.motion.tracking import track_hinge
from imu_rom.recording.model import Recording, Sensor
from imu_rom.session import analyse
from imu_rom.session.zero import settle_sign
from imu_rom.settings import AngleSettings

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
    """Distal to proximal rotation with the motion done by an angle or several, from the landmarks alone."""
    (landmark, goes_to), stays = POSES[joint, name](side)
    angle = np.radians(angle_deg)[..., None]
    now = np.cos(angle) * landmark + np.sin(angle) * goes_to
    before = np.stack([landmark, stays, np.cross(landmark, stays)], axis=-1)
    after = np.stack([now, np.broadcast_to(stays, now.shape), np.cross(now, stays)], axis=-1)
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


MIRROR = np.diag([1.0, 1.0, -1.0])


@every_motion
def test_the_left_side_is_the_mirror_image_of_the_right(joint, name, side):
    other = "left" if side == "right" else "right"
    mirrored = Rotation.from_matrix(MIRROR @ pose(joint, name, side, 30.0).as_matrix() @ MIRROR)
    assert (mirrored * pose(joint, name, other, 30.0).inv()).magnitude() < 1e-9
    measured, _ = motion_angle_deg(mirrored, joint_motion(joint, name), other)
    np.testing.assert_allclose(measured, [30.0], atol=1e-9)


TO_THE_FRONT = {"dorsiflexion", "plantarflexion", "flexion", "extension"}
# seen in the other side's scapular plane, lifting in one's own is another angle
IN_MAIN_PLANES = [each for each in ALL if "scap" not in each[1]]


@pytest.mark.parametrize(("joint", "name", "side"), IN_MAIN_PLANES)
def test_the_wrong_side_turns_the_sign_round_unless_the_movement_is_to_the_front(joint, name, side):
    wrong_side = "left" if side == "right" else "right"
    measured, _ = motion_angle_deg(pose(joint, name, side, 30.0), joint_motion(joint, name), wrong_side)
    np.testing.assert_allclose(measured, [30.0 if name in TO_THE_FRONT else -30.0], atol=1e-9)


@pytest.mark.parametrize("joint", JOINTS.values(), ids=lambda joint: joint.name)
def test_mirroring_at_the_middle_plane_multiplies_the_angles_as_declared(joint):
    angles_deg = np.array([25.0, 48.0, -6.0])
    right = Rotation.from_euler(joint.sequence, angles_deg, degrees=True).as_matrix()
    left = Rotation.from_euler(joint.sequence, angles_deg * joint.left_mirror, degrees=True).as_matrix()
    np.testing.assert_allclose(MIRROR @ right @ MIRROR, left, atol=1e-12)


# each pair with both sensors upside down in the second, which must change nothing
MOUNTINGS = {
    "usual": ("z outward, x up", "z backward, y up"),
    "upside down": ("z outward, x down", "z backward, y down"),
    "turned over": ("z inward, x up", "z forward, y up"),
    "swapped": ("z backward, y up", "z outward, x up"),
}
every_mounting = pytest.mark.parametrize("words", MOUNTINGS.values(), ids=MOUNTINGS)


@every_mounting
@every_motion
def test_mounting_leaves_the_named_angle_as_it_is(joint, name, side, words):
    proximal, distal = (Rotation.from_matrix(mounting_rotation(each, side)) for each in words)
    between_sensors = proximal.inv() * pose(joint, name, side, 35.0) * distal
    rotation = proximal * between_sensors * distal.inv()
    measured, _ = motion_angle_deg(rotation, joint_motion(joint, name), side)
    np.testing.assert_allclose(measured, [35.0], atol=1e-9)


RATE_HZ = 50.0
# body axes forward, up, right in a world with x forward, y left, z up
UPRIGHT = Rotation.from_matrix(np.stack([[1, 0, 0], [0, 0, 1], [0, -1, 0]], axis=1))


# where a sensor's x, y and z point, worked out by hand from the words
SEATS = {
    "z outward, x up": lambda out: (UP, np.cross(out, UP), out),
    "z outward, x down": lambda out: (DOWN, np.cross(out, DOWN), out),
    "z backward, y up": lambda _: (np.cross(UP, BACKWARD), UP, BACKWARD),
    "z backward, y down": lambda _: (np.cross(DOWN, BACKWARD), DOWN, BACKWARD),
}


def worn(segment, words, side, rng):
    """What a sensor on a segment measures: specific force and angular rate in its own axes."""
    mounting = np.stack(SEATS[words](outward(side)), axis=1)
    turned = (segment[:-1].inv() * segment[1:]).as_rotvec() * RATE_HZ
    rate = np.vstack([turned, turned[-1:]]) @ mounting
    force = segment.inv().apply([0.0, 0.0, 9.81]) @ mounting
    return force + 0.02 * rng.standard_normal(force.shape), rate + 0.002 * rng.standard_normal(rate.shape)


def tracked(joint, name, side, words):
    """Angle of three movements by 30 degrees after five seconds of the zero pose, and the hinge that is tracked."""
    rng = np.random.default_rng(7)
    time_s = np.arange(0.0, 20.0, 1.0 / RATE_HZ)
    moving = (time_s > 5.0) & (time_s < 17.0)
    angle_deg = np.where(moving, 15.0 * (1.0 - np.cos(2.0 * np.pi * (time_s - 5.0) / 4.0)), 0.0)
    sway = np.where(moving[:, None], np.sin(2.0 * np.pi * time_s[:, None] / [5.1, 7.3]), 0.0)
    # the whole body leans forward by 35 degrees, so that no axis stands upright and gravity shows both
    proximal = Rotation.from_euler("YX", [35.0, 0.0] + sway * [5.0, 6.0], degrees=True) * UPRIGHT
    distal = proximal * pose(joint, name, side, angle_deg)
    sensors = [worn(segment, each, side, rng) for segment, each in zip((proximal, distal), words, strict=True)]
    return angle_deg, track_hinge(*sensors, np.zeros(len(time_s), bool), RATE_HZ, AngleSettings())


def exercise_of(joint, name, side):
    return SimpleNamespace(
        joint=joint, motion=name, side=side, proximal="proximal", distal="distal", calibration_movement=None
    )


NO_CALIBRATION = SimpleNamespace(calibration=None)


@every_motion
def test_sensors_worn_upside_down_and_declared_so_give_angle_and_sign_of_every_motion(joint, name, side):
    words = MOUNTINGS["upside down"]
    angle_deg, track = tracked(joint, name, side, words)
    mountings = (dict(zip(("proximal", "distal"), words, strict=True)), "plan mounting")
    sign = settle_sign(exercise_of(joint, name, side), track, NO_CALIBRATION, mountings)
    measured = sign.factor * np.degrees(track.angle_rad)
    measured -= measured[: round(4 * RATE_HZ)].mean()
    assert np.sqrt(np.mean((measured - angle_deg) ** 2)) < 0.5


def test_a_mounting_declared_the_wrong_way_up_turns_the_sign_round():
    # hip abduction turns about the line ahead, which a sensor turned over about the upright sees reversed
    _, track = tracked("hip", "abduction", "right", MOUNTINGS["usual"])
    factors = {}
    for name, words in (("usual", MOUNTINGS["usual"]), ("turned over", MOUNTINGS["turned over"])):
        mountings = (dict(zip(("proximal", "distal"), words, strict=True)), "plan mounting")
        factors[name] = settle_sign(exercise_of("hip", "abduction", "right"), track, NO_CALIBRATION, mountings).factor
    assert factors["turned over"] == -factors["usual"]


def test_rotation_of_a_bent_joint_is_settled_by_the_distal_sensor_alone():
    """With the elbow bent by 140 degrees the forearm's long axis points down the upper arm, and seems to turn back."""
    mounting = "z outward, x up"
    sensor = mounting_rotation(mounting, "right")
    axis = SimpleNamespace(
        proximal=sensor.T @ Rotation.from_euler("Z", 140.0, degrees=True).apply(UP), distal=sensor.T @ UP
    )
    exercise, track = exercise_of("elbow", "pronation", "right"), SimpleNamespace(axis=axis)
    both = {"proximal": mounting, "distal": mounting}
    assert settle_sign(exercise, track, NO_CALIBRATION, (both, "plan mounting")).factor == 1
    with pytest.raises(CannotAnswerError, match="sign of the angle can't be settled"):
        settle_sign(exercise, track, NO_CALIBRATION, ({"proximal": mounting}, "plan mounting"))


PLAN = """\
[plan]
format = 1
tendon_site = "patellar"
[[stage]]
name = "now"
[[stage.exercise]]
name = "exercise"
joint = "{joint}"
motion = "{name}"
side = "{side}"
proximal = "proximal"
distal = "distal"
calibration_movement = "{name}"
sets = 1
repetitions = 5
end_range_deg = [{low}, {high}]
"""


def swings(count, depth_deg, pause_s):
    """Movements of four seconds from the zero pose and back, a pause after each."""
    there_and_back = depth_deg * 0.5 * (1.0 - np.cos(np.linspace(0.0, 2.0 * np.pi, round(4.0 * RATE_HZ))))
    return np.tile(np.concatenate([there_and_back, np.zeros(round(pause_s * RATE_HZ))]), count)


def sway(count, width_s, rng):
    """Unsteadiness in two directions with a standard deviation of 1."""
    half = round(2.0 * width_s * RATE_HZ)
    window = np.exp(-(np.linspace(-2.0, 2.0, 2 * half + 1) ** 2))
    noise = [np.convolve(each, window, "valid") for each in rng.standard_normal((2, count + 2 * half))]
    return np.stack([each / each.std() for each in noise], axis=1)


# a motion on one side, its opposite on the other
ONE_SIDE_EACH = [(*names, SIDES[index % 2]) for index, names in enumerate(POSES)]


@pytest.mark.parametrize(("joint", "name", "side"), ONE_SIDE_EACH)
def test_a_whole_session_of_any_joint_is_counted_with_its_end_range_and_sign(joint, name, side):
    """Stand still, three calibration movements, bend down once, five repetitions; no mounting is known."""
    rng = np.random.default_rng(3)
    depth_deg = min(40.0, joint_motion(joint, name).possible_range_deg[1] - 5.0)
    still = np.zeros(round(8.0 * RATE_HZ))
    angle_deg = np.concatenate([still, swings(3, 0.7 * depth_deg, 0.7), still, swings(5, depth_deg, 0.5), still])
    # the proximal segment goes along a little, and bends down with the distal one while the joint keeps still
    tilt_deg = 0.5 * sway(len(angle_deg), 0.5, rng) + 0.08 * sway(len(angle_deg), 0.1, rng) + 0.15 * angle_deg[:, None]
    bent_from = len(still) + len(swings(3, 0.0, 0.7)) + round(2.0 * RATE_HZ)
    bend = swings(1, 1.0, 0.0)
    tilt_deg[bent_from : bent_from + len(bend)] += bend[:, None] * [25.0, 10.0]
    proximal = Rotation.from_euler("YX", tilt_deg, degrees=True) * UPRIGHT
    distal = proximal * pose(joint, name, side, angle_deg)
    sensors = {}
    for point, segment, words in zip(("proximal", "distal"), (proximal, distal), MOUNTINGS["upside down"], strict=True):
        force, rate = worn(segment, words, side, rng)
        sensors[point] = Sensor(point, force, rate, None, np.zeros(len(angle_deg), bool))
    plan = PLAN.format(joint=joint, name=name, side=side, low=depth_deg - 8.0, high=depth_deg + 4.0)
    recording = Recording(rate_hz=RATE_HZ, sensors=sensors, label="made up")
    (done,) = analyse(recording, plan_from_bytes(plan.encode(), "plan.toml")).exercises[0].comparison.sets
    ends_deg = [each.repetition.end_range_deg for each in done.repetitions]
    assert ends_deg == pytest.approx([depth_deg] * 5, abs=1.0)


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
