"""Write recordings as BIDS Motion: ``_motion.tsv`` with its sidecars.

References
----------
Brain Imaging Data Structure specification 1.9 and later, Motion (extension proposal 29).
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from imu_rom.errors import OutputError
from imu_rom.recording.axes import Side, letters_from_mounting
from imu_rom.recording.bids_dataset import as_json, as_rows
from imu_rom.recording.bids_events import write_events
from imu_rom.recording.formatting import format_numbers
from imu_rom.recording.model import Event, Floats, ReferenceChannel, Sensor

__all__ = ["add_scan", "bids_moment", "write_bids_motion"]

_CHANNEL_COLUMNS = ("name", "component", "type", "tracked_point", "units", "placement", "reference_frame")
_KINDS = (
    ("acc", "ACCEL", "m/s^2", "accelerometer_m_s2", "full_scale_m_s2"),
    ("gyro", "GYRO", "rad/s", "gyroscope_rad_s", "full_scale_rad_s"),
    ("magn", "MAGN", "T", "magnetometer_t", ""),
)
_COUNTED = ("ACCEL", "ANGACCEL", "GYRO", "JNTANG", "LATENCY", "MAGN", "MISC", "ORNT", "POS", "VEL")
# tesla are small numbers: fixed decimals would round them to nothing
_MAGNETOMETER_UNIT, _MAGNETOMETER_FACTOR = "uT", 1e6


def _label(kind: str, label: str) -> str:
    if not label or not label.isascii() or not label.isalnum():
        raise OutputError(f"a BIDS {kind} label must be letters and digits, got {label!r}")
    return label


def _written(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"


def _channels(
    sensors: Sequence[Sensor], references: Sequence[ReferenceChannel], latency: bool, frames: Mapping[str, str]
) -> list[list[str]]:
    rows: list[list[str]] = [["latency", "n/a", "LATENCY", "n/a", "s", "n/a", "n/a", ""]] if latency else []
    for sensor in sensors:
        for short, kind, unit, attribute, full_scale in _KINDS:
            if getattr(sensor, attribute) is None:
                continue
            limit = getattr(sensor, full_scale) if full_scale else None
            rows.extend(
                [
                    f"{sensor.tracked_point}_{short}_{axis}",
                    axis,
                    kind,
                    sensor.tracked_point,
                    _MAGNETOMETER_UNIT if kind == "MAGN" else unit,
                    sensor.placement or "",
                    frames.get(sensor.tracked_point, ""),
                    _written(limit),
                ]
                for axis in "xyz"
            )
    rows.extend([each.name, "n/a", "JNTANG", each.tracked_point, "deg", "", "", ""] for each in references)
    return rows


def _write_channels(
    base: Path, sensors: Sequence[Sensor], references: Sequence[ReferenceChannel], latency: bool, side: Side | None
) -> list[list[str]]:
    """Write ``_channels.tsv`` and, where there is something to explain, ``_channels.json``."""
    frames: dict[str, str] = {}
    levels: dict[str, object] = {}
    for sensor in sensors:
        axes = letters_from_mounting(sensor.mounting, side) if sensor.mounting else None
        if axes:
            frames[sensor.tracked_point] = name = f"sensor_{sensor.tracked_point}"
            meaning = f"Axes of the sensor on {sensor.tracked_point}, as it sits on the body in the neutral pose"
            levels[name] = {"SpatialAxes": axes, "RotationRule": "right-hand", "Description": meaning}
    rows = _channels(sensors, references, latency, frames)
    scaled = any(row[-1] for row in rows)
    columns = (*_CHANNEL_COLUMNS, "full_scale") if scaled else _CHANNEL_COLUMNS
    text = as_rows([columns, *(row[: len(columns)] for row in rows)])
    base.with_name(f"{base.name}_channels.tsv").write_text(text, "utf-8")
    meanings: dict[str, object] = {}
    if levels:
        meanings["reference_frame"] = {"Description": "Frame of the channel's axes", "Levels": levels}
    if scaled:
        meanings["full_scale"] = {"Description": "Largest value that the channel can give, in its units"}
    if meanings:
        base.with_name(f"{base.name}_channels.json").write_text(as_json(meanings), "utf-8")
    return rows


def _samples(sensors: Sequence[Sensor], references: Sequence[ReferenceChannel], latency_s: Floats | None) -> Floats:
    count = len(sensors[0].gyroscope_rad_s)
    columns: list[Floats] = [] if latency_s is None else [np.asarray(latency_s, dtype=np.float64)[:, None]]
    for sensor in sensors:
        triples = [sensor.accelerometer_m_s2, sensor.gyroscope_rad_s]
        if sensor.magnetometer_t is not None:
            triples.append(sensor.magnetometer_t * _MAGNETOMETER_FACTOR)
        block = np.hstack(triples)
        if sensor.missing.any():
            block[sensor.missing] = np.nan
        columns.append(block)
    columns.extend(each.values_deg[:, None] for each in references)
    if any(len(each) != count for each in columns):
        raise OutputError(f"all channels must have {count} samples, got {[len(each) for each in columns]}")
    return np.hstack(columns)


def bids_moment(recorded_at: str | None) -> datetime | None:
    """Read the time of a recording for ``_scans.tsv``.

    Parameters
    ----------
    recorded_at : str or None
        RFC 3339 with offset.

    Returns
    -------
    datetime or None
        With its offset.

    Raises
    ------
    OutputError
        It is no such time.
    """
    if recorded_at is None:
        return None
    try:
        moment = datetime.fromisoformat(recorded_at)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise OutputError(f"recorded_at must be an RFC 3339 time with offset, got {recorded_at!r}")
    return moment


def add_scan(subject_folder: Path, prefix: str, motion: Path, moment: datetime) -> None:
    """Add a recording's time to ``_scans.tsv``; BIDS takes UTC only, so the offset stands in a column of its own.

    Parameters
    ----------
    subject_folder : Path
        Folder of the subject, or of its session.
    prefix : str
        ``sub-`` and ``ses-`` labels that the file's name begins with.
    motion : Path
        The ``_motion.tsv``.
    moment : datetime
        Of the first sample, with its offset.
    """
    acq_time = moment.astimezone(UTC).isoformat().replace("+00:00", "Z")
    scans = subject_folder / f"{prefix}_scans.tsv"
    name = motion.relative_to(subject_folder).as_posix()
    rows = [line.split("\t") for line in scans.read_text("utf-8").splitlines()[1:]] if scans.exists() else []
    rows = [row for row in rows if row[0] != name] + [[name, acq_time, moment.isoformat()[-6:]]]
    scans.write_text(as_rows([("filename", "acq_time", "utc_offset"), *sorted(rows)]), "utf-8")
    meaning = "Offset of the local time from UTC where and when the recording was made (acq_time is in UTC)"
    scans.with_suffix(".json").write_text(as_json({"utc_offset": {"Description": meaning}}), "utf-8")


def write_bids_motion(
    folder: Path,
    *,
    subject: str,
    task: str,
    rate_hz: float,
    sensors: Sequence[Sensor],
    session: str | None = None,
    run: str | None = None,
    tracking_system: str = "imu",
    side: Side | None = None,
    recorded_at: str | None = None,
    latency_s: Floats | None = None,
    references: Sequence[ReferenceChannel] = (),
    events: Sequence[Event] = (),
    description: str | None = None,
    digits: int = 5,
) -> Path:
    """Write one recording into a BIDS dataset.

    Parameters
    ----------
    folder : Path
        The dataset's folder.
    subject, task : str
        BIDS labels, letters and digits, without ``sub-`` and ``task-``.
    rate_hz : float
        Sampling rate.
    sensors : sequence of Sensor
        Sensors with the same number of samples; where a sensor is flagged missing, ``n/a`` is written.
    session, run : str or None
        BIDS labels.
    tracking_system : str, optional
        BIDS label after ``tracksys-``.
    side : {"left", "right"} or None
        Side of the body, needed to write a mounting that says outward or inward.
    recorded_at : str or None
        RFC 3339 time with offset of the first sample, for ``_scans.tsv``.
    latency_s : ndarray of shape (n,) or None
        Time stamps in seconds, written as a LATENCY channel.
    references : sequence of ReferenceChannel
        Joint angles in degrees, written as JNTANG channels.
    events : sequence of Event
        Rows of ``_events.tsv``.
    description : str or None
        What was done, for ``_motion.json``.
    digits : int, optional
        Digits after the decimal point.

    Returns
    -------
    Path
        The ``_motion.tsv``.

    Raises
    ------
    OutputError
        A label or time is not as BIDS has it, channels differ in length, or the file exists.
    """
    labels = [("sub", subject), ("ses", session), ("task", task), ("tracksys", tracking_system), ("run", run)]
    parts = [f"{entity}-{_label(entity, label)}" for entity, label in labels if label is not None]
    prefix = "_".join(parts[:1] if session is None else parts[:2])
    subject_folder = folder / prefix.replace("_", "/")
    base = subject_folder / "motion" / "_".join(parts)
    motion = base.with_name(f"{base.name}_motion.tsv")
    if not sensors:
        raise OutputError("a recording needs at least one sensor to be written")
    if motion.exists():
        raise OutputError("the recording exists already", where=str(motion))
    moment = bids_moment(recorded_at)
    samples = _samples(sensors, references, latency_s)
    motion.parent.mkdir(parents=True, exist_ok=True)
    rows = _write_channels(base, sensors, references, latency_s is not None, side)
    counts = {kind: sum(row[2] == kind for row in rows) for kind in _COUNTED}
    sidecar: dict[str, object] = {
        "TaskName": task,
        **({"TaskDescription": description} if description else {}),
        "SamplingFrequency": int(rate_hz) if float(rate_hz).is_integer() else rate_hz,
        "TrackingSystemName": tracking_system,
        "TrackedPointsCount": len(sensors),
        "MotionChannelCount": len(rows),
        **{f"{kind}ChannelCount": count for kind, count in counts.items()},
        "MissingValues": "n/a" if np.isnan(samples.sum()) else "none",
    }
    base.with_name(f"{base.name}_motion.json").write_text(as_json(sidecar), "utf-8")
    if events:
        write_events(base.with_name(f"{base.name}_events.tsv"), events)
    if moment is not None:
        add_scan(subject_folder, prefix, motion, moment)
    try:
        with motion.open("wb") as file:
            file.writelines(format_numbers(samples, digits))
    except ValueError as error:
        motion.unlink()
        raise OutputError(str(error), where=str(motion)) from None
    return motion
