"""The drawing of a movement: computed from the angles, turning the anatomical way, the left side a mirror image."""

import math
import re
from dataclasses import replace

import pytest

from imu_rom.motion.joints import JOINTS
from imu_rom.report.movement_picture import movement_picture
from imu_rom.wording.patient_angles import Measured, PlannedPart

ALL = [(joint.name, motion.name) for joint in JOINTS.values() for motion in joint.motions]
# where the tip of the moving segment goes on the right side, seen as the drawing says: (right, up), from anatomy
GOES = {
    ("ankle", "dorsiflexion"): (0, 1),
    ("ankle", "plantarflexion"): (0, -1),
    ("ankle", "inversion"): (1, 0),
    ("ankle", "eversion"): (-1, 0),
    ("knee", "flexion"): (-1, 0),
    ("knee", "extension"): (1, 0),
    ("hip", "flexion"): (1, 0),
    ("hip", "extension"): (-1, 0),
    ("hip", "abduction"): (-1, 0),
    ("hip", "adduction"): (1, 0),
    ("hip", "internal rotation"): (-1, 0),
    ("hip", "external rotation"): (1, 0),
    ("shoulder", "flexion"): (1, 0),
    ("shoulder", "extension"): (-1, 0),
    ("shoulder", "abduction"): (-1, 0),
    ("shoulder", "adduction"): (1, 0),
    ("shoulder", "scaption"): (-1, 0),
    ("shoulder", "lowering in the scapular plane"): (1, 0),
    ("shoulder", "internal rotation"): (-1, 0),
    ("shoulder", "external rotation"): (1, 0),
    ("elbow", "flexion"): (1, 0),
    ("elbow", "extension"): (-1, 0),
    ("elbow", "pronation"): (1, 0),
    ("elbow", "supination"): (-1, 0),
    ("wrist", "flexion"): (1, 0),
    ("wrist", "extension"): (-1, 0),
    ("wrist", "radial deviation"): (-1, 0),
    ("wrist", "ulnar deviation"): (1, 0),
}


def points(mark):
    """Corners of a mark, y upwards."""
    return [(float(x), -float(y)) for x, y in re.findall(r"(?:M|L)(-?[\d.]+) (-?[\d.]+)", mark.path)]


def direction(mark):
    """Degrees from the right, against the clock, of the mark's furthest point from the joint."""
    x, y = max(points(mark), key=lambda each: math.hypot(*each))
    return math.degrees(math.atan2(y, x))


def only(picture, kind):
    (mark,) = (each for each in picture.marks if each.kind == kind)
    return mark


def drawn(heeldrop, joint, motion, side="right", deg=20.0, part=None, **other):
    exercise = replace(heeldrop, joint=joint, motion=motion, side=side, **other)
    return movement_picture(exercise, 0.0, part or PlannedPart(10.0, 25.0), Measured(deg, deg - 4, deg + 4))


@pytest.mark.parametrize(("joint", "motion"), ALL)
def test_more_of_a_motion_goes_where_the_limb_goes(heeldrop, joint, motion):
    picture = drawn(heeldrop, joint, motion, part=PlannedPart(0.0, 20.0))
    begin, end = direction(only(picture, "start")), direction(only(picture, "stop"))
    turn = (end - begin + 180) % 360 - 180
    assert abs(turn) == pytest.approx(20.0, abs=0.3)
    (x0, y0), (x1, y1) = ((math.cos(math.radians(each)), math.sin(math.radians(each))) for each in (begin, end))
    across, upward = GOES[joint, motion]
    assert across * (x1 - x0) + upward * (y1 - y0) > 0.3


@pytest.mark.parametrize(("joint", "motion"), ALL)
def test_the_left_side_is_the_mirror_image(heeldrop, joint, motion):
    right, left = drawn(heeldrop, joint, motion), drawn(heeldrop, joint, motion, "left")
    assert [each.kind for each in right.marks] == [each.kind for each in left.marks]
    for one, other in zip(right.marks, left.marks, strict=True):
        if one.kind not in {"joint", "furthest"}:
            assert points(one) == [(-x, y) for x, y in points(other)]


@pytest.mark.parametrize(("joint", "motion"), ALL)
def test_everything_lies_within_the_picture(heeldrop, joint, motion):
    low, high = next(each for each in JOINTS[joint].motions if each.name == motion).possible_range_deg
    for deg in (low, 0.0, high):
        picture = drawn(heeldrop, joint, motion, deg=deg)
        left, top, width, height = map(float, picture.view_box.split())
        for mark in picture.marks:
            for x, y in points(mark):
                assert left <= x <= left + width
                assert top <= -y <= top + height


def test_the_planned_part_and_the_furthest_are_at_their_angles(heeldrop):
    picture = drawn(heeldrop, "ankle", "dorsiflexion", deg=12.0, part=PlannedPart(5.0, 15.0))
    angles = [math.degrees(math.atan2(y, x)) for x, y in points(only(picture, "planned"))]
    assert (min(angles), max(angles)) == pytest.approx((5.0, 15.0), abs=0.1)
    assert direction(only(picture, "stop")) == pytest.approx(15.0, abs=0.1)
    interval = next(each for each in picture.marks if each.kind == "interval")
    angles = [math.degrees(math.atan2(y, x)) for x, y in points(interval)]
    assert (min(angles), max(angles)) == pytest.approx((8.0, 16.0), abs=0.1)
    # the foot's sole points where the angle is: 12 degrees up
    foot = points(next(each for each in picture.marks if each.kind == "moving"))
    (_, heel, toe, _) = foot
    assert math.degrees(math.atan2(toe[1] - heel[1], toe[0] - heel[0])) == pytest.approx(12.0, abs=0.2)


def test_a_foot_on_the_floor_stays_and_the_shin_leans_forward(heeldrop):
    one = {"sensors": "proximal only", "distal": "none", "still_segment": "foot flat on the floor"}
    picture = drawn(heeldrop, "ankle", "dorsiflexion", deg=30.0, **one)
    shin = next(each for each in picture.marks if each.kind == "moving")
    assert direction(shin) == pytest.approx(60.0, abs=0.1)
    assert only(picture, "floor")


def test_a_seated_thigh_lies_level_and_a_straight_knee_too(heeldrop):
    one = {"sensors": "distal only", "proximal": "none", "still_segment": "thigh, seated"}
    picture = drawn(heeldrop, "knee", "flexion", deg=90.0, **one)
    thigh = next(each for each in picture.marks if each.kind == "still")
    assert abs(direction(thigh)) == pytest.approx(180.0)
    assert direction(only(picture, "start")) == pytest.approx(0.0)
    shin = next(each for each in picture.marks if each.kind == "moving")
    assert direction(shin) == pytest.approx(-90.0, abs=0.1)


def test_without_an_angle_the_pose_at_the_start_is_drawn(heeldrop):
    picture = movement_picture(heeldrop, 0.0, PlannedPart(5.0, 15.0), None)
    kinds = [each.kind for each in picture.marks]
    assert "furthest" not in kinds
    assert "planned" in kinds
    open_ended = movement_picture(heeldrop, 0.0, PlannedPart(5.0, math.inf), None)
    assert "stop" not in [each.kind for each in open_ended.marks]
    up_to = movement_picture(replace(heeldrop, start_deg=-25.0), 0.0, PlannedPart(-math.inf, 2.0), None)
    angles = [math.degrees(math.atan2(y, -x)) for x, y in points(only(up_to, "planned"))]
    assert (min(angles), max(angles)) == pytest.approx((-25.0, 2.0), abs=0.1)
