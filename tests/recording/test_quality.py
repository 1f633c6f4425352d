"""What nothing can be measured from is refused, and a right recording never is.

Limits are settings of common practice without a source; the deg/s and rad/s check rests on da/dt = -w x a for the
gravity that an accelerometer reads while it turns (kinematics of a rotating frame).
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from imu_rom.errors import RecordingError
from imu_rom.recording.model import Gap, Recording, Sensor
from imu_rom.recording.quality import check_recording, clipped_stretches, fraction_missing
from imu_rom.settings import ReadingSettings

READING = ReadingSettings()
DEG = 180 / np.pi


def recording_of(*sensors, rate_hz=100.0, **fields):
    return Recording(rate_hz, {each.tracked_point: each for each in sensors}, "session", **fields)


def refused(*sensors, rate_hz=100.0, **fields):
    with pytest.raises(RecordingError) as caught:
        check_recording(recording_of(*sensors, rate_hz=rate_hz, **fields), READING)
    return str(caught.value)


def checked(*sensors, **fields):
    return check_recording(recording_of(*sensors, **fields), READING)


def changed(sensor, acceleration=1.0, rate=1.0):
    return replace(
        sensor,
        accelerometer_m_s2=sensor.accelerometer_m_s2 * acceleration,
        gyroscope_rad_s=sensor.gyroscope_rad_s * rate,
    )


def test_a_right_recording_has_nothing_to_say(make_sensor):
    assert checked(make_sensor("shank"), make_sensor("foot")) == ()


# ---------------------------------------------------------------------------------------------------- rate and duration


@pytest.mark.parametrize(("rate_hz", "is_refused"), [(10, True), (19, True), (20, False), (25, False)])
def test_under_20_hz_is_refused(make_sensor, rate_hz, is_refused):
    sensor = make_sensor("foot", 30, rate_hz)
    if is_refused:
        assert f"{rate_hz} samples a second, 20 are needed" in refused(sensor, rate_hz=rate_hz)
    else:
        assert checked(sensor, rate_hz=float(rate_hz)) == ()


@pytest.mark.parametrize("seconds", [3, 4.5])
def test_a_short_recording_is_refused(make_sensor, seconds):
    assert f"lasts {seconds} s, 5 s are needed" in refused(make_sensor("foot", seconds))


# ------------------------------------------------------------------------------------------------------------- missing


def test_missing_samples_are_counted_filled_or_not(make_sensor):
    missing = np.zeros(2000, dtype=bool)
    missing[:300] = True
    recording = recording_of(make_sensor("foot", missing=missing), make_sensor("shank"), filled_samples={"foot": 100})
    assert fraction_missing(recording) == {"foot": 0.2, "shank": 0.0}


def test_more_than_a_fifth_missing_is_refused(make_sensor):
    missing = np.zeros(2000, dtype=bool)
    missing[:401] = True
    sentence = refused(make_sensor("shank"), make_sensor("foot", missing=missing))
    assert "sensor on foot: 20% of the samples are missing; at most 20% can be" in sentence
    missing[400] = False
    checked(make_sensor("shank"), make_sensor("foot", missing=missing))


def test_a_very_long_gap_is_refused(make_sensor):
    sensor = make_sensor("foot", 400)
    sentence = refused(sensor, gaps=(Gap(100.0, 161.0, "foot"),))
    assert "nothing for 61 s, from 100.0 s to 161.0 s; at most 60 s" in sentence
    checked(sensor, gaps=(Gap(100.0, 159.0, "foot"),))


def test_a_sensor_that_is_not_used_is_not_checked(make_sensor):
    dead = make_sensor("hip", accelerometer_m_s2=np.zeros((2000, 3)))
    recording = recording_of(make_sensor("shank"), make_sensor("foot"), dead)
    assert check_recording(recording, READING, ("shank", "foot")) == ()
    with pytest.raises(RecordingError, match="hip"):
        check_recording(recording, READING)


# ------------------------------------------------------------------------------------------------------ dead and frozen


@pytest.mark.parametrize("name", ["accelerometer_m_s2", "gyroscope_rad_s"])
@pytest.mark.parametrize(("value", "words"), [(0.0, "is zero throughout"), (0.3, "gives the same value throughout")])
def test_a_zero_or_constant_sensor_is_refused(make_sensor, name, value, words):
    sentence = refused(make_sensor("shank"), make_sensor("foot", **{name: np.full((2000, 3), value)}))
    assert f"sensor on foot: the {name.split('_')[0]} {words}" in sentence


def test_a_single_dead_axis_is_a_problem(make_sensor):
    rate = make_sensor("foot").gyroscope_rad_s.copy()
    rate[:, 2] = 0.0
    (finding,) = checked(make_sensor("foot", gyroscope_rad_s=rate))
    assert (finding.code, finding.level, finding.sensor) == ("axis-constant", "problem", "foot")
    assert "same z throughout" in finding.sentence


def test_a_sensor_that_repeats_itself_is_said(make_sensor):
    sensor = make_sensor("foot")
    acceleration, rate = sensor.accelerometer_m_s2.copy(), sensor.gyroscope_rad_s.copy()
    acceleration[800:1000], rate[800:1000] = acceleration[800], rate[800]
    (finding,) = checked(make_sensor("foot", accelerometer_m_s2=acceleration, gyroscope_rad_s=rate))
    assert (finding.code, finding.start_s, finding.stop_s) == ("frozen", 8.0, 9.99)


# -------------------------------------------------------------------------------------------------------------- units


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (1 / 9.80665, "values are probably in g;"),
        (9.80665, "values are probably in m/s^2 and were taken for g"),
        (1e3 / 9.80665, "values are probably in mg"),
        (1e3, "values are probably in thousandths of the unit that is given"),
        (0.5, "its scale is wrong or its unit is wrong"),
        (3.28, "its scale is wrong or its unit is wrong"),
    ],
)
def test_an_accelerometer_without_gravity_is_refused(make_sensor, factor, words):
    sentence = refused(changed(make_sensor("foot"), acceleration=factor))
    assert "at rest" in sentence
    assert words in sentence


def test_an_accelerometer_from_which_gravity_was_removed_is_refused(make_sensor):
    noise = np.random.default_rng(1).normal(0, 0.3, (2000, 3))
    assert "gravity was removed from it" in refused(make_sensor("foot", accelerometer_m_s2=noise))


@pytest.mark.parametrize("scale", [0.93, 1.07])
def test_a_scale_error_within_the_tolerance_is_no_fault(make_sensor, scale):
    assert checked(changed(make_sensor("foot"), acceleration=scale)) == ()


@pytest.mark.parametrize("rate_hz", [25, 100, 286])
@pytest.mark.parametrize("seed", range(5))
def test_a_gyroscope_in_the_other_unit_is_refused(make_sensor, rate_hz, seed):
    sensor = make_sensor("foot", 60, rate_hz, seed)
    assert checked(sensor, rate_hz=rate_hz) == ()
    sentence = refused(changed(sensor, rate=DEG), rate_hz=rate_hz)
    assert "probably in deg/s and were taken for rad/s" in sentence
    sentence = refused(changed(sensor, rate=1 / DEG), rate_hz=rate_hz)
    assert "probably in rad/s and were taken for deg/s" in sentence


def test_shaking_does_not_hide_a_wrong_unit(make_sensor):
    sensor = make_sensor("foot", 60)
    shaking = np.random.default_rng(3).normal(0, 20, (6000, 3))
    shaking[2000:] = 0.0
    shaken = replace(sensor, accelerometer_m_s2=sensor.accelerometer_m_s2 + shaking)
    assert checked(shaken) == ()
    assert "probably in deg/s" in refused(changed(shaken, rate=DEG))


def test_impossible_rates_are_refused_even_where_gravity_shows_nothing():
    # a fast turn about the vertical: gravity stands still in the sensor
    rng = np.random.default_rng(4)
    rate = rng.normal(0, 0.01, (2000, 3))
    rate[:, 2] += 120 * np.sin(2 * np.pi * np.arange(2000) / 250)
    acceleration = rng.normal([0, 0, 9.81], 0.05, (2000, 3))
    sensor = Sensor("foot", acceleration, rate, None, np.zeros(2000, dtype=bool))
    assert "more than 70 rad/s again and again" in refused(sensor)
    assert checked(changed(sensor, rate=1 / DEG)) == ()


@hypothesis_settings(deadline=None, max_examples=60)
@given(
    seed=st.integers(0, 10_000),
    shake_m_s2=st.sampled_from([0.0, 0.3, 3.0, 30.0]),
    speed_rad_s=st.sampled_from([0.0, 0.02, 0.3, 3.0, 15.0]),
    bias_rad_s=st.sampled_from([0.0, 0.01, 0.05]),
)
def test_a_right_sensor_is_never_refused(seed, shake_m_s2, speed_rad_s, bias_rad_s):
    """Any turning from none to as fast as a leg swings, with shaking up to three times gravity after a rest."""
    rng = np.random.default_rng(seed)
    count, rate_hz = 3000, 100.0
    # angles that wander smoothly after ten seconds of rest, at the given largest speed
    speed = np.cumsum(rng.normal(size=(count, 3)), axis=0)
    speed[:1000] = 0.0
    angles = np.cumsum(speed_rad_s * speed / np.abs(speed).max() / rate_hz, axis=0)
    attitude = Rotation.from_euler("xyz", angles)
    rate = (attitude[:-1].inv() * attitude[1:]).as_rotvec()[np.r_[: count - 1, count - 2]] * rate_hz
    shaking = rng.normal(0, shake_m_s2, (count, 3))
    shaking[:1000] = 0.0
    sensor = Sensor(
        "foot",
        attitude.inv().apply([0, 0, 9.81]) + shaking + rng.normal(0, 0.05, (count, 3)),
        rate + bias_rad_s + rng.normal(0, 0.003, (count, 3)),
        None,
        np.zeros(count, dtype=bool),
    )
    assert [each.code for each in checked(sensor)] == []


# ------------------------------------------------------------------------------------------------------------- clipping


@pytest.mark.parametrize("share", [0.5, 0.7, 0.9])
@pytest.mark.parametrize("resolution", [0, 0.001])
def test_clipping_is_found_where_it_is(make_sensor, share, resolution):
    sensor = make_sensor("foot", 40)
    axis = int(np.argmax(np.abs(sensor.gyroscope_rad_s).max(axis=0)))
    rate = sensor.gyroscope_rad_s.copy()
    if resolution:
        rate = np.round(rate / resolution) * resolution
    limit = share * np.abs(rate[:, axis]).max()
    limit = limit if not resolution else round(limit / resolution) * resolution
    beyond = np.abs(rate[:, axis]) >= limit
    rate[:, axis] = np.clip(rate[:, axis], -limit, limit)
    clipped = replace(sensor, gyroscope_rad_s=rate)
    found = np.zeros(len(rate), dtype=bool)
    for start_s, stop_s in clipped_stretches(clipped, 100.0):
        found[round(start_s * 100) : round(stop_s * 100)] = True
    # single samples beyond the limit, among noise, are no stretch
    assert found[beyond].mean() > 0.9
    assert not found[~beyond].any()
    findings = checked(clipped)
    assert {(each.code, each.level, each.sensor) for each in findings} == {("clipping", "caution", "foot")}
    assert sum(each.stop_s - each.start_s for each in findings) == pytest.approx(found.sum() / 100)


def test_a_declared_full_scale_needs_no_jump(make_sensor):
    acceleration = make_sensor("foot").accelerometer_m_s2.copy()
    acceleration[500:520, 0] = 19.6
    pinned = make_sensor("foot", accelerometer_m_s2=acceleration, full_scale_m_s2=19.6133)
    assert clipped_stretches(pinned, 100.0) == [(5.0, 5.2)]


@pytest.mark.parametrize("step", [0.0001, 0.01, 0.1, 0.5])
def test_a_coarse_sensor_is_not_clipped(make_sensor, step):
    sensor = make_sensor("foot", 60)
    coarse = replace(
        sensor,
        accelerometer_m_s2=np.round(sensor.accelerometer_m_s2 / step) * step,
        gyroscope_rad_s=np.round(sensor.gyroscope_rad_s / (step / 10)) * (step / 10),
    )
    assert clipped_stretches(coarse, 100.0) == []


def test_a_sensor_that_holds_its_samples_is_not_clipped(make_sensor):
    # a logger at 100 Hz that repeats each sample of a 25 Hz sensor; every value is told apart, so every peak is held
    slow = make_sensor("foot", 60, 25)
    noise = np.random.default_rng(8).normal(0, 0.5, (1500, 3))
    arrays = {
        "accelerometer_m_s2": slow.accelerometer_m_s2 + 10 * noise,
        "gyroscope_rad_s": slow.gyroscope_rad_s + noise,
    }
    held = {name: np.repeat(values, 4, axis=0) for name, values in arrays.items()}
    sensor = replace(slow, missing=np.zeros(6000, dtype=bool), **held)
    assert clipped_stretches(sensor, 100.0) == []


def test_a_coarse_sensor_moved_between_its_samples_is_not_clipped(make_sensor):
    # steps larger than the noise, and a clock that drifts through the samples: interpolation leaves equal neighbours
    # equal and hides the steps elsewhere
    count = 60_000
    coarse = np.round(np.random.default_rng(9).normal(0.07, 0.05, (count, 6)) / 0.2) * 0.2 + [12, 0, 0, 0, 0, 0]
    at = np.arange(count - 40) * (1 + 6e-4)
    moved = np.column_stack([np.interp(at, np.arange(count), column) for column in coarse.T])
    fields = {"accelerometer_m_s2": moved[:, :3], "gyroscope_rad_s": moved[:, 3:]}
    assert (
        clipped_stretches(Sensor("foot", **fields, magnetometer_t=None, missing=np.zeros(len(at), bool)), 100.0) == []
    )
