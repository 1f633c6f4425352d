"""Neutral pose and calibration movement in made-up sessions of a planar leg."""

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, sosfilt
from scipy.spatial.transform import Rotation

from imu_rom.errors import CannotAnswerError
from imu_rom.motion.calibration import find_calibration
from imu_rom.motion.coarse import CoarseMotion, moving_mean
from imu_rom.motion.pose import find_neutral_pose, listed
from imu_rom.settings import PoseSettings

RATE_HZ = 25.0
SETTINGS = PoseSettings()
WHITE_RAD_S = np.radians(0.05)


def minimum_jerk(count):
    share = np.arange(1, count + 1) / count
    return share**3 * (10 - 15 * share + 6 * share**2)


@dataclass
class Leg:
    """Writes joint angle and shank pitch in degrees, sway, walking and what lies on the table, piece by piece."""

    pieces: list = field(default_factory=list)
    angle: float = 0.0
    pitch: float = 0.0
    marks: dict = field(default_factory=dict)

    @property
    def time_s(self):
        return sum(len(each[0]) for each in self.pieces) / RATE_HZ

    def _write(self, angle, pitch, sway, *, walks=False, table=False):
        count = len(angle)
        self.pieces.append(
            (angle, pitch, np.full(count, sway), np.full(count, walks), np.full(count, table), np.zeros(count))
        )
        self.angle, self.pitch = float(angle[-1]), float(pitch[-1])
        return self

    def stay(self, seconds, name=None, *, sway=0.4, table=False):
        start_s, count = self.time_s, round(seconds * RATE_HZ)
        self._write(np.full(count, self.angle), np.full(count, self.pitch), 0.0 if table else sway, table=table)
        if name:
            self.marks[name] = (start_s, self.time_s)
        return self

    def move(self, seconds, angle, pitch=None):
        way = minimum_jerk(max(2, round(seconds * RATE_HZ)))
        to = self.pitch if pitch is None else pitch
        return self._write(self.angle + (angle - self.angle) * way, self.pitch + (to - self.pitch) * way, 0.3)

    def handle(self, seconds):
        """Hands tape a sensor on."""
        for _ in range(round(seconds / 2)):
            self.move(1.3, self.angle + 14, self.pitch - 10).move(0.7, self.angle - 14, self.pitch + 10)
        return self

    def walk(self, strides):
        for _ in range(strides):
            count = round(1.1 * RATE_HZ)
            phase = 2 * np.pi * np.arange(1, count + 1) / count
            self._write(self.angle - 12 * np.sin(phase), self.pitch + 25 * np.sin(phase), 0.3, walks=True)
        return self

    def calibrate(self, to=-25.0, times=3, name="calibration"):
        self.marks[name] = (self.time_s, None)
        start = self.angle
        for _ in range(times):
            self.move(1.6, start + to).stay(0.4, sway=0.2).move(1.5, start).stay(0.5, sway=0.3)
        self.marks[name] = (self.marks[name][0], self.time_s)
        return self

    def drops(self, times=10, depth=10.0, hold_s=2.0):
        back = self.angle
        self.move(1.2, -25.0)
        for _ in range(times):
            self.move(2.5, depth, 4).stay(hold_s, sway=0.2).move(1.5, -25.0, 0).stay(0.6, sway=0.2)
        return self.move(1.2, back)


def setup(seated=15.0):
    """Sensors on the table, taped on, then up and a few steps."""
    leg = Leg(angle=seated, pitch=12.0)
    return leg.stay(12, "table", table=True).handle(20)


def whole(pose=0.0, wait=4.0, depth=10.0):
    leg = setup().move(1.2, pose, pose).walk(3).stay(8, "pose").calibrate().walk(6)
    leg.move(0.6, wait, wait).stay(7, "step wait").drops(depth=depth)
    return leg.walk(4).move(0.6, wait, wait).stay(6, "second wait").drops(depth=depth).walk(6).stay(3)


@dataclass(frozen=True)
class Made:
    """What the pose is looked for in."""

    motion: CoarseMotion
    angle_rad: np.ndarray
    walking: np.ndarray
    worn_start_s: float
    marks: dict

    def found(self, *, settings=SETTINGS, needs_calibration=True):
        return find_neutral_pose(
            self.motion, self.angle_rad, self.walking, self.worn_start_s, len(self.angle_rad) / RATE_HZ, settings,
            needs_calibration=needs_calibration,
        )  # fmt: skip

    def seconds(self, found):
        return found.start / RATE_HZ, found.stop / RATE_HZ


