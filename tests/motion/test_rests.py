"""Still stretches of sensors on a table: found whatever the bias, not parted by a knock, no steady turn."""

import numpy as np
import pytest

from imu_rom.motion.rests import SHORTEST_REST_S, find_rests

RATE_HZ = 100.0


@pytest.fixture
def lying():
    """Function: ``seconds`` of a sensor that lies still with some bias, as (force, rate)."""

    def made(seconds, bias_deg_s=(0.0, 0.0, 0.0), up=(0.0, 0.0, 1.0), seed=0):
        rng = np.random.default_rng(seed)
        count = round(seconds * RATE_HZ)
        force = 9.81 * np.array(up) + 0.03 * rng.standard_normal((count, 3))
        return force, np.radians(np.array(bias_deg_s) + 0.1 * rng.standard_normal((count, 3)))

    return made


def found(*sensors, missing=None):
    missing = np.zeros(len(sensors[0][0]), dtype=bool) if missing is None else missing
    rests = find_rests([each[0] for each in sensors], [each[1] for each in sensors], missing, RATE_HZ)
    return [(start / RATE_HZ, stop / RATE_HZ) for start, stop in rests]


@pytest.mark.parametrize("bias_deg_s", [0.0, 3.0, 20.0])
def test_a_whole_recording_at_rest_is_one_stretch_whatever_the_bias(lying, bias_deg_s):
    assert found(lying(12, (bias_deg_s, 0, -bias_deg_s)), lying(12, seed=1)) == [(0.0, 12.0)]


def test_one_sensor_that_moves_is_enough_to_end_it(lying):
    still, moved = lying(20), lying(20, seed=1)
    turn = slice(900, 1100)
    moved[1][turn, 0] += np.radians(30)
    assert found(still, moved) == [(0.0, pytest.approx(7.5, abs=0.8)), (pytest.approx(12.5, abs=0.8), 20.0)]


def test_a_short_stop_is_left_out(lying):
    force, rate = lying(20)
    for start_s in (8.0, 8.0 + SHORTEST_REST_S):
        rate[round(start_s * RATE_HZ) : round((start_s + 1) * RATE_HZ), 1] += np.radians(40)
    assert [start for start, _ in found((force, rate))] == [0.0, pytest.approx(14, abs=1)]


def test_a_long_gap_parts_a_stretch_and_a_short_one_does_not(lying):
    missing = np.zeros(2000, dtype=bool)
    missing[1000:1010] = True
    assert found(lying(20), missing=missing) == [(0.0, 20.0)]
    missing[1000:1200] = True
    first, second = found(lying(20), missing=missing)
    assert first[1] <= 10.0
    assert second[0] >= 12.0


def test_a_knock_does_not_part_a_stretch_but_a_turn_about_the_vertical_does(lying):
    force, rate = lying(20)
    force[1000:1004] += np.array([[6.0, 0, 0], [-8, 2, 0], [3, -3, 1], [-1, 1, -1]])
    rate[1000:1004, 0] += np.radians([40, -40, 30, -30])
    assert found((force, rate)) == [(0.0, 20.0)]
    force, rate = lying(20)
    rate[950:1050, 2] += np.radians(60) * np.hanning(100)
    assert len(found((force, rate))) == 2


def test_turning_steadily_about_the_vertical_is_no_rest(lying):
    force, rate = lying(40)
    rate[1500:2500, 2] += np.radians(25)
    stretches = found((force, rate))
    assert [start for start, _ in stretches] == [0.0, pytest.approx(26, abs=1)]
