"""The words of a heading say what a column is, in the spellings that loggers use; other words say nothing."""

import pytest

from imu_rom.recording.headings import heading_of, is_unit_word


def read(text, unit_cell=None):
    heading = heading_of(0, text, unit_cell)
    return heading.kind, heading.axis, heading.point, heading.unit


@pytest.mark.parametrize(
    ("text", "kind", "axis", "point", "unit"),
    [
        ("acc_x [g]", "accelerometer", "x", "", "g"),
        ("AccX", "accelerometer", "x", "", None),
        ("ACCX", "accelerometer", "x", "", None),
        ("ax", "accelerometer", "x", "", None),
        ("Ay [m/s²]", "accelerometer", "y", "", "m/s²"),
        ("acc(z)", "accelerometer", "z", "", None),
        ("Acceleration X (m/s^2)", "accelerometer", "x", "", "m/s^2"),
        ("Acc_X-axis", "accelerometer", "x", "", None),
        ("acc_z_m_s2", "accelerometer", "z", "", "m_s2"),
        ("accelerometer_m_s2_x", "accelerometer", "x", "", "m_s2"),
        ("acc-y-g", "accelerometer", "y", "", "g"),
        ("GyroX (deg/s)", "gyroscope", "x", "", "deg/s"),
        ("gz (dps)", "gyroscope", "z", "", "dps"),
        ("wx", "gyroscope", "x", "", None),
        ("Angular velocity Y (°/s)", "gyroscope", "y", "", "°/s"),
        ("rotationRate_z", "gyroscope", "z", "", None),
        ("gyr_x_rad_s", "gyroscope", "x", "", "rad_s"),
        ("mag_x_uT", "magnetometer", "x", "", "uT"),
        ("shank_acc_x_m/s^2", "accelerometer", "x", "shank", "m/s^2"),
        ("footAccY", "accelerometer", "y", "foot", None),
        ("AccZ_foot", "accelerometer", "z", "foot", None),
        ("Shank:GyrX[rad/s]", "gyroscope", "x", "shank", "rad/s"),
        ("left shank accelerometer y", "accelerometer", "y", "left shank", None),
        ("imu1_gyr_z", "gyroscope", "z", "imu1", None),
        ("shank ax", "accelerometer", "x", "shank", None),
        ("Timestamp (ms)", "time", None, "", "ms"),
        ("time", "time", None, "", None),
        ("t [s]", "time", None, "", "s"),
        ("timestamp_us", "time", None, "", "us"),
        ("foot time (s)", "time", None, "foot", "s"),
    ],
)
def test_spellings_of_loggers(text, kind, axis, point, unit):
    assert read(text) == (kind, axis, point, unit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "X",
        "packet",
        "temperature",
        "steps",
        "t_acc",
        "acc",
        "gyro",
        "Linear Acceleration x",
        "gravity_x",
        "acc_x_std",
    ],
)
def test_other_columns_are_nothing(text):
    assert read(text)[0] is None


def test_a_row_of_units_gives_the_unit():
    assert read("acc_x", "[g]") == ("accelerometer", "x", "", "g")
    assert read("acc_x", "") == ("accelerometer", "x", "", None)


@pytest.mark.parametrize(
    ("word", "expected"), [("g", True), ("deg/s", True), ("ms", True), ("acc", False), ("x", False)]
)
def test_unit_words(word, expected):
    assert is_unit_word(word) is expected
