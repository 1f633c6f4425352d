"""Averaging to a low rate, against plain loops."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from imu_rom.motion.coarse import block_mean, coarse_motion, moving_mean
from imu_rom.motion.orientation import Attitude

NUMBERS = st.floats(-1e3, 1e3)


@given(arrays(float, st.integers(1, 40), elements=NUMBERS), st.integers(1, 9))
def test_block_means_are_those_of_a_loop_and_what_is_left_over_is_dropped(values, block):
    expected = [values[start : start + block].mean() for start in range(0, len(values) - block + 1, block)]
    assert block_mean(values, block) == pytest.approx(expected, abs=1e-9)


@given(arrays(float, st.integers(1, 30), elements=NUMBERS), st.integers(1, 50))
def test_moving_mean_is_that_of_a_loop(values, window):
    expected = [
        values[max(0, place - window // 2) : max(0, place - window // 2) + min(window, len(values))].mean()
        for place in range(len(values))
    ]
    inside = slice(window // 2, max(window // 2, len(values) - window))
    assert moving_mean(values, window)[inside] == pytest.approx(expected[inside], abs=1e-6)


@given(arrays(float, st.integers(1, 30), elements=NUMBERS), st.integers(1, 50))
def test_moving_mean_stays_between_lowest_and_highest(values, window):
    smooth = moving_mean(values, window)
    assert smooth.shape == values.shape
    assert (smooth >= values.min() - 1e-6).all()
    assert (smooth <= values.max() + 1e-6).all()


def test_moving_mean_treats_each_column_alone():
    values = np.random.default_rng(1).normal(size=(50, 3))
    together = moving_mean(values, 7)
    assert np.allclose(together, np.stack([moving_mean(each, 7) for each in values.T], axis=1))


@pytest.mark.parametrize(("rate_hz", "block"), [(20.0, 1), (25.0, 1), (50.0, 2), (100.0, 4), (200.0, 8)])
def test_times_are_the_middles_of_the_blocks(rate_hz, block):
    """A steadily growing rate, averaged, is the rate at the middle of each block."""
    count = 400
    time_s = np.arange(count) / rate_hz
    rate = np.stack([time_s, np.zeros(count), np.zeros(count)], axis=1)
    force = np.tile([0.0, 0.0, 9.81], (count, 1))
    level = Attitude(np.tile([1.0, 0.0, 0.0, 0.0], (count, 1)))
    missing = np.zeros(count, dtype=bool)
    missing[9] = True
    motion = coarse_motion((force, rate, level), (force, -rate, level), missing, rate_hz)
    assert motion.block == block
    assert motion.rate_hz == pytest.approx(rate_hz / block)
    assert motion.proximal_rate[:, 0] == pytest.approx(motion.time_s)
    assert motion.distal_rate[:, 0] == pytest.approx(-motion.time_s)
    assert np.flatnonzero(motion.missing).tolist() == [9 // block]
    assert np.allclose(motion.proximal_up, [0.0, 0.0, 1.0])


def test_estimated_gyroscope_bias_is_taken_off():
    count, bias = 100, np.array([0.01, -0.02, 0.03])
    force, rate = np.tile([0.0, 0.0, 9.81], (count, 1)), np.tile(bias, (count, 1))
    known = Attitude(np.tile([1.0, 0.0, 0.0, 0.0], (count, 1)), gyroscope_bias_rad_s=rate.copy())
    unknown = Attitude(known.quaternion)
    motion = coarse_motion((force, rate, known), (force, rate, unknown), np.zeros(count, dtype=bool), 50.0)
    assert np.abs(motion.proximal_rate).max() < 1e-12
    assert np.allclose(motion.distal_rate, bias)


def test_shocks_show_within_blocks_and_between_them():
    count = 200
    quiet = np.tile([0.0, 0.0, 9.81], (count, 1))
    level, still = Attitude(np.tile([1.0, 0.0, 0.0, 0.0], (count, 1))), np.zeros((count, 3))
    hit = quiet.copy()
    hit[100, 2] += 20.0
    nothing = np.zeros(count, dtype=bool)
    calm = coarse_motion((quiet, still, level), (quiet, still, level), nothing, 100.0)
    struck = coarse_motion((quiet, still, level), (hit, still, level), nothing, 100.0)
    assert calm.shock_m_s2.max() < 1e-9
    assert struck.shock_m_s2[25] > 5.0
    assert (struck.shock_m_s2 > 1.0).sum() <= 2
