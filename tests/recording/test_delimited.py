"""Delimited text as loggers write it is one and the same recording; what it leaves open is asked for by a sentence."""

from datetime import datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from imu_rom.errors import RecordingError
from imu_rom.recording.delimited import DelimitedOptions, read_delimited
from imu_rom.settings import ReadingSettings

READING = ReadingSettings()
COUNT = 1500
TIME_S = np.arange(COUNT) / 100
GRAVITY_M_S2 = 9.80665
RNG = np.random.default_rng(5)
ACCELERATION_G = RNG.normal([0, 0, 1], 0.3, (2, COUNT, 3))
RATE_DEG_S = RNG.normal(0, 40, (2, COUNT, 3))
POINTS = ("shank", "foot")
START = datetime(2026, 12, 1, 8, 0, 0, 250_000, tzinfo=timezone(timedelta(hours=1)))
TIMES = [(START + timedelta(milliseconds=10 * row)).isoformat(timespec="milliseconds") for row in range(COUNT)]


def names(points=POINTS, unit=lambda kind: {"acc": " [g]", "gyro": " [deg/s]"}[kind]):
    return [f"{point}_{kind}_{axis}{unit(kind)}" for point in points for kind in ("acc", "gyro") for axis in "xyz"]


def bare(kind):
    return ""


def samples(sensors=(0, 1)):
    return [column for each in sensors for block in (ACCELERATION_G[each], RATE_DEG_S[each]) for column in block.T]


@pytest.fixture
def write(tmp_path):
    """Function that writes columns as a logger does and returns the file."""

    def as_text(value, decimal):
        return value if isinstance(value, str) else f"{value:.6f}".replace(".", decimal)

    def write(
        columns, heading=None, *, name="log.csv", separator=",", decimal=".", before="", end="\n", encoding="utf-8"
    ):
        lines = [] if heading is None else [separator.join(heading)]
        lines += [separator.join(as_text(value, decimal) for value in row) for row in zip(*columns, strict=True)]
        path = tmp_path / name
        path.write_bytes((before + end.join(lines) + end).encode(encoding))
        return path

    return write


def read(path=None, **options):
    return read_delimited(path, READING, DelimitedOptions(**options))


