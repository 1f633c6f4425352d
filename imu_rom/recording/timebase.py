"""From the rows of one or several files to one even time base.

Rows whose stamps lie on an even grid are kept bit for bit, and only samples without a row are interpolated. Where the
stamps lie on no grid, all samples are interpolated linearly at the time base's times. Sensors from one file keep the
file's time, from its first row to its last; sensors from several files are cut to the time that they share.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.clock import LARGEST_RATE_DIFFERENCE, TOLERANCE_SAMPLES, Clock, MeasuredTable, clock_of
from imu_rom.recording.clock_fit import ClockFit
from imu_rom.recording.model import Floats, Gap, ReferenceChannel, Sensor
from imu_rom.settings import ReadingSettings

__all__ = ["EvenRecording", "even_time_base"]

# sensors of two files whose grids are shifted by less than this, in samples, need no interpolation
_PHASE_TOLERANCE_SAMPLES = 0.1


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
    clocks : ClockFit or None
        How two clocks were brought together; None where all sensors shared one.
    """

    rate_hz: float
    sensors: tuple[Sensor, ...]
    references: tuple[ReferenceChannel, ...]
    gaps: tuple[Gap, ...]
    filled_samples: dict[str, int]
    start_stamp_s: float | None
    findings: tuple[Finding, ...]
    clocks: ClockFit | None = None


def even_time_base(
    tables: Sequence[MeasuredTable], rate_hz: float | None, settings: ReadingSettings, *, separate_clocks: bool = False
) -> EvenRecording:
    """Bring the rows of one or several files to one even time base.

    Parameters
    ----------
    tables : sequence of MeasuredTable
        One a file.
    rate_hz : float or None
        Rate that a sidecar or an option declares; None: from the stamps.
    settings : ReadingSettings
        Longest gap to fill and farthest swap of rows to mend.
    separate_clocks : bool
        True: the two sensors were started separately; the first one's clock is kept and the other's brought to it by
        what both felt.

    Returns
    -------
    EvenRecording
        Sensors on one time base.

    Raises
    ------
    RecordingError
        Neither rate nor stamps, a rate that contradicts the stamps, stamps that go back, or no common time.
    CannotAnswerError
        Nothing tells how separate clocks lie.
    """
    if separate_clocks:
        tables = _one_a_sensor(tables)
    clocks = [clock_of(table, rate_hz, settings) for table in tables]
    fit: ClockFit | None = None
    if separate_clocks:
        fit, clocks[1] = _brought_together(tables, clocks, rate_hz, settings)
    findings = [finding for clock in clocks for finding in clock.findings]
    if len(tables) == 1:
        (clock,) = clocks
        grid_rate_hz, start_s = clock.rate_hz, clock.first_s
        last_s = clock.last_s
    else:
        grid_rate_hz, start_s, last_s = _common(tables, clocks, findings, fit)
    if fit is not None:
        fit = replace(fit, start_s=start_s - clocks[0].first_s)
        findings.extend(_clock_findings(fit, last_s - start_s, grid_rate_hz))
    count = int(np.floor((last_s - start_s) * grid_rate_hz + TOLERANCE_SAMPLES)) + 1
    sensors: list[Sensor] = []
    references: list[ReferenceChannel] = []
    gaps: list[Gap] = []
    filled: dict[str, int] = {}
    for table, clock in zip(tables, clocks, strict=True):
        slots = _slots_on(clock, grid_rate_hz, start_s)
        position = slots.astype(np.float64) if slots is not None else (clock.placed_s - start_s) * grid_rate_hz
        place = _Placement(table.file, clock.rows, position, on_grid=slots is not None, count=count)
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
        clocks=fit,
    )


# ----------------------------------------------------------------------------------------------------- separate clocks


def _one_a_sensor(tables: Sequence[MeasuredTable]) -> list[MeasuredTable]:
    """Part tables that hold several sensors, as a recording whose sensors were joined wrongly does."""
    parted = [
        replace(table, sensors=(sensor,), references=table.references if number == 0 else ())
        for table in tables
        for number, sensor in enumerate(table.sensors)
    ]
    if len(parted) != 2:
        names = ", ".join(table.sensors[0].tracked_point for table in parted)
        raise RecordingError(
            f"separate clocks are told for two sensors, got {len(parted)} ({names})",
            where=", ".join(dict.fromkeys(table.file for table in tables)),
            do="name the files of two sensors, or leave --clocks out where one sensor is worn",
        )
    return parted


