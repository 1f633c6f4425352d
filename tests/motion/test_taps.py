"""Three taps are a mark; heel strikes, a bump and two taps are none."""

import numpy as np
import pytest

from imu_rom.motion.taps import find_taps, spans_between_taps

RATE_HZ = 100.0


def quiet(seconds, seed=0):
    noise = np.random.default_rng(seed).normal(0, 1, (2, round(seconds * RATE_HZ), 3))
    return np.array([0.0, 0.0, 9.81]) + 0.03 * noise[0], 0.01 * noise[1]


def tapped(force, times_s, size=12.0):
    for time_s in times_s:
        at = round(time_s * RATE_HZ)
        force[at : at + 3, 2] += size * np.array([1.0, -0.5, 0.2])


def test_three_taps_are_found_and_nothing_else_is():
    force, rate = quiet(120)
    tapped(force, [10.0, 10.4, 10.8, 55.0, 55.3, 55.7])
    tapped(force, [30.0, 30.4, 70.0])  # two, and a bump
    tapped(force, [40.0, 40.4, 40.8, 42.15])  # three, but not alone
    tapped(force, 80 + 0.55 * np.arange(20), 25.0)  # steps
    assert find_taps(force, rate, RATE_HZ) == [
        pytest.approx((10.0, 10.8), abs=0.03),
        pytest.approx((55.0, 55.7), abs=0.03),
    ]


def test_knocks_while_the_sensor_turns_are_none():
    force, rate = quiet(30)
    tapped(force, [10.0, 10.4, 10.8])
    rate[900:1200, 1] += 3.0
    assert find_taps(force, rate, RATE_HZ) == []


def test_marks_are_paired_by_the_time_asked_for_even_where_one_is_missing():
    marks = [(10.0, 11.0), (42.0, 43.0), (80.0, 81.0), (112.0, 113.0)]
    assert spans_between_taps(marks, 30.0, 8.0, 70.0) == [(11.0, 42.0), (81.0, 112.0)]
    # the first one went unseen: the rest of 37 s is no hold beside one of 31 s
    assert spans_between_taps(marks[1:], 30.0, 8.0, 70.0) == [(81.0, 112.0)]
    # both sensors felt the same taps
    assert spans_between_taps([*marks, *marks], 30.0, 8.0, 70.0) == [(11.0, 42.0), (81.0, 112.0)]
    assert spans_between_taps(marks[:1], 30.0, 8.0, 70.0) == []