def band(draw, count):
    return sosfilt(butter(2, (0.1, 1.0), "bandpass", fs=RATE_HZ, output="sos"), draw.normal(size=count)) * 3.0


def made(leg, *, seed=1, sign=1, zero_deg=0.0):
    """Rates and directions to the sky of both sensors, in any mounting; angle with any sign and zero."""
    draw = np.random.default_rng(seed)
    angle, pitch, sway, walking, table, _ = (np.concatenate(each) for each in zip(*leg.pieces, strict=True))
    lean = sway * band(draw, len(angle))
    pitch, angle = pitch + lean, angle + lean
    shank = Rotation.from_euler("Y", pitch[:, None], degrees=True)
    foot = Rotation.from_euler("Y", (pitch - angle)[:, None], degrees=True)
    lying = np.flatnonzero(table)
    rates, ups = [], []
    for segment, mounting in zip((shank, foot), Rotation.random(2, random_state=seed), strict=True):
        quaternion = (segment * mounting).as_quat()
        if len(lying):
            quaternion[lying] = mounting.as_quat()
        sensor = Rotation.from_quat(quaternion)
        turns = (sensor[:-1].inv() * sensor[1:]).as_rotvec() * RATE_HZ
        turns[np.linalg.norm(turns, axis=1) > 20] = 0.0
        rate = np.vstack([turns, turns[-1:]])
        rates.append(rate + WHITE_RAD_S * draw.normal(size=rate.shape))
        ups.append(sensor.inv().apply([0.0, 0.0, 1.0]))
    count = len(angle)
    level = np.tile([1.0, 0.0, 0.0, 0.0], (count, 1))
    forces = [9.81 * each for each in ups]
    motion = CoarseMotion(
        RATE_HZ, 2, *rates, *ups, level, level, *forces, np.zeros(count), np.zeros(count, dtype=bool)
    )  # fmt: skip
    noisy = sign * (angle + zero_deg) + 0.2 * draw.normal(size=count)
    taped_s = leg.marks["table"][1] + 18.0 if "table" in leg.marks else 0.0
    return Made(motion, moving_mean(np.radians(noisy), 5), walking, taped_s, leg.marks)


def within(inner, outer, slack_s=1.0):
    return outer[0] - slack_s <= inner[0] < inner[1] <= outer[1] + slack_s


def test_pose_is_the_last_still_stand_before_the_calibration_movement():
    scene = made(whole())
    found = scene.found()
    assert within(scene.seconds(found), scene.marks["pose"])
    assert np.degrees(found.level_rad) == pytest.approx(0.0, abs=0.5)
    assert found.calibration.direction == -1
    assert found.calibration.cycles == 3
    assert np.degrees(found.calibration.excursion_rad) == pytest.approx(25.0, abs=1.5)
    assert within(scene.seconds(found.calibration), scene.marks["calibration"])


@settings(max_examples=12, deadline=None)
@given(st.sampled_from([1, -1]), st.floats(-90, 90), st.integers(0, 10_000))
def test_neither_sign_nor_zero_of_the_angle_nor_mounting_matters(sign, zero_deg, seed):
    scene = made(whole(), seed=seed, sign=sign, zero_deg=zero_deg)
    found = scene.found()
    assert within(scene.seconds(found), scene.marks["pose"])
    assert found.calibration.direction == -sign
    assert np.degrees(found.level_rad) == pytest.approx(sign * zero_deg, abs=0.6)


def test_everything_else_is_listed_with_why_it_can_not_serve():
    scene = made(whole())
    found = scene.found()
    reasons = {}
    for each in found.candidates:
        middle_s = (each.stretch.start + each.stretch.stop) / 2 / RATE_HZ
        for name, (start_s, stop_s) in scene.marks.items():
            if start_s <= middle_s <= stop_s:
                reasons[name] = each.why_not
    assert reasons["pose"] == ""
    assert all(reasons[name] for name in ("table", "step wait", "second wait"))
    assert "after the calibration movement" in reasons["step wait"]
    words = listed(found.candidates, scene.motion, found.level_rad)
    assert words.count(" s (") == len(found.candidates) <= 6
    assert "+0.0 deg" in words


