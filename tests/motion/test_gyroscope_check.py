"""The scale of a gyroscope from its turns: known slopes, and an uncertainty that knows which settings turns share."""

import math

import numpy as np
import pytest

from imu_rom.motion.gyroscope_check import TurnCheck, gyroscope_scale_error


def turns(*pairs, u_deg=0.0):
    return [TurnCheck(reference, reference + error, error, u_deg) for reference, error in pairs]


def test_the_slope_is_that_of_all_turns():
    assert gyroscope_scale_error(turns((45, 0.9), (45, 0.9)), 0.0)[0] == pytest.approx(0.02)
    assert gyroscope_scale_error(turns((90, 1.8), (-90, -1.8)), 0.0)[0] == pytest.approx(0.02)
    # least squares: sum of turn times error over sum of squares
    assert gyroscope_scale_error(turns((30, 0.3), (60, 1.2)), 0.0)[0] == pytest.approx((9 + 72) / (900 + 3600))


def test_small_and_missing_turns_say_nothing():
    assert gyroscope_scale_error(turns((10, 1.0)), 0.5) is None
    assert gyroscope_scale_error([TurnCheck(90, None, None, 0.7)], 0.5) is None
    assert gyroscope_scale_error([], 0.5) is None
    assert gyroscope_scale_error(turns((5, 3.0), (90, 0.9)), 0.0)[0] == pytest.approx(0.01)


def test_turns_that_go_on_share_a_setting_that_cancels_and_turns_back_one_that_does_not():
    u = 0.5
    # 0 to 45 to 90: only the first and the last setting are left
    onward = gyroscope_scale_error(turns((45, 0), (45, 0), u_deg=u * math.sqrt(2)), u)[1]
    assert onward == pytest.approx(u * math.sqrt(2) / 90)
    # 0 to 90 to 0: the middle one counts twice
    back = gyroscope_scale_error(turns((90, 0), (-90, 0), u_deg=u * math.sqrt(2)), u)[1]
    assert back == pytest.approx(u * math.sqrt(6) / 180)


def test_that_uncertainty_is_the_spread_over_many_settings():
    rng = np.random.default_rng(5)
    angles, u = np.array([0.0, 30.0, 90.0, 20.0]), 0.5
    found = []
    for _ in range(3000):
        off = u * rng.standard_normal(4)
        steps = [(angles[i + 1] - angles[i], off[i + 1] - off[i]) for i in range(3)]
        scale, stated = gyroscope_scale_error(turns(*steps, u_deg=u * math.sqrt(2)), u)
        found.append(scale)
    assert np.std(found) == pytest.approx(stated, rel=0.05)
