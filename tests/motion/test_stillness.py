"""Still stretches and sway, on made-up rates."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, sosfilt
from scipy.spatial.transform import Rotation

from imu_rom.motion.coarse import CoarseMotion
from imu_rom.motion.stillness import find_still_stretches, sway_ratio, tilt_from_vertical_deg

RATE_HZ = 25.0
WHITE_RAD_S = np.radians(0.05)


def band(draw, count, low_hz, high_hz):
    """Noise of unit RMS within a band, three columns."""
    values = sosfilt(butter(2, (low_hz, high_hz), "bandpass", fs=RATE_HZ, output="sos"), draw.normal(size=(3, count)))
    return (values / values.std(axis=1, keepdims=True)).T


def attitudes(draw, parts):
    """Attitude over parts: ("table" | "sway" | "turn", seconds)."""
    pieces, level = [], np.zeros(3)
    for kind, seconds in parts:
        count = round(seconds * RATE_HZ)
        piece = np.tile(level, (count, 1))
        if kind == "sway":
            piece = piece + np.radians(0.4) * band(draw, count, 0.1, 1.0)
        if kind == "turn":
            share = np.linspace(0, 1, count)[:, None]
            piece = piece + share**3 * (10 - 15 * share + 6 * share**2) * np.radians([0.0, 35.0, 0.0])
        pieces.append(piece)
        level = pieces[-1][-1]
    return Rotation.from_rotvec(np.concatenate(pieces))


def motion_of(parts, *, seed=1, wobble_deg=0.0, missing=None):
    """Both sensors doing the same parts, each with its own sway and white noise."""
    rates, ups = [], []
    draw = np.random.default_rng(seed)
    for _ in range(2):
        attitude = attitudes(draw, parts)
        if wobble_deg:
            attitude = attitude * Rotation.from_rotvec(np.radians(wobble_deg) * band(draw, len(attitude), 2.0, 6.0))
        turns = (attitude[:-1].inv() * attitude[1:]).as_rotvec() * RATE_HZ
        rate = np.vstack([turns, turns[-1:]])
        rates.append(rate + WHITE_RAD_S * draw.normal(size=rate.shape))
        ups.append(attitude.inv().apply([0.0, 0.0, 1.0]))
    count = len(rates[0])
    level, forces = np.tile([1.0, 0.0, 0.0, 0.0], (count, 1)), [9.81 * each for each in ups]
    gone = np.zeros(count, dtype=bool) if missing is None else missing
    return CoarseMotion(RATE_HZ, 2, *rates, *ups, level, level, *forces, np.zeros(count), gone)


def seconds_of(found):
    return [(each.start / RATE_HZ, each.stop / RATE_HZ) for each in found]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(1e-5, 0.5))
def test_white_noise_of_a_sensor_does_not_sway_whatever_its_size(seed, size_deg_s):
    rate = np.radians(size_deg_s) * np.random.default_rng(seed).normal(size=(400, 3))
    assert sway_ratio(rate, RATE_HZ) < 3.0


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.1, 1.0))
def test_a_person_sways_at_any_gain(seed, gain):
    """0.4 degrees at 0.1-1 Hz through white noise; both times a gain, and the ratio is the same."""
    draw = np.random.default_rng(seed)
    sway = np.gradient(np.radians(0.4) * band(draw, 300, 0.1, 1.0), axis=0) * RATE_HZ
    rate = sway + WHITE_RAD_S * draw.normal(size=sway.shape)
    assert sway_ratio(rate, RATE_HZ) > 6.0
    assert sway_ratio(gain * rate, RATE_HZ) == pytest.approx(sway_ratio(rate, RATE_HZ), rel=1e-3)


def test_sway_of_a_moment_can_not_be_told():
    assert sway_ratio(np.ones((10, 3)), RATE_HZ) == 0.0


def test_a_constant_bias_is_no_sway():
    rate = np.radians(0.4) + WHITE_RAD_S * np.random.default_rng(1).normal(size=(400, 3))
    assert sway_ratio(rate, RATE_HZ) < 3.0


@pytest.mark.parametrize("tilt_deg", [0.0, 30.0, 90.0, 135.0, 180.0])
def test_inclination_is_the_angle_of_the_sensors_z_axis(tilt_deg):
    up = Rotation.from_euler("ZX", [40, tilt_deg], degrees=True).inv().apply(np.tile([0.0, 0.0, 1.0], (20, 1)))
    assert tilt_from_vertical_deg(up) == pytest.approx(tilt_deg, abs=1e-4)


def test_table_turn_stand_turn_are_told_apart():
    found = find_still_stretches(motion_of([("table", 20), ("turn", 2), ("sway", 12), ("turn", 2), ("sway", 8)]), 2.0)
    assert [each.sways for each in found] == [False, True, True]
    expected = [(0, 20), (22, 34), (36, 44)]
    assert seconds_of(found) == [tuple(pytest.approx(each, abs=1.2) for each in one) for one in expected]


@pytest.mark.parametrize("wobble_deg", [0.02, 0.1, 0.3])
def test_wobbling_flesh_is_still_and_no_table(wobble_deg):
    (found,) = find_still_stretches(motion_of([("sway", 15)], wobble_deg=wobble_deg), 2.0)
    assert (found.stop - found.start) / RATE_HZ == pytest.approx(15.0, abs=1.0)
    assert found.sways


def test_slow_turning_is_not_still():
    """35 degrees in 6 s, as slow as an eccentric phase gets."""
    found = find_still_stretches(motion_of([("sway", 8), ("turn", 6), ("sway", 8)]), 2.0)
    assert len(found) == 2
    assert found[0].stop / RATE_HZ < 9.5
    assert found[1].start / RATE_HZ > 12.5


def test_short_stretches_are_left_out_and_missing_data_end_one():
    parts = [("sway", 12)]
    assert find_still_stretches(motion_of([("turn", 2), ("sway", 2.5), ("turn", 2)]), 4.0) == []
    gone = np.zeros(300, dtype=bool)
    gone[140:150] = True
    assert seconds_of(find_still_stretches(motion_of(parts, missing=gone), 2.0)) == [
        (0.0, pytest.approx(5.6)),
        (pytest.approx(6.0), 12.0),
    ]