def test_a_table_never_serves():
    """Worn from the first second, says the caller, and the person stands nowhere: what does not sway is no person."""
    scene = replace(made(whole()), worn_start_s=0.0)
    found = scene.found()
    assert within(scene.seconds(found), scene.marks["pose"])
    (table,) = [each for each in found.candidates if each.stretch.stop / RATE_HZ < scene.marks["table"][1] + 1.0]
    assert table.why_not
    restless = replace(made(setup().move(1.2, 0, 0).walk(8).drops(10)), worn_start_s=0.0)
    for needs_calibration in (True, False):
        with pytest.raises(CannotAnswerError, match="no neutral pose"):
            restless.found(needs_calibration=needs_calibration)


def test_a_pose_without_any_sway_serves_where_it_is_plainly_worn():
    """A leg that rests on a bench keeps as still as a table; walking on both sides or the movement after it show it."""
    rest = setup().move(1.2, 0, 0).walk(5).stay(8, "pose", sway=0.0)
    walked = made(rest.calibrate().walk(6).drops())
    moved = made(setup().move(1.2, 0, 0).stay(8, "pose", sway=0.0).calibrate().stay(6).drops())
    for scene in (walked, moved):
        found = scene.found()
        assert within(scene.seconds(found), scene.marks["pose"])
        assert found.calibration.direction == -1
    scene = made(setup().move(1.2, 0, 0).walk(5).stay(8, "pose", sway=0.0).walk(3).drops())
    assert within(scene.seconds(scene.found(needs_calibration=False)), scene.marks["pose"])


def test_a_table_does_not_serve_because_hands_then_move_the_sensors_alike():
    """Taken up from the table, swung three times, and put on: neither ends where it was."""
    leg = Leg(angle=0.0, pitch=0.0).stay(10, "table", table=True).move(0.8, 0.0, 60.0).calibrate().walk(4)
    scene = replace(made(leg.stay(6).drops()), worn_start_s=0.0)
    with pytest.raises(CannotAnswerError, match="no calibration movement"):
        scene.found()


def test_a_stretch_before_wearing_never_serves():
    leg = Leg().stay(10, "pose").calibrate().walk(4).drops()
    scene = replace(made(leg), worn_start_s=30.0)
    with pytest.raises(CannotAnswerError):
        scene.found()


@pytest.mark.parametrize("wait", [-6.0, 0.0, 4.0, 6.0])
def test_a_wait_on_the_step_is_never_taken_for_the_pose(wait):
    scene = made(whole(wait=wait))
    assert within(scene.seconds(scene.found()), scene.marks["pose"])
    assert within(scene.seconds(scene.found(needs_calibration=False)), scene.marks["pose"])


@pytest.mark.parametrize("depth", [6.0, 10.0, 15.0])
@pytest.mark.parametrize("wait", [-4.0, 3.0, 6.0])
@pytest.mark.parametrize("times", [5, 10])
def test_without_a_calibration_movement_nothing_on_the_step_stands_in_for_it(wait, depth, times):
    """Five drops straight after a wait on the step go to one side and back as well."""
    leg = setup().move(1.2, 0, 0).walk(3).stay(8, "pose").walk(6).move(0.6, wait, wait).stay(7)
    leg.drops(times, depth).walk(4).move(0.6, wait, wait).stay(6).drops(times, depth).walk(5)
    scene = made(leg)
    with pytest.raises(CannotAnswerError, match="no calibration movement"):
        scene.found()


def test_long_holds_never_serve():
    leg = setup().move(1.2, 0, 0).walk(3).stay(8, "pose").calibrate().walk(5)
    leg.drops(4, depth=8.0, hold_s=18.0)
    scene = made(leg)
    assert within(scene.seconds(scene.found()), scene.marks["pose"])
    assert within(scene.seconds(scene.found(needs_calibration=False)), scene.marks["pose"])


def without_calibration(wait):
    leg = setup().move(1.2, 0, 0).walk(3).stay(10, "pose").walk(6).move(0.6, wait, wait).stay(7, "step wait")
    return made(leg.drops().walk(4).move(0.6, wait, wait).stay(6).drops())


def test_where_nothing_needs_the_calibration_a_stand_before_the_first_set_serves_that_no_other_contradicts():
    """With a declared mounting nothing need follow the pose; then a wait on the step is a rival."""
    scene = without_calibration(wait=1.5)
    found = scene.found(needs_calibration=False)
    assert within(scene.seconds(found), scene.marks["pose"])
    assert found.calibration is None
    with pytest.raises(CannotAnswerError, match="not clear"):
        without_calibration(wait=5.0).found(needs_calibration=False)
    with pytest.raises(CannotAnswerError, match="no calibration movement"):
        scene.found()


