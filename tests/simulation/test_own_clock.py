"""Separately started sensors, knocks and toe taps of the simulation are what they are said to be."""

import numpy as np
import pytest

from imu_rom.errors import SettingError
from imu_rom.simulation import Faults, OwnClock, Routine, SensorErrors, simulate_session
from imu_rom.simulation.course import run_course
from imu_rom.simulation.jolts import add_taps
from imu_rom.simulation.performer import Course

SHORT = Routine(sets=1, repetitions=2, shared_jolts="knocks")


def simulated(clock, routine=SHORT, **options):
    return simulate_session(1, routine, errors=SensorErrors.none(), faults=Faults(clocks=(clock,)), **options)


def test_a_clock_without_offset_or_skew_measures_what_the_shared_one_does():
    session = simulated(OwnClock("foot", 0.0))
    shared, own = session.recording.sensor("foot"), session.logs["foot"].sensor
    count = len(own.missing)
    # the shared recording has a sample at time 0, before which there is no interval
    assert np.allclose(own.gyroscope_rad_s, shared.gyroscope_rad_s[1 : count + 1], atol=1e-9)
    assert np.allclose(own.accelerometer_m_s2, shared.accelerometer_m_s2[1 : count + 1], atol=1e-9)
    assert np.array_equal(
        session.logs["shank"].sensor.gyroscope_rad_s, session.recording.sensor("shank").gyroscope_rad_s
    )


def test_offset_and_skew_move_each_sample():
    clock = OwnClock("foot", 4.2, 500.0, 50.0)
    session = simulated(clock)
    log = session.logs["foot"]
    assert log.rate_hz == 50
    assert log.stamps_s[:2] == pytest.approx([0.02, 0.04])
    at_s = clock.session_time_s(log.stamps_s)
    assert at_s[-1] == pytest.approx(4.2 + log.stamps_s[-1] * 1.0005)
    # the integral of the rate over a stretch is the same by either clock
    shared = session.recording.sensor("foot").gyroscope_rad_s
    total = np.concatenate([[np.zeros(3)], np.cumsum(shared[1:], axis=0)]) / 100
    time_s = np.arange(len(total)) / 100
    expected = [np.interp(at_s, time_s, column) for column in total.T]
    turned = np.cumsum(log.sensor.gyroscope_rad_s, axis=0) / 50 * 1.0005
    off = turned - np.transpose(expected)
    assert np.abs(off - off[0]).max() < 0.02


def test_a_hand_turns_and_knocks_both_sensors_alike():
    session = simulated(OwnClock("foot", 0.0))
    shank, foot = (session.recording.sensor(point) for point in ("shank", "foot"))
    speeds = [np.linalg.norm(each.gyroscope_rad_s, axis=1) for each in (shank, foot)]
    knocks = [np.linalg.norm(each.accelerometer_m_s2, axis=1) for each in (shank, foot)]
    held = np.flatnonzero((np.abs(speeds[0] - speeds[1]) < 1e-6) & (speeds[0] > 0.2))
    assert len(held) > 600
    loud = held[knocks[0][held] > 25]
    assert loud[0] < 4000 < len(speeds[0]) - 4000 < loud[-1]
    assert np.allclose(knocks[0][loud], knocks[1][loud], rtol=0.02)


def test_toe_taps_reach_the_proximal_sensor_later_and_softer():
    course = Course(1000.0, taps=[(1.0, 20.0), (2.0, 20.0)])
    forces = {which: np.zeros((3000, 3)) for which in ("proximal", "distal")}
    add_taps(course, forces)
    for start in (1000, 2000):
        foot, shank = (forces[which][start - 100 : start + 300, 2] for which in ("distal", "proximal"))
        assert np.flatnonzero(foot)[0] == pytest.approx(101, abs=1)
        assert 102 <= np.flatnonzero(shank)[0] <= 107
        assert np.abs(shank).max() == pytest.approx(0.5 * np.abs(foot).max(), rel=0.02)


def test_toe_taps_come_after_taping_and_before_taking_off():
    course = run_course(Routine(sets=1, repetitions=2, shared_jolts="toe taps"), 0.0, 200.0, np.random.default_rng(1))
    assert len(course.taps) == 6
    on_s = max(each[0].stop_s for each in course.handling.values())
    off_s = min(each[1].start_s for each in course.handling.values())
    assert on_s < course.taps[0][0] < course.marks[0][1] < course.marks[-1][4] < course.taps[-1][0] < off_s


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"offset_s": -1.0}, "fault clock: must be an offset of 0 s or more"),
        ({"offset_s": 0.0, "skew_ppm": 1e6}, "and a skew of at most 20000 ppm"),
        ({"offset_s": 0.0, "rate_hz": 5.0}, "fault clock rate: must lie in 20 to 1000 Hz, got 5.0."),
    ],
)
def test_impossible_clocks_are_refused(options, sentence):
    with pytest.raises(SettingError) as refused:
        OwnClock("foot", **options)
    assert sentence in str(refused.value)


def test_a_sensor_that_is_switched_on_too_late_is_refused():
    with pytest.raises(SettingError, match="when the session is over"):
        simulated(OwnClock("foot", 1e4))
