"""A plan's second known pose: read, and refused at its line and column where it can't serve."""

import pytest

from imu_rom.dose.exercise import SecondPose
from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.errors import PlanError
from imu_rom.wording.plan_text import asked_for

PLAN = """\
[plan]
format = 1
tendon_site = "proximal hamstring"
[[stage]]
name = "now"
[[stage.exercise]]
name = "deadlift"
joint = "hip"
motion = "flexion"
side = "left"
proximal = "pelvis"
distal = "thigh"
sets = 2
repetitions = 5
second_pose = { motion = "flexion", deg = 90 }
"""


def changed(*pairs):
    text = PLAN
    for old, new in pairs:
        assert text.count(old) >= 1
        text = text.replace(old, new, 1)
    return text


def test_a_second_pose_is_read_with_its_usual_uncertainty():
    exercise = plan_from_bytes(PLAN.encode(), "plan.toml").exercise()
    assert exercise.second_pose == SecondPose("flexion", 90.0, 5.0)
    sure = changed(("deg = 90", "deg = 60, uncertainty_deg = 3"))
    assert plan_from_bytes(sure.encode(), "plan.toml").exercise().second_pose == SecondPose("flexion", 60.0, 3.0)
    assert "The sign of the angle follows the second pose, flexion by 90 deg" in " ".join(
        asked_for(plan_from_bytes(PLAN.encode(), "plan.toml"))
    )


@pytest.mark.parametrize(
    ("pairs", "expected"),
    [
        ([("deg = 90", "deg = 5")], "15:43: field stage.exercise.second_pose.deg: must be at least 20, got 5"),
        ([("deg = 90", "deg = 175")], "15:43: field stage.exercise.second_pose.deg: must be at most 160, got 175"),
        ([(", deg = 90", "")], "15:1: field stage.exercise.second_pose.deg: must be given, got nothing"),
        (
            [("deg = 90", "deg = 90, uncertainty_deg = 0")],
            "15:65: field stage.exercise.second_pose.uncertainty_deg: must be more than 0 deg, got 0",
        ),
        (
            [("deg = 90", "deg = 90, angle = 3")],
            "15:47: field stage.exercise.second_pose.angle: must be one of motion, deg, uncertainty_deg, got unknown",
        ),
        (
            [('{ motion = "flexion"', '{ motion = "flexon"')],
            "15:26: field stage.exercise.second_pose.motion: must be a motion of the hip (flexion or ",
        ),
        (
            [('{ motion = "flexion"', '{ motion = "internal rotation"')],
            "15:26: field stage.exercise.second_pose.motion: must tilt the limb, because gravity shows nothing",
        ),
        (
            [('"hip"', '"knee"')],
            "15:15: field stage.exercise.second_pose: must be left out for flexion of the knee, whose axis",
        ),
        (
            [('proximal = "pelvis"\n', 'sensors = "distal only"\n')],
            "15:15: field stage.exercise.second_pose: must be left out for flexion of the hip by one sensor",
        ),
    ],
)
def test_one_that_can_not_serve_is_refused_with_its_place(pairs, expected):
    with pytest.raises(PlanError) as caught:
        plan_from_bytes(changed(*pairs).encode(), "plan.toml")
    assert str(caught.value).startswith(f"plan.toml:{expected}")