@pytest.mark.parametrize("fidgets", [0, 3, 6])
def test_where_a_calibration_movement_follows_it_that_pose_serves_needed_or_not(fidgets):
    """Fidgeting on the seat and the calibration movement together are no set."""
    leg = setup(seated=5.0).stay(6, "seat", sway=0.3)
    for _ in range(fidgets):
        leg.move(0.9, 15, 8).move(0.9, 3, 12).stay(1.2, sway=0.3)
    leg.move(1.2, 0, 0).stay(8, "pose").calibrate().walk(5).move(0.6, 4, 4).stay(6).drops()
    scene = made(leg)
    for needs_calibration in (True, False):
        try:
            found = scene.found(needs_calibration=needs_calibration)
        except CannotAnswerError as refusal:
            assert "not clear" in refusal.what  # noqa: PT017 - a question is right, a wrong zero is not
        else:
            assert within(scene.seconds(found), scene.marks["pose"])


@pytest.mark.parametrize("lean", [-9.0, -5.0, 4.5, 8.0, 14.0])
def test_two_stands_that_differ_by_more_than_3_degrees_are_left_to_the_person_who_asks(lean):
    """The shank leans forward for a while, then comes upright: nobody walks or sits in between."""
    leg = setup().move(1.2, lean, lean).walk(3).stay(9, "leaning").move(1.0, 0, 0).stay(8, "pose").calibrate().walk(5)
    scene = made(leg.drops())
    with pytest.raises(CannotAnswerError, match="not clear") as told:
        scene.found()
    assert "--neutral START:STOP" in told.value.do
    assert told.value.what.count(" s (") == 2


def test_two_stands_that_agree_are_no_rivals():
    leg = setup().move(1.2, 1.5, 1.5).walk(3).stay(9, "first").move(0.8, 12, 12).move(0.8, 0, 0).stay(8, "pose")
    scene = made(leg.calibrate().walk(5).drops())
    assert within(scene.seconds(scene.found()), scene.marks["pose"])
    with pytest.raises(CannotAnswerError, match="not clear"):
        scene.found(settings=replace(SETTINGS, largest_difference_deg=0.5, rival_share=0.0))


@pytest.mark.parametrize("tilt", [10.0, 15.0, 25.0])
@pytest.mark.parametrize("pose_s", [5.0, 8.0])
def test_a_chair_is_never_taken_for_the_pose(tilt, pose_s):
    """A quiet while on a chair, then up and straight to the pose: the pose serves, or the person is asked."""
    leg = setup(seated=tilt).stay(15, "chair", sway=0.15).move(1.2, 0, 0).walk(2).stay(pose_s, "pose").calibrate()
    scene = made(leg.walk(5).drops())
    try:
        found = scene.found()
    except CannotAnswerError as refusal:
        assert "not clear" in refusal.what  # noqa: PT017 - either is right, a wrong zero is not
    else:
        assert within(scene.seconds(found), scene.marks["pose"])


@pytest.mark.parametrize("off", [-8.0, 4.5, 8.0])
def test_a_posture_in_which_both_segments_lean_is_no_stand_on_the_floor(off):
    """Seated with the foot put forward, swaying as in a stand, the joint near neutral; then up and to the pose."""
    seated = Leg(angle=15.0, pitch=12.0).stay(12, "table", table=True).handle(20).move(1.2, off, 28.0)
    scene = made(seated.stay(8, "seat").move(1.2, 0, 0).walk(3).stay(8, "pose").calibrate().walk(5).drops())
    found = scene.found()
    assert within(scene.seconds(found), scene.marks["pose"])
    assert [round(np.degrees(each.level_rad)) for each in found.other_postures] == [pytest.approx(off, abs=1)]


@pytest.mark.parametrize("off", [-8.0, 4.5, 8.0])
def test_two_stands_with_the_foot_flat_stay_rivals_though_somebody_walked(off):
    leg = setup().move(1.2, off, off).stay(8, "leaning").move(1.2, 0, 0).walk(3).stay(8, "pose").calibrate().walk(5)
    with pytest.raises(CannotAnswerError, match="not clear"):
        made(leg.drops()).found()


