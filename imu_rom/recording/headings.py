"""What the columns of a logger's file are, from the words of its heading.

Only general words are known: acc, gyro, mag, time, x, y, z and their longer forms. Words that are left over name the
tracked point in a file with several sensors (``shank_acc_x``, ``AccX foot``). Units stand in brackets, behind a slash,
or as the last words (``acc_x [g]``, ``GyroX (deg/s)``, ``acc_x_m/s^2``).
"""

import re
from dataclasses import dataclass
from typing import Literal

from imu_rom.errors import RecordingError
from imu_rom.units import Quantity, si_factor

__all__ = ["AXES", "QUANTITY_OF", "Heading", "Kind", "heading_of", "is_unit_word", "kind_of_word", "words_of"]

Kind = Literal["accelerometer", "gyroscope", "magnetometer", "time"]

QUANTITY_OF: dict[Kind, Quantity] = {
    "accelerometer": "acceleration",
    "gyroscope": "angular rate",
    "magnetometer": "magnetic field",
    "time": "time",
}

_KINDS: dict[str, Kind] = {
    **dict.fromkeys(("acc", "accel", "accelerometer", "acceleration", "accelerometers"), "accelerometer"),
    **dict.fromkeys(("gyr", "gyro", "gyroscope", "gyroscopes", "angularvelocity", "angularrate"), "gyroscope"),
    **dict.fromkeys(("rotationrate", "angvel", "angrate", "omega", "turnrate", "rateofturn"), "gyroscope"),
    **dict.fromkeys(("mag", "magn", "magnetometer", "magneticfield", "magnetic"), "magnetometer"),
    **dict.fromkeys(("time", "timestamp", "timestamps", "stamp", "datetime", "t", "epoch", "clock"), "time"),
}
# single letters are kinds only together with their axis: ax, gx, wx, mx
_SHORT_KINDS: dict[str, Kind] = {"a": "accelerometer", "g": "gyroscope", "w": "gyroscope", "m": "magnetometer"}
# these say that the column is no plain measurement of a sensor
_DERIVED = {"linear", "lin", "linacc", "linearacceleration", "gravity", "user", "free", "freeacc", "euler", "quat"}
_DERIVED |= {"norm", "magnitude", "std", "variance", "bias", "error", "angular_acceleration", "temp", "temperature"}
# these say nothing
_EMPTY_WORDS = {"axis", "calibrated", "cal", "raw", "value", "data", "sensor", "component"}
_PAIRS = {("angular", "velocity"), ("angular", "rate"), ("rotation", "rate"), ("magnetic", "field"), ("time", "stamp")}
_PAIRS |= {("date", "time"), ("turn", "rate"), ("linear", "acceleration"), ("linear", "acc")}
_BRACKETS = re.compile(r"[\[({]([^\])}]*)[\])}]")
_WORDS = re.compile(r"[A-Z]?[a-z]+\d*|[A-Z]+(?![a-z])\d*|\d+|[^\W\d_]+\d*")
AXES = ("x", "y", "z")


@dataclass(frozen=True)
class Heading:
    """What one column is.

    Parameters
    ----------
    column : int
        Its place, from 0.
    text : str
        The heading as it stands.
    kind : {"accelerometer", "gyroscope", "magnetometer", "time"} or None
        What it measures; None for anything else.
    axis : {"x", "y", "z"} or None
        Which axis.
    point : str
        The words left over, joined: the tracked point in a file with several sensors.
    unit : str or None
        Unit word.
    """

    column: int
    text: str
    kind: Kind | None
    axis: str | None
    point: str
    unit: str | None


def is_unit_word(word: str) -> bool:
    """Tell whether a word is a unit of anything that is read here.

    Parameters
    ----------
    word : str
        Word to look at.

    Returns
    -------
    bool
        True where it is one.
    """
    return any(_is_unit(word, quantity) for quantity in QUANTITY_OF.values())


