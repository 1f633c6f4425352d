"""When the rows of a file were measured, from time stamps as loggers write them.

- A row with the stamp and the content of the row before it was sent twice and is dropped.
- Rows with one stamp but different content were measured one after another and stamped together: they are spread over
  the free time after the stamp (or before it, where only there is room).
- Rows that changed places are put in order again, as long as they moved by no more than ``farthest_swap_s``.
- Stamps within a quarter of a sample of an even grid are on it; otherwise they are taken as they are.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.model import Floats, ReferenceChannel, Sensor
from imu_rom.settings import ReadingSettings

__all__ = ["LARGEST_RATE_DIFFERENCE", "TOLERANCE_SAMPLES", "Clock", "MeasuredTable", "clock_of"]

Ints = NDArray[np.int64]

# a stamp this far from its place on an even grid, in samples, is still on the grid
TOLERANCE_SAMPLES = 0.25
# a declared rate may differ by this share from what the stamps say before one of them must be wrong
LARGEST_RATE_DIFFERENCE = 0.05
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
    rate_hz : float or None
        Rate that is declared for this file alone.
    """

    file: str
    first_line: int
    stamps_s: Floats | None
    sensors: tuple[Sensor, ...]
    references: tuple[ReferenceChannel, ...] = ()
    rate_hz: float | None = None


@dataclass(frozen=True)
class Clock:
    """When the rows of one file were measured.

    Parameters
    ----------
    rows : ndarray of int of shape (m,) or None
        The rows that are kept, in order of time; None: all, as they stand.
    time_s : ndarray of shape (m,)
        Time of each kept row on the file's clock.
    slots : ndarray of int of shape (m,) or None
        Where the rows lie on an even grid: row i is sample ``slots[i]``, and sample 0 is the first row. None where
        they lie on none.
    rate_hz : float
        Rate of the grid, or the mean rate of the rows.
    findings : tuple of Finding
        What was noticed.
    """

    rows: Ints | None
    time_s: Floats
    slots: Ints | None
    rate_hz: float
    findings: tuple[Finding, ...] = ()

    @property
    def first_s(self) -> float:
        """Time of the first row, or of its place on the grid that all rows are closest to."""
        if self.slots is None:
            return float(self.time_s[0])
        off_s = self.time_s - self.slots / self.rate_hz
        return float(off_s.min() + off_s.max()) / 2

    @property
    def last_s(self) -> float:
        """Time of the last row, or of its place on the grid."""
        return float(self.time_s[-1]) if self.slots is None else self.first_s + float(self.slots[-1]) / self.rate_hz

    def moved(self, offset_s: float, skew: float) -> "Clock":
        """Bring the rows to another clock.

        Parameters
        ----------
        offset_s : float
            Time of the first row by the other clock.
        skew : float
            How much longer a second of this clock is, as a share.

        Returns
        -------
        Clock
            The same rows by the other clock.
        """
        time_s = offset_s + (1 + skew) * (self.placed_s - self.first_s)
        # the other clock's grid is no grid of this one, however near
        return replace(self, time_s=time_s, slots=None, rate_hz=self.rate_hz / (1 + skew))

    @property
    def placed_s(self) -> Floats:
        """Time of each row, on the grid where there is one."""
        return self.time_s if self.slots is None else self.first_s + self.slots / self.rate_hz


def clock_of(table: MeasuredTable, rate_hz: float | None, settings: ReadingSettings) -> Clock:
    """Find when each row of a file was measured.

    Parameters
    ----------
    table : MeasuredTable
        The file's rows.
    rate_hz : float or None
        Rate that a sidecar or an option declares; None: from the stamps.
    settings : ReadingSettings
        Farthest swap of rows to mend.

    Returns
    -------
    Clock
        Times of the rows, and their places on an even grid where they lie on one.

    Raises
    ------
    RecordingError
        Neither rate nor stamps, stamps that go back or stand still, or a rate that contradicts them.
    """
    count = len(table.sensors[0].gyroscope_rad_s)
    rate_hz = rate_hz if table.rate_hz is None else table.rate_hz
    if table.stamps_s is None:
        if rate_hz is None:
            raise RecordingError("the file has no time stamps", where=table.file, do="add --rate, the samples a second")
        return Clock(None, np.arange(count) / rate_hz, np.arange(count), rate_hz)
    rows, stamps_s, findings = _ordered(table, table.stamps_s, settings)
    if len(stamps_s) < 2 or not stamps_s[-1] > stamps_s[0]:
        raise RecordingError("the time stamps do not advance", where=table.file)
    rows, stamps_s = _once(table, rows, stamps_s, findings)
    slots = np.arange(len(stamps_s))
    rounding_s = _rounding_s(stamps_s)
    fitted_s, on_grid = _fit(stamps_s, slots, rounding_s)
    if not on_grid:
        stamps_s = _spread(table, stamps_s, rate_hz, findings)
        step_s = _step_s(stamps_s, rate_hz)
        slots = np.concatenate(([0], np.cumsum(np.maximum(np.rint(np.diff(stamps_s) / step_s), 1)))).astype(np.int64)
        rounding_s = 0.0
        fitted_s, on_grid = _fit(stamps_s, slots, rounding_s)
        if not on_grid:
            fitted_s = step_s
    measured_rate_hz = float(f"{1 / fitted_s:.9g}")
    if rate_hz is not None:
        off_s = stamps_s - slots / rate_hz if on_grid else None
        fits = off_s is None or bool(np.ptp(off_s) <= 2 * _tolerance_s(1 / rate_hz, rounding_s))
        measured_rate_hz = _agreed(table, measured_rate_hz, rate_hz, fits, findings)
    if not on_grid:
        sentence = (
            f"{table.file}: the time stamps are uneven by more than a quarter of a sample, so the samples were "
            f"interpolated at an even {measured_rate_hz:.6g} Hz."
        )
        findings.append(Finding("stamps-uneven", "note", sentence))
    return Clock(rows, stamps_s, slots if on_grid else None, measured_rate_hz, tuple(findings))