def _brought_together(
    tables: Sequence[MeasuredTable], clocks: Sequence[Clock], rate_hz: float | None, settings: ReadingSettings
) -> tuple[ClockFit, Clock]:
    """Bring the second clock to the first."""
    from imu_rom.recording.clock_search import SensorMotion  # noqa: PLC0415 - only separate clocks need them
    from imu_rom.recording.two_clocks import compare_clocks  # noqa: PLC0415

    both = []
    for table in tables:
        even = even_time_base([table], rate_hz, settings)
        (sensor,) = even.sensors
        motion = SensorMotion(
            0.0, even.rate_hz, sensor.accelerometer_m_s2, sensor.gyroscope_rad_s, np.asarray(sensor.missing)
        )
        both.append((sensor.tracked_point, motion))
    where = ", ".join(dict.fromkeys(table.file for table in tables))
    fit = compare_clocks(both[0], both[1], settings, where=where)
    return fit, clocks[1].moved(clocks[0].first_s + fit.offset_s, fit.skew)


def _clock_findings(fit: ClockFit, duration_s: float, rate_hz: float) -> list[Finding]:
    uncertainty_s = fit.standard_uncertainty_s(np.linspace(0.0, duration_s, 100))
    most_s = float(uncertainty_s.max())
    findings = [
        Finding(
            "clocks-brought-together",
            "note",
            f"The clock of the sensor on {fit.other} was brought to that of the sensor on {fit.reference}: started "
            f"{abs(fit.offset_s):.3f} s {'later' if fit.offset_s >= 0 else 'earlier'}, a second of it "
            f"{1e6 * abs(fit.skew):.1f} ppm {'longer' if fit.skew >= 0 else 'shorter'}, with a standard uncertainty of "
            f"at most {1e3 * most_s:.1f} ms.",
        )
    ]
    if most_s > 0.5 / rate_hz:
        sentence = (
            f"The clocks of the two sensors are known to {1e3 * float(uncertainty_s.min()):.0f} to "
            f"{1e3 * most_s:.0f} ms only, more than half a sample, so the angle is less sure where the joint moves "
            "fast; knock at both ends of a recording."
        )
        findings.append(Finding("clocks-uncertain", "caution", sentence))
    return findings


def _common(
    tables: Sequence[MeasuredTable], clocks: Sequence[Clock], findings: list[Finding], fit: ClockFit | None
) -> tuple[float, float, float]:
    """Rate, start and last sample of the time that all tables share."""
    if len({table.stamps_s is None for table in tables}) > 1:
        without = ", ".join(table.file for table in tables if table.stamps_s is None)
        raise RecordingError("one file has time stamps and the other has none", where=without, do="give both or none")
    starts = [clock.first_s for clock in clocks]
    stops = [clock.last_s for clock in clocks]
    start_s, last_s = max(starts), min(stops)
    if last_s <= start_s:
        late, early = starts.index(start_s), stops.index(last_s)
        raise RecordingError(
            f"the sensors have no time in common: {tables[late].file} starts {start_s - last_s:.6g} s after "
            f"{tables[early].file} stops",
            do="give files of the same session, with time stamps of one clock, or add --clocks separate where each "
            "sensor was started by itself",
        )
    rates = [clock.rate_hz for clock in clocks]
    # the grid of the table that starts last begins with its first row
    grid = clocks[starts.index(start_s)] if fit is None else clocks[0]
    if max(rates) / min(rates) > 1 + LARGEST_RATE_DIFFERENCE:
        grid = clocks[rates.index(min(rates))]
        sentence = (
            f"the sensors ran at {', '.join(f'{rate:.6g}' for rate in rates)} Hz; the slower rate was used for all."
        )
        findings.append(Finding("rates-differ", "note", sentence[0].upper() + sentence[1:]))
    if fit is not None:
        # from a sample of the grid on, so that the sensor whose clock was kept is not interpolated
        start_s = grid.first_s + np.ceil((start_s - grid.first_s) * grid.rate_hz - 1e-6) / grid.rate_hz
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

    file: str
    rows: NDArray[np.int64] | None
    position: Floats
    on_grid: bool
    count: int

    @property
    def is_whole(self) -> bool:
        """Every sample of the time base has its row, in order."""
        return self.on_grid and self.rows is None and len(self.position) == self.count

    def taken(self, values: Floats) -> Floats:
        """Take the kept rows of an array."""
        return values if self.rows is None else values[self.rows]


def _slots_on(clock: Clock, rate_hz: float, start_s: float) -> NDArray[np.int64] | None:
    """Slots of a table's rows on the common time base; None where they must be interpolated."""
    if clock.slots is None:
        return None
    shift = (clock.first_s - start_s) * rate_hz
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
        raise RecordingError(
            "the sensor has no sample without a missing value", where=f"{place.file}, sensor on {sensor.tracked_point}"
        )
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
        start_s, stop_s = max(float(before), 0.0) / rate_hz, min(float(after), place.count - 1.0) / rate_hz
        gaps.append(Gap(start_s, stop_s, tracked_point))
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
