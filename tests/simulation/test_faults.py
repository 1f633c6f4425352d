"""Faults of a recording are where they were asked for, and nowhere else."""

import numpy as np
import pytest

from imu_rom.errors import SettingError
from imu_rom.simulation import Faults, Routine, simulate_session

SHORT = Routine(sets=1, repetitions=2)
CLEAN = simulate_session(1, SHORT)


def test_no_faults_means_every_sample_once():
    assert not any(sensor.missing.any() for sensor in CLEAN.recording.sensors.values())
    assert CLEAN.recording.gaps == ()
    assert np.array_equal(CLEAN.rows, np.arange(CLEAN.recording.sample_count))
    assert np.allclose(CLEAN.stamps_s, CLEAN.recording.time_s)


def test_gap_is_flagged_on_its_sensor_alone():
    recording = simulate_session(1, SHORT, faults=Faults(gaps=(("foot", 30.0, 1.5),))).recording
    foot, shank = recording.sensor("foot"), recording.sensor("shank")
    assert np.flatnonzero(foot.missing).tolist() == list(range(3000, 3150))
    assert not shank.missing.any()
    (gap,) = recording.gaps
    assert (gap.tracked_point, gap.start_s, gap.stop_s) == ("foot", 29.99, 31.5)
    kept = ~foot.missing
    assert np.array_equal(foot.gyroscope_rad_s[kept], CLEAN.recording.sensor("foot").gyroscope_rad_s[kept])
    assert np.isfinite(foot.gyroscope_rad_s).all()


def test_dropped_samples_are_filled_and_counted():
    recording = simulate_session(1, SHORT, faults=Faults(dropped_share=0.05)).recording
    for point, sensor in recording.sensors.items():
        assert not sensor.missing.any()
        changed = np.any(sensor.gyroscope_rad_s != CLEAN.recording.sensor(point).gyroscope_rad_s, axis=1).sum()
        assert recording.filled_samples[point] == pytest.approx(changed, abs=3)
        assert recording.filled_samples[point] == pytest.approx(0.05 * recording.sample_count, rel=0.15)


def test_a_sensor_that_stops_is_missing_from_then_on():
    recording = simulate_session(1, SHORT, faults=Faults(sensor_stops_s=(("shank", 60.0),))).recording
    missing = recording.sensor("shank").missing
    assert missing[6000:].all()
    assert not missing[:6000].any()
    assert recording.gaps[0].start_s == 59.99


def test_readings_are_cut_off_at_full_scale_and_rounded_to_steps():
    faults = Faults(gyroscope_full_scale_deg_s=15, accelerometer_full_scale_m_s2=11, gyroscope_step_deg_s=0.5)
    sensor = simulate_session(1, SHORT, faults=faults).recording.sensor("foot")
    assert sensor.full_scale_rad_s == pytest.approx(np.deg2rad(15))
    assert sensor.full_scale_m_s2 == 11
    assert np.rad2deg(np.abs(sensor.gyroscope_rad_s)).max() == pytest.approx(15)
    assert np.abs(sensor.accelerometer_m_s2).max() == 11
    steps = np.rad2deg(sensor.gyroscope_rad_s) / 0.5
    assert np.allclose(steps, np.round(steps), atol=1e-9)


def test_doubled_rows_carry_the_same_stamp():
    session = simulate_session(1, SHORT, faults=Faults(doubled_share=0.02))
    again = np.flatnonzero(np.diff(session.rows) == 0)
    assert len(again) == pytest.approx(0.02 * session.recording.sample_count, rel=0.2)
    assert np.array_equal(session.stamps_s[again], session.stamps_s[again + 1])
    assert np.array_equal(np.unique(session.rows), np.arange(session.recording.sample_count))


def test_uneven_stamps_never_run_backwards():
    stamps = simulate_session(1, SHORT, faults=Faults(stamp_jitter_s=0.002)).stamps_s
    assert np.diff(stamps).min() >= 0
    assert np.std(stamps - CLEAN.recording.time_s) == pytest.approx(0.002, rel=0.1)


@pytest.mark.parametrize(
    ("faults", "sentence"),
    [
        ({"gaps": (("arm", 1.0, 1.0),)}, "fault: no sensor on 'arm'; there are shank, foot."),
        ({"dropped_share": 1.5}, "fault dropped_share: must lie in 0 to 1, got 1.5."),
        ({"stamp_jitter_s": -1}, "fault stamp_jitter_s: must be 0 or more, got -1."),
    ],
)
def test_impossible_faults_are_refused(faults, sentence):
    with pytest.raises(SettingError) as refused:
        simulate_session(1, SHORT, faults=Faults(**faults))
    assert str(refused.value) == sentence
