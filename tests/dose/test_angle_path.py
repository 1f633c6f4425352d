import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.angle_path import angle_path, remaining_stretches, sustained_level
from imu_rom.dose.exposure import excess, exposure_curve, longest_past, time_past, total_curve

angles = st.lists(st.integers(-160, 160).map(lambda n: n / 4), min_size=2, max_size=60).map(np.array)
rates = st.sampled_from([16.0, 50.0, 100.0, 256.0])


def test_a_window_beyond_the_recording_is_cut_off_and_an_empty_one_gives_nothing():
    angle = np.full(101, 10.0)
    assert time_past(angle_path(100.0, angle, -5, 50), 0.0) == pytest.approx(1)
    empty = angle_path(100.0, angle, 0.7, 0.7)
    assert (time_past(empty, 0.0), excess(empty, 0.0), longest_past(empty, 0.0)) == (0, 0, 0)
    assert exposure_curve(empty).total_s == 0
    assert total_curve([]).total_s == 0


def test_stretches_are_removed_in_any_order():
    assert remaining_stretches(0, 10, [(8, 12), (1, 5), (2, 3), (-4, 0.5)]) == [(0.5, 1), (5, 8)]
    assert remaining_stretches(0, 10, [(-1, 11)]) == []
    assert remaining_stretches(0, 10, []) == [(0, 10)]


def test_an_angle_that_is_not_finite_is_refused():
    with pytest.raises(ValueError, match="must be finite"):
        angle_path(100.0, np.array([0.0, np.nan, 1.0]))


@given(angles, rates, st.floats(0.01, 1.5), st.floats(0, 1), st.floats(0, 1))
def test_the_sustained_level_is_kept_for_that_time_and_no_higher_one_is(angle, rate_hz, share, one, other):
    end_s = (len(angle) - 1) / rate_hz
    path = angle_path(rate_hz, angle, min(one, other) * end_s, max(one, other) * end_s)
    length_s = sum(each.sum() for _, each in path.pieces)
    window_s = share * length_s if length_s > 1e-3 else 1.0
    level = sustained_level(path, window_s)
    if window_s > length_s:
        assert level == -math.inf
        return
    # just below it lasts, just above it does not: by the longest stretch, an independent count
    assert longest_past(path, level - 1e-7) >= window_s - 1e-9
    assert longest_past(path, level + 1e-7) < window_s + 1e-9


@pytest.mark.parametrize("rate_hz", [20.0, 60.0, 100.0, 333.0])
def test_the_sustained_level_of_a_turn_does_not_depend_on_the_rate(rate_hz):
    at = np.arange(round(4 * rate_hz) + 1) / rate_hz
    # straight up at 20 deg/s, straight down at 60: kept for w at 30 - w / (1/20 + 1/60)
    angle = np.where(at < 1.5, 30 - 20 * (1.5 - at), 30 - 60 * (at - 1.5))
    angle[np.argmin(abs(at - 1.5))] = 30.0
    if (1.5 * rate_hz) % 1 == 0:
        assert sustained_level(angle_path(rate_hz, angle), 0.2) == pytest.approx(30 - 0.2 * 15, abs=1e-9)
    else:
        assert sustained_level(angle_path(rate_hz, angle), 0.2) == pytest.approx(30 - 0.2 * 15, abs=0.2)


def test_the_sustained_level_of_a_hold_is_the_hold_and_a_gap_breaks_it():
    angle = np.interp(np.arange(401) / 100, [0, 1, 1.25, 2, 4], [-20, 10, 10, -20, -20])
    assert sustained_level(angle_path(100.0, angle), 0.2) == pytest.approx(10)
    assert sustained_level(angle_path(100.0, angle), 0.25) == pytest.approx(10)
    broken = angle_path(100.0, angle, without_data=[(1.1, 1.15)])
    assert sustained_level(broken, 0.2) < 9
    assert sustained_level(angle_path(100.0, angle), 4.0) == -20
    assert sustained_level(angle_path(100.0, angle), 4.1) == -math.inf
    # nor does a stretch of vanishing length last for any time
    assert sustained_level(angle_path(16.0, np.zeros(2), 0.0, 1e-309), 1.0) == -math.inf


@given(angles, st.floats(0.02, 0.5), st.integers(-80, 80))
def test_a_shift_of_the_angle_shifts_the_sustained_level(angle, window_s, quarter):
    here = sustained_level(angle_path(50.0, angle), window_s)
    there = sustained_level(angle_path(50.0, angle + quarter / 4), window_s)
    assert there == pytest.approx(here + quarter / 4) or there == here == -math.inf
