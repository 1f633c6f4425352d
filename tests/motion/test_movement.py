"""Turning points and walking, on made-up movement."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.spatial.transform import Rotation

from imu_rom.motion.coarse import CoarseMotion
from imu_rom.motion.movement import locomotion, turning_points

RATE_HZ = 25.0
STEPS = arrays(float, st.integers(2, 80), elements=st.floats(-5, 5).map(lambda each: round(each, 3)))


@given(STEPS, st.floats(0.5, 20))
def test_turning_points_alternate_and_turn_back_by_more_than_the_hysteresis(steps, hysteresis):
    angle = np.cumsum(steps)
    points = turning_points(angle, hysteresis)
    assert np.array_equal(points.value, angle[points.index])
    assert (np.diff(points.index) > 0).all()
    turns = np.diff(points.value)
    assert (np.sign(turns[1:]) == -np.sign(turns[:-1])).all()
    assert (np.abs(turns) > hysteresis).all()
    # whatever lies between two neighbours lies between their angles
    for first, last in zip(points.index[:-1], points.index[1:], strict=True):
        low, high = sorted(angle[[first, last]])
        assert low <= angle[first : last + 1].min()
        assert high >= angle[first : last + 1].max()


@given(STEPS, st.floats(0.5, 20), st.floats(-90, 90).map(lambda each: round(each, 1)))
def test_neither_a_shift_of_the_zero_nor_the_sign_moves_a_turning_point(steps, hysteresis, shift):
    angle = np.round(np.cumsum(steps), 3)
    plain = turning_points(angle, hysteresis)
    shifted = turning_points(angle + shift, hysteresis + 1e-9)
    turned = turning_points(-angle, hysteresis)
    if np.abs(np.abs(np.diff(plain.value)) - hysteresis).min(initial=1.0) > 1e-6:
        assert plain.index.tolist() == shifted.index.tolist()
    assert plain.index.tolist() == turned.index.tolist()
    assert len(plain.index) < 2 or plain.first_is_high is not turned.first_is_high


def test_a_sine_has_one_high_a_period():
    time_s = np.arange(0, 20, 1 / RATE_HZ)
    points = turning_points(10 * np.sin(2 * np.pi * time_s / 2), 5.0)
    highs = points.index[points.highs()]
    assert time_s[highs] == pytest.approx(0.5 + 2.0 * np.arange(10), abs=0.021)


@pytest.mark.parametrize("angle", [np.zeros(50), np.array([3.0]), 0.4 * np.sin(np.arange(50))])
def test_nothing_turns_where_nothing_moves_by_the_hysteresis(angle):
    assert len(turning_points(angle, 1.0).index) == 0


def scene(proximal_pitch, distal_pitch, yaw=0.0, shock=0.0, mounting=None):
    """Both sensors' rates for pitching about y and turning about the vertical, upright throughout."""
    count = len(proximal_pitch)
    turns = mounting or [Rotation.identity()] * 2
    rates, ups = [], []
    for pitch, sensor in zip((proximal_pitch, distal_pitch), turns, strict=True):
        rates.append(sensor.apply(np.stack([np.zeros(count), pitch, np.full(count, yaw)], axis=1)))
        ups.append(sensor.apply(np.tile([0.0, 0.0, 1.0], (count, 1))))
    quaternion = np.tile([1.0, 0.0, 0.0, 0.0], (count, 1))
    motion = CoarseMotion(
        RATE_HZ, 2, *rates, *ups, quaternion, quaternion, *(9.81 * each for each in ups), np.full(count, shock),
        np.zeros(count, dtype=bool),
    )  # fmt: skip
    return locomotion(motion, *(sensor.apply([0.0, 1.0, 0.0]) for sensor in turns))


SECONDS = np.arange(0, 12, 1 / RATE_HZ)
# a heel drop turns the foot by 35 degrees in 2.5 s; a stride swings the shank by 60 degrees and the foot by more
DROP = np.radians(35) / 2 * 2 * np.pi / 5 * np.sin(2 * np.pi * SECONDS / 5)
SWING = np.radians(35) * 2 * np.pi / 1.1 * np.sin(2 * np.pi * SECONDS / 1.1)
MIDDLE = slice(50, 250)


def test_an_exercise_on_the_spot_is_no_walking():
    assert not scene(0.15 * DROP, DROP)[MIDDLE].any()
    # a squat: thigh and shank turn against each other
    assert not scene(-DROP, 0.6 * DROP)[MIDDLE].any()
    assert not scene(0.0 * DROP, 3 * DROP)[MIDDLE].any()
    # a quick one, with both segments as fast as in walking
    assert not scene(-4 * DROP, 2 * DROP)[MIDDLE].any()


def test_walking_swings_both_segments_alike():
    assert scene(SWING, 1.2 * SWING, shock=2.0)[MIDDLE].all()
    assert scene(SWING, 1.2 * SWING)[MIDDLE].all()


def test_turning_round_is_walking_too():
    assert scene(0.0 * DROP, 0.0 * DROP, yaw=np.radians(90))[MIDDLE].all()
    assert not scene(0.0 * DROP, 0.0 * DROP, yaw=np.radians(10))[MIDDLE].any()


@given(st.integers(0, 2**31))
def test_how_the_sensors_sit_makes_no_difference(seed):
    turns = Rotation.random(2, random_state=seed)
    part = np.concatenate([DROP, SWING])
    other = np.concatenate([0.15 * DROP, 1.1 * SWING])
    plain, turned = scene(other, part), scene(other, part, mounting=[turns[0], turns[1]])
    assert np.array_equal(plain, turned)