def refused(path=None, **options):
    with pytest.raises(RecordingError) as caught:
        read(path, **options)
    sentence = str(caught.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


def assert_as_measured(recording, points=POINTS, sensors=(0, 1), rows=slice(None)):
    assert list(recording.sensors) == list(points)
    for point, each in zip(points, sensors, strict=True):
        sensor = recording.sensor(point)
        assert np.allclose(sensor.accelerometer_m_s2, ACCELERATION_G[each][rows] * GRAVITY_M_S2, atol=1e-5)
        assert np.allclose(sensor.gyroscope_rad_s, np.deg2rad(RATE_DEG_S[each][rows]), atol=1e-7)
        assert not sensor.missing.any()


# ------------------------------------------------------------------------------------------------------- what is found


@pytest.mark.parametrize(("separator", "decimal"), [(",", "."), ("\t", "."), (";", "."), (";", ","), ("\t", ",")])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_separators_decimal_signs_and_line_ends(write, separator, decimal, end):
    heading = ["time (s)", *names()]
    recording = read(write([TIME_S, *samples()], heading, separator=separator, decimal=decimal, end=end))
    assert_as_measured(recording)
    assert recording.rate_hz == 100
    assert recording.label == "log"
    assert (recording.recorded_at, recording.findings) == (None, ())


@pytest.mark.parametrize(
    ("before", "encoding"),
    [
        ("# made by a logger\n# rate, 100\n\n", "utf-8"),
        ("\ufeff", "utf-8"),
        ("Device;7\nComment;stands still, then moves\n\n", "utf-8"),
        ("Größe\n", "cp1252"),
    ],
)
def test_lines_before_the_heading_are_passed_over(write, before, encoding):
    assert_as_measured(read(write([TIME_S, *samples()], ["time [s]", *names()], before=before, encoding=encoding)))


def test_a_heading_may_be_a_comment(write):
    assert_as_measured(read(write([TIME_S, *samples()], ["# time [s]", *names()])))


def test_units_may_stand_in_a_row_of_their_own(write):
    units = ",".join(["s", *(["g"] * 3 + ["deg/s"] * 3) * 2])
    path = write([TIME_S, *samples()], ["time", *names(unit=bare)])
    heading, rest = path.read_text().split("\n", 1)
    path.write_text(f"{heading}\n{units}\n{rest}")
    assert_as_measured(read(path))


def test_other_columns_are_left_alone(write):
    text = ["walking" if row % 2 else "" for row in range(COUNT)]
    temperature = np.full(COUNT, 31.5)
    columns = [text, TIME_S, *samples(), temperature]
    assert_as_measured(read(write(columns, ["label", "time [s]", *names(), "temperature [°C]"])))


def test_quoted_cells(write):
    path = write([[f'"{value:.3f}"' for value in TIME_S], *samples()], [f'"{each}"' for each in ["time [s]", *names()]])
    assert_as_measured(read(path))


@pytest.mark.parametrize(("unit", "factor"), [("s", 1), ("ms", 1e3), ("us", 1e6), ("µs", 1e6)])
@pytest.mark.parametrize("start_s", [0.0, 1_764_572_400.0])
def test_units_of_time_stamps(write, unit, factor, start_s):
    stamps = [f"{(start_s + each) * factor:.3f}" for each in TIME_S]
    recording = read(write([stamps, *samples()], [f"timestamp [{unit}]", *names()]))
    assert_as_measured(recording)
    assert recording.rate_hz == pytest.approx(100, rel=1e-6)


def test_iso_time_stamps_with_offset_say_when(write):
    recording = read(write([TIMES, *samples()], ["timestamp", *names()]))
    assert_as_measured(recording)
    assert (recording.recorded_at, recording.recorded_at_source) == ("2026-12-01T08:00:00.250000+01:00", "time stamps")


@pytest.mark.parametrize("zulu", [True, False])
def test_iso_time_stamps_in_utc_or_without_offset(write, zulu):
    stamps = [each[:-6].replace("T", " ") + ("Z" if zulu else "") for each in TIMES]
    recording = read(write([stamps, *samples()], ["timestamp", *names()]))
    assert_as_measured(recording)
    assert recording.recorded_at == ("2026-12-01T08:00:00.250000+00:00" if zulu else None)
    assert [each.code for each in recording.findings] == ([] if zulu else ["time-without-offset"])


def test_times_of_the_day_are_stamps_without_a_date(write):
    recording = read(write([[each[11:-6] for each in TIMES], *samples()], ["time", *names()]))
    assert_as_measured(recording)
    assert recording.recorded_at is None


def test_a_magnetometer_is_read_and_may_lack_its_unit(write):
    field = [np.full(COUNT, value) for value in (20.0, 0.0, -45.0)]
    heading = ["time [s]", *names(("shank",))]
    with_unit = read(write([TIME_S, *samples((0,)), *field], [*heading, *(f"shank_mag_{axis} (uT)" for axis in "xyz")]))
    assert np.allclose(with_unit.sensor("shank").magnetometer_t, [2e-5, 0, -4.5e-5])
    without = read(write([TIME_S, *samples((0,)), *field], [*heading, *(f"shank_mag_{axis}" for axis in "xyz")]))
    assert without.sensor("shank").magnetometer_t is None


def test_points_are_recognised_in_longer_words_and_spelled_as_the_plan_does(write):
    heading = ["time [s]", *(each.replace("shank", "Left Shank").replace("foot", "LeftFoot") for each in names())]
    recording = read(write([TIME_S, *samples()], heading), proximal="shank", distal="foot")
    assert_as_measured(recording)


def test_each_sensor_may_have_its_own_time_stamps(write):
    heading = ["shank time [s]", *names(("shank",)), "foot time [s]", *names(("foot",))]
    recording = read(write([TIME_S, *samples((0,)), TIME_S + 0.5, *samples((1,))], heading))
    assert recording.sample_count == COUNT - 50
    assert np.allclose(recording.sensor("foot").gyroscope_rad_s, np.deg2rad(RATE_DEG_S[1][:-50]), atol=1e-7)
    assert np.allclose(recording.sensor("shank").gyroscope_rad_s, np.deg2rad(RATE_DEG_S[0][50:]), atol=1e-7)


def test_an_empty_cell_is_a_missed_sample(write):
    columns = samples()
    columns[4] = [("" if row in {100, 101} else f"{value:.6f}") for row, value in enumerate(columns[4])]
    recording = read(write([TIME_S, *columns], ["time [s]", *names()]))
    assert recording.filled_samples == {"shank": 2, "foot": 0}


# ------------------------------------------------------------------------------------------------- one file a sensor


def test_two_files_of_one_clock(write):
    heading = ["t [s]", *(each.removeprefix("foot_") for each in names(("foot",)))]
    shank = write([TIME_S, *samples((0,))], heading, name="a.csv")
    foot = write([TIME_S + 2.0, *samples((1,))], heading, name="b.csv")
    recording = read(proximal_file=shank, distal_file=foot, proximal="shank", distal="foot")
    assert recording.label == "a + b"
    assert [each.name for each in recording.files] == ["a.csv", "b.csv"]
    assert [each.code for each in recording.findings] == [
        "clock-assumed",
        "sensors-not-together",
        "sensors-not-together",
    ]
    assert recording.sample_count == COUNT - 200
    assert np.allclose(recording.sensor("shank").gyroscope_rad_s, np.deg2rad(RATE_DEG_S[0][200:]), atol=1e-7)
    assert np.allclose(recording.sensor("foot").gyroscope_rad_s, np.deg2rad(RATE_DEG_S[1][:-200]), atol=1e-7)


def test_two_files_with_dates_start_where_the_later_does(write):
    heading = ["time", *(each.removeprefix("foot_") for each in names(("foot",)))]
    shank = write([TIMES, *samples((0,))], heading, name="a.csv")
    foot = write([TIMES[150:], *[column[150:] for column in samples((1,))]], heading, name="b.csv")
    recording = read(proximal_file=shank, distal_file=foot, proximal="shank", distal="foot")
    assert_as_measured(recording, rows=slice(150, None))
    assert recording.recorded_at == "2026-12-01T08:00:01.750000+01:00"
    assert [each.code for each in recording.findings] == ["sensors-not-together"]


def test_two_files_without_stamps_start_together_and_it_is_said(write):
    heading = [each.removeprefix("foot_") for each in names(("foot",))]
    files = {
        f"{end}_file": write(samples((each,)), heading, name=f"{end}.csv")
        for each, end in enumerate(("proximal", "distal"))
    }
    recording = read(**files, rate_hz=100)
    assert_as_measured(recording, ("proximal", "distal"))
    assert [(each.code, each.level) for each in recording.findings] == [("clock-assumed", "caution")]


def test_a_file_of_one_sensor_may_carry_any_name_in_its_heading(write):
    heading = ["t [s]", *(each.replace("foot", "imu7") for each in names(("foot",)))]
    path = write([TIME_S, *samples((1,))], heading, name="b.csv")
    other = write([TIME_S, *samples((0,))], heading, name="a.csv")
    assert_as_measured(read(proximal_file=other, distal_file=path, proximal="shank", distal="foot"))


# ---------------------------------------------------------------------------------------------------- what is asked for


@pytest.mark.parametrize(
    ("given_options", "asked"),
    [
        ({}, "add --accelerometer-unit g or m/s^2"),
        ({"accelerometer_unit": "g"}, "add --gyroscope-unit deg/s or rad/s"),
        ({"accelerometer_unit": "g", "gyroscope_unit": "deg/s"}, "add --time-unit s, ms or us"),
        ({"accelerometer_unit": "furlong"}, "'furlong' is no known unit of acceleration"),
    ],
)
def test_units_that_the_file_does_not_give_are_asked_for(write, given_options, asked):
    path = write([TIME_S, *samples()], ["time", *names(unit=bare)])
    assert asked in refused(path, **given_options)


def test_units_given_by_option(write):
    path = write([TIME_S * 1000, *samples()], ["time", *names(unit=bare)])
    assert_as_measured(read(path, accelerometer_unit="g", gyroscope_unit="dps", time_unit="ms"))


def test_the_declared_rate_settles_the_unit_of_the_stamps(write):
    path = write([TIME_S * 1000, *samples()], ["time", *names()])
    assert_as_measured(read(path, rate_hz=100))
    assert "add --time-unit, or correct the rate" in refused(path, rate_hz=37)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"accelerometer_unit": "m/s^2"}, "says g, the option says m/s^2"),
        ({"gyroscope_unit": "rad/s"}, "says deg/s, the option says rad/s"),
        ({"time_unit": "ms"}, "says s, the option says ms"),
        ({"rate_hz": 50.0}, "advance at 100 Hz, but the declared rate is 50 Hz"),
        ({"rate_hz": -1.0}, "--rate: must be a positive number"),
        ({"separator": "pipe"}, "--separator: must be tab, comma, semicolon"),
        ({"separator": "tab"}, "no line has 6 or more numbers"),
    ],
)
def test_options_that_contradict_the_file_are_refused(write, options, words):
    assert words in refused(write([TIME_S, *samples()], ["time [s]", *names()]), **options)


