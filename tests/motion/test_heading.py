"""Relative heading from the shared axis, on made-up axes with known headings."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.motion.heading import heading_difference_rad, smooth_relative_heading

RATE_HZ = 25.0
ANGLES = st.floats(-3.1, 3.1)
DRAW = {"time_constant_s": 8.0, "drift_rad_s": np.radians(0.2), "spread_rad": np.radians(3.0)}


def wrapped(angle):
    return np.angle(np.exp(1j * np.asarray(angle)))


def smooth(difference, flatness=None, usable=None, missing=None):
    count = len(difference)
    return smooth_relative_heading(
        wrapped(difference),
        np.ones(count) if flatness is None else flatness,
        np.ones(count, dtype=bool) if usable is None else usable,
        np.zeros(count, dtype=bool) if missing is None else missing,
        RATE_HZ,
        **DRAW,
    )


@given(st.integers(0, 2**31), ANGLES, ANGLES)
def test_difference_is_the_turn_between_the_two_worlds_whatever_turns_both(seed, between, common):
    axis = Rotation.random(6, random_state=seed).apply([0.0, 0.0, 1.0])
    both = Rotation.from_euler("z", common)
    difference, flatness = heading_difference_rad(
        both.apply(axis), both.apply(Rotation.from_euler("z", -between).apply(axis))
    )
    shown = flatness > 1e-3
    assert wrapped(difference - between)[shown] == pytest.approx(0, abs=1e-6)
    assert flatness == pytest.approx(1 - axis[:, 2] ** 2, abs=1e-9)


def test_an_upright_axis_shows_no_heading_and_a_level_one_all_of_it():
    axes = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])
    assert heading_difference_rad(axes, axes)[1].tolist() == [0.0, 1.0]


@settings(max_examples=25, deadline=None)
@given(st.floats(-3.1, 3.1), st.integers(25, 100))
def test_a_heading_that_is_lost_over_a_gap_is_found_again_behind_it(jump, length):
    """Each filter comes out of a gap with another heading; the axis shows the new difference at once."""
    count, noise = 4000, np.radians(3) * np.random.default_rng(6).normal(size=4000)
    missing = np.zeros(count, dtype=bool)
    missing[2000 : 2000 + length] = True
    truth = np.where(np.arange(count) < 2000, 0.3, 0.3 + jump)
    found = smooth(truth + noise, usable=~missing, missing=missing)
    off_deg = np.degrees(np.abs(wrapped(found.angle_rad - truth)))
    # one look of the smoother on either side
    assert off_deg[~missing][:1980].max() < 3.0
    assert off_deg[2000 + length + 20 :].max() < 3.0


@settings(max_examples=20, deadline=None)
@given(ANGLES)
def test_a_constant_heading_is_found_through_noise_and_turns_of_the_circle(constant):
    noise = np.radians(3) * np.random.default_rng(1).normal(size=3000)
    found = smooth(constant + noise)
    assert np.degrees(np.abs(wrapped(found.angle_rad - constant))).max() < 1.5
    # nothing jumps where the circle closes
    assert np.degrees(np.abs(np.diff(found.angle_rad))).max() < 0.5


def test_slow_drift_is_followed_past_half_a_turn():
    """0.5 degrees a second for ten minutes, through noise."""
    truth = np.radians(0.5) * np.arange(15000) / RATE_HZ
    found = smooth(truth + np.radians(3) * np.random.default_rng(2).normal(size=len(truth)))
    off = found.angle_rad - truth
    off -= np.round(off.mean() / (2 * np.pi)) * 2 * np.pi
    assert np.degrees(np.abs(off)).max() < 2.0


def test_sudden_wrong_looks_are_left_out():
    """Two seconds in every twenty the foot is bent sideways by 40 degrees."""
    count = 5000
    wrong = np.zeros(count)
    wrong[(np.arange(count) % 500) < 50] = np.radians(40)
    found = smooth(0.3 + wrong + np.radians(2) * np.random.default_rng(3).normal(size=count))
    assert np.degrees(np.abs(found.angle_rad - 0.3)).max() < 2.5


def test_what_is_not_usable_has_no_say():
    count = 4000
    difference = np.full(count, 1.0)
    usable = np.ones(count, dtype=bool)
    usable[:1500] = False
    difference[:1500] = np.random.default_rng(4).uniform(-3, 3, 1500)
    found = smooth(difference, usable=usable)
    assert np.degrees(np.abs(found.angle_rad[1500:] - 1.0)).max() < 0.1
    assert not found.observed[:1500].any()


def test_last_heading_is_carried_over_an_upright_axis_and_grows_uncertain():
    count, flatness = 4000, np.ones(4000)
    flatness[1500:2500] = 0.05
    difference = np.full(count, -0.7)
    difference[1500:2500] = np.random.default_rng(5).uniform(-3, 3, 1000)
    found = smooth(difference, flatness)
    assert np.array_equal(found.observed, flatness > 0.5)
    assert np.degrees(np.abs(found.angle_rad + 0.7)).max() < 0.5
    grown = np.degrees(found.standard_uncertainty_rad)
    # the farther from the nearest look, the less is known: 20 s away by 0.2 degrees a second
    assert (np.diff(grown[1500:2000]) > 0).all()
    assert (np.diff(grown[2000:2500]) < 0).all()
    assert grown[2000] == pytest.approx(3.0 + 0.2 * 20, abs=0.1)
    assert grown[:1500].max() < 3.0


def test_where_nothing_shows_nothing_is_claimed():
    found = smooth(np.zeros(1000), flatness=np.zeros(1000))
    assert not found.observed.any()
    assert np.isfinite(found.angle_rad).all()
    assert found.standard_uncertainty_rad[-1] == pytest.approx(np.radians(0.2) * 999 / RATE_HZ)