def _agreed(
    table: MeasuredTable, measured_rate_hz: float, rate_hz: float, fits: bool, findings: list[Finding]
) -> float:
    """Choose between the declared rate, if it fits, and that of the stamps; far apart they are an error."""
    difference = measured_rate_hz / rate_hz - 1
    if abs(difference) > LARGEST_RATE_DIFFERENCE:
        raise RecordingError(
            f"the time stamps advance at {measured_rate_hz:.4g} Hz, but the declared rate is {rate_hz:.4g} Hz",
            where=table.file,
            do="correct the declared rate, or the unit of the time stamps",
        )
    if fits:
        return rate_hz
    if abs(difference) > _WORTH_A_NOTE:
        sentence = (
            f"{table.file}: the time stamps advance at {measured_rate_hz:.6g} Hz, the declared rate is "
            f"{rate_hz:.6g} Hz; the time stamps were used."
        )
        findings.append(Finding("rate-differs", "note", sentence))
    return measured_rate_hz


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
    return "1 row was" if count == 1 else f"{count} rows were"


def _once(
    table: MeasuredTable, rows: Ints | None, stamps_s: Floats, findings: list[Finding]
) -> tuple[Ints | None, Floats]:
    """Drop rows that were sent twice: the stamp and the content of the row before."""
    same = np.flatnonzero(np.diff(stamps_s) == 0)
    if not len(same):
        return rows, stamps_s
    if rows is None:
        rows = np.arange(len(stamps_s))
    repeated = np.ones(len(same), dtype=bool)
    for sensor in table.sensors:
        for values in (sensor.accelerometer_m_s2, sensor.gyroscope_rad_s):
            before, after = values[rows[same]], values[rows[same + 1]]
            repeated &= ((before == after) | (np.isnan(before) & np.isnan(after))).all(axis=1)
    if repeated.any():
        keep = np.ones(len(stamps_s), dtype=bool)
        keep[same[repeated] + 1] = False
        rows, stamps_s = rows[keep], stamps_s[keep]
        sentence = (
            f"{table.file}: {_rows(int(repeated.sum()))} written twice with one time stamp; one of each was kept."
        )
        findings.append(Finding("rows-repeated", "note", sentence))
    return rows, stamps_s


def _spread(table: MeasuredTable, stamps_s: Floats, rate_hz: float | None, findings: list[Finding]) -> Floats:
    """Spread runs of equal stamps over the free time after them, or before them where only there is room."""
    first = np.concatenate(([True], np.diff(stamps_s) > 0))
    doubled = len(first) - int(first.sum())
    if not doubled:
        return stamps_s
    starts = np.flatnonzero(first)
    sizes = np.diff(np.append(starts, len(stamps_s)))
    times = stamps_s[starts]
    step_s = 1 / rate_hz if rate_hz else float(times[-1] - times[0]) / max(len(stamps_s) - int(sizes[-1]), 1)
    after = np.append(np.diff(times), np.inf)
    before = np.insert(np.diff(times), 0, np.inf)
    needed = (sizes - TOLERANCE_SAMPLES) * step_s
    backward = (sizes > 1) & (after < needed) & (before >= needed)
    spacing = np.minimum(step_s, np.where(backward, before, after) / sizes)
    origin = np.where(backward, times - (sizes - 1) * spacing, times)
    run = np.cumsum(first) - 1
    sentence = (
        f"{table.file}: {_rows(doubled)} stamped together with the row before, and spread over the free time around it."
    )
    findings.append(Finding("stamps-doubled", "note", sentence))
    spread: Floats = origin[run] + (np.arange(len(stamps_s)) - starts[run]) * spacing[run]
    return spread


def _rounding_s(stamps_s: Floats) -> float:
    """Find the step to which the stamps were rounded: the largest power of ten that divides them."""
    some = stamps_s[:2000] - stamps_s[0]
    for exponent in range(7):
        scaled = some * 10.0**exponent
        if np.abs(scaled - np.rint(scaled)).max() < 1e-3:
            return 10.0**-exponent
    return 0.0


def _step_s(stamps_s: Floats, rate_hz: float | None) -> float:
    """Find the time from one row to the next, missed rows aside."""
    steps = np.diff(stamps_s)
    # the mean over unbroken stretches; a median alone would be off where stamps are rounded (4 and 5 ms at 204.8 Hz)
    step_s = float(steps[steps < 1.5 * np.median(steps)].mean())
    return 1 / rate_hz if rate_hz is not None and abs(step_s * rate_hz - 1) < _WORTH_A_NOTE else step_s


def _fit(stamps_s: Floats, slots: Ints, rounding_s: float) -> tuple[float, bool]:
    """Fit an even grid by least squares: its step, and whether all stamps lie on it."""
    centred = slots - slots.mean()
    elapsed_s = stamps_s - stamps_s[0]
    step_s = float((centred * elapsed_s).sum() / (centred * centred).sum())
    return step_s, bool(np.ptp(elapsed_s - slots * step_s) <= 2 * _tolerance_s(step_s, rounding_s))


def _tolerance_s(step_s: float, rounding_s: float) -> float:
    """Say how far a stamp may lie from its place on the grid."""
    tolerance_s = TOLERANCE_SAMPLES * step_s
    # stamps coarser than the rows: rounding alone moves them by half its step
    return max(tolerance_s, 0.55 * rounding_s) if rounding_s > 1.2 * step_s else tolerance_s
