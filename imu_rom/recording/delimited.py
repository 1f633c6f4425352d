"""Delimited text as loggers write it: one file a sensor, or one file with the columns of all.

Separator, decimal sign, heading and columns are found in the file. What the file does not say (a unit, a rate, which
of two columns is meant) is asked for by an error that names the option; nothing is guessed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.clock import MeasuredTable
from imu_rom.recording.columns import SensorColumns, sensor_columns
from imu_rom.recording.headings import QUANTITY_OF, Heading, Kind
from imu_rom.recording.layout import FileLayout, layout_of
from imu_rom.recording.model import Floats, InputFile, Recording, Sensor
from imu_rom.recording.stamps import Stamps, numeric_stamps, text_stamps
from imu_rom.recording.table import Table, TableLayout, check_is_text, read_table, side_by_side
from imu_rom.recording.timebase import even_time_base
from imu_rom.settings import ReadingSettings
from imu_rom.units import si_factor

__all__ = ["DelimitedOptions", "read_delimited"]

_SEPARATORS = {"tab": "\t", "comma": ",", "semicolon": ";"}
_DECIMALS = {"point": ".", "comma": ","}
_OPTIONS: dict[Kind, str] = {
    "accelerometer": "--accelerometer-unit g or m/s^2",
    "gyroscope": "--gyroscope-unit deg/s or rad/s",
    "magnetometer": "--magnetometer-unit uT",
}


@dataclass(frozen=True)
class DelimitedOptions:
    """What a user says about delimited files.

    Parameters
    ----------
    proximal_file, distal_file : Path or None
        One file a sensor.
    proximal, distal : str or None
        Tracked points of the two sensors; in a file with several sensors they are looked for in the heading.
    columns : tuple of str
        Entries ``[POINT.]KIND=COLUMNS`` for what the heading leaves open.
    accelerometer_unit, gyroscope_unit, magnetometer_unit, time_unit : str or None
        Units that the heading does not give.
    rate_hz : float or None
        Sampling rate, needed without time stamps.
    separator : {"tab", "comma", "semicolon"} or None
        None: found in the file.
    decimal : {"point", "comma"} or None
        None: found in the file.
    clocks : {"shared", "separate"}
        Whether both sensors' stamps are of one clock, or each sensor was started by itself.
    """

    proximal_file: Path | None = None
    distal_file: Path | None = None
    proximal: str | None = None
    distal: str | None = None
    columns: tuple[str, ...] = ()
    accelerometer_unit: str | None = None
    gyroscope_unit: str | None = None
    magnetometer_unit: str | None = None
    time_unit: str | None = None
    rate_hz: float | None = None
    separator: str | None = None
    decimal: str | None = None
    clocks: str = "shared"

    def unit(self, kind: Kind) -> str | None:
        """Look up the unit that the user gives for one kind of measurement.

        Parameters
        ----------
        kind : {"accelerometer", "gyroscope", "magnetometer", "time"}
            What is measured.

        Returns
        -------
        str or None
            Unit word.
        """
        return {
            "accelerometer": self.accelerometer_unit,
            "gyroscope": self.gyroscope_unit,
            "magnetometer": self.magnetometer_unit,
            "time": self.time_unit,
        }[kind]


@dataclass(frozen=True)
class _File:
    """What one file gave."""

    tables: tuple[MeasuredTable, ...]
    stamps: tuple[Stamps | None, ...]
    input_file: InputFile


def read_delimited(path: Path | None, settings: ReadingSettings, options: DelimitedOptions) -> Recording:
    """Read a recording from delimited text.

    Parameters
    ----------
    path : Path or None
        One file with the columns of all sensors; None where ``options`` names one file a sensor.
    settings : ReadingSettings
        How gaps are filled.
    options : DelimitedOptions
        What the files don't say.

    Returns
    -------
    Recording
        In SI units, on an even time base.

    Raises
    ------
    RecordingError
        A file can't be read, or leaves something open that no option settles.
    """
    if options.rate_hz is not None and not 0 < options.rate_hz < 1e6:
        raise RecordingError(f"must be a positive number of Hz, got {options.rate_hz}", where="--rate")
    if path is not None and (options.proximal_file or options.distal_file):
        raise RecordingError("give either one recording or one file a sensor, not both")
    if path is not None:
        points = [point for point in (options.proximal, options.distal) if point]
        files = [_read(path, points, settings, options, one_sensor=False)]
    else:
        files = [
            _read(file, [point], settings, options, one_sensor=True) for file, point in _file_of_each_sensor(options)
        ]
    findings: list[Finding] = []
    tables = [table for file in files for table in file.tables]
    stamps = [each for file in files for each in file.stamps]
    separate = options.clocks == "separate"
    if len(tables) > 1 and not separate:
        findings.extend(_same_clock(tables, stamps))
    even = even_time_base(tables, options.rate_hz, settings, separate_clocks=separate)
    recorded_at = None
    first = stamps[0]
    if first is not None and first.first_at is not None and even.start_stamp_s is not None:
        later_s = even.start_stamp_s - float(first.time_s[0])
        # within half a sample it is the first row itself, whose stamp is known exactly
        recorded_at = _later(first.first_at, later_s if later_s > 0.5 / even.rate_hz else 0.0)
    elif first is not None and first.is_clock_time and len(findings) == 0:
        sentence = "The time stamps have no offset from UTC, so they do not say when the recording was made."
        findings.append(Finding("time-without-offset", "note", sentence))
    stems = [Path(file.input_file.name).stem for file in files]
    return Recording(
        rate_hz=even.rate_hz,
        sensors={sensor.tracked_point: sensor for sensor in even.sensors},
        label=" + ".join(stems),
        recorded_at=recorded_at,
        recorded_at_source="time stamps" if recorded_at else None,
        gaps=even.gaps,
        filled_samples=even.filled_samples,
        files=tuple(file.input_file for file in files),
        findings=(*findings, *even.findings),
        clocks=even.clocks,
    )


def _later(first_at: datetime, seconds: float) -> str:
    return (first_at + timedelta(milliseconds=round(seconds * 1000))).isoformat()


def _file_of_each_sensor(options: DelimitedOptions) -> list[tuple[Path, str]]:
    if options.proximal_file is None or options.distal_file is None:
        given = "--distal-file" if options.proximal_file is None else "--proximal-file"
        raise RecordingError(
            f"{given} needs the other sensor's file too",
            do="give both --proximal-file and --distal-file, or name one sensor's file as RECORDING",
        )
    proximal, distal = options.proximal or "proximal", options.distal or "distal"
    if proximal == distal:
        raise RecordingError(f"the two sensors must have different tracked points, got {proximal!r} twice")
    if options.proximal_file.resolve() == options.distal_file.resolve():
        raise RecordingError("both sensors were given the same file", where=str(options.proximal_file))
    return [(options.proximal_file, proximal), (options.distal_file, distal)]


def _same_clock(tables: Sequence[MeasuredTable], stamps: Sequence[Stamps | None]) -> list[Finding]:
    """Check that the stamps of several tables count from the same moment; say so where that is only assumed."""
    files = list(dict.fromkeys(table.file for table in tables))
    known = [each for each in stamps if each is not None]
    if len(files) < 2 or len(known) != len(stamps):
        if len(files) > 1 and not known:
            sentence = "The files have no time stamps, so both sensors were taken to start at the same moment."
            return [Finding("clock-assumed", "caution", sentence)]
        return []
    if len({each.is_clock_time for each in known}) > 1 or len({each.first_at is None for each in known}) > 1:
        raise RecordingError(
            "the time stamps of the two files do not count from the same moment",
            where=", ".join(files),
            do="export both with the same kind of time stamps, or add --clocks separate where each sensor was started "
            "by itself",
        )
    if known[0].is_clock_time:
        return []
    sentence = "The time stamps of the two files count from no date; they were taken as those of one clock."
    return [Finding("clock-assumed", "note", sentence)]


# ------------------------------------------------------------------------------------------------------------ one file


def _word(given: str | None, words: Mapping[str, str], option: str) -> str | None:
    if given is None or given in words.values():
        return given
    if given not in words:
        raise RecordingError(f"must be {', '.join(words)}, got {given!r}", where=option)
    return words[given]


def _read(
    path: Path, points: Sequence[str], settings: ReadingSettings, options: DelimitedOptions, *, one_sensor: bool
) -> _File:
    layout = layout_of(
        path,
        check_is_text(path, settings.largest_file_mb),
        separator=_word(options.separator, _SEPARATORS, "--separator"),
        decimal=_word(options.decimal, _DECIMALS, "--decimal"),
    )
    sensors = sensor_columns(path.name, layout, options.columns, points, one_sensor=one_sensor)
    factors = {sensor.point: _factors(path.name, layout, sensor, options) for sensor in sensors}
    times = {sensor.point: sensor.channels["time"][0] for sensor in sensors if "time" in sensor.channels}
    texts = {each.column for each in times.values() if not _is_number(layout, each)}
    wanted = {each.column for sensor in sensors for channel in sensor.channels.values() for each in channel}
    table = read_table(
        path,
        TableLayout(
            separator=layout.separator,
            columns=layout.heading or tuple(f"column {column + 1}" for column in range(layout.width)),
            numbers=tuple(sorted(wanted - texts)),
            texts=tuple(sorted(texts)),
            decimal=layout.decimal,
            skipped_lines=layout.skipped_lines,
            missing=layout.missing,
            quoted=layout.quoted,
            encoding=layout.encoding,
        ),
    )
    by_time: dict[int | None, list[Sensor]] = {}
    for sensor in sensors:
        time = times.get(sensor.point)
        samples = _sensor(sensor, table, factors[sensor.point])
        by_time.setdefault(time.column if time else None, []).append(samples)
    headings = {each.column: each for each in times.values()}
    stamps = tuple(
        None if column is None else _stamps(path.name, layout, table, headings[column], options) for column in by_time
    )
    first_line = layout.skipped_lines + 1
    tables = tuple(
        MeasuredTable(path.name, first_line, None if each is None else each.time_s, tuple(group))
        for each, group in zip(stamps, by_time.values(), strict=True)
    )
    return _File(tables, stamps, InputFile(path.name, table.sha256))


def _is_number(layout: FileLayout, heading: Heading) -> bool:
    cell = layout.first_row[heading.column]
    if cell in layout.missing:
        return True
    try:
        float(cell.replace(layout.decimal, "."))
    except ValueError:
        return False
    return True


def _factors(
    file: str, layout: FileLayout, sensor: SensorColumns, options: DelimitedOptions
) -> dict[Kind, list[float]]:
    """SI units in one unit of each column, from the heading or the options."""
    factors: dict[Kind, list[float]] = {}
    for kind, headings in sensor.channels.items():
        if kind == "time":
            continue
        given = options.unit(kind)
        if kind == "magnetometer" and given is None and any(heading.unit is None for heading in headings):
            continue  # it is not needed, so its unit is not asked for
        factors[kind] = []
        for heading in headings:
            where = f"{file}:{layout.heading_line}:{heading.column + 1}" if layout.heading_line else file
            if heading.unit is None and given is None:
                raise RecordingError(
                    f"the file gives no unit for the {kind} ({heading.text})", where=where, do=f"add {_OPTIONS[kind]}"
                )
            factor = si_factor(heading.unit or given or "", QUANTITY_OF[kind], where=where)
            if given is not None and not np.isclose(factor, si_factor(given, QUANTITY_OF[kind], where=_OPTIONS[kind])):
                raise RecordingError(
                    f"the heading {heading.text!r} says {heading.unit}, the option says {given}",
                    where=where,
                    do="leave the option out, or correct the heading",
                )
            factors[kind].append(factor)
    return factors


def _sensor(sensor: SensorColumns, table: Table, factors: Mapping[Kind, Sequence[float]]) -> Sensor:
    def samples(kind: Kind) -> Floats:
        return side_by_side([table.numbers[each.column] for each in sensor.channels[kind]], factors[kind])

    rate = samples("gyroscope")
    return Sensor(
        tracked_point=sensor.point,
        accelerometer_m_s2=samples("accelerometer"),
        gyroscope_rad_s=rate,
        magnetometer_t=samples("magnetometer") if "magnetometer" in factors else None,
        missing=np.zeros(len(rate), dtype=bool),
    )


def _stamps(file: str, layout: FileLayout, table: Table, heading: Heading, options: DelimitedOptions) -> Stamps:
    if heading.column in table.texts:
        cells = table.texts[heading.column]
        return text_stamps(cells, file=file, first_line=layout.skipped_lines + 1, column=heading.column)
    unit = heading.unit or options.time_unit
    where = f"{file}:{layout.heading_line}:{heading.column + 1}" if layout.heading_line else file
    if heading.unit and options.time_unit:
        given = si_factor(options.time_unit, "time", where="--time-unit")
        if given != si_factor(heading.unit, "time", where=where):
            raise RecordingError(
                f"the heading {heading.text!r} says {heading.unit}, the option says {options.time_unit}", where=where
            )
    values = table.numbers[heading.column]
    return numeric_stamps(values, unit, options.rate_hz, where=where, column=heading.text)