def test_no_pose_where_nobody_stands_still():
    leg = setup().walk(8).calibrate().walk(5)
    with pytest.raises(CannotAnswerError):
        made(leg.drops()).found()


# ---------------------------------------------------------------------------------------------- calibration movement


def calibration_in(pieces_deg, *, walks_after_s=None, wait_s=20.0, level_deg=0.0):
    angle = np.radians(np.concatenate([np.concatenate(pieces_deg), np.zeros(50)])) + np.radians(level_deg)
    walking = np.zeros(len(angle), dtype=bool)
    if walks_after_s is not None:
        walking[round(walks_after_s * RATE_HZ) :] = True
    return find_calibration(angle, walking, 0, np.radians(level_deg), RATE_HZ, wait_s)


def swing(size, seconds=3.5):
    half = minimum_jerk(round(seconds / 2 * RATE_HZ))
    return np.concatenate([size * half, size * (1 - half), np.zeros(15)])


@given(st.integers(2, 4), st.floats(12, 60), st.sampled_from([1, -1]), st.floats(2.5, 8), st.floats(-40, 40))
def test_two_to_four_slow_movements_to_one_side_settle_the_direction(times, size, side, seconds, level):
    found = calibration_in([np.zeros(25), *[side * swing(size, seconds)] * times], level_deg=level)
    assert found.direction == side
    assert found.cycles == times
    assert np.degrees(found.excursion_rad) == pytest.approx(size, rel=0.02)
    assert found.other_side_share < 0.05


@pytest.mark.parametrize(
    "pieces",
    [
        [swing(-25.0)],
        [swing(-25.0)] * 8,
        [swing(-5.0)] * 3,
        [swing(-25.0), swing(25.0)] * 3,
        [np.zeros(25 * 40), *[swing(-25.0)] * 3],
        [swing(-25.0, seconds=0.4)] * 3,
        [-25.0 * minimum_jerk(50)],
    ],
    ids=["one only", "a set of eight", "too small", "both sides", "too late", "too quick", "never back"],
)
def test_other_movements_settle_nothing(pieces):
    assert calibration_in(pieces) is None


def test_walking_ends_the_look():
    """Strides bend the joint to one side, too."""
    pieces = [np.zeros(50), *[swing(-25.0)] * 3]
    assert calibration_in(pieces) is not None
    assert calibration_in(pieces, walks_after_s=2.0) is None


def test_a_weight_shift_before_it_is_no_part_of_it():
    found = calibration_in([np.zeros(25), swing(-9.0, 1.4), np.zeros(25), *[swing(-25.0)] * 3])
    assert found.cycles == 3
    assert found.start / RATE_HZ > 2.5


SQUATTING = swing(40.0, seconds=5.0)
RAISING = swing(-25.0)
STANDING = np.zeros(25 * 6)


@pytest.mark.parametrize("times", [3, 4, 5, 12])
@pytest.mark.parametrize("wait_s", [0.5, 6, 15])
def test_a_set_to_the_other_side_may_follow_straight_on(times, wait_s):
    """Three heel raises, then squats or lunges without a step between."""
    found = calibration_in([np.zeros(25), *[RAISING] * 3, np.zeros(round(25 * wait_s)), *[SQUATTING] * times])
    assert (found.direction, found.cycles) == (-1, 3)
    assert found.stop < 25 * 14


def test_a_set_to_both_sides_may_follow_after_a_stand():
    """Heel drops: off the toes down to below the step's edge and back up."""
    drop = [swing(10.0), swing(-25.0)] * 8
    found = calibration_in([np.zeros(25), *[RAISING] * 3, STANDING, *drop])
    assert (found.direction, found.cycles) == (-1, 3)


@pytest.mark.parametrize("times", [3, 8])
def test_two_swings_before_a_set_to_the_other_side_settle_nothing(times):
    """They may be shifts of weight, and the set no calibration movement."""
    assert calibration_in([np.zeros(25), *[RAISING] * 2, STANDING, *[SQUATTING] * times]) is None


def test_fidgets_to_the_other_side_before_the_movement_settle_nothing():
    found = calibration_in([np.zeros(25), *[swing(10.0, 2.0)] * 3, STANDING, *[RAISING] * 3])
    assert found.direction == -1
    assert calibration_in([np.zeros(25), *[swing(-10.0, 2.0)] * 3, STANDING, *[SQUATTING] * 8]) is None
