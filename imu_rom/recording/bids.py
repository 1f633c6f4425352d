"""BIDS Motion: read a ``_motion.tsv`` with its sidecars, or find the one in a folder; writing is in bids_writing.

Read are the channels of type ACCEL, GYRO, MAGN, LATENCY and JNTANG; other types are left alone.

References
----------
Brain Imaging Data Structure specification 1.9 and later, Motion (extension proposal 29).
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.bids_dataset import write_dataset_description, write_participants, write_readme
from imu_rom.recording.bids_events import event_findings, events_file_of, read_events
from imu_rom.recording.bids_sidecars import (
    Channel,
    mountings_by_frame,
    read_channels,
    read_json,
    recorded_at_of,
    sampling_frequency_hz,
)
from imu_rom.recording.bids_writing import write_bids_motion
from imu_rom.recording.clock import MeasuredTable
from imu_rom.recording.model import Event, Floats, InputFile, Recording, ReferenceChannel, Sensor
from imu_rom.recording.table import TableLayout, check_is_text, read_table, sha256_of, side_by_side
from imu_rom.recording.timebase import even_time_base
from imu_rom.settings import ReadingSettings
from imu_rom.units import Quantity, si_factor

__all__ = [
    "find_motion_file",
    "read_bids_motion",
    "read_bids_pair",
    "write_bids_motion",
    "write_dataset_description",
    "write_participants",
    "write_readme",
]

_SUFFIX = "_motion.tsv"
_QUANTITIES: dict[str, Quantity] = {
    "ACCEL": "acceleration",
    "GYRO": "angular rate",
    "MAGN": "magnetic field",
    "LATENCY": "time",
    "JNTANG": "angle",
}
_MOST_LISTED = 8


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


@dataclass(frozen=True)
class _Triplet:
    """What one ``_motion.tsv`` and its sidecars gave."""

    stem: str
    measured: MeasuredTable
    files: tuple[InputFile, ...]
    task: str | None
    subject: str | None
    recorded_at: str | None
    events: tuple[Event, ...]
    events_file: str
    findings: tuple[Finding, ...]


def _read_triplet(path: Path, settings: ReadingSettings) -> _Triplet:
    motion = find_motion_file(path)
    check_is_text(motion, settings.largest_file_mb)
    stem = motion.name.removesuffix(_SUFFIX)
    channels_file = motion.with_name(f"{stem}_channels.tsv")
    sidecar_file = motion.with_name(f"{stem}_motion.json")
    channels = read_channels(channels_file)
    sidecar = read_json(sidecar_file, required=True)
    rate_hz = sampling_frequency_hz(sidecar, sidecar_file)
    findings: list[Finding] = []
    frames_file = motion.with_name(f"{stem}_channels.json")
    frames = mountings_by_frame(read_json(frames_file, required=False), frames_file, findings)
    layout = TableLayout(
        "\t",
        tuple(channel["name"] for channel in channels),
        width_source=f", one for each channel in {channels_file.name}",
    )
    table = read_table(motion, layout)
    measured = MeasuredTable(
        file=motion.name,
        first_line=1,
        stamps_s=_stamps_s(channels, table.numbers, channels_file),
        sensors=_sensors(channels, table.numbers, frames, channels_file, findings),
        references=_references(channels, table.numbers, channels_file),
        rate_hz=rate_hz,
    )
    others = [each for each in (channels_file, sidecar_file, frames_file) if each.exists()]
    recorded_at, scans = recorded_at_of(motion, findings)
    events_file = events_file_of(motion, stem)
    others.extend(each for each in (events_file, scans) if each is not None)
    task = sidecar.get("TaskName")
    entities = dict(re.findall(r"(?:^|_)([a-z]+)-([0-9A-Za-z]+)", stem))
    return _Triplet(
        stem=stem,
        measured=measured,
        files=(InputFile(motion.name, table.sha256), *(InputFile(each.name, sha256_of(each)) for each in others)),
        task=entities.get("task") or (str(task) if task else None),
        subject=entities.get("sub"),
        recorded_at=recorded_at,
        events=read_events(events_file) if events_file else (),
        events_file=events_file.name if events_file else "",
        findings=tuple(findings),
    )


def _recording(triplets: Sequence[_Triplet], settings: ReadingSettings, *, separate_clocks: bool) -> Recording:
    """Put one or two triplets on one time base; who, what and when is told by the first."""
    even = even_time_base([each.measured for each in triplets], None, settings, separate_clocks=separate_clocks)
    first = triplets[0]
    duration_s = len(even.sensors[0].missing) / even.rate_hz
    outside = event_findings(first.events, duration_s, first.events_file)
    return Recording(
        rate_hz=even.rate_hz,
        sensors={sensor.tracked_point: sensor for sensor in even.sensors},
        label=" + ".join(each.stem for each in triplets),
        task=first.task,
        subject=first.subject,
        recorded_at=first.recorded_at,
        recorded_at_source="scans.tsv" if first.recorded_at else None,
        gaps=even.gaps,
        filled_samples=even.filled_samples,
        files=tuple(file for each in triplets for file in each.files),
        references=even.references,
        events=first.events,
        findings=(*(finding for each in triplets for finding in each.findings), *outside, *even.findings),
        clocks=even.clocks,
    )


def read_bids_motion(path: Path, settings: ReadingSettings, *, separate_clocks: bool = False) -> Recording:
    """Read one recording of a BIDS dataset.

    Parameters
    ----------
    path : Path
        A ``_motion.tsv``, or a folder that holds exactly one. ``_channels.tsv`` and ``_motion.json`` must lie beside
        it; ``_channels.json``, ``_events.tsv`` and ``_scans.tsv`` are used where they exist.
    settings : ReadingSettings
        How gaps are filled.
    separate_clocks : bool
        True: its two sensors were started separately and joined in this file.

    Returns
    -------
    Recording
        In SI units, on an even time base.

    Raises
    ------
    RecordingError
        A sidecar is missing or contradicts the table, a cell is no number, a unit is unknown, or a sensor lacks an
        axis.
    CannotAnswerError
        Nothing tells how separate clocks lie.
    """
    return _recording([_read_triplet(path, settings)], settings, separate_clocks=separate_clocks)


def read_bids_pair(proximal: Path, distal: Path, settings: ReadingSettings) -> Recording:
    """Read two tracking systems of a BIDS dataset, one sensor each, that were started separately.

    Parameters
    ----------
    proximal, distal : Path
        The ``_motion.tsv`` of each; the proximal one's clock is kept.
    settings : ReadingSettings
        How gaps are filled, and how clocks are compared.

    Returns
    -------
    Recording
        In SI units, on an even time base.

    Raises
    ------
    RecordingError
        As for `read_bids_motion`, or both are of one tracked point.
    CannotAnswerError
        Nothing tells how the clocks lie.
    """
    triplets = [_read_triplet(path, settings) for path in (proximal, distal)]
    points = [sensor.tracked_point for each in triplets for sensor in each.measured.sensors]
    if len(set(points)) < len(points):
        raise RecordingError(
            f"the two files must hold different tracked points, got {', '.join(points)}",
            where=", ".join(each.measured.file for each in triplets),
        )
    return _recording(triplets, settings, separate_clocks=True)


# ----------------------------------------------------------------------------------------------------------- samples


def _factor(channel: Channel, file: Path) -> float:
    return si_factor(channel["units"], _QUANTITIES[channel["type"]], where=f"{file.name}:{channel.line}")


def _stamps_s(channels: Sequence[Channel], values: Mapping[int, Floats], file: Path) -> Floats | None:
    latencies = [channel for channel in channels if channel["type"] == "LATENCY"]
    if not latencies:
        return None
    if len(latencies) > 1:
        raise RecordingError(
            "there must be one LATENCY channel at most", where=f"{file.name}:{latencies[1].line}", do="keep one"
        )
    return values[latencies[0].column] * _factor(latencies[0], file)


def _references(channels: Sequence[Channel], values: Mapping[int, Floats], file: Path) -> tuple[ReferenceChannel, ...]:
    return tuple(
        ReferenceChannel(
            channel["name"],
            channel["tracked_point"],
            np.rad2deg(values[channel.column] * _factor(channel, file)),
        )
        for channel in channels
        if channel["type"] == "JNTANG"
    )


def _triple(channels: Sequence[Channel], kind: str, tracked_point: str, file: Path) -> dict[str, Channel]:
    """Pick the three axes of one kind of measurement at one tracked point."""
    axes: dict[str, Channel] = {}
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


def _samples(axes: Mapping[str, Channel], values: Mapping[int, Floats], file: Path) -> Floats:
    ordered = [axes[axis] for axis in "xyz"]
    return side_by_side([values[each.column] for each in ordered], [_factor(each, file) for each in ordered])


def _full_scale(axes: Mapping[str, Channel], file: Path) -> float | None:
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
    channels: Sequence[Channel],
    values: Mapping[int, Floats],
    frames: Mapping[str, str],
    file: Path,
    findings: list[Finding],
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
                missing=np.zeros(len(next(iter(values.values()))), dtype=bool),
                mounting=frames.get(names.pop()) if len(names) == 1 else None,
                placement=own[0]["placement"] or None,
                full_scale_m_s2=_full_scale(acceleration, file),
                full_scale_rad_s=_full_scale(rate, file),
            )
        )
    if not sensors:
        raise RecordingError("no tracked point has both ACCEL and GYRO channels for x, y and z", where=file.name)
    return tuple(sensors)