def test_no_stamps_and_no_rate(write):
    path = write(samples(), names())
    assert "add --rate" in refused(path)
    assert_as_measured(read(path, rate_hz=100))


def test_no_heading_asks_for_the_columns(write):
    path = write([TIME_S, *samples()])
    assert "--columns" in refused(path)
    columns = ("time=1; shank.acc=2,3,4; shank.gyro=5,6,7", "foot.acc=8,9,10;foot.gyroscope=11,12,13")
    assert_as_measured(read(path, columns=columns, accelerometer_unit="g", gyroscope_unit="deg/s", time_unit="s"))


def test_columns_may_be_named_by_their_heading_and_go_before_it(write):
    swapped = samples((0,))
    swapped[0], swapped[1] = swapped[1], swapped[0]
    path = write([TIME_S, *swapped], ["time [s]", *names(("shank",))])
    entries = ("shank.acc=shank_acc_y [g],SHANK_ACC_X [G],shank_acc_z [g]; shank.gyro=5,6,7",)
    assert_as_measured(read(path, columns=entries), ("shank",), (0,))


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ("shank.acc", "must be [POINT.]KIND=COLUMNS"),
        ("shank.mass=1,2,3", "must be [POINT.]KIND=COLUMNS"),
        ("shank.acc=1,2", "must name 3 columns, not 2"),
        ("time=1,2", "must name 1 column, not 2"),
        ("shank.acc=2,3,99", "has no column '99'"),
        ("shank.acc=2,3,elbow", "has no column 'elbow'"),
    ],
)
def test_wrong_entries_are_named(write, entry, words):
    sentence = refused(write([TIME_S, *samples()], ["time [s]", *names()]), columns=(entry,))
    assert words in sentence
    assert repr(entry) in sentence


