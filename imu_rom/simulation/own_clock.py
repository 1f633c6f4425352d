"""Sensors that were started separately: each with its own clock, and its own rate."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import SettingError
from imu_rom.recording.model import Floats, Sensor
from imu_rom.simulation.body import Motion, with_errors
from imu_rom.simulation.person import SensorErrors
from imu_rom.simulation.turning import product, turning_vectors

__all__ = ["OwnClock", "SensorLog", "measured_by_own_clock"]

LARGEST_SKEW_PPM = 20_000


@dataclass(frozen=True)
class OwnClock:
    """Clock of one sensor against that of the session.

    Parameters
    ----------
    point : str
        Tracked point of the sensor.
    offset_s : float
        How long after the session's start it was switched on; its stamps count from there.
    skew_ppm : float
        A second by its clock lasts ``1 + skew_ppm * 1e-6`` s.
    rate_hz : float or None
        Its samples a second by its own clock; None: the session's rate.
    """

    point: str
    offset_s: float
    skew_ppm: float = 0.0
    rate_hz: float | None = None

    def __post_init__(self) -> None:
        if not self.offset_s >= 0 or not abs(self.skew_ppm) <= LARGEST_SKEW_PPM:
            raise SettingError(
                f"must be an offset of 0 s or more and a skew of at most {LARGEST_SKEW_PPM} ppm, got {self.offset_s} s "
                f"and {self.skew_ppm} ppm",
                where="fault clock",
            )
        if self.rate_hz is not None and not 20 <= self.rate_hz <= 1000:
            raise SettingError(f"must lie in 20 to 1000 Hz, got {self.rate_hz}", where="fault clock rate")

    def session_time_s(self, stamps_s: Floats) -> Floats:
        """Turn stamps of this clock into seconds from the session's start.

        Parameters
        ----------
        stamps_s : ndarray
            Seconds by this clock.

        Returns
        -------
        ndarray
            Seconds from the session's start.
        """
        return np.asarray(self.offset_s + (1 + 1e-6 * self.skew_ppm) * stamps_s)


@dataclass(frozen=True)
class SensorLog:
    """What one separately started sensor wrote.

    Parameters
    ----------
    rate_hz : float
        Samples a second by its own clock.
    stamps_s : ndarray of shape (n,)
        Its stamps, from 0.
    sensor : Sensor
        Its samples.
    lost : ndarray of bool of shape (n,)
        Samples that were not delivered.
    """

    rate_hz: float
    stamps_s: Floats
    sensor: Sensor
    lost: NDArray[np.bool_]


def measured_by_own_clock(
    motion: Motion, which: str, clock: OwnClock, rate_hz: float, errors: SensorErrors, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Measure as a separately started sensor does: mean rate and mean specific force since the last sample.

    Parameters
    ----------
    motion : Motion
        True motion on the fine time base.
    which : {"proximal", "distal"}
        Sensor.
    clock : OwnClock
        Its clock.
    rate_hz : float
        Rate where the clock names none.
    errors : SensorErrors
        Errors.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    stamps_s : ndarray of shape (n,)
        By its own clock, from 0.
    accelerometer_m_s2, gyroscope_rad_s : ndarray of shape (n, 3)
        In sensor axes.

    Raises
    ------
    SettingError
        It is switched on when the session is over.
    """
    rate_hz = clock.rate_hz or rate_hz
    attitude = motion.sensors[which]
    forces = attitude.inv().apply(motion.specific_forces_m_s2[which])
    turns = turning_vectors(product(attitude[:-1].inv(), attitude[1:]))
    last_s = (len(forces) - 1) / motion.rate_hz
    step_s = (1 + 1e-6 * clock.skew_ppm) / rate_hz
    count = int((last_s - clock.offset_s) / step_s)
    if count < 1:
        raise SettingError(f"starts at {clock.offset_s:g} s, when the session is over", where="fault clock")
    stamps_s = np.arange(1, count + 1) / rate_hz
    edges = np.append(clock.offset_s, clock.session_time_s(stamps_s)) * motion.rate_hz
    fine = np.arange(len(forces))
    samples = []
    for steps in (forces[1:] / motion.rate_hz, turns):
        total = np.concatenate([np.zeros((1, 3)), np.cumsum(steps, axis=0)])
        at_edges = np.column_stack([np.interp(edges, fine, column) for column in total.T])
        samples.append(np.diff(at_edges, axis=0) / step_s)
    return (stamps_s, *with_errors(samples[0], samples[1], rate_hz, errors, rng))