def _is_unit(word: str, quantity: Quantity) -> bool:
    try:
        si_factor(word, quantity)
    except RecordingError:
        return False
    return True


def words_of(text: str) -> list[str]:
    """Split a name into lower-case words, with pairs such as ``angular velocity`` joined.

    Parameters
    ----------
    text : str
        A heading or a tracked point; capitals, digits and signs part its words.

    Returns
    -------
    list of str
        Words.
    """
    words = [word.lower() for word in _WORDS.findall(text)]
    joined: list[str] = []
    for word in words:
        if joined and (joined[-1], word) in _PAIRS:
            joined[-1] += word
        else:
            joined.append(word)
    return joined


def _kind_and_axis(words: list[str]) -> tuple[Kind | None, str | None, list[str]]:
    """Take the kind and the axis out of a heading's words; what is left names the tracked point."""
    kind: Kind | None = None
    axis: str | None = None
    left: list[str] = []
    for word in words:
        stem, last = word[:-1], word[-1]
        if kind is None and word in _KINDS and word != "t":
            kind = _KINDS[word]
        elif axis is None and word in AXES:
            axis = word
        elif kind is None and axis is None and last in AXES and stem in {**_KINDS, **_SHORT_KINDS}:
            kind, axis = {**_KINDS, **_SHORT_KINDS}[stem], last
        else:
            left.append(word)
    if kind is None and axis is None and left == ["t"]:
        return "time", None, []
    if kind is None and axis is not None and left and left[-1] in _SHORT_KINDS:
        kind = _SHORT_KINDS[left.pop()]
    return kind, axis, left


def _unit_at_end(text: str, quantity: Quantity) -> tuple[str, str | None]:
    """Split a unit off the end of a name: ``acc_x_m/s^2``, ``time_ms``, ``gyr_x deg/s``, ``acc_m_s2_x``."""
    behind = re.search(r"[\s_\-.]+[xyzXYZ]$", text)
    if behind:
        name, unit = _unit_at_end(text[: behind.start()], quantity)
        return name + behind[0], unit
    for match in re.finditer(r"[\s_\-.,:/|]+", text):
        unit = text[match.end() :]
        if match.start() and unit and unit.lower() not in AXES and _is_unit(unit, quantity):
            return text[: match.start()], unit
    return text, None


def heading_of(column: int, text: str, unit_cell: str | None) -> Heading:
    """Read the heading of one column.

    Parameters
    ----------
    column : int
        Its place, from 0.
    text : str
        The heading.
    unit_cell : str or None
        Unit from a row of units.

    Returns
    -------
    Heading
        What the column is.
    """
    unit = unit_cell.strip("[](){} ") if unit_cell else None
    name = text
    for inside in _BRACKETS.findall(text):
        # brackets hold a unit, or an axis as in acc(x)
        if inside.strip().lower() not in AXES:
            unit = unit or inside.strip() or None
            name = re.sub(rf"[\[({{]{re.escape(inside)}[\])}}]", " ", name)
    kind, _, _ = _kind_and_axis(words_of(name))
    if kind is not None and unit is None:
        name, unit = _unit_at_end(name, QUANTITY_OF[kind])
    kind, axis, left = _kind_and_axis(words_of(name))
    if (kind is not None and kind != "time" and axis is None) or _DERIVED & {*left, *words_of(name)}:
        kind = None
    point = " ".join(word for word in left if word not in _EMPTY_WORDS)
    return Heading(column, text, kind, axis, point, unit if unit not in {"", "-", "n/a"} else None)


def kind_of_word(word: str) -> Kind | None:
    """Tell what a word such as ``acc`` or ``gyroscope`` names.

    Parameters
    ----------
    word : str
        Word to look at.

    Returns
    -------
    {"accelerometer", "gyroscope", "magnetometer", "time"} or None
        What it names.
    """
    return _KINDS.get(word.strip().lower())
