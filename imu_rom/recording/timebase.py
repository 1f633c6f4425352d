"""From time stamps as loggers write them to one even time base.

What happens to the rows of a file:

- Rows whose stamps lie on an even grid are kept bit for bit; only slots without a row are interpolated.
- A row with the stamp and the content of the row before it was sent twice and is dropped.
- Rows with one stamp but different content were measured one after another and stamped together: they are spread over
  the free time after the stamp (or before it, where only there is room).
- Rows that changed places are put in order again, as long as they moved by no more than ``farthest_swap_s``.
- Where stamps scatter by more than a quarter of a sample, all samples are interpolated linearly at the grid's times.

Sensors from one file keep the file's time, from its first row to its last. Sensors from several files are cut to the
time that they share.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.model import Floats, Gap, ReferenceChannel, Sensor
from imu_rom.settings import ReadingSettings

__all__ = ["EvenRecording", "MeasuredTable", "even_time_base"]

Ints = NDArray[np.int64]

# a stamp this far from its place on an even grid, in samples, is still on the grid
_TOLERANCE_SAMPLES = 0.25
# sensors of two files whose grids are shifted by less than this, in samples, need no interpolation
_PHASE_TOLERANCE_SAMPLES = 0.1
# a declared rate may differ by this share from what the stamps say before one of them must be wrong
_LARGEST_RATE_DIFFERENCE = 0.05
_WORTH_A_NOTE = 1e-3


@dataclass(frozen=True)
class MeasuredTable:
    """The rows of one file in SI units, before they have a time base.

    Parameters
    ----------
    file : str
        File name, for errors and findings.
    first_line : int
        Line of the first row in the file.
    stamps_s : ndarray of shape (n,) or None
        Time stamp of each row in seconds on the file's clock, NaN where missing; None where the file has none.
    sensors : tuple of Sensor
        Samples row by row, NaN where missing.
    references : tuple of ReferenceChannel
        Angles row by row.
    """

    file: str
    first_line: int
    stamps_s: Floats | None
    sensors: tuple[Sensor, ...]
    references: tuple[ReferenceChannel, ...] = ()


@dataclass(frozen=True)
class EvenRecording:
    """Sensors on one even time base.

    Parameters
    ----------
    rate_hz : float
        Sampling rate.
    sensors : tuple of Sensor
        All with the same number of samples and no NaN.
    references : tuple of ReferenceChannel
        On the same time base.
    gaps : tuple of Gap
        Stretches longer than the fill limit without data.
    filled_samples : dict of str to int
        Samples filled in short gaps, by tracked point.
    start_stamp_s : float or None
        Stamp of the time base's first sample on the files' clock.
    findings : tuple of Finding
        What was noticed.
    """

    rate_hz: float
    sensors: tuple[Sensor, ...]
    references: tuple[ReferenceChannel, ...]
    gaps: tuple[Gap, ...]
    filled_samples: dict[str, int]
    start_stamp_s: float | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class _Clock:
    """When the rows of one table were measured.

    ``rows`` are the rows that are kept, in order of time; ``time_s`` their times. On a grid, row i belongs to slot
    ``slots[i]`` and slot k to the time ``time_s[0] + k / rate_hz``.
    """

    rows: Ints | None
    time_s: Floats
    slots: Ints | None
    rate_hz: float
    findings: tuple[Finding, ...] = ()


def even_time_base(tables: Sequence[MeasuredTable], rate_hz: float | None, settings: ReadingSettings) -> EvenRecording:
    """Bring the rows of one or several files to one even time base.

    Parameters
    ----------
    tables : sequence of MeasuredTable
        One a file.
    rate_hz : float or None
        Rate that a sidecar or an option declares; None: from the stamps.
    settings : ReadingSettings
        Longest gap to fill and farthest swap of rows to mend.

    Returns
    -------
    EvenRecording
        Sensors on one time base.

    Raises
    ------
    RecordingError
        Neither rate nor stamps, a rate that contradicts the stamps, stamps that go back, or no common time.
    """
    clocks = [_clock(table, rate_hz, settings) for table in tables]
    findings = [finding for clock in clocks for finding in clock.findings]
    if len(tables) == 1:
        (clock,) = clocks
        grid_rate_hz, start_s = clock.rate_hz, float(clock.time_s[0])
        last_s = float(clock.time_s[-1])
    else:
        grid_rate_hz, start_s, last_s = _common(tables, clocks, findings)
    count = int(np.floor((last_s - start_s) * grid_rate_hz + _TOLERANCE_SAMPLES)) + 1
    sensors: list[Sensor] = []
    references: list[ReferenceChannel] = []
    gaps: list[Gap] = []
    filled: dict[str, int] = {}
    for table, clock in zip(tables, clocks, strict=True):
        slots = _slots_on(clock, grid_rate_hz, start_s)
        position = slots.astype(np.float64) if slots is not None else (clock.time_s - start_s) * grid_rate_hz
        place = _Placement(clock.rows, position, on_grid=slots is not None, count=count)
        for sensor in table.sensors:
            even, its_gaps, filled[sensor.tracked_point] = _even_sensor(sensor, place, grid_rate_hz, settings)
            sensors.append(even)
            gaps.extend(its_gaps)
        references.extend(
            replace(each, values_deg=_even_reference(each.values_deg, place)) for each in table.references
        )
    findings.extend(_gap_findings(gaps, filled))
    return EvenRecording(
        rate_hz=grid_rate_hz,
        sensors=tuple(sensors),
        references=tuple(references),
        gaps=tuple(sorted(gaps, key=lambda gap: (gap.start_s, gap.tracked_point))),
        filled_samples=filled,
        start_stamp_s=None if tables[0].stamps_s is None else start_s,
        findings=tuple(findings),
    )


# ---------------------------------------------------------------------------------------------- when rows were measured


def _clock(table: MeasuredTable, rate_hz: float | None, settings: ReadingSettings) -> _Clock:
    count = len(table.sensors[0].gyroscope_rad_s)
    if table.stamps_s is None:
        if rate_hz is None:
            raise RecordingError(
                "the file has no time stamps", where=table.file, do="say at how many samples a second it was recorded"
            )
        return _Clock(None, np.arange(count) / rate_hz, np.arange(count), rate_hz)
    rows, stamps_s, findings = _ordered(table, table.stamps_s, settings)
    if len(stamps_s) < 2 or not stamps_s[-1] > stamps_s[0]:
        raise RecordingError("the time stamps do not advance", where=table.file)
    stamps_s, rows, more = _spread(table, stamps_s, rows, rate_hz)
    findings += more
    measured_rate_hz, slots, on_grid = _fitted(stamps_s, rate_hz)
    if rate_hz is not None:
        difference = measured_rate_hz / rate_hz - 1
        if abs(difference) > _LARGEST_RATE_DIFFERENCE:
            raise RecordingError(
                f"the time stamps advance at {measured_rate_hz:.4g} Hz, but the declared rate is {rate_hz:.4g} Hz",
                where=table.file,
                do="correct the declared rate, or the unit of the time stamps",
            )
        if _lies_on(stamps_s, slots, rate_hz) or not on_grid:
            measured_rate_hz = rate_hz
        elif abs(difference) > _WORTH_A_NOTE:
            sentence = (
                f"{table.file}: the time stamps advance at {measured_rate_hz:.6g} Hz, the declared rate is "
                f"{rate_hz:.6g} Hz; the time stamps were used."
            )
            findings.append(Finding("rate-differs", "note", sentence))
    if not on_grid:
        sentence = (
            f"{table.file}: the time stamps are uneven by more than a quarter of a sample, so the samples were "
            f"interpolated at an even {measured_rate_hz:.6g} Hz."
        )
        findings.append(Finding("uneven-stamps", "note", sentence))
    return _Clock(rows, stamps_s, slots if on_grid else None, measured_rate_hz, tuple(findings))


def _ordered(
    table: MeasuredTable, stamps_s: Floats, settings: ReadingSettings
) -> tuple[Ints | None, Floats, list[Finding]]:
    """Drop rows without a stamp and put swapped rows in order."""
    findings: list[Finding] = []
    rows: Ints | None = None
    known = np.isfinite(stamps_s)
    if not known.all():
        rows = np.flatnonzero(known)
        stamps_s = stamps_s[rows]
        without = len(known) - len(rows)
        sentence = f"{table.file}: {without} {_rows(without)} without a time stamp left out."
        findings.append(Finding("rows-without-stamp", "caution", sentence))
    back = np.flatnonzero(np.diff(stamps_s) < 0)
    if len(back):
        highest = np.maximum.accumulate(stamps_s)
        fall = highest - stamps_s
        worst = int(np.argmax(fall > settings.farthest_swap_s))
        if fall[worst] > settings.farthest_swap_s:
            line = table.first_line + int(worst if rows is None else rows[worst])
            raise RecordingError(
                f"the time stamp goes back by {fall[worst]:.6g} s, to {stamps_s[worst]:.6g} s",
                where=f"{table.file}:{line}",
                do="split the file where the clock started anew",
            )
        order = np.argsort(stamps_s, kind="stable")
        moved = int(np.count_nonzero(order != np.arange(len(order))))
        rows = order if rows is None else rows[order]
        stamps_s = stamps_s[order]
        sentence = f"{table.file}: {moved} rows out of order by their time stamps were put in order."
        findings.append(Finding("rows-out-of-order", "caution", sentence))
    return rows, stamps_s, findings


def _rows(count: int) -> str:
    return "row was" if count == 1 else "rows were"


def _spread(
    table: MeasuredTable, stamps_s: Floats, rows: Ints | None, rate_hz: float | None
) -> tuple[Floats, Ints | None, list[Finding]]:
    """Drop rows that were sent twice, and spread rows that were stamped together."""
    same = np.flatnonzero(np.diff(stamps_s) == 0)
    if not len(same):
        return stamps_s, rows, []
    if rows is None:
        rows = np.arange(len(stamps_s))
    repeated = np.ones(len(same), dtype=bool)
    for sensor in table.sensors:
        for values in (sensor.accelerometer_m_s2, sensor.gyroscope_rad_s):
            before, after = values[rows[same]], values[rows[same + 1]]
            repeated &= ((before == after) | (np.isnan(before) & np.isnan(after))).all(axis=1)
    findings: list[Finding] = []
    if repeated.any():
        keep = np.ones(len(stamps_s), dtype=bool)
        keep[same[repeated] + 1] = False
        stamps_s, rows = stamps_s[keep], rows[keep]
        sent = int(repeated.sum())
        sentence = f"{table.file}: {sent} {_rows(sent)} written twice with the same time stamp and dropped once."
        findings.append(Finding("rows-repeated", "note", sentence))
    together = len(same) - int(repeated.sum())
    if together:
        stamps_s = _apart(stamps_s, rate_hz)
        sentence = (
            f"{table.file}: {together} {_rows(together)} different from the row before but with the same time stamp, "
            "and spread over the time around it."
        )
        findings.append(Finding("stamps-doubled", "note", sentence))
    return stamps_s, rows, findings


def _apart(stamps_s: Floats, rate_hz: float | None) -> Floats:
    """Spread runs of equal stamps over the free time after them, or before them where only there is room."""
    first = np.concatenate(([True], np.diff(stamps_s) > 0))
    starts = np.flatnonzero(first)
    sizes = np.diff(np.append(starts, len(stamps_s)))
    times = stamps_s[starts]
    step_s = 1 / rate_hz if rate_hz else (times[-1] - times[0]) / max(len(stamps_s) - sizes[-1], 1)
    after = np.append(np.diff(times), np.inf)
    before = np.insert(np.diff(times), 0, np.inf)
    backward = (sizes > 1) & (after < (sizes - 0.25) * step_s) & (before >= (sizes - 0.25) * step_s)
    spacing = np.minimum(step_s, np.where(backward, before, after) / sizes)
    origin = np.where(backward, times - (sizes - 1) * spacing, times)
    run = np.cumsum(first) - 1
    within = np.arange(len(stamps_s)) - starts[run]
    return origin[run] + within * spacing[run]


def _quantum_s(stamps_s: Floats) -> float:
    """The step in which the stamps were rounded: the largest power of ten that divides them."""
    some = stamps_s[:2000] - stamps_s[0]
    for exponent in range(0, -7, -1):
        scaled = some * 10.0**-exponent
        if np.abs(scaled - np.rint(scaled)).max() < 1e-3:
            return 10.0**exponent
    return 0.0


def _lies_on(stamps_s: Floats, slots: Ints, rate_hz: float) -> bool:
    off = stamps_s - stamps_s[0] - slots / rate_hz
    return bool(np.ptp(off) <= 2 * _TOLERANCE_SAMPLES / rate_hz)


def _fitted(stamps_s: Floats, rate_hz: float | None) -> tuple[float, Ints, bool]:
    """Rate of the stamps, the slot of each on an even grid, and whether they all lie on it."""
    steps = np.diff(stamps_s)
    middle = float(np.median(steps))
    # the mean over unbroken stretches; a median alone would be off where stamps are rounded (4 and 5 ms at 204.8 Hz)
    whole = steps[steps < 1.5 * middle]
    step_s = float(whole.mean())
    if rate_hz is not None and abs(step_s * rate_hz - 1) < _WORTH_A_NOTE:
        step_s = 1 / rate_hz
    slots = np.concatenate(([0], np.cumsum(np.maximum(np.rint(steps / step_s), 1)))).astype(np.int64)
    centred = slots - slots.mean()
    fitted_s = float(centred @ (stamps_s - stamps_s[0]) / (centred @ centred))
    off = stamps_s - stamps_s[0] - slots * fitted_s
    off -= np.median(off)
    quantum_s = _quantum_s(stamps_s)
    tolerance_s = _TOLERANCE_SAMPLES * fitted_s
    if quantum_s > 1.2 * fitted_s:
        tolerance_s = max(tolerance_s, 0.55 * quantum_s)
    on_grid = bool(np.abs(off).max() <= tolerance_s)
    fitted_rate_hz = float(f"{1 / (fitted_s if on_grid else step_s):.9g}")
    return fitted_rate_hz, slots, on_grid


def _common(
    tables: Sequence[MeasuredTable], clocks: Sequence[_Clock], findings: list[Finding]
) -> tuple[float, float, float]:
    """Rate, start and last sample of the time that all tables share."""
    if len({table.stamps_s is None for table in tables}) > 1:
        without = ", ".join(table.file for table in tables if table.stamps_s is None)
        raise RecordingError("one file has time stamps and the other has none", where=without, do="give both or none")
    starts = [float(clock.time_s[0]) for clock in clocks]
    stops = [float(clock.time_s[-1]) for clock in clocks]
    start_s, last_s = max(starts), min(stops)
    if last_s <= start_s:
        late, early = starts.index(start_s), stops.index(last_s)
        raise RecordingError(
            f"the sensors have no time in common: {tables[late].file} starts {start_s - last_s:.6g} s after "
            f"{tables[early].file} stops",
            do="give files of the same session, with time stamps of one clock",
        )
    rates = [clock.rate_hz for clock in clocks]
    # the grid of the table that starts last begins with its first row
    grid = clocks[starts.index(start_s)]
    if max(rates) / min(rates) > 1 + _LARGEST_RATE_DIFFERENCE:
        grid = clocks[rates.index(min(rates))]
        sentence = (
            f"the sensors ran at {', '.join(f'{rate:.6g}' for rate in rates)} Hz; the slower rate was used for all."
        )
        findings.append(Finding("rates-differ", "note", sentence[0].upper() + sentence[1:]))
    for table, first_s, stop_s in zip(tables, starts, stops, strict=True):
        before_s, after_s = start_s - first_s, stop_s - last_s
        if max(before_s, after_s) > 1 / grid.rate_hz:
            sentence = (
                f"{table.file}: {before_s:.2f} s before and {after_s:.2f} s after the time that all sensors share were "
                "left out; times count from the start of the shared time."
            )
            findings.append(Finding("sensors-not-together", "note", sentence))
    return grid.rate_hz, start_s, last_s


# --------------------------------------------------------------------------------------------- rows onto the time base


@dataclass(frozen=True)
class _Placement:
    """Where the kept rows lie on the time base, in samples from its start."""

    rows: Ints | None
    position: Floats
    on_grid: bool
    count: int

    @property
    def is_whole(self) -> bool:
        """Every sample of the time base has its row, in order."""
        return self.on_grid and self.rows is None and len(self.position) == self.count

    def taken(self, values: Floats) -> Floats:
        """The kept rows of an array."""
        return values if self.rows is None else values[self.rows]


def _slots_on(clock: _Clock, rate_hz: float, start_s: float) -> Ints | None:
    """Slots of a table's rows on the common time base; None where they must be interpolated."""
    if clock.slots is None:
        return None
    shift = (float(clock.time_s[0]) - start_s) * rate_hz
    if clock.rate_hz == rate_hz and shift == 0:
        return clock.slots
    position = shift + clock.slots * (rate_hz / clock.rate_hz)
    slots = np.rint(position).astype(np.int64)
    return slots if np.abs(position - slots).max() <= _PHASE_TOLERANCE_SAMPLES else None


