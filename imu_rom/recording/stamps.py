"""Time stamps of a logger's file in seconds: numbers with a unit, ISO 8601 times, or times of the day."""

import re
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import RecordingError
from imu_rom.recording.model import Floats
from imu_rom.units import known_units, si_factor

__all__ = ["Stamps", "numeric_stamps", "text_stamps"]

_TIME_OF_DAY = re.compile(r"\d{1,2}:\d\d:\d\d(?:[.,]\d+)?")
# behind a time, so that the day of a bare date is no offset
_OFFSET = re.compile(r":\d\d(?:[.,]\d+)?\s?(?:Z|[+-]\d\d(?::?\d\d)?)$")
# later than 1973 in seconds from 1970: no one counts so far from a recording's start
_CLOCK_TIME_S = 1e8


@dataclass(frozen=True)
class Stamps:
    """Time stamps of the rows of one file.

    Parameters
    ----------
    time_s : ndarray of shape (n,)
        Seconds on the file's clock, NaN where missing.
    is_clock_time : bool
        They count from a date, so that two files share their clock.
    first_at : datetime or None
        The first stamp as a time with its offset from UTC, where the file says both.
    """

    time_s: Floats
    is_clock_time: bool
    first_at: datetime | None = None


def numeric_stamps(values: Floats, unit: str | None, rate_hz: float | None, *, where: str, column: str) -> Stamps:
    """Bring stamps that are numbers to seconds.

    Parameters
    ----------
    values : ndarray of shape (n,)
        Stamps as the file has them.
    unit : str or None
        Their unit, from the heading or an option.
    rate_hz : float or None
        Declared rate; settles the unit where none is given.
    where : str
        File, for the error.
    column : str
        Heading of the column, for the error.

    Returns
    -------
    Stamps
        In seconds.

    Raises
    ------
    RecordingError
        The unit is unknown, or neither unit nor rate is given.
    """
    if unit is None:
        unit = _unit_by_rate(values, rate_hz)
    if unit is None:
        raise RecordingError(
            f"the heading gives no unit for the time stamps ({column})",
            where=where,
            do="add --time-unit s, ms or us" if rate_hz is None else "add --time-unit, or correct the rate",
        )
    time_s = values * si_factor(unit, "time", where=where)
    known = time_s[np.isfinite(time_s)]
    return Stamps(time_s, is_clock_time=bool(len(known)) and bool(known[0] > _CLOCK_TIME_S))


def _unit_by_rate(values: Floats, rate_hz: float | None) -> str | None:
    """Find the only unit in which the stamps advance at the declared rate."""
    steps = np.diff(values[np.isfinite(values)])
    steps = steps[steps > 0]
    if rate_hz is None or not len(steps):
        return None
    step = float(np.median(steps))
    fitting = [unit for unit in known_units("time") if abs(step * si_factor(unit, "time") * rate_hz - 1) < 0.2]
    return fitting[0] if len(fitting) == 1 else None


def text_stamps(cells: NDArray[np.object_], *, file: str, first_line: int, column: int) -> Stamps:
    """Bring stamps that are text to seconds.

    Parameters
    ----------
    cells : ndarray of str of shape (n,)
        Stamps as the file has them.
    file : str
        File name, for the error.
    first_line : int
        Line of the first row, for the error.
    column : int
        Place of the column, from 0, for the error.

    Returns
    -------
    Stamps
        In seconds from 1970 in UTC; without an offset, from 1970 on the file's own clock; times of the day from
        midnight.

    Raises
    ------
    RecordingError
        A cell is no time, or some have an offset from UTC and others none.
    """
    from pandas import Series, to_datetime  # noqa: PLC0415  # heavy

    texts = Series(cells).str.strip()
    first = str(texts.iloc[0])
    time_of_day = _TIME_OF_DAY.fullmatch(first) is not None
    if time_of_day:
        texts = "1970-01-01T" + texts.str.replace(",", ".").str.zfill(8)
    times = to_datetime(texts, format="ISO8601", utc=True, errors="coerce")
    bad = np.flatnonzero(times.isna().to_numpy())
    if len(bad):
        row = int(bad[0])
        raise RecordingError(
            f"must be a number or an ISO 8601 time such as 2026-12-01T08:00:00.250+01:00, got {cells[row]!r}",
            where=f"{file}:{first_line + row}:{column + 1}",
        )
    has_offset = _OFFSET.search(first) is not None
    if not time_of_day and has_offset != (_OFFSET.search(str(texts.iloc[-1])) is not None):
        raise RecordingError("some time stamps have an offset from UTC and others none", where=file)
    time_s = times.to_numpy(dtype="datetime64[ns]").astype(np.int64).astype(np.float64) * 1e-9
    return Stamps(
        time_s,
        is_clock_time=not time_of_day,
        first_at=datetime.fromisoformat(first) if has_offset and not time_of_day else None,
    )
