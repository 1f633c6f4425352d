"""Slow curves: the equations they solve, jumps at cuts, and how slow the values say they are."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.motion.smoothing import CANDIDATES_S, _minimum, best_time_constant, slow_curve

RATE_HZ = 25.0


@settings(max_examples=30, deadline=None)
@given(st.integers(3, 60), st.integers(0, 1000), st.floats(1e-3, 1e4), st.booleans())
def test_smoother_solves_its_equations(count, seed, size, cut):
    """Against a dense solution of the same normal equations (Whittaker 1922), with places where it may bend freely."""
    draw = np.random.default_rng(seed)
    values, weight = draw.normal(size=count), draw.uniform(0.1, 1, count)
    penalty = np.full(count - 2, size)
    if cut:
        penalty[draw.integers(0, count - 2)] = 0.0
    second = np.diff(np.eye(count), n=2, axis=0)
    dense = np.linalg.solve(np.diag(weight) + second.T @ np.diag(penalty) @ second, weight * values)
    assert _minimum(values, weight, penalty) == pytest.approx(dense, abs=1e-4)


@given(st.floats(-3, 3), st.floats(-0.1, 0.1), st.integers(200, 2000))
@settings(max_examples=25, deadline=None)
def test_a_straight_line_is_left_as_it_is(level, slope, count):
    line = level + slope * np.arange(count) / RATE_HZ
    curve = slow_curve(line, np.ones(count), np.zeros(count, dtype=bool), RATE_HZ, 4.0)
    # the ends of the interpolation are half a block away from the last block's middle
    assert curve[10:-10] == pytest.approx(line[10:-10], abs=1e-3)


def test_gain_is_one_half_at_the_period_of_two_pi_time_constants():
    time_s = np.arange(0, 400, 1 / RATE_HZ)
    wave = np.sin(time_s / 2.0)
    curve = slow_curve(wave, np.ones(len(wave)), np.zeros(len(wave), dtype=bool), RATE_HZ, 2.0)
    inside = slice(2500, 7500)
    assert curve[inside] @ wave[inside] / (wave[inside] @ wave[inside]) == pytest.approx(0.5, abs=0.02)


def test_the_curve_jumps_at_a_cut_and_nowhere_else():
    step = np.where(np.arange(2000) < 1000, 0.0, 1.0)
    cut = np.zeros(2000, dtype=bool)
    bent = slow_curve(step, np.ones(2000), cut, RATE_HZ, 4.0)
    cut[1000] = True
    jumps = slow_curve(step, np.ones(2000), cut, RATE_HZ, 4.0)
    assert np.abs(bent - step).max() > 0.4
    assert np.abs(jumps - step)[np.abs(np.arange(2000) - 1000) > 12].max() < 1e-3


@pytest.mark.parametrize("seed", range(4))
def test_what_wanders_quickly_gets_a_shorter_time_constant_than_what_hardly_moves(seed):
    rng = np.random.default_rng(seed)
    count = 3000
    none = np.zeros(count, dtype=bool)
    noise = rng.normal(scale=0.3, size=count)
    wandering = np.cumsum(rng.normal(scale=0.1, size=count)) + noise
    steady = 0.001 * np.arange(count) / RATE_HZ + noise
    quick, wandering_error = best_time_constant(wandering, np.ones(count), none, RATE_HZ)
    slow, steady_error = best_time_constant(steady, np.ones(count), none, RATE_HZ)
    assert quick <= 2.0
    assert slow >= 8.0
    assert steady_error < 0.1 < wandering_error


def test_a_short_recording_and_one_that_shows_nothing_are_answered():
    few = np.zeros(40)
    assert best_time_constant(few, np.ones(40), few.astype(bool), RATE_HZ)[0] in CANDIDATES_S
    time_constant_s, error = best_time_constant(few, few, few.astype(bool), RATE_HZ)
    assert (time_constant_s, error) == (CANDIDATES_S[-1], 0.0)


@given(st.integers(20, 400), st.integers(5, 200), st.floats(-50, 50))
@settings(max_examples=25, deadline=None)
def test_a_stretch_without_values_leaves_its_neighbours_alone(start, length, level):
    cut = np.zeros(700, dtype=bool)
    cut[start : start + length] = True
    curve = slow_curve(np.full(700, level), (~cut).astype(float), cut, RATE_HZ, 2.0)
    assert curve == pytest.approx(np.full(700, level), abs=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_a_few_noisy_values_are_not_drawn_out_to_a_steep_line(seed):
    """Seen for four seconds out of a minute, with noise of 1: a slope of more than the spread is not believed."""
    rng = np.random.default_rng(seed)
    values, weight, none = rng.normal(size=1500), np.zeros(1500), np.zeros(1500, dtype=bool)
    weight[700:800] = 1.0
    free, held = (slow_curve(values, weight, none, RATE_HZ, 2.0, slope_spread=each) for each in (None, 0.01))
    assert np.abs(held - held[750]).max() < 0.3
    assert np.abs(free - free[750]).max() > 2 * np.abs(held - held[750]).max()
