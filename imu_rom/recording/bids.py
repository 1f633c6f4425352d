"""BIDS Motion: read a ``_motion.tsv`` with its sidecars, or find the one in a folder; writing is in bids_writing.

Read are the channels of type ACCEL, GYRO, MAGN, LATENCY and JNTANG; other types are left alone.

References
----------
Brain Imaging Data Structure specification 1.9 and later, Motion (extension proposal 29).
"""

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.axes import mounting_from_letters
from imu_rom.recording.bids_writing import (
    write_bids_motion,
    write_dataset_description,
    write_participants,
    write_readme,
)
from imu_rom.recording.model import Floats, InputFile, Recording, ReferenceChannel, Sensor
from imu_rom.recording.table import TableLayout, check_is_text, read_numbers, sha256_of
from imu_rom.recording.timebase import MeasuredTable, even_time_base
from imu_rom.settings import ReadingSettings
from imu_rom.units import Quantity, si_factor

__all__ = [
    "find_motion_file",
    "read_bids_motion",
    "write_bids_motion",
    "write_dataset_description",
    "write_participants",
    "write_readme",
]

_SUFFIX = "_motion.tsv"
_REQUIRED_COLUMNS = ("name", "component", "type", "tracked_point", "units")
_TYPES = ("ACCEL", "ANGACCEL", "GYRO", "JNTANG", "LATENCY", "MAGN", "MISC", "ORNT", "POS", "VEL")
_QUANTITIES: dict[str, Quantity] = {
    "ACCEL": "acceleration",
    "GYRO": "angular rate",
    "MAGN": "magnetic field",
    "LATENCY": "time",
    "JNTANG": "angle",
}
# BIDS shifts dates to before 1925 where they are hidden for privacy
_FIRST_TRUE_YEAR = 1925
_MOST_LISTED = 8


@dataclass(frozen=True)
class _Channel:
    """One row of ``_channels.tsv``: column in the table of samples, and what it says."""

    column: int
    line: int
    cells: Mapping[str, str]

    def __getitem__(self, name: str) -> str:
        cell = self.cells.get(name, "").strip()
        return "" if cell == "n/a" else cell


def find_motion_file(path: Path) -> Path:
    """Find the ``_motion.tsv`` that a path means.

    Parameters
    ----------
    path : Path
        The file itself, or a folder that holds exactly one, at any depth.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    RecordingError
        There is none, or more than one.
    """
    if not path.is_dir():
        return path
    found = sorted(path.rglob(f"*{_SUFFIX}"))
    if not found:
        raise RecordingError(f"the folder holds no *{_SUFFIX}", where=str(path))
    if len(found) > 1:
        names = ", ".join(each.relative_to(path).as_posix() for each in found[:_MOST_LISTED])
        more = f" and {len(found) - _MOST_LISTED} more" if len(found) > _MOST_LISTED else ""
        raise RecordingError(
            f"the folder holds {len(found)} recordings: {names}{more}", where=str(path), do="name one of them"
        )
    return found[0]


def read_bids_motion(path: Path, settings: ReadingSettings) -> Recording:
    """Read one recording of a BIDS dataset.

    Parameters
    ----------
    path : Path
        A ``_motion.tsv``, or a folder that holds exactly one. ``_channels.tsv`` and ``_motion.json`` must lie beside
        it; ``_channels.json``, ``_events.tsv`` and ``_scans.tsv`` are used where they exist.
    settings : ReadingSettings
        How gaps are filled.

    Returns
    -------
    Recording
        In SI units, on an even time base.

    Raises
    ------
    RecordingError
        A sidecar is missing or contradicts the table, a cell is no number, a unit is unknown, or a sensor lacks an
        axis.
    """
    motion = find_motion_file(path)
    check_is_text(motion)
    stem = motion.name.removesuffix(_SUFFIX)
    channels_file = motion.with_name(f"{stem}_channels.tsv")
    sidecar_file = motion.with_name(f"{stem}_motion.json")
    channels = _channels(channels_file)
    sidecar = _json(sidecar_file, required=True)
    rate_hz = _rate_hz(sidecar, sidecar_file)
    findings: list[Finding] = []
    frames_file = motion.with_name(f"{stem}_channels.json")
    frames = _frames(_json(frames_file, required=False), frames_file, findings)
    layout = TableLayout("\t", tuple(channel["name"] for channel in channels))
    values, sha256 = read_numbers(motion, layout)
    table = MeasuredTable(
        file=motion.name,
        first_line=1,
        stamps_s=_stamps_s(channels, values, channels_file),
        sensors=_sensors(channels, values, frames, channels_file, findings),
        references=_references(channels, values, channels_file),
    )
    del values
    even = even_time_base([table], rate_hz, settings)
    others = [each for each in (channels_file, sidecar_file, frames_file) if each.exists()]
    recorded_at, scans = _recorded_at(motion, findings)
    events_file = _events_file(motion, stem)
    others.extend(each for each in (events_file, scans) if each is not None)
    task = sidecar.get("TaskName")
    entities = dict(re.findall(r"(?:^|_)([a-z]+)-([0-9A-Za-z]+)", stem))
    return Recording(
        rate_hz=even.rate_hz,
        sensors={sensor.tracked_point: sensor for sensor in even.sensors},
        label=stem,
        task=entities.get("task") or (str(task) if task else None),
        subject=entities.get("sub"),
        recorded_at=recorded_at,
        recorded_at_source="scans.tsv" if recorded_at else None,
        gaps=even.gaps,
        filled_samples=even.filled_samples,
        files=(InputFile(motion.name, sha256), *(InputFile(each.name, sha256_of(each)) for each in others)),
        references=even.references,
        events=tuple(_rows(events_file)) if events_file else (),
        findings=(*findings, *even.findings),
    )


