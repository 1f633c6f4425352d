"""How the files of a patient's logger are read: the clinician's fields, and what a result says of them."""

from collections.abc import Mapping

__all__ = ["FILE_FIELDS", "LEFT_TO_FILES", "NAMES_AN_OPTION", "read_as_said"]

FILE_FIELDS: tuple[tuple[str, str, str], ...] = (
    (
        "columns",
        "Columns",
        (
            "Only what the heading leaves open, such as: time=1; shank.acc=2,3,4; shank.gyro=5,6,7. Kinds are time, "
            "acc, gyro and mag; a column is its heading or its number from 1; shank is a place as the plan has it."
        ),
    ),
    ("accelerometer_unit", "Accelerometer unit", "g or m/s^2."),
    ("gyroscope_unit", "Gyroscope unit", "deg/s or rad/s."),
    ("magnetometer_unit", "Magnetometer unit", "Such as uT. It is not needed."),
    ("time_unit", "Time unit", "s, ms or us."),
    ("rate_hz", "Rate, Hz", "Of files without time stamps."),
    ("separator", "Separator", ""),
    ("decimal", "Decimal sign", ""),
    (
        "proximal_name",
        "Two files: word in the name of the upper sensor's file",
        "Where each sensor writes a file of its own. Left empty, it is the sensor's place as the plan has it.",
    ),
    ("distal_name", "Two files: word in the name of the lower sensor's file", ""),
    ("clocks", "Two files: clocks", "Separate: each sensor was started by itself."),
)
"""Name, label and hint of each field."""

LEFT_TO_FILES = "found in the files"
"""In the place of a word of a closed list."""

NAMES_AN_OPTION = (
    "--columns",
    "--accelerometer-unit",
    "--gyroscope-unit",
    "--magnetometer-unit",
    "--time-unit",
    "--rate",
    "--separator",
    "--decimal",
    "--clocks",
    "the option says",
    "their names don't say which sensor each is of",
)
"""An error that says one of these is about something that only the clinic can say."""


def read_as_said(values: Mapping[str, str]) -> str:
    """Say that files were read as the clinic says.

    Parameters
    ----------
    values : mapping of str to str
        By field; empty ones say nothing.

    Returns
    -------
    str
        One sentence.
    """
    said = [f"{label[0].lower()}{label[1:]}: {values[name]}" for name, label, _ in FILE_FIELDS if values.get(name)]
    if not said:
        return "All is found in the files."
    return f"What the files leave open was taken as the clinic says ({'; '.join(said)})."
