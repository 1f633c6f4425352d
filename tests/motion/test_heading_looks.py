"""Smoothing of looks at the relative heading, against dense least squares and against simulated drift."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.motion.heading_looks import NOTHING_KNOWN_RAD, STEP_S, Drift, _smooth, looks_of, smooth_looks

TIME_S = np.arange(0.0, 400.0, 0.04)
NEVER = np.zeros(len(TIME_S), dtype=bool)
DRIFT = Drift()


def looks(time_s, heading_rad, spread_deg=2.0):
    spread = np.full(len(time_s), np.radians(spread_deg))
    return looks_of("made up", np.asarray(time_s), np.asarray(heading_rad), spread)


def drifting(rng, count=400):
    """Heading of the smoother's own model, once a second."""
    keep = np.exp(-STEP_S / DRIFT.time_constant_s)
    heading, rate, found = 0.0, DRIFT.rate_rad_s * rng.standard_normal(), []
    for _ in range(count):
        found.append(heading)
        heading += rate * STEP_S + DRIFT.noise_rad_sqrt_s * rng.standard_normal()
        rate = keep * rate + DRIFT.rate_rad_s * np.sqrt(1 - keep**2) * rng.standard_normal()
    return np.array(found)


@settings(max_examples=25, deadline=None)
@given(st.integers(3, 40), st.integers(0, 1000))
def test_smoother_solves_the_normal_equations_of_its_model(count, seed):
    """The same problem as one dense least-squares fit of all states: mean and variance agree."""
    rng = np.random.default_rng(seed)
    values, information = rng.normal(size=count), rng.uniform(0, 50, count) * (rng.random(count) < 0.6)
    keep = np.exp(-STEP_S / DRIFT.time_constant_s)
    rate_noise = DRIFT.rate_rad_s**2 * (1 - keep**2)
    noise = np.diag([DRIFT.noise_rad_sqrt_s**2 * STEP_S + rate_noise * STEP_S**2 / 3, rate_noise])
    step = np.array([[1.0, STEP_S], [0.0, keep]])
    normal, right = np.zeros((2 * count, 2 * count)), np.zeros(2 * count)
    normal[:2, :2] = np.diag([1 / (1e2 * NOTHING_KNOWN_RAD**2), 1 / DRIFT.rate_rad_s**2])
    for at in range(count - 1):
        rows = np.zeros((2, 2 * count))
        rows[:, 2 * at : 2 * at + 2], rows[:, 2 * at + 2 : 2 * at + 4] = -step, np.eye(2)
        normal += rows.T @ np.linalg.inv(noise) @ rows
    for at in range(count):
        normal[2 * at, 2 * at] += information[at]
        right[2 * at] += information[at] * values[at]
    covariance = np.linalg.inv(normal)
    mean, variance = _smooth(values, information, np.zeros(count, dtype=bool), DRIFT, NOTHING_KNOWN_RAD)
    assert mean == pytest.approx((covariance @ right)[::2], abs=1e-5)
    assert variance == pytest.approx(np.diag(covariance)[::2], rel=1e-4)


def test_stated_uncertainty_holds_the_truth_between_looks_and_far_from_them():
    """Looks for a minute at each end, nothing for nearly five minutes between them."""
    covered, widths = [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        truth = drifting(rng)
        at = np.r_[0:60, 340:400]
        seen = truth[at] + np.radians(2) * rng.standard_normal(len(at))
        found = smooth_looks([looks(at, seen)], TIME_S, NEVER, DRIFT)
        off = np.interp(np.arange(400), TIME_S, found.angle_rad) - truth
        spread = np.interp(np.arange(400), TIME_S, found.standard_uncertainty_rad)
        covered.append(np.abs(off) < 1.96 * spread)
        widths.append(spread)
    # neighbouring seconds are not independent: 60 sessions of a few stretches each
    assert np.mean(np.array(covered)[:, 100:300]) > 0.90
    assert np.mean(np.array(covered)) > 0.90
    width = np.mean(widths, axis=0)
    assert width[200] > 4 * width[30]


def test_uncertainty_grows_with_time_after_the_last_look():
    found = smooth_looks([looks(np.arange(20.0), np.zeros(20))], TIME_S, NEVER, DRIFT)
    growth = np.degrees(found.standard_uncertainty_rad[[500, 1500, 4000, 9000]])
    assert (np.diff(growth) > 1.0).all()
    assert not found.observed[4000:].any()


def test_without_looks_nothing_is_known():
    found = smooth_looks([], TIME_S, NEVER, DRIFT)
    assert found.standard_uncertainty_rad == pytest.approx(np.full(len(TIME_S), NOTHING_KNOWN_RAD))
    assert np.degrees(NOTHING_KNOWN_RAD) == pytest.approx(103.92, abs=0.01)
    assert not found.observed.any()


@settings(max_examples=20, deadline=None)
@given(st.floats(-3.1, 3.1), st.integers(0, 100))
def test_looks_are_joined_over_the_seam_of_the_circle_and_strays_are_left_out(constant, seed):
    rng = np.random.default_rng(seed)
    heading = constant + np.radians(2.0) * rng.standard_normal(300)
    heading[rng.choice(300, 30, replace=False)] += rng.uniform(1.0, 5.0, 30)
    found = smooth_looks([looks(np.arange(300.0), np.angle(np.exp(1j * heading)))], TIME_S, NEVER, DRIFT)
    off = np.degrees(np.angle(np.exp(1j * (found.angle_rad - constant))))
    assert np.abs(off[:7000]).max() < 2.5


def test_a_gap_parts_the_heading_before_it_from_that_behind_it():
    missing = (TIME_S > 100) & (TIME_S < 102)
    at = np.arange(300.0)
    found = smooth_looks([looks(at, np.where(at < 101, 0.0, 2.0))], TIME_S, missing, DRIFT)
    assert np.degrees(np.abs(found.angle_rad[TIME_S < 98])).max() < 1.0
    assert np.degrees(np.abs(found.angle_rad[(TIME_S > 105) & (TIME_S < 300)] - 2.0)).max() < 1.0
