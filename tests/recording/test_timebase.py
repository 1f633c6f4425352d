"""Time stamps as loggers write them become one even time base, and samples stay what was measured.

Repeated rows followed by a missed sample, stamps rounded to milliseconds and rows stamped in packets are habits of real
loggers (seen in recordings of low-cost sensors).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from imu_rom.errors import RecordingError
from imu_rom.recording.clock import MeasuredTable
from imu_rom.recording.model import ReferenceChannel, Sensor
from imu_rom.recording.timebase import even_time_base
from imu_rom.settings import ReadingSettings

READING = ReadingSettings()
# what a quarter of a sample at 100 Hz changes the signal below by, at most
QUARTER_SAMPLE = 0.0025 * np.pi * 1.001


def truth(time_s):
    """Samples of a known smooth signal: six channels, slow enough that linear interpolation is good to 2e-3."""
    phase = np.arange(6) * 0.7
    return np.sin(2 * np.pi * 0.5 * np.asarray(time_s)[:, None] + phase)


def sensor(values, point="foot", **fields):
    return Sensor(point, values[:, :3], values[:, 3:6], None, np.zeros(len(values), dtype=bool), **fields)


def table(stamps_s, values=None, point="foot", file="foot.csv", references=()):
    values = truth(stamps_s) if values is None else values
    stamps_s = None if stamps_s is None else np.asarray(stamps_s, dtype=float)
    return MeasuredTable(file, 2, stamps_s, (sensor(values, point),), references)


def values_of(even):
    return np.hstack([even.accelerometer_m_s2, even.gyroscope_rad_s])


def codes(even):
    return [finding.code for finding in even.findings]


def grid(count, rate_hz=100.0):
    return np.arange(count) / rate_hz


# ------------------------------------------------------------------------------------------- nothing is done needlessly


@pytest.mark.parametrize("rate_hz", [50, 100, 204.8, 285.7143])
@pytest.mark.parametrize("decimals", [3, 6])
@pytest.mark.parametrize("declared", [True, False])
def test_even_stamps_leave_every_sample_as_it_was(rate_hz, decimals, declared):
    time_s = grid(3000, rate_hz)
    values = truth(time_s)
    even = even_time_base([table(np.round(time_s, decimals) + 7.0, values)], rate_hz if declared else None, READING)
    assert even.rate_hz == pytest.approx(rate_hz, rel=2e-6)
    assert np.array_equal(values_of(even.sensors[0]), values)
    assert even.findings == ()
    assert even.filled_samples == {"foot": 0}


def test_stamps_coarser_than_the_samples_are_no_reason_to_interpolate():
    # 204.8 Hz stamped to hundredths of a second: two rows a stamp, at times three
    time_s = grid(3000, 204.8)
    values = truth(time_s)
    even = even_time_base([table(np.floor(time_s * 100) / 100, values)], 204.8, READING)
    assert np.array_equal(values_of(even.sensors[0]), values)
    assert even.rate_hz == 204.8


def test_without_stamps_the_rows_are_the_time_base():
    values = truth(grid(1000))
    even = even_time_base([table(None, values)], 100.0, READING)
    assert np.array_equal(values_of(even.sensors[0]), values)
    assert (even.rate_hz, even.start_stamp_s) == (100.0, None)


def test_a_clock_that_runs_slow_gives_its_own_rate_and_says_so():
    values = truth(grid(60_000))
    even = even_time_base([table(grid(60_000, 99.7), values)], 100.0, READING)
    assert even.rate_hz == pytest.approx(99.7, rel=1e-6)
    assert np.array_equal(values_of(even.sensors[0]), values)
    assert codes(even) == ["rate-differs"]


# ------------------------------------------------------------------------------------------------- missed and doubled


@hypothesis_settings(deadline=None, max_examples=60)
@given(st.sets(st.integers(1, 998), max_size=40), st.sampled_from([0.0, 0.0004]), st.booleans())
def test_dropped_samples_of_a_known_signal_come_back_close_and_are_counted(dropped, jitter_s, declared):
    time_s = grid(1000)
    kept = np.array([index for index in range(1000) if index not in dropped])
    stamps_s = np.round(time_s + jitter_s * np.sin(np.arange(1000) ** 2), 4)
    even = even_time_base([table(stamps_s[kept], truth(time_s[kept]))], 100.0 if declared else None, READING)
    assert even.rate_hz == pytest.approx(100.0, rel=1e-4)
    read = values_of(even.sensors[0])
    assert len(read) == 1000
    assert np.array_equal(read[kept], truth(time_s[kept]))
    longest = max((len(run) for run in "".join(".x"[index in dropped] for index in range(1000)).split(".")), default=0)
    if longest <= 20:  # 0.2 s
        assert even.filled_samples["foot"] == len(dropped)
        assert not even.sensors[0].missing.any()
        # linear interpolation of a sine: (step / 2)^2 / 2 times the second derivative
        assert np.abs(read - truth(time_s)).max() <= ((longest + 1) / 200) ** 2 / 2 * np.pi**2 + 1e-12


@pytest.mark.parametrize(("lost", "is_gap"), [(1, False), (20, False), (21, True), (300, True)])
def test_gaps_up_to_the_limit_are_filled_and_longer_ones_listed(lost, is_gap):
    time_s = grid(2000)
    kept = np.r_[:1000, 1000 + lost : 2000]
    even = even_time_base([table(time_s[kept])], 100.0, READING)
    missing = even.sensors[0].missing
    assert len(missing) == 2000
    if is_gap:
        assert np.flatnonzero(missing).tolist() == list(range(1000, 1000 + lost))
        (gap,) = even.gaps
        assert (gap.start_s, gap.stop_s, gap.tracked_point) == (9.99, 10 + lost / 100, "foot")
        assert even.filled_samples["foot"] == 0
        assert [(each.code, each.level, each.start_s) for each in even.findings] == [("gap", "problem", 9.99)]
    else:
        assert not missing.any()
        assert even.gaps == ()
        assert even.filled_samples["foot"] == lost
        assert codes(even) == ["samples-filled"]


def test_missing_values_are_gaps_of_their_sensor_alone():
    time_s = grid(1000)
    holed = truth(time_s)
    holed[300:400, 4] = np.nan
    holed[600:603] = np.nan
    both = MeasuredTable("both.tsv", 1, None, (sensor(truth(time_s), "shank"), sensor(holed, "foot")))
    even = even_time_base([both], 100.0, READING)
    shank, foot = even.sensors
    assert np.array_equal(values_of(shank), truth(time_s))
    assert np.flatnonzero(foot.missing).tolist() == list(range(300, 400))
    assert even.filled_samples == {"shank": 0, "foot": 3}
    assert [gap.tracked_point for gap in even.gaps] == ["foot"]
    measured = np.isfinite(holed).all(axis=1)
    assert np.array_equal(values_of(foot)[measured], holed[measured])
    assert np.isfinite(values_of(foot)).all()


@pytest.mark.parametrize("ends", [slice(0, 150), slice(850, 1000)])
def test_a_sensor_that_starts_late_or_stops_early_in_one_file_keeps_the_files_time(ends):
    holed = truth(grid(1000))
    holed[ends] = np.nan
    even = even_time_base([table(None, holed)], 100.0, READING)
    (foot,) = even.sensors
    assert len(foot.missing) == 1000
    assert np.flatnonzero(foot.missing).tolist() == list(range(*ends.indices(1000)))
    # nothing says that the sensor kept turning before its first or after its last sample
    assert not foot.gyroscope_rad_s[ends].any()
    assert np.isfinite(values_of(foot)).all()
    (gap,) = even.gaps
    assert (gap.start_s, gap.stop_s) == ((0.0, 1.5) if ends.start == 0 else (8.49, 9.99))


def test_a_row_sent_twice_is_kept_once_and_the_sample_it_displaced_is_filled():
    # the same stamp and content again, then a sample missed: row 500 in the place of row 501
    time_s = grid(1000)
    rows = np.arange(1000)
    rows[501] = 500
    even = even_time_base([table(time_s[rows], truth(time_s)[rows])], 100.0, READING)
    read = values_of(even.sensors[0])
    kept = np.delete(np.arange(1000), 501)
    assert np.array_equal(read[kept], truth(time_s)[kept])
    assert np.abs(read[501] - truth(time_s)[501]).max() < 1e-3
    assert codes(even) == ["rows-repeated", "samples-filled"]
    assert "1 row was" in even.findings[0].sentence


@pytest.mark.parametrize("late", [True, False])
def test_rows_stamped_together_are_spread_over_the_room_beside_them(late):
    # sample 501 came with the stamp of 500 (and nothing at 501), or sample 500 with that of 501
    time_s = grid(1000)
    stamps_s = time_s.copy()
    stamps_s[501 if late else 500] = time_s[500 if late else 501]
    even = even_time_base([table(stamps_s, truth(time_s))], 100.0, READING)
    assert np.array_equal(values_of(even.sensors[0]), truth(time_s))
    assert codes(even) == ["stamps-doubled"]


def test_packets_of_rows_with_one_stamp_are_spread_evenly():
    time_s = grid(1000)
    stamps_s = np.repeat(time_s[::5], 5)
    even = even_time_base([table(stamps_s, truth(time_s))], 100.0, READING)
    assert np.array_equal(values_of(even.sensors[0]), truth(time_s))


def test_rows_that_changed_places_are_put_in_order():
    time_s = grid(1000)
    order = np.arange(1000)
    order[400:404] = [402, 400, 403, 401]
    even = even_time_base([table(time_s[order], truth(time_s)[order])], 100.0, READING)
    assert np.array_equal(values_of(even.sensors[0]), truth(time_s))
    assert codes(even) == ["rows-out-of-order"]


def test_stamps_that_start_anew_are_refused_with_the_line():
    stamps_s = np.r_[grid(500), grid(500)]
    with pytest.raises(RecordingError) as caught:
        even_time_base([table(stamps_s, truth(grid(1000)))], 100.0, READING)
    # the file's first row stands in line 2
    assert str(caught.value).startswith("foot.csv:502: the time stamp goes back by 4.99 s, to 0 s")


def test_rows_without_a_stamp_are_left_out_and_counted():
    stamps_s = grid(1000)
    stamps_s[[200, 700]] = np.nan
    even = even_time_base([table(stamps_s, truth(grid(1000)))], 100.0, READING)
    assert len(even.sensors[0].missing) == 1000
    assert codes(even) == ["rows-without-stamp", "samples-filled"]
    assert even.filled_samples["foot"] == 2


def test_uneven_stamps_are_interpolated_and_it_is_said():
    rng = np.random.default_rng(2)
    stamps_s = np.sort(rng.uniform(0, 20, 2000))
    even = even_time_base([table(stamps_s)], None, ReadingSettings(longest_filled_gap_s=0.5))
    read = values_of(even.sensors[0])
    at = stamps_s[0] + np.arange(len(read)) / even.rate_hz
    assert "stamps-uneven" in codes(even)
    assert np.abs(read - truth(at)).max() < 0.02
    assert even.start_stamp_s == stamps_s[0]


# ------------------------------------------------------------------------------------------------------------ two files


def test_two_files_are_cut_to_the_time_they_share():
    shank_s, foot_s = grid(2000) + 100.0, grid(2000) + 103.21
    even = even_time_base([table(shank_s, point="shank", file="shank.csv"), table(foot_s)], None, READING)
    shank, foot = even.sensors
    assert len(shank.missing) == len(foot.missing) == 2000 - 321
    assert even.start_stamp_s == pytest.approx(103.21)
    shared_s = 103.21 + np.arange(2000 - 321) / 100
    assert np.allclose(values_of(shank), truth(shared_s), atol=1e-9)
    assert np.allclose(values_of(foot), truth(shared_s), atol=1e-9)
    assert not shank.missing.any()
    assert not foot.missing.any()
    assert codes(even) == ["sensors-not-together"] * 2


@hypothesis_settings(deadline=None, max_examples=30)
@given(st.floats(-3, 3), st.sampled_from([99.5, 100.0, 100.4]))
def test_two_clocks_become_one(shift_s, rate_hz):
    even = even_time_base(
        [table(grid(1500), point="shank", file="shank.csv"), table(grid(1500, rate_hz) + shift_s)], None, READING
    )
    at = even.start_stamp_s + np.arange(len(even.sensors[0].missing)) / even.rate_hz
    for each in even.sensors:
        # a tenth of a sample of this signal is 0.003
        assert np.abs(values_of(each) - truth(at))[1:-1].max() < 5e-3
    assert even.start_stamp_s == pytest.approx(max(0.0, shift_s), abs=1e-9)


def test_two_sensors_without_common_time_are_refused():
    with pytest.raises(RecordingError) as caught:
        even_time_base([table(grid(1000), point="shank", file="shank.csv"), table(grid(1000) + 60)], None, READING)
    assert "no time in common: foot.csv starts 50.01 s after shank.csv stops" in str(caught.value)


def test_stamps_in_one_file_only_are_refused():
    with pytest.raises(RecordingError, match="other has none"):
        even_time_base([table(None, truth(grid(900)), "shank", "shank.csv"), table(grid(900))], 100.0, READING)


def test_sensors_of_different_rates_take_the_slower():
    even = even_time_base(
        [table(grid(4000, 200), point="shank", file="shank.csv"), table(grid(1000, 50))], None, READING
    )
    assert even.rate_hz == 50
    assert "rates-differ" in codes(even)
    for each in even.sensors:
        assert np.abs(values_of(each) - truth(np.arange(len(each.missing)) / 50)).max() < 1e-9


# ------------------------------------------------------------------------------------------------- rates and references


def test_a_declared_rate_that_the_stamps_contradict_is_refused():
    with pytest.raises(RecordingError, match="advance at 50 Hz, but the declared rate is 100 Hz"):
        even_time_base([table(grid(1000, 50))], 100.0, READING)


def test_neither_stamps_nor_rate_is_refused():
    with pytest.raises(RecordingError, match="no time stamps"):
        even_time_base([table(None, truth(grid(100)))], None, READING)


@pytest.mark.parametrize("stamps_s", [np.zeros(100), np.full(100, np.nan), np.array([0.0])])
def test_stamps_that_stand_still_are_refused(stamps_s):
    with pytest.raises(RecordingError, match="do not advance"):
        even_time_base([table(stamps_s, truth(grid(len(stamps_s))))], 100.0, READING)


def test_a_sensor_of_nothing_but_missing_values_is_refused():
    with pytest.raises(RecordingError, match="no sample without a missing value"):
        even_time_base([table(None, np.full((1000, 6), np.nan))], 100.0, READING)


def test_references_follow_their_rows_and_stay_missing_where_they_are():
    time_s = grid(1000)
    kept = np.delete(np.arange(1000), [400])
    angle = np.sin(time_s)
    angle[700] = np.nan
    reference = ReferenceChannel("ankle", "ankle", angle[kept])
    even = even_time_base([table(time_s[kept], references=(reference,))], 100.0, READING)
    values = even.references[0].values_deg
    assert np.isnan(values[[400, 700]]).all()
    others = np.delete(np.arange(1000), [400, 700])
    assert np.array_equal(values[others], angle[others])


def test_a_magnetometer_has_no_say_in_what_is_missing():
    values = truth(grid(500))
    field = np.tile([2e-5, 0, -4e-5], (500, 1))
    field[100:200] = np.nan
    measured = MeasuredTable(
        "foot.csv", 1, None, (Sensor("foot", values[:, :3], values[:, 3:], field, np.zeros(500, bool)),)
    )
    (foot,) = even_time_base([measured], 100.0, READING).sensors
    assert not foot.missing.any()
    assert np.allclose(foot.magnetometer_t, [2e-5, 0, -4e-5])


@pytest.mark.parametrize("shift_s", [0.0, 0.004, 0.006])
@pytest.mark.parametrize("declared", [True, False])
def test_a_gap_between_two_grids_is_found_and_the_samples_around_it_stay_true(declared, shift_s):
    # a sensor that comes back samples between the places of its old grid: within a quarter of a sample all rows have a
    # place on one grid, and beyond that they are interpolated
    stamps_s = np.r_[grid(1000), grid(1000) + 12 + shift_s]
    even = even_time_base([table(stamps_s)], 100.0 if declared else None, READING)
    (foot,) = even.sensors
    (gap,) = even.gaps
    assert (gap.start_s, gap.stop_s) == pytest.approx((9.99, 12 + shift_s), abs=0.0051)
    missing = np.flatnonzero(foot.missing)
    assert missing[0] == 1000
    assert missing[-1] in {1199, 1200}
    at = even.start_stamp_s + np.arange(len(foot.missing)) / even.rate_hz
    measured = ~foot.missing
    assert np.abs(values_of(foot)[measured] - truth(at)[measured]).max() < QUARTER_SAMPLE


@hypothesis_settings(deadline=None, max_examples=30)
@given(seed=st.integers(0, 10_000), jitter_s=st.floats(0.0035, 0.006), lost=st.integers(0, 60))
def test_scattered_stamps_count_what_is_lost(seed, jitter_s, lost):
    rng = np.random.default_rng(seed)
    stamps_s = grid(2000) + rng.uniform(-jitter_s, jitter_s, 2000) / 2
    kept = np.r_[:800, 800 + lost : 2000]
    even = even_time_base([table(stamps_s[kept])], 100.0, READING)
    (foot,) = even.sensors
    at = even.start_stamp_s + np.arange(len(foot.missing)) / even.rate_hz
    assert len(foot.missing) in {1999, 2000, 2001}
    curved = ((min(lost, 20) + 3) / 200) ** 2 / 2 * np.pi**2
    assert np.abs(values_of(foot) - truth(at))[~foot.missing].max() < curved + QUARTER_SAMPLE
    assert int(foot.missing.sum()) + even.filled_samples["foot"] == pytest.approx(lost, abs=2)