def _even_reference(values_deg: Floats, place: _Placement) -> Floats:
    if place.is_whole:
        return values_deg
    values = place.taken(values_deg)
    if not place.on_grid:
        return np.interp(np.arange(place.count), place.position, values, left=np.nan, right=np.nan)
    even = np.full(place.count, np.nan)
    inside = (place.position >= 0) & (place.position < place.count)
    even[place.position[inside].astype(np.int64)] = values[inside]
    return even


def _interpolated(values: Floats, position: Floats, at: Floats) -> Floats:
    return np.column_stack([np.interp(at, position, values[:, axis]) for axis in range(values.shape[1])])


def _even_sensor(
    sensor: Sensor, place: _Placement, rate_hz: float, settings: ReadingSettings
) -> tuple[Sensor, list[Gap], int]:
    """Put one sensor on the time base: the sensor, its gaps and how many samples were filled in short gaps."""
    arrays = {
        "accelerometer_m_s2": sensor.accelerometer_m_s2,
        "gyroscope_rad_s": sensor.gyroscope_rad_s,
    }
    # the sum is finite only if all samples are, and makes no temporary
    complete = all(np.isfinite(values.sum()) for values in arrays.values())
    if place.is_whole and complete:
        return replace(sensor, magnetometer_t=_even_magnetometer(sensor, place)), [], 0
    arrays = {name: place.taken(values) for name, values in arrays.items()}
    valid = np.ones(len(place.position), dtype=bool)
    if not complete:
        for values in arrays.values():
            valid &= np.isfinite(values).all(axis=1)
    if not valid.any():
        raise RecordingError("the sensor has no sample without a missing value", where=sensor.tracked_point)
    position = place.position[valid]
    grid = np.arange(place.count, dtype=np.float64)
    even: dict[str, Floats] = {}
    if place.on_grid:
        inside = (position >= 0) & (position < place.count)
        slots = position[inside].astype(np.int64)
        empty = np.ones(place.count, dtype=bool)
        empty[slots] = False
        for name, values in arrays.items():
            target = np.empty((place.count, 3))
            target[slots] = values[valid][inside]
            if empty.any():
                target[empty] = _interpolated(values[valid], position, grid[empty])
            even[name] = target
    else:
        even = {name: _interpolated(values[valid], position, grid) for name, values in arrays.items()}
    missing, gaps, filled = _missing(sensor.tracked_point, position, place, rate_hz, settings)
    outside = (grid < position[0] - 0.5) | (grid > position[-1] + 0.5)
    # before a sensor's first and after its last sample nothing says that it kept turning
    even["gyroscope_rad_s"][outside] = 0.0
    moved = replace(sensor, **even, magnetometer_t=_even_magnetometer(sensor, place), missing=missing)  # type: ignore[arg-type]
    return moved, gaps, filled


