"""The sidecars of a BIDS Motion recording: channels, rate, frames and the time it was made.

References
----------
Brain Imaging Data Structure specification 1.9 and later, Motion (extension proposal 29), and "Scans file".
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.axes import mounting_from_letters

__all__ = [
    "Channel",
    "mountings_by_frame",
    "read_channels",
    "read_json",
    "read_numbered_rows",
    "read_rows",
    "recorded_at_of",
    "sampling_frequency_hz",
]

_REQUIRED_COLUMNS = ("name", "component", "type", "tracked_point", "units")
_TYPES = ("ACCEL", "ANGACCEL", "GYRO", "JNTANG", "LATENCY", "MAGN", "MISC", "ORNT", "POS", "VEL")
# BIDS shifts dates to before 1925 where they are hidden for privacy
_FIRST_TRUE_YEAR = 1925
_LARGEST_SIDECAR_MB = 16.0


@dataclass(frozen=True)
class Channel:
    """One row of ``_channels.tsv``.

    Parameters
    ----------
    column : int
        Its column in the table of samples, from 0.
    line : int
        Its line in ``_channels.tsv``.
    cells : mapping of str to str
        What it says, by column name.
    """

    column: int
    line: int
    cells: Mapping[str, str]

    def __getitem__(self, name: str) -> str:
        cell = self.cells.get(name, "").strip()
        return "" if cell == "n/a" else cell


def _text(file: Path) -> str:
    try:
        if file.stat().st_size > _LARGEST_SIDECAR_MB * 1e6:
            raise RecordingError(f"a sidecar has {_LARGEST_SIDECAR_MB:g} MB at most", where=file.name)
        if not file.is_file():
            raise RecordingError("the sidecar must be a plain file, got a folder or device", where=file.name)
        return file.read_text("utf-8-sig")
    except FileNotFoundError:
        raise RecordingError(
            "the sidecar is missing", where=str(file), do="put it beside the recording, as BIDS Motion asks"
        ) from None
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is no UTF-8 text"
        raise RecordingError(f"the sidecar can't be read ({reason})", where=file.name) from None


def read_numbered_rows(file: Path) -> list[tuple[int, dict[str, str]]]:
    """Read a small table with a header, each row with its line.

    Parameters
    ----------
    file : Path
        Tab-separated text.

    Returns
    -------
    list of tuple of int and dict of str to str
        Line in the file, and the row by column name.

    Raises
    ------
    RecordingError
        It is missing or empty, or a line has another number of columns than the header.
    """
    lines = _text(file).splitlines()
    if not lines:
        raise RecordingError("the file is empty", where=file.name)
    names = lines[0].split("\t")
    rows = []
    for number, line in enumerate(lines[1:], start=2):
        if not line.strip():
            continue
        cells = line.split("\t")
        if len(cells) != len(names):
            raise RecordingError(
                f"the line has {len(cells)} columns where the header has {len(names)}", where=f"{file.name}:{number}"
            )
        rows.append((number, dict(zip(names, cells, strict=True))))
    return rows


def read_rows(file: Path) -> list[dict[str, str]]:
    """Read a small table with a header.

    Parameters
    ----------
    file : Path
        Tab-separated text.

    Returns
    -------
    list of dict of str to str
        Its rows, by column name.

    Raises
    ------
    RecordingError
        As for `read_numbered_rows`.
    """
    return [row for _, row in read_numbered_rows(file)]


def read_json(file: Path, *, required: bool) -> dict[str, object]:
    """Read a JSON object.

    Parameters
    ----------
    file : Path
        The sidecar.
    required : bool
        Whether it must exist.

    Returns
    -------
    dict
        Its content; empty where the file does not exist and need not.

    Raises
    ------
    RecordingError
        It is missing, or no JSON object.
    """
    if not required and not file.exists():
        return {}
    try:
        content = json.loads(_text(file))
    except json.JSONDecodeError as error:
        raise RecordingError(f"is no JSON: {error.msg}", where=f"{file.name}:{error.lineno}:{error.colno}") from None
    except (ValueError, RecursionError):
        # numbers of thousands of digits, or brackets nested beyond reason
        raise RecordingError("is no JSON that a sidecar could hold", where=file.name) from None
    if not isinstance(content, dict):
        raise RecordingError("must be a JSON object", where=file.name)
    return content


def sampling_frequency_hz(sidecar: Mapping[str, object], file: Path) -> float:
    """Take the rate from ``_motion.json``.

    Parameters
    ----------
    sidecar : mapping
        Content of the file.
    file : Path
        The file, for the error.

    Returns
    -------
    float
        Samples a second.

    Raises
    ------
    RecordingError
        ``SamplingFrequency`` is missing or no positive number.
    """
    rate = sidecar.get("SamplingFrequency")
    if isinstance(rate, bool) or not isinstance(rate, int | float) or not 0 < rate < 1e6:
        got = "nothing" if "SamplingFrequency" not in sidecar else repr(rate)
        raise RecordingError(f"SamplingFrequency must be a number of Hz, got {got}", where=file.name)
    return float(rate)


def read_channels(file: Path) -> list[Channel]:
    """Read ``_channels.tsv``.

    Parameters
    ----------
    file : Path
        The sidecar.

    Returns
    -------
    list of Channel
        One a column of the table of samples, in order.

    Raises
    ------
    RecordingError
        It is missing, lacks a required column, or a type is not one of BIDS.
    """
    rows = read_rows(file)
    if not rows:
        raise RecordingError("the sidecar lists no channels", where=file.name)
    absent = [name for name in _REQUIRED_COLUMNS if name not in rows[0]]
    if absent:
        raise RecordingError(
            f"the columns {', '.join(_REQUIRED_COLUMNS)} are required, {', '.join(absent)} missing",
            where=f"{file.name}:1",
        )
    channels = [Channel(column, column + 2, row) for column, row in enumerate(rows)]
    for channel in channels:
        if channel["type"] not in _TYPES:
            raise RecordingError(
                f"type must be one of {', '.join(_TYPES)}, got {channel['type']!r}",
                where=f"{file.name}:{channel.line}",
            )
    return channels


def mountings_by_frame(content: Mapping[str, object], file: Path, findings: list[Finding]) -> dict[str, str]:
    """Say in words how sensors sit, from the frames of ``_channels.json``.

    Parameters
    ----------
    content : mapping
        Content of the file.
    file : Path
        The file, for the findings.
    findings : list of Finding
        Frames that can't be used are added here.

    Returns
    -------
    dict of str to str
        Mounting by frame name, for the frames with usable ``SpatialAxes``.
    """
    described = content.get("reference_frame")
    levels = described.get("Levels") if isinstance(described, dict) else None
    frames = {}
    for name, level in levels.items() if isinstance(levels, dict) else ():
        letters = level.get("SpatialAxes") if isinstance(level, dict) else None
        if not isinstance(letters, str):
            continue
        rule = str(level.get("RotationRule", "right-hand"))
        words = mounting_from_letters(letters) if rule == "right-hand" else None
        if words is None:
            sentence = (
                f"{file.name}: the reference frame {name!r} has SpatialAxes {letters!r} ({rule}), which are no "
                "right-handed axes with two known directions, so no mounting was taken from it."
            )
            findings.append(Finding("frame-unusable", "note", sentence))
        else:
            frames[name] = words
    return frames


def recorded_at_of(motion: Path, findings: list[Finding]) -> tuple[str | None, Path | None]:
    """Find the time of the first sample in ``_scans.tsv``.

    Parameters
    ----------
    motion : Path
        The ``_motion.tsv``.
    findings : list of Finding
        A time that can't be used is noted here.

    Returns
    -------
    recorded_at : str or None
        RFC 3339 with offset.
    file : Path or None
        The ``_scans.tsv`` that lists the recording.

    Raises
    ------
    RecordingError
        ``acq_time`` is no time.
    """
    folder = motion.parent.parent
    name = f"{motion.parent.name}/{motion.name}"
    for scans in sorted(folder.glob("*_scans.tsv")):
        for row in read_rows(scans):
            if row.get("filename") != name:
                continue
            given = row.get("acq_time", "").strip()
            if given in {"", "n/a"}:
                return None, scans
            try:
                moment = datetime.fromisoformat(given)
            except ValueError:
                raise RecordingError(
                    f"acq_time must be a time as 2026-12-01T08:00:00Z, got {given!r}", where=scans.name
                ) from None
            if moment.tzinfo is None:
                sentence = f"{scans.name}: acq_time {given} has no offset from UTC, so it was not used."
                findings.append(Finding("time-without-offset", "note", sentence))
                return None, scans
            if moment.year < _FIRST_TRUE_YEAR:
                sentence = f"{scans.name}: acq_time lies before 1925, as BIDS hides dates, so it was not used."
                findings.append(Finding("time-hidden", "note", sentence))
                return None, scans
            return _local(moment, row.get("utc_offset", "")), scans
    return None, None


def _local(moment: datetime, utc_offset: str) -> str:
    match = re.fullmatch(r"([+-])(\d\d):(\d\d)", utc_offset.strip())
    if match and moment.utcoffset() == timedelta(0):
        size = timedelta(hours=int(match[2]), minutes=int(match[3]))
        moment = moment.astimezone(timezone(-size if match[1] == "-" else size))
    return moment.isoformat()