# ---------------------------------------------------------------------------------------------------------- sidecars


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8-sig")
    except FileNotFoundError:
        raise RecordingError(
            "the sidecar is missing", where=str(file), do="put it beside the recording, as BIDS Motion asks"
        ) from None
    except (OSError, UnicodeDecodeError) as error:
        raise RecordingError(f"the sidecar can't be read ({error})", where=str(file)) from None


def _rows(file: Path) -> list[dict[str, str]]:
    lines = _text(file).splitlines()
    if not lines:
        raise RecordingError("the file is empty", where=str(file))
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
        rows.append(dict(zip(names, cells, strict=True)))
    return rows


def _json(file: Path, *, required: bool) -> dict[str, object]:
    if not required and not file.exists():
        return {}
    try:
        content = json.loads(_text(file))
    except json.JSONDecodeError as error:
        raise RecordingError(f"is no JSON: {error.msg}", where=f"{file.name}:{error.lineno}:{error.colno}") from None
    if not isinstance(content, dict):
        raise RecordingError("must be a JSON object", where=file.name)
    return content


def _rate_hz(sidecar: Mapping[str, object], file: Path) -> float:
    rate = sidecar.get("SamplingFrequency")
    if isinstance(rate, bool) or not isinstance(rate, int | float) or not 0 < rate < 1e6:
        got = "nothing" if "SamplingFrequency" not in sidecar else repr(rate)
        raise RecordingError(f"SamplingFrequency must be a number of Hz, got {got}", where=file.name)
    return float(rate)


def _channels(file: Path) -> list[_Channel]:
    rows = _rows(file)
    if not rows:
        raise RecordingError("the sidecar lists no channels", where=file.name)
    absent = [name for name in _REQUIRED_COLUMNS if name not in rows[0]]
    if absent:
        raise RecordingError(
            f"the columns {', '.join(_REQUIRED_COLUMNS)} are required, {', '.join(absent)} missing",
            where=f"{file.name}:1",
        )
    channels = [_Channel(column, column + 2, row) for column, row in enumerate(rows)]
    for channel in channels:
        if channel["type"] not in _TYPES:
            raise RecordingError(
                f"type must be one of {', '.join(_TYPES)}, got {channel['type']!r}",
                where=f"{file.name}:{channel.line}",
            )
    return channels


def _frames(content: Mapping[str, object], file: Path, findings: list[Finding]) -> dict[str, str]:
    """Mounting in words by frame name, for the frames whose axes are told."""
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


def _events_file(motion: Path, stem: str) -> Path | None:
    without = re.sub(r"_tracksys-[0-9A-Za-z]+", "", stem)
    candidates = [motion.with_name(f"{each}_events.tsv") for each in (stem, without)]
    return next((each for each in candidates if each.exists()), None)


def _recorded_at(motion: Path, findings: list[Finding]) -> tuple[str | None, Path | None]:
    """Time of the first sample from ``_scans.tsv``, with its offset, and the file that says so."""
    folder = motion.parent.parent
    name = f"{motion.parent.name}/{motion.name}"
    for scans in sorted(folder.glob("*_scans.tsv")):
        for row in _rows(scans):
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


# ----------------------------------------------------------------------------------------------------------- samples


def _factor(channel: _Channel, file: Path) -> float:
    return si_factor(channel["units"], _QUANTITIES[channel["type"]], where=f"{file.name}:{channel.line}")


