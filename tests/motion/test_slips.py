"""Steps of the axis and of the repetitions' level: found, placed, and not invented."""

import numpy as np
import pytest

from imu_rom.motion.slips import find_axis_steps, level_step, level_trend

RATE_HZ = 25.0
COUNT = round(400 * RATE_HZ)
WORN, NOTHING = np.ones(COUNT, dtype=bool), np.zeros(COUNT, dtype=bool)
LEVEL = np.ones(COUNT)


def signal(seed, spread_deg):
    return spread_deg * np.random.default_rng(seed).standard_normal(COUNT)


def steps_in(tilt_deg, heading_deg, missing=NOTHING):
    return find_axis_steps(np.radians(tilt_deg), np.radians(heading_deg), LEVEL, WORN, missing, RATE_HZ)


def stepped(values, at_s, size):
    return values + size * (np.arange(COUNT) / RATE_HZ >= at_s)


def test_wobble_and_a_drifting_heading_are_no_steps():
    for seed in range(10):
        drift = np.linspace(0, 120, COUNT)
        assert steps_in(signal(seed, 0.8), signal(seed + 100, 1.0) + drift) == []


@pytest.mark.parametrize("size_deg", [4.0, -9.0, 15.0])
def test_a_step_of_the_tilt_is_found_at_its_time(size_deg):
    (found,) = steps_in(stepped(signal(1, 0.8), 217.3, size_deg), signal(2, 1.0))
    assert found.time_s == pytest.approx(217.3, abs=0.7)
    assert found.tilt_deg == pytest.approx(size_deg, abs=0.5)


def test_a_step_of_the_heading_alone_is_found_over_its_drift():
    (found,) = steps_in(signal(1, 0.8), stepped(signal(2, 1.0) + np.linspace(0, 80, COUNT), 130.0, 9.0))
    assert found.time_s == pytest.approx(130.0, abs=1.0)
    assert found.heading_deg == pytest.approx(9.0, abs=1.5)


def test_a_heading_that_is_another_behind_a_gap_is_no_slip():
    missing = NOTHING.copy()
    missing[3000:3100] = True
    assert steps_in(signal(1, 0.8), stepped(signal(2, 1.0), 3050 / RATE_HZ, 30.0), missing) == []


def test_what_comes_back_is_no_slip():
    for_a_while = stepped(stepped(signal(1, 0.8), 200.0, 6.0), 215.0, -6.0)
    assert steps_in(for_a_while, signal(2, 1.0)) == []


def test_two_slips_are_two():
    both = stepped(stepped(signal(1, 0.8), 120.0, 5.0), 260.0, -8.0)
    assert [round(each.time_s, -1) for each in steps_in(both, signal(2, 1.0))] == [120.0, 260.0]


def levels(seed, count=30, spread_deg=1.5):
    draw = np.random.default_rng(seed)
    return -25 + spread_deg * draw.standard_normal(count), 10 + spread_deg * draw.standard_normal(count)


def test_a_step_of_start_and_end_range_together_is_found_between_two_repetitions():
    right, misplaced = 0, 0
    for seed in range(100):
        starts, ends = levels(seed)
        after = int(np.random.default_rng(1000 + seed).integers(3, 27))
        starts[after:] += 6.0
        ends[after:] += 6.0
        step = level_step(starts, ends)
        right += step is not None and abs(step.size_deg - 6.0) < 3 * step.standard_uncertainty_deg
        misplaced += step is not None and abs(step.after - after) > 1
    assert right >= 95
    assert misplaced <= 5


def test_a_slope_is_no_step_and_a_step_of_one_end_alone_is_none():
    sloping = 0
    for seed in range(50):
        starts, ends = levels(seed)
        slope = np.linspace(0, 10, len(starts))
        sloping += level_step(starts + slope, ends + slope) is not None
        deeper = ends.copy()
        deeper[15:] += 8
        found = level_step(starts, deeper)
        assert found is None or abs(found.size_deg) < 4
    assert sloping <= 1
    assert level_step(np.zeros(3), np.zeros(3)) is None


def test_the_slope_of_the_level_comes_with_its_spread():
    time_s = np.arange(30) * 6.0
    off = []
    for seed in range(200):
        starts, ends = levels(seed)
        slope, u_slope = level_trend(time_s, starts + 0.02 * time_s, ends + 0.02 * time_s)
        off.append((slope - 0.02) / u_slope)
    # Student's t with 28 degrees of freedom has a standard deviation of 1.04
    assert np.std(off) == pytest.approx(1.04, abs=0.15)
    assert level_trend(np.empty(0), np.empty(0), np.empty(0)) == (0.0, float("inf"))
