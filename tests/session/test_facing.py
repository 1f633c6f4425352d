"""Sessions whose movement does not show which way both sensors face: a level axis, slow, no push, no step."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.errors import CannotAnswerError
from imu_rom.recording.model import Recording, Sensor
from imu_rom.session import analyse

RATE_HZ = 50.0
RIGHT = np.array([0.0, 0.0, 1.0])  # body axes: forward, up, right
# words of a plan, and the same as each sensor axis in the body's
WORDS = {"shank": "z right, x up", "foot": "z up, x forward"}
SEATS = {
    "shank": np.array([[0, 1, 0], [-1, 0, 0], [0, 0, 1]]).T,
    "foot": np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0]]).T,
}
PLAN = """
[plan]
format = 1
title = "Heel drops"
patient = "P-0001"
tendon_site = "achilles insertion"
stage = "only"

[[stage]]
name = "only"

[[stage.exercise]]
name = "heeldrop"
joint = "ankle"
motion = "dorsiflexion"
side = "right"
proximal = "shank"
distal = "foot"
sets = 2
repetitions = 8
start_deg = -25
end_range_deg = [5, 15]
"""


def smooth_way(points):
    """Angles in degrees at even times, minimum-jerk between (seconds, angle) points."""
    pieces, last = [], points[0][1]
    for seconds, angle in points:
        share = np.arange(1, round(seconds * RATE_HZ) + 1) / round(seconds * RATE_HZ)
        pieces.append(last + (angle - last) * share**3 * (10 - 15 * share + 6 * share**2))
        last = angle
    return np.concatenate(pieces)


RAISES = [(1.6, -25), (0.4, -25), (1.5, 0), (0.5, 0)] * 3
DROPS = [(1.2, -25), *[(2.5, 10), (2, 10), (1.5, -25), (0.6, -25)] * 8, (1.2, 0)]


def recording_of(seed, before=(*RAISES, (8, 0)), first_set=DROPS):
    """Both segments pitch about one level axis; sensors in the axis itself feel no push."""
    rng = np.random.default_rng(seed)
    ankle = smooth_way([(10, 0), *before, *first_set, (25, 0), *DROPS, (10, 0)])
    count = len(ankle)
    slow = np.hanning(round(1.6 * RATE_HZ))
    sway = np.convolve(rng.normal(size=count), slow / np.sqrt(np.sum(slow**2)), mode="same") * 0.4
    lean = np.radians(0.3 * ankle + sway)
    sensors = {}
    for point, pitch in (("shank", lean), ("foot", lean + np.radians(ankle))):
        attitude = Rotation.from_rotvec(pitch[:, None] * RIGHT)
        rate = np.gradient(pitch) * RATE_HZ
        force = attitude.inv().apply([0.0, 9.81, 0.0]) @ SEATS[point] + rng.normal(scale=0.02, size=(count, 3))
        turning = rate[:, None] * RIGHT @ SEATS[point] + rng.normal(scale=0.002, size=(count, 3))
        sensors[point] = Sensor(point, force, turning, None, np.zeros(count, dtype=bool))
    return Recording(rate_hz=RATE_HZ, sensors=sensors, label="level axis")


def plan_with(*lines):
    return plan_from_bytes((PLAN + "\n".join(lines) + "\n").encode(), "plan.toml")


def mounting(**changed):
    words = {**WORDS, **changed}
    return f'mounting = {{ shank = "{words["shank"]}", foot = "{words["foot"]}" }}'


CALIBRATION = 'calibration_movement = "plantarflexion"'


@pytest.mark.parametrize("seed", [1, 2])
def test_without_a_mounting_it_is_refused_and_with_both_it_is_answered(seed):
    recording = recording_of(seed)
    with pytest.raises(CannotAnswerError, match=r"which way both sensors face.*declare the mounting of both sensors"):
        analyse(recording, plan_with(CALIBRATION))
    result = analyse(recording, plan_with(CALIBRATION, mounting()))
    answer = result.exercises[0]
    assert [each.complete for each in answer.comparison.sets] == [8, 8]
    ends = [each.repetition.end_range_deg for one in answer.comparison.sets for each in one.repetitions]
    # with either axis turned round it would be 1.6 times as much
    assert ends == pytest.approx([10.0] * 16, abs=1.0)
    assert answer.alignment.sign_source == "plan mounting"
    assert "which way both sensors face from the declared mounting" in answer.alignment.method
    assert [each.level for each in result.findings if each.code == "faced-by-mounting"] == ["caution"]


def test_one_mounting_alone_does_not_settle_it():
    with pytest.raises(CannotAnswerError, match="which way both sensors face"):
        analyse(recording_of(3), plan_with(CALIBRATION, f'mounting = {{ foot = "{WORDS["foot"]}" }}'))


def test_a_mounting_across_the_axis_settles_nothing_either():
    with pytest.raises(CannotAnswerError, match="correct the declared mounting"):
        analyse(recording_of(3), plan_with(CALIBRATION, mounting(shank="z forward, x up")))


@pytest.mark.parametrize("seed", [7, 8, 9])
@pytest.mark.parametrize("wait_s", [0.5, 3.0])
def test_a_set_may_begin_straight_after_the_pose_where_the_mounting_settles_the_sign(seed, wait_s):
    """The first repetition is a slow one, as often: that does not make it a step on."""
    lunge = [(2.5, 20), (1, 20), (2, 0), (0.6, 0)]
    slow = [(1.4 * seconds, angle) for seconds, angle in lunge]
    recording = recording_of(seed, before=[(wait_s, 0)], first_set=[*slow, *lunge * 7])
    answer = analyse(recording, plan_with(mounting())).exercises[0]
    assert answer.comparison.sets[0].complete == 8
