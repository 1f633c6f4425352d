"""A joint angle from another system, in a text file of its own, brought onto a recording's time base.

The file has a heading with ``time_s`` and ``angle_deg``; times are seconds from the recording's start, in order, at any
rate. Optical and other laboratory systems export such tables or are easily brought into this form.
"""

import csv
import hashlib
import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from imu_rom.errors import RecordingError
from imu_rom.recording.model import InputFile, Recording, ReferenceChannel

__all__ = ["read_reference_file"]

TIME, ANGLE = "time_s", "angle_deg"
LARGEST_GAP_S = 0.1
"""Between neighbours further apart than this, and than three of the file's usual steps, nothing is read."""


def read_reference_file(path: Path, recording: Recording, *, largest_mb: float) -> tuple[ReferenceChannel, InputFile]:
    """Read a reference from a file.

    Parameters
    ----------
    path : Path
        Comma-, semicolon- or tab-separated text with a heading; empty cells and ``n/a`` are unknown.
    recording : Recording
        Whose time base it is brought onto, straight between neighbours.
    largest_mb : float
        A larger file is refused unread.

    Returns
    -------
    channel : ReferenceChannel
        NaN where the file has nothing.
    file : InputFile
        For the provenance.

    Raises
    ------
    RecordingError
        It can't be read, has no such columns, a cell is no number, or times are out of order.
    """
    try:
        size = path.stat().st_size
        if size > largest_mb * 1e6:
            raise RecordingError(f"must be at most {largest_mb:g} MB, got {size / 1e6:.1f} MB", where=str(path))
        content = path.read_bytes()
        text = content.decode("utf-8-sig")
    except OSError as error:
        raise RecordingError(
            f"can't be read: {(error.strerror or str(error)).lower()}", where=str(path), do="check the name"
        ) from None
    except UnicodeDecodeError:
        raise RecordingError("is no text in UTF-8", where=str(path), do="export it as text") from None
    rows = list(_rows(text, path))
    if len(rows) < 2:
        raise RecordingError("must have at least two rows with an angle", where=str(path))
    time_s, angle_deg = np.array(rows).T
    if not (np.diff(time_s) > 0).all():
        raise RecordingError(f"{TIME} must rise from row to row", where=str(path), do="sort the rows by time")
    asked_s = np.asarray(recording.time_s)
    values = np.interp(asked_s, time_s, angle_deg, left=np.nan, right=np.nan)
    after = np.searchsorted(time_s, asked_s).clip(1, len(time_s) - 1)
    step_s = time_s[after] - time_s[after - 1]
    far = step_s > max(LARGEST_GAP_S, 3.0 * float(np.median(np.diff(time_s))))
    values[far & (asked_s != time_s[after]) & (asked_s != time_s[after - 1])] = np.nan
    file = InputFile(path.name, hashlib.sha256(content).hexdigest(), "recording")
    return ReferenceChannel(path.name, "", values), file


def _rows(text: str, path: Path) -> Iterator[tuple[float, float]]:
    heading, _, _ = text.partition("\n")
    separator = max("\t;,", key=heading.count)
    rows = csv.reader(text.splitlines(), delimiter=separator)
    names = [each.strip() for each in next(rows, [])]
    if names.count(TIME) != 1 or names.count(ANGLE) != 1:
        raise RecordingError(
            f"must have one column {TIME} and one {ANGLE}, got {', '.join(names)[:100] or 'nothing'}",
            where=f"{path}:1",
            do="name them so in its first line",
        )
    columns = names.index(TIME), names.index(ANGLE)
    for cells in rows:
        if not cells:
            continue
        numbers = [_number(cells, column, f"{path}:{rows.line_num}:{column + 1}") for column in columns]
        if math.isnan(numbers[0]):
            raise RecordingError(f"{TIME} is missing", where=f"{path}:{rows.line_num}:{columns[0] + 1}")
        if not math.isnan(numbers[1]):
            yield numbers[0], numbers[1]


def _number(cells: list[str], column: int, where: str) -> float:
    text = cells[column].strip() if column < len(cells) else ""
    if text in {"", "n/a"}:
        return math.nan
    try:
        value = float(text)
    except ValueError:
        value = math.inf
    if not math.isfinite(value):
        raise RecordingError(f"must be a number, got {text!r:.40}", where=where)
    return value
