"""A recording as measured: sensors on one even time base, in SI units, read-only.

Frames: each sensor's samples are in that sensor's own axes, as the file has them. Accelerometers measure specific
force (at rest the reading points up, away from the ground, with the length of gravity).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.clock_fit import ClockFit

__all__ = ["Event", "Floats", "Gap", "InputFile", "Recording", "ReferenceChannel", "Sensor", "freeze"]

Floats = NDArray[np.float64]


def freeze(values: Floats) -> Floats:
    """Return the array as float64 that nobody can write to.

    Parameters
    ----------
    values : ndarray
        Any numeric array.

    Returns
    -------
    ndarray of float64
        The same memory where possible, marked read-only.
    """
    array = np.asarray(values, dtype=np.float64)
    array = array.view()
    array.flags.writeable = False
    return array


@dataclass(frozen=True)
class Gap:
    """A stretch longer than the fill limit in which a sensor delivered nothing.

    Parameters
    ----------
    start_s, stop_s : float
        From the last sample before to the first sample after, in seconds from the recording's start.
    tracked_point : str
        The sensor that it concerns.
    """

    start_s: float
    stop_s: float
    tracked_point: str


@dataclass(frozen=True)
class Event:
    """A stretch of the recording that has a name: one row of a BIDS ``_events.tsv``.

    Parameters
    ----------
    onset_s : float
        When it begins, in seconds from the recording's start.
    duration_s : float or None
        How long it lasts; None where the file does not say (``n/a``, or an instant of 0 s).
    trial_type : str
        What it is: the name of an exercise of the plan, ``neutral pose`` or ``second pose``.
    side : {"left", "right"} or None
        Side of the body, where the file has that column.
    line : int or None
        Line of the file; None where there is no file.
    """

    onset_s: float
    duration_s: float | None
    trial_type: str
    side: Literal["left", "right"] | None = None
    line: int | None = None


@dataclass(frozen=True)
class InputFile:
    """Name (without its folder) and SHA-256 of a file that was read.

    Parameters
    ----------
    name : str
        File name only.
    sha256 : str
        Hexadecimal digest of its bytes.
    role : {"recording", "plan", "settings", "marks", "check", "diary", "result"}
        What it was read as.
    """

    name: str
    sha256: str
    role: Literal["recording", "plan", "settings", "marks", "check", "diary", "result"] = "recording"


@dataclass(frozen=True)
class ReferenceChannel:
    """An angle that came with the recording (BIDS type JNTANG): carried along, never used for the answer.

    Parameters
    ----------
    name : str
        Channel name.
    tracked_point : str
        As channels.tsv has it.
    values_deg : ndarray of shape (n,)
        Samples in degrees on the recording's time base; NaN where missing.
    """

    name: str
    tracked_point: str
    values_deg: Floats


@dataclass(frozen=True)
class Sensor:
    """One inertial sensor's samples.

    Parameters
    ----------
    tracked_point : str
        Body part it is worn on, as the file names it.
    accelerometer_m_s2 : ndarray of shape (n, 3)
        Specific force in m/s^2, sensor axes.
    gyroscope_rad_s : ndarray of shape (n, 3)
        Angular rate in rad/s, sensor axes.
    magnetometer_t : ndarray of shape (n, 3) or None
        Magnetic field in tesla, kept but not needed.
    missing : ndarray of bool of shape (n,)
        True where no measurement lies within the fill limit; the samples there are interpolated.
    mounting : str or None
        Declared directions of the sensor's axes on the body, in the words of the plan file (``"z outward, x up"``).
    placement : str or None
        Free text on where it is worn.
    full_scale_m_s2, full_scale_rad_s : float or None
        Largest value the sensor can give, where the file says so.
    """

    tracked_point: str
    accelerometer_m_s2: Floats
    gyroscope_rad_s: Floats
    magnetometer_t: Floats | None
    missing: NDArray[np.bool_]
    mounting: str | None = None
    placement: str | None = None
    full_scale_m_s2: float | None = None
    full_scale_rad_s: float | None = None

    def __post_init__(self) -> None:
        shape = np.shape(self.gyroscope_rad_s)
        triples = [self.accelerometer_m_s2, self.gyroscope_rad_s]
        if self.magnetometer_t is not None:
            triples.append(self.magnetometer_t)
        if any(np.shape(each) != (*shape[:1], 3) for each in triples) or np.shape(self.missing) != shape[:1]:
            raise RecordingError(
                f"a sensor's channels must have the shape (samples, 3), got {[np.shape(each) for each in triples]}",
                where=self.tracked_point,
            )
        for name in ("accelerometer_m_s2", "gyroscope_rad_s", "magnetometer_t"):
            values = getattr(self, name)
            if values is not None:
                object.__setattr__(self, name, freeze(values))

    def between(self, first: int, last: int) -> "Sensor":
        """Cut out a part of the samples.

        Parameters
        ----------
        first, last : int
            First sample and the one after the last.

        Returns
        -------
        Sensor
            The same sensor with these samples alone.
        """
        inside = slice(first, last)
        return replace(
            self,
            accelerometer_m_s2=self.accelerometer_m_s2[inside],
            gyroscope_rad_s=self.gyroscope_rad_s[inside],
            magnetometer_t=None if self.magnetometer_t is None else self.magnetometer_t[inside],
            missing=self.missing[inside],
        )


@dataclass(frozen=True)
class Recording:
    """One file, or one file a sensor, brought to one even time base.

    Parameters
    ----------
    rate_hz : float
        Sampling rate of the time base.
    sensors : mapping of str to Sensor
        By tracked point, in the file's order.
    label : str
        Short name for people: the BIDS stem or the file's name, no folder.
    task : str or None
        BIDS task label.
    subject : str or None
        BIDS subject label, without ``sub-``.
    recorded_at : str or None
        RFC 3339 time with offset of the first sample, or None where nothing in the data says so.
    recorded_at_source : {"scans.tsv", "time stamps", "option"} or None
        Where that came from; never the file's own date.
    gaps : tuple of Gap
        Stretches longer than the fill limit without data.
    filled_samples : mapping of str to int
        Samples filled in short gaps, by tracked point.
    files : tuple of InputFile
        What was read.
    references : tuple of ReferenceChannel
        Angles that came with the recording.
    events : tuple of Event
        Rows of an ``_events.tsv`` beside the recording, in order of time.
    findings : tuple of Finding
        What was noticed while reading.
    clocks : ClockFit or None
        How the clocks of two separately started sensors were brought together.
    """

    rate_hz: float
    sensors: Mapping[str, Sensor]
    label: str
    task: str | None = None
    subject: str | None = None
    recorded_at: str | None = None
    recorded_at_source: str | None = None
    gaps: tuple[Gap, ...] = ()
    filled_samples: Mapping[str, int] = field(default_factory=dict)
    files: tuple[InputFile, ...] = ()
    references: tuple[ReferenceChannel, ...] = ()
    events: tuple[Event, ...] = ()
    findings: tuple[Finding, ...] = ()
    clocks: ClockFit | None = None

    def __post_init__(self) -> None:
        lengths = {len(sensor.gyroscope_rad_s) for sensor in self.sensors.values()}
        if len(lengths) != 1:
            raise RecordingError(f"all sensors must have the same number of samples, got {sorted(lengths)}")
        object.__setattr__(self, "sensors", MappingProxyType(dict(self.sensors)))

    @property
    def sample_count(self) -> int:
        """Number of samples of each sensor."""
        return len(next(iter(self.sensors.values())).gyroscope_rad_s)

    @property
    def duration_s(self) -> float:
        """Time covered: samples over rate."""
        return self.sample_count / self.rate_hz

    @property
    def time_s(self) -> Floats:
        """Time of each sample in seconds from the recording's start, shape (n,)."""
        return freeze(np.arange(self.sample_count) / self.rate_hz)

    @property
    def event_stops_s(self) -> tuple[float, ...]:
        """When each event ends; one of unknown length lasts until the next begins, or the recording ends."""
        return tuple(
            each.onset_s + each.duration_s
            if each.duration_s is not None
            else next((one.onset_s for one in self.events[number:] if one.onset_s > each.onset_s), self.duration_s)
            for number, each in enumerate(self.events, start=1)
        )

    def sensor(self, tracked_point: str) -> Sensor:
        """Return the sensor worn on a tracked point.

        Parameters
        ----------
        tracked_point : str
            Name as in the recording.

        Returns
        -------
        Sensor
            That sensor.

        Raises
        ------
        RecordingError
            The recording has no such tracked point.
        """
        try:
            return self.sensors[tracked_point]
        except KeyError:
            raise RecordingError(
                f"no sensor on {tracked_point!r}; the recording has {', '.join(sorted(self.sensors))}",
                where=self.label,
                do="name one of these in its place",
            ) from None