def _even_magnetometer(sensor: Sensor, place: _Placement) -> Floats | None:
    values = sensor.magnetometer_t
    if values is None or (place.is_whole and np.isfinite(values.sum())):
        return values
    values = place.taken(values)
    valid = np.isfinite(values).all(axis=1)
    if not valid.any():
        return None
    return _interpolated(values[valid], place.position[valid], np.arange(place.count, dtype=np.float64))


def _missing(
    tracked_point: str, position: Floats, place: _Placement, rate_hz: float, settings: ReadingSettings
) -> tuple[NDArray[np.bool_], list[Gap], int]:
    """Flag the samples inside long gaps, list these, and count the samples filled in short ones."""
    # one sample outside each end, so that a late start and an early stop count as gaps too
    edges = np.concatenate(([min(-1.0, position[0])], position, [max(float(place.count), position[-1])]))
    steps = np.diff(edges)
    longest = settings.longest_filled_gap_s * rate_hz + 1 + 1e-6
    missing = np.zeros(place.count, dtype=bool)
    filled = 0
    gaps: list[Gap] = []
    # on a grid every missed sample makes a step of two or more; off it, stamps scatter by part of a sample
    for index in np.flatnonzero(steps > (1.5 if place.on_grid else 1.75)):
        before, after = edges[index], edges[index + 1]
        first = max(int(np.floor(before + 0.5)) + 1, 0)
        last = min(int(np.ceil(after - 0.5)), place.count)
        if last <= first:
            continue
        if steps[index] <= longest:
            filled += last - first
            continue
        missing[first:last] = True
        gaps.append(Gap(max(before, 0.0) / rate_hz, min(after, place.count - 1.0) / rate_hz, tracked_point))
    return missing, gaps, filled


def _gap_findings(gaps: Sequence[Gap], filled: dict[str, int]) -> list[Finding]:
    findings = [
        Finding(
            "gap",
            "problem",
            f"The sensor on {gap.tracked_point} delivered nothing for {gap.stop_s - gap.start_s:.2f} s, from "
            f"{gap.start_s:.2f} s to {gap.stop_s:.2f} s.",
            gap.start_s,
            gap.stop_s,
            gap.tracked_point,
        )
        for gap in gaps
    ]
    findings.extend(
        Finding(
            "samples-filled",
            "note",
            f"{count} missed {'sample' if count == 1 else 'samples'} of the sensor on {tracked_point} "
            f"{'was' if count == 1 else 'were'} filled by linear interpolation.",
            sensor=tracked_point,
        )
        for tracked_point, count in filled.items()
        if count
    )
    return findings