def _stamps_s(channels: Sequence[_Channel], values: Floats, file: Path) -> Floats | None:
    latencies = [channel for channel in channels if channel["type"] == "LATENCY"]
    if not latencies:
        return None
    if len(latencies) > 1:
        raise RecordingError(
            "there must be one LATENCY channel at most", where=f"{file.name}:{latencies[1].line}", do="keep one"
        )
    return np.ascontiguousarray(values[:, latencies[0].column]) * _factor(latencies[0], file)


def _references(channels: Sequence[_Channel], values: Floats, file: Path) -> tuple[ReferenceChannel, ...]:
    return tuple(
        ReferenceChannel(
            channel["name"],
            channel["tracked_point"],
            np.rad2deg(values[:, channel.column] * _factor(channel, file)),
        )
        for channel in channels
        if channel["type"] == "JNTANG"
    )


def _triple(channels: Sequence[_Channel], kind: str, tracked_point: str, file: Path) -> dict[str, _Channel]:
    """The three axes of one kind of measurement at one tracked point."""
    axes: dict[str, _Channel] = {}
    for channel in channels:
        if channel["type"] != kind or channel["tracked_point"] != tracked_point:
            continue
        axis = channel["component"]
        if axis not in {"x", "y", "z"} or axis in axes:
            got = f"{axis!r} twice" if axis in axes else repr(axis)
            raise RecordingError(
                f"component of the {kind} channels of {tracked_point!r} must be x, y and z once each, got {got}",
                where=f"{file.name}:{channel.line}",
            )
        axes[axis] = channel
    if len(axes) not in {0, 3}:
        raise RecordingError(
            f"{tracked_point!r} has {kind} channels for {', '.join(sorted(axes))} only, x, y and z are needed",
            where=file.name,
        )
    return axes


def _samples(axes: Mapping[str, _Channel], values: Floats, file: Path) -> Floats:
    columns = [axes[axis].column for axis in "xyz"]
    samples = np.empty((len(values), 3))
    for index, axis in enumerate("xyz"):
        factor = _factor(axes[axis], file)
        if factor == 1.0:
            samples[:, index] = values[:, columns[index]]
        else:
            np.multiply(values[:, columns[index]], factor, out=samples[:, index])
    return samples


def _full_scale(axes: Mapping[str, _Channel], file: Path) -> float | None:
    """Smallest full scale that the three channels declare, in SI units."""
    limits = []
    for channel in axes.values():
        if not channel["full_scale"]:
            return None
        try:
            limits.append(float(channel["full_scale"]) * _factor(channel, file))
        except ValueError:
            raise RecordingError(
                f"full_scale must be a number, got {channel['full_scale']!r}", where=f"{file.name}:{channel.line}"
            ) from None
    return min(limits)


def _sensors(
    channels: Sequence[_Channel], values: Floats, frames: Mapping[str, str], file: Path, findings: list[Finding]
) -> tuple[Sensor, ...]:
    sensors = []
    points = dict.fromkeys(channel["tracked_point"] for channel in channels if channel["type"] in {"ACCEL", "GYRO"})
    for point in points:
        if not point:
            raise RecordingError("ACCEL and GYRO channels must name their tracked_point", where=file.name)
        acceleration, rate, field = (_triple(channels, kind, point, file) for kind in ("ACCEL", "GYRO", "MAGN"))
        if not acceleration or not rate:
            absent = "GYRO" if acceleration else "ACCEL"
            sentence = f"The sensor on {point} has no {absent} channels and was left out."
            findings.append(Finding("sensor-incomplete", "caution", sentence, sensor=point))
            continue
        own = [*acceleration.values(), *rate.values()]
        bad = [channel["name"] for channel in own if channel["status"] == "bad"]
        if bad:
            sentence = f"{file.name} marks {', '.join(bad)} as bad."
            findings.append(Finding("channel-marked-bad", "problem", sentence, sensor=point))
        names = {channel["reference_frame"] for channel in own}
        if len(names) > 1:
            sentence = f"The channels of the sensor on {point} name different frames, so its mounting was not taken."
            findings.append(Finding("frame-unusable", "note", sentence, sensor=point))
        sensors.append(
            Sensor(
                tracked_point=point,
                accelerometer_m_s2=_samples(acceleration, values, file),
                gyroscope_rad_s=_samples(rate, values, file),
                magnetometer_t=_samples(field, values, file) if field else None,
                missing=np.zeros(len(values), dtype=bool),
                mounting=frames.get(names.pop()) if len(names) == 1 else None,
                placement=own[0]["placement"] or None,
                full_scale_m_s2=_full_scale(acceleration, file),
                full_scale_rad_s=_full_scale(rate, file),
            )
        )
    if not sensors:
        raise RecordingError("no tracked point has both ACCEL and GYRO channels for x, y and z", where=file.name)
    return tuple(sensors)