def test_two_columns_for_one_axis_are_ambiguous(write):
    path = write([TIME_S, *samples(), samples()[0]], ["time [s]", *names(), "shank_accel_x [g]"])
    sentence = refused(path)
    assert "'shank_acc_x [g]' and 'shank_accel_x [g]' both look like the accelerometer's x" in sentence
    assert "--columns" in sentence


def test_two_time_columns_are_ambiguous(write):
    path = write([TIME_S, TIME_S, *samples()], ["time [s]", "timestamp [s]", *names()])
    assert "'time [s]' and 'timestamp [s]' both look like the time" in refused(path)
    assert_as_measured(read(path, columns=("time=timestamp [s]",)))


def test_a_missing_axis_lists_the_columns(write):
    heading = ["time [s]", *names()]
    heading[6] = "shank_gyro_w [deg/s]"
    sentence = refused(write([TIME_S, *samples()], heading))
    assert "the gyroscope of 'shank' needs three columns" in sentence
    assert "shank_gyro_w [deg/s]" in sentence


def test_strange_words_list_the_columns(write):
    sentence = refused(write([TIME_S, *samples((0,))], ["a", "b", "c", "d", "e", "f", "g"]))
    assert "a, b, c, d, e, f, g" in sentence


def test_a_point_that_may_be_either_of_two_is_ambiguous(write):
    heading = ["time [s]", *(each.replace("shank", "left foot").replace("foot_", "right foot_") for each in names())]
    heading = [each.replace("left right", "left") for each in heading]
    assert "'foot' may be any of 'left foot', 'right foot'" in refused(
        write([TIME_S, *samples()], heading), proximal="shank", distal="foot"
    )


