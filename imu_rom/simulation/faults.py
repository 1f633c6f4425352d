"""What goes wrong with a recording besides the sensors' ordinary errors: lost, doubled, cut-off and coarse samples."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import SettingError
from imu_rom.recording.model import Floats, Gap, Sensor, freeze
from imu_rom.simulation.own_clock import OwnClock
from imu_rom.simulation.slips import Slip

__all__ = ["Faults", "faulty_sensor", "logged_rows"]

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Faults:
    """What goes wrong with a recording.

    Parameters
    ----------
    gaps : tuple of tuple
        (tracked point, start_s, length_s): nothing delivered.
    dropped_share : float
        Share of samples lost, in runs of one to three.
    sensor_stops_s : tuple of tuple
        (tracked point, time_s): nothing from then on.
    gyroscope_full_scale_deg_s, accelerometer_full_scale_m_s2 : float or None
        Readings are cut off there.
    gyroscope_step_deg_s, accelerometer_step_m_s2 : float
        Smallest step of a reading; 0 is none.
    doubled_share : float
        Share of rows that the logger wrote twice, with the same stamp.
    stamp_jitter_s : float
        Standard deviation of the logger's stamps about the true time.
    slips : tuple of Slip
        Sensors that turn on their segments.
    clocks : tuple of OwnClock
        Sensors that were started separately; they get logs of their own.
    """

    gaps: tuple[tuple[str, float, float], ...] = ()
    dropped_share: float = 0.0
    sensor_stops_s: tuple[tuple[str, float], ...] = ()
    gyroscope_full_scale_deg_s: float | None = None
    accelerometer_full_scale_m_s2: float | None = None
    gyroscope_step_deg_s: float = 0.0
    accelerometer_step_m_s2: float = 0.0
    doubled_share: float = 0.0
    stamp_jitter_s: float = 0.0
    slips: tuple[Slip, ...] = ()
    clocks: tuple[OwnClock, ...] = ()

    def __post_init__(self) -> None:
        for name in ("dropped_share", "doubled_share"):
            if not 0 <= getattr(self, name) < 1:
                raise SettingError(f"must lie in 0 to 1, got {getattr(self, name)}", where=f"fault {name}")
        for name in (
            "gyroscope_full_scale_deg_s",
            "accelerometer_full_scale_m_s2",
            "gyroscope_step_deg_s",
            "accelerometer_step_m_s2",
            "stamp_jitter_s",
        ):
            value = getattr(self, name)
            if value is not None and not value >= 0:
                raise SettingError(f"must be 0 or more, got {value}", where=f"fault {name}")


def _missing(point: str, count: int, rate_hz: float, faults: Faults, rng: np.random.Generator) -> Bools:
    missing = np.zeros(count, dtype=bool)
    # runs of one to three are two samples long on average
    starts = np.flatnonzero(rng.random(count) < faults.dropped_share / 2)
    for start, length in zip(starts, rng.integers(1, 4, len(starts)), strict=True):
        missing[start : start + length] = True
    for where, start_s, length_s in faults.gaps:
        if where == point:
            missing[round(start_s * rate_hz) : round((start_s + length_s) * rate_hz)] = True
    for where, time_s in faults.sensor_stops_s:
        if where == point:
            missing[round(time_s * rate_hz) :] = True
    return missing


def _read_out(values: Floats, full_scale: float | None, step: float, missing: Bools) -> Floats:
    """Cut off, round and, where nothing was delivered, interpolate."""
    if full_scale is not None:
        values = np.clip(values, -full_scale, full_scale)
    if step:
        values = np.round(values / step) * step
    known = np.flatnonzero(~missing)
    if len(known) in {0, len(values)}:
        return values
    return np.stack([np.interp(np.arange(len(values)), known, column[known]) for column in values.T], axis=1)


def faulty_sensor(
    point: str,
    accelerometer_m_s2: Floats,
    gyroscope_rad_s: Floats,
    rate_hz: float,
    faults: Faults,
    longest_filled_gap_s: float,
    rng: np.random.Generator,
) -> tuple[Sensor, tuple[Gap, ...], Bools]:
    """Turn what a sensor measured into what a reader of the file would have of it.

    Parameters
    ----------
    point : str
        Tracked point.
    accelerometer_m_s2, gyroscope_rad_s : ndarray of shape (n, 3)
        Measured.
    rate_hz : float
        Sampling rate.
    faults : Faults
        What goes wrong.
    longest_filled_gap_s : float
        Longer stretches without data are gaps.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    sensor : Sensor
        Samples, flagged where they are missing.
    gaps : tuple of Gap
        Long stretches without data.
    lost : ndarray of bool of shape (n,)
        Samples that were not delivered, in long stretches and in short ones, which are filled.
    """
    missing = _missing(point, len(gyroscope_rad_s), rate_hz, faults, rng)
    long = np.zeros_like(missing)
    gaps = []
    edges = np.flatnonzero(np.diff(missing.astype(np.int8), prepend=0, append=0)).reshape(-1, 2)
    for start, stop in edges:
        if stop - start + 1 > longest_filled_gap_s * rate_hz:
            long[start:stop] = True
            gaps.append(Gap(float(max(0, start - 1) / rate_hz), float(min(stop, len(missing) - 1) / rate_hz), point))
    full_scale = faults.gyroscope_full_scale_deg_s
    full_scale_rad_s = None if full_scale is None else float(np.deg2rad(full_scale))
    sensor = Sensor(
        tracked_point=point,
        accelerometer_m_s2=_read_out(
            accelerometer_m_s2, faults.accelerometer_full_scale_m_s2, faults.accelerometer_step_m_s2, missing
        ),
        gyroscope_rad_s=_read_out(
            gyroscope_rad_s, full_scale_rad_s, float(np.deg2rad(faults.gyroscope_step_deg_s)), missing
        ),
        magnetometer_t=None,
        missing=long,
        full_scale_m_s2=faults.accelerometer_full_scale_m_s2,
        full_scale_rad_s=full_scale_rad_s,
    )
    return sensor, tuple(gaps), missing


def logged_rows(
    count: int, rate_hz: float, faults: Faults, rng: np.random.Generator
) -> tuple[NDArray[np.int64], Floats]:
    """Write rows as a logger would: which sample each holds, and its stamp.

    Parameters
    ----------
    count : int
        Samples.
    rate_hz : float
        Sampling rate.
    faults : Faults
        Doubled rows and uneven stamps.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    rows : ndarray of int of shape (m,)
        Sample in each row.
    stamps_s : ndarray of shape (m,)
        Stamp of each row.
    """
    stamps = np.arange(count) / rate_hz + faults.stamp_jitter_s * rng.standard_normal(count)
    # a clock never runs backwards
    stamps = np.maximum.accumulate(stamps - stamps[0])
    rows = np.repeat(np.arange(count), 1 + (rng.random(count) < faults.doubled_share))
    rows.flags.writeable = False
    return rows, freeze(stamps[rows])
