"""Write recordings as BIDS Motion: ``_motion.tsv`` with its sidecars, and the files that make a folder a dataset.

References
----------
Brain Imaging Data Structure specification 1.9 and later, Motion (extension proposal 29).
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from imu_rom.errors import OutputError
from imu_rom.recording.axes import Side, letters_from_mounting
from imu_rom.recording.model import Floats, ReferenceChannel, Sensor
from imu_rom.recording.table import format_numbers

__all__ = [
    "BIDS_VERSION",
    "write_bids_motion",
    "write_dataset_description",
    "write_participants",
    "write_readme",
]

BIDS_VERSION = "1.10.0"

_CHANNEL_COLUMNS = ("name", "component", "type", "tracked_point", "units", "placement", "reference_frame")
_KINDS = (
    ("acc", "ACCEL", "m/s^2", "accelerometer_m_s2", "full_scale_m_s2"),
    ("gyro", "GYRO", "rad/s", "gyroscope_rad_s", "full_scale_rad_s"),
    ("magn", "MAGN", "T", "magnetometer_t", ""),
)
# tesla are small numbers: fixed decimals would round them to nothing
_MAGNETOMETER_UNIT, _MAGNETOMETER_FACTOR = "uT", 1e6


def _table(rows: Iterable[Sequence[str]]) -> str:
    return "".join("\t".join(cell or "n/a" for cell in row) + "\n" for row in rows)


def _json(content: Mapping[str, object]) -> str:
    return json.dumps(content, indent=2, ensure_ascii=False) + "\n"


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


def _add_scan(subject_folder: Path, prefix: str, motion: Path, recorded_at: str) -> None:
    """Add the file's time to ``_scans.tsv``; BIDS takes UTC only, so the offset stands in a column of its own."""
    try:
        moment = datetime.fromisoformat(recorded_at)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise OutputError(f"recorded_at must be an RFC 3339 time with offset, got {recorded_at!r}")
    acq_time = moment.astimezone(UTC).isoformat().replace("+00:00", "Z")
    scans = subject_folder / f"{prefix}_scans.tsv"
    name = motion.relative_to(subject_folder).as_posix()
    rows = [line.split("\t") for line in scans.read_text("utf-8").splitlines()[1:]] if scans.exists() else []
    rows = [row for row in rows if row[0] != name] + [[name, acq_time, moment.isoformat()[-6:].replace("Z", "+00:00")]]
    scans.write_text(_table([("filename", "acq_time", "utc_offset"), *sorted(rows)]), "utf-8")
    meaning = "Offset of the local time from UTC where and when the recording was made (acq_time is in UTC)"
    scans.with_suffix(".json").write_text(_json({"utc_offset": {"Description": meaning}}), "utf-8")


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
    events: Sequence[Mapping[str, str]] = (),
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
    events : sequence of mapping of str to str
        Rows of ``_events.tsv``, each with ``onset`` and ``duration`` in seconds.
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
    parts = [f"sub-{_label('subject', subject)}"]
    subject_folder = folder / parts[0]
    if session is not None:
        parts.append(f"ses-{_label('session', session)}")
        subject_folder /= parts[1]
    prefix = "_".join(parts)
    stem = f"{prefix}_task-{_label('task', task)}_tracksys-{_label('tracking system', tracking_system)}"
    if run is not None:
        stem += f"_run-{_label('run', run)}"
    if not sensors:
        raise OutputError("a recording needs at least one sensor to be written")
    samples = _samples(sensors, references, latency_s)
    motion_folder = subject_folder / "motion"
    motion = motion_folder / f"{stem}_motion.tsv"
    if motion.exists():
        raise OutputError("the recording exists already", where=str(motion))
    motion_folder.mkdir(parents=True, exist_ok=True)

    frames, levels = {}, {}
    for sensor in sensors:
        axes = letters_from_mounting(sensor.mounting, side) if sensor.mounting else None
        if axes:
            frames[sensor.tracked_point] = name = f"sensor_{sensor.tracked_point}"
            meaning = f"Axes of the sensor on {sensor.tracked_point}, as it sits on the body in the neutral pose"
            levels[name] = {"SpatialAxes": axes, "RotationRule": "right-hand", "Description": meaning}
    rows = _channels(sensors, references, latency_s is not None, frames)
    scaled = any(row[-1] for row in rows)
    columns = (*_CHANNEL_COLUMNS, "full_scale") if scaled else _CHANNEL_COLUMNS
    (motion_folder / f"{stem}_channels.tsv").write_text(
        _table([columns, *(row[: len(columns)] for row in rows)]), "utf-8"
    )
    meanings: dict[str, object] = {}
    if levels:
        meanings["reference_frame"] = {"Description": "Frame of the channel's axes", "Levels": levels}
    if scaled:
        meanings["full_scale"] = {"Description": "Largest value that the channel can give, in its units"}
    if meanings:
        (motion_folder / f"{stem}_channels.json").write_text(_json(meanings), "utf-8")
    counts = {kind: sum(row[2] == kind for row in rows) for kind in ("ACCEL", "GYRO", "MAGN", "JNTANG", "LATENCY")}
    sidecar: dict[str, object] = {
        "TaskName": task,
        "SamplingFrequency": int(rate_hz) if float(rate_hz).is_integer() else rate_hz,
        "TrackingSystemName": tracking_system,
        "TrackedPointsCount": len(sensors),
        "MotionChannelCount": len(rows),
        **{f"{kind}ChannelCount": count for kind, count in counts.items() if count},
        "MissingValues": "n/a" if np.isnan(samples.sum()) else "none",
    }
    if description:
        sidecar["TaskDescription"] = description
    (motion_folder / f"{stem}_motion.json").write_text(_json(sidecar), "utf-8")
    if events:
        names = ["onset", "duration", *sorted({key for row in events for key in row} - {"onset", "duration"})]
        lines = [names, *([str(row.get(name, "")) for name in names] for row in events)]
        (motion_folder / f"{stem}_events.tsv").write_text(_table(lines), "utf-8")
    with motion.open("wb") as file:
        try:
            file.writelines(format_numbers(samples, digits))
        except ValueError as error:
            raise OutputError(str(error), where=str(motion)) from None
    if recorded_at is not None:
        _add_scan(subject_folder, prefix, motion, recorded_at)
    return motion