def test_two_sensors_in_the_file_of_one(write):
    path = write([TIME_S, *samples()], ["time [s]", *(each.replace("shank", "hip") for each in names())])
    other = write([TIME_S, *samples((1,))], ["time [s]", *names(("foot",))], name="other.csv")
    sentence = refused(proximal_file=path, distal_file=other, proximal="shank", distal="foot")
    assert "the channels of 2 sensors (foot, hip), one was expected" in sentence


def test_files_of_each_sensor_come_in_pairs(write):
    path = write([TIME_S, *samples((0,))], ["time [s]", *names(("shank",))])
    assert "needs the other sensor's file" in refused(proximal_file=path)
    assert "the same file" in refused(proximal_file=path, distal_file=path)
    assert "not both" in refused(path, proximal_file=path, distal_file=path)
    other = write([TIME_S, *samples((1,))], ["time [s]", *names(("foot",))], name="other.csv")
    assert "different tracked points" in refused(proximal_file=path, distal_file=other, proximal="a", distal="a")


def test_stamps_that_count_from_different_moments(write):
    heading = ["time", *names(("foot",))]
    dated = write([TIMES, *samples((0,))], heading, name="a.csv")
    counted = write([TIME_S, *samples((1,))], ["time [s]", *names(("foot",))], name="b.csv")
    assert "do not count from the same moment" in refused(proximal_file=dated, distal_file=counted)


def test_a_time_that_is_none_is_named_by_line_and_column(write):
    stamps = list(TIMES)
    stamps[700] = "noon"
    sentence = refused(write([stamps, *samples()], ["time", *names()]))
    assert sentence.startswith("log.csv:702:1: must be a number or an ISO 8601 time")
    assert "'noon'" in sentence


@hypothesis_settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=20)
@given(row=st.integers(0, COUNT - 1), column=st.integers(1, 12), separator=st.sampled_from([",", ";", "\t"]))
def test_a_cell_that_is_no_number_is_named_by_line_and_column(write, row, column, separator):
    columns = [TIME_S, *samples()]
    columns[column] = ["oops" if each == row else f"{value:.4f}" for each, value in enumerate(columns[column])]
    sentence = refused(write(columns, ["time [s]", *names()], separator=separator, before="# a logger's\n"))
    assert sentence.startswith(f"log.csv:{row + 3}:{column + 1}: column {column + 1} ")
    assert "must be a number, got 'oops'" in sentence


def test_a_short_line_and_a_cut_off_file_are_named(write):
    path = write([TIME_S, *samples()], ["time [s]", *names()])
    lines = path.read_text().splitlines()
    shorter = list(lines)
    shorter[400] = shorter[400].rsplit(",", 2)[0]
    path.write_text("\n".join(shorter) + "\n")
    assert refused(path) == "log.csv:401: the line has 11 columns where there must be 13."
    path.write_text("\n".join(lines)[:-30])
    assert "so it was cut off" in refused(path)


def test_text_without_numbers(write):
    assert "no line has 6 or more numbers" in refused(write([["a"] * 9] * 9, list("abcdefghi")))
