"""Several routines in one simulated recording: events that fit the truth, and sensors that move as sensors can."""

import numpy as np
import pytest

from imu_rom.errors import SettingError
from imu_rom.simulation import Routine, SensorErrors, simulate_session, simulate_wearings

SHORT = Routine(sets=1, repetitions=3, rest_s=10.0, walks_in_rests=False)
AFTER = Routine(task="heeldropbent", sets=2, repetitions=2, rest_s=10.0, walks_in_rests=False, end_range_deg=18.0)
OTHER_LEG = Routine(task="heeldropright", side="right", sets=1, repetitions=2, rest_s=10.0, walks_in_rests=False)


@pytest.fixture(scope="module")
def two_legs():
    return simulate_wearings(5, [[SHORT, AFTER], [OTHER_LEG]], errors=SensorErrors.none(), rate_hz=50)


def test_events_hold_the_sets_of_their_routine(two_legs):
    owners = {"heeldrop": [1], "heeldropbent": [2, 3], "heeldropright": [4]}
    assert [(each.trial_type, each.side) for each in two_legs.recording.events] == [
        ("heeldrop", "left"),
        ("heeldropbent", "left"),
        ("heeldropright", "right"),
    ]
    for event in two_legs.recording.events:
        within = [
            one.number
            for one in two_legs.truth.sets
            if event.onset_s < one.start_s and one.stop_s < event.onset_s + event.duration_s
        ]
        assert within == owners[event.trial_type]
    assert [len(each.repetitions) for each in two_legs.truth.sets] == [3, 2, 2, 2]
    assert (two_legs.recording.task, len(two_legs.then)) == ("session", 2)


def test_the_first_wearing_is_what_it_would_be_alone(two_legs):
    alone = simulate_session(5, SHORT, errors=SensorErrors.none(), rate_hz=50, then=[AFTER])
    count = alone.recording.sample_count
    shank = two_legs.recording.sensor("shank")
    assert np.array_equal(shank.gyroscope_rad_s[:count], alone.recording.sensor("shank").gyroscope_rad_s)
    assert two_legs.wearings[0].sets == alone.truth.sets
    assert two_legs.wearings[1].pose.start_s > alone.recording.duration_s


def test_sensors_are_turned_over_without_a_jump(two_legs):
    """Turning the direction of gravity by the gyroscope from sample to sample gives the accelerometer's reading."""
    seam = two_legs.wearings[0].worn.stop_s
    first, last = round((seam + 10) * 50), round((two_legs.wearings[1].worn.start_s - 25) * 50)
    for sensor in two_legs.recording.sensors.values():
        force, rate = sensor.accelerometer_m_s2, sensor.gyroscope_rad_s
        quiet = [k for k in range(first, last) if abs(np.linalg.norm(force[k]) - 9.81) < 1e-6]
        assert len(quiet) > 100
        turned = 0.0
        for k in quiet:
            if k - 1 in quiet:
                expected = force[k - 1] - np.cross(rate[k], force[k - 1]) / 50
                assert np.linalg.norm(force[k] - expected) < 0.05
                turned += np.linalg.norm(rate[k]) / 50
        assert turned > 0.1


def test_what_does_not_fit_together_is_refused():
    with pytest.raises(SettingError, match="must be of the same"):
        simulate_session(1, SHORT, then=[OTHER_LEG])
    with pytest.raises(SettingError, match="two tracked points"):
        simulate_wearings(1, [[SHORT], [Routine(side="right", distal="other")]])