def write_dataset_description(
    folder: Path,
    *,
    name: str,
    authors: Sequence[str] = (),
    license_name: str = "CC0",
    acknowledgements: str = "",
    generated_by: Mapping[str, str] | None = None,
) -> Path:
    """Write ``dataset_description.json``.

    Parameters
    ----------
    folder : Path
        The dataset's folder; made where it is missing.
    name : str
        Name of the dataset.
    authors : sequence of str
        Who made it.
    license_name : str, optional
        Licence of the data.
    acknowledgements : str, optional
        Free text, such as that the data are invented.
    generated_by : mapping of str to str or None
        ``Name``, ``Version`` and ``Description`` of the program that made the data.

    Returns
    -------
    Path
        The file.
    """
    content: dict[str, object] = {
        "Name": name,
        "BIDSVersion": BIDS_VERSION,
        "DatasetType": "raw",
        "License": license_name,
    }
    if authors:
        content["Authors"] = list(authors)
    if acknowledgements:
        content["Acknowledgements"] = acknowledgements
    if generated_by:
        content["GeneratedBy"] = [dict(generated_by)]
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "dataset_description.json"
    path.write_text(_json(content), "utf-8")
    return path


def write_readme(folder: Path, text: str) -> Path:
    """Write the dataset's README.

    Parameters
    ----------
    folder : Path
        The dataset's folder.
    text : str
        What the data are and where they come from.

    Returns
    -------
    Path
        The file.
    """
    path = folder / "README.md"
    path.write_text(text.rstrip("\n") + "\n", "utf-8")
    return path


def write_participants(
    folder: Path, rows: Sequence[Mapping[str, str]], descriptions: Mapping[str, str] | None = None
) -> Path:
    """Write ``participants.tsv`` and its sidecar.

    Parameters
    ----------
    folder : Path
        The dataset's folder.
    rows : sequence of mapping of str to str
        One row a person, each with ``participant_id`` (``sub-`` and the label) and any other columns.
    descriptions : mapping of str to str or None
        Meaning of the other columns.

    Returns
    -------
    Path
        The ``participants.tsv``.
    """
    others = list(dict.fromkeys(key for row in rows for key in row if key != "participant_id"))
    names = ["participant_id", *others]
    path = folder / "participants.tsv"
    path.write_text(_table([names, *([row.get(name, "") for name in names] for row in rows)]), "utf-8")
    meanings = {name: {"Description": (descriptions or {}).get(name, name)} for name in others}
    if meanings:
        path.with_suffix(".json").write_text(_json(meanings), "utf-8")
    return path
