"""One simulated session: what the file would hold, and the truth."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import SettingError
from imu_rom.recording.model import Floats, Gap, Recording, Sensor, freeze
from imu_rom.simulation.body import Body, Motion, interval_mean, measured, move_body, random_body
from imu_rom.simulation.course import Course, Interval, TrueRepetition, TrueSet, run_course
from imu_rom.simulation.person import Person, SensorErrors
from imu_rom.simulation.routine import Routine

__all__ = ["Faults", "SimulatedSession", "Truth", "simulate_session"]

FINE_RATE_HZ = 200.0


@dataclass(frozen=True)
class Faults:
    """What went wrong with the recording, besides the sensors' ordinary errors.

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
    gyroscope_step : float
        Smallest step of the gyroscope in rad/s; 0 is none.
    accelerometer_step : float
        Smallest step of the accelerometer in m/s^2; 0 is none.
    """

    gaps: tuple[tuple[str, float, float], ...] = ()
    dropped_share: float = 0.0
    sensor_stops_s: tuple[tuple[str, float], ...] = ()
    gyroscope_full_scale_deg_s: float | None = None
    accelerometer_full_scale_m_s2: float | None = None
    gyroscope_step: float = 0.0
    accelerometer_step: float = 0.0


@dataclass(frozen=True)
class Truth:
    """What really happened.

    Parameters
    ----------
    rate_hz : float
        Rate of the arrays: the recording's.
    angle_deg : ndarray of shape (n,)
        True joint angle about the true zero, positive in the plan's motion.
    zero_shift_deg : float
        Mean true angle in the neutral pose: an analysis that takes the pose as 0 reads ``angle_deg - zero_shift_deg``.
    sets : tuple of TrueSet
        With their repetitions, in true angles.
    pose, calibration, worn : Interval
        Neutral pose; calibration movement; from both sensors taped on to the first one taken off.
    chair : Interval or None
        A quiet while on a chair before standing up.
    walking, step_waits : tuple of Interval
        Walking, stepping up and turning; quiet waits at the place of exercise.
    body : Body
        Hinge axis and mountings.
    segments, sensors : mapping of str to ndarray of shape (n, 4)
        Attitude quaternions (x, y, z, w; SciPy's order) of ``proximal`` and ``distal`` segment and sensor -> world.
    """

    rate_hz: float
    angle_deg: Floats
    zero_shift_deg: float
    sets: tuple[TrueSet, ...]
    pose: Interval
    calibration: Interval
    worn: Interval
    chair: Interval | None
    walking: tuple[Interval, ...]
    step_waits: tuple[Interval, ...]
    body: Body
    segments: Mapping[str, Floats]
    sensors: Mapping[str, Floats]

    @property
    def repetitions(self) -> tuple[TrueRepetition, ...]:
        """All repetitions, in order."""
        return tuple(each for one in self.sets for each in one.repetitions)

    @property
    def time_s(self) -> Floats:
        """Time of each sample in seconds from the recording's start, shape (n,)."""
        return freeze(np.arange(len(self.angle_deg)) / self.rate_hz)

    @property
    def within_sets(self) -> NDArray[np.bool_]:
        """True for the samples between a set's first start and last stop, shape (n,)."""
        within = np.zeros(len(self.angle_deg), dtype=bool)
        for one in self.sets:
            within[round(one.start_s * self.rate_hz) : round(one.stop_s * self.rate_hz) + 1] = True
        return within


@dataclass(frozen=True)
class SimulatedSession:
    """A recording and its truth.

    Parameters
    ----------
    recording : Recording
        As a reader would give it.
    truth : Truth
        What really happened.
    routine : Routine
        What was to be done.
    """

    recording: Recording
    truth: Truth
    routine: Routine


def _true_sets(course: Course, angle_deg: Floats) -> tuple[TrueSet, ...]:
    sets = []
    for number in sorted({mark[0] for mark in course.marks}):
        repetitions = []
        for mark in (each for each in course.marks if each[0] == number):
            _, start_s, hold_start_s, hold_stop_s, stop_s, partial = mark
            first, arrive, leave, last = (round(each * course.rate_hz) for each in mark[1:5])
            deepest = first + int(np.argmax(angle_deg[first : last + 1]))
            end_range = float(angle_deg[deepest])
            repetitions.append(
                TrueRepetition(
                    set_number=number,
                    repetition_number=len(repetitions) + 1,
                    start_s=start_s,
                    hold_start_s=hold_start_s,
                    end_range_s=deepest / course.rate_hz,
                    hold_stop_s=hold_stop_s,
                    stop_s=stop_s,
                    end_range_deg=end_range,
                    held_deg=float(np.median(angle_deg[arrive : leave + 1])) if leave > arrive else end_range,
                    hold_s=hold_stop_s - hold_start_s,
                    eccentric_s=hold_start_s - start_s,
                    concentric_s=stop_s - hold_stop_s,
                    partial=partial,
                )
            )
        pauses = tuple(Interval(start, stop) for each, start, stop in course.pauses if each == number)
        sets.append(TrueSet(number, repetitions[0].start_s, repetitions[-1].stop_s, tuple(repetitions), pauses))
    return tuple(sets)


def _truth(course: Course, motion: Motion, body: Body, every: int) -> Truth:
    def kept(attitudes: object) -> Floats:
        return freeze(attitudes.as_quat()[::every])  # type: ignore[attr-defined]

    named = course.intervals
    on = max(course.handling[which][0].stop_s for which in ("proximal", "distal"))
    off = min(course.handling[which][1].start_s for which in ("proximal", "distal"))
    return Truth(
        rate_hz=course.rate_hz / every,
        angle_deg=freeze(motion.angle_deg[::every].copy()),
        zero_shift_deg=interval_mean(motion.angle_deg, named["pose"][0], course.rate_hz),
        sets=_true_sets(course, motion.angle_deg),
        pose=named["pose"][0],
        calibration=named["calibration"][0],
        worn=Interval(on, off),
        chair=named["chair"][0] if "chair" in named else None,
        walking=tuple(named["walking"]),
        step_waits=tuple(named["step wait"]),
        body=body,
        segments=MappingProxyType({which: kept(each) for which, each in motion.segments.items()}),
        sensors=MappingProxyType({which: kept(each) for which, each in motion.sensors.items()}),
    )


def _missing(point: str, count: int, rate_hz: float, faults: Faults, rng: np.random.Generator) -> NDArray[np.bool_]:
    missing = np.zeros(count, dtype=bool)
    for start in np.flatnonzero(rng.random(count) < faults.dropped_share / 2):
        missing[start : start + int(rng.integers(1, 4))] = True
    for where, start_s, length_s in faults.gaps:
        if where == point:
            missing[round(start_s * rate_hz) : round((start_s + length_s) * rate_hz)] = True
    for where, time_s in faults.sensor_stops_s:
        if where == point:
            missing[round(time_s * rate_hz) :] = True
    return missing


def _filled(values: Floats, missing: NDArray[np.bool_]) -> Floats:
    known = np.flatnonzero(~missing)
    if not missing.any() or len(known) == 0:
        return values
    return np.stack([np.interp(np.arange(len(values)), known, column[known]) for column in values.T], axis=1)


def _runs(missing: NDArray[np.bool_]) -> NDArray[np.int64]:
    edges = np.flatnonzero(np.diff(missing.astype(np.int8), prepend=0, append=0))
    return edges.reshape(-1, 2)


def simulate_session(
    seed: int,
    routine: Routine | None = None,
    person: Person | None = None,
    errors: SensorErrors | None = None,
    faults: Faults | None = None,
    *,
    rate_hz: float = 100.0,
    subject: str | None = None,
    longest_filled_gap_s: float = 0.2,
) -> SimulatedSession:
    """Simulate one session of an invented person.

    Parameters
    ----------
    seed : int
        Seed of chance: the same seed gives the same session.
    routine : Routine, optional
        What is to be done; None is 3 x 15 heel drops.
    person : Person, optional
        Ranges from which the person is drawn.
    errors : SensorErrors, optional
        Errors of the sensors.
    faults : Faults, optional
        Faults of the recording; None is none.
    rate_hz : float
        Rate of the recording, 20 to 1000.
    subject : str, optional
        BIDS subject label of the recording.
    longest_filled_gap_s : float
        Longer stretches without data are gaps.

    Returns
    -------
    SimulatedSession
        Recording and truth.

    Raises
    ------
    SettingError
        The rate is out of range, or a fault names a sensor that is not there.
    """
    routine, person = routine or Routine(), person or Person()
    errors, faults = errors or SensorErrors(), faults or Faults()
    if not 20 <= rate_hz <= 1000:
        raise SettingError(f"must lie in 20 to 1000 Hz, got {rate_hz}", where="simulated rate_hz")
    points = {"proximal": routine.proximal, "distal": routine.distal}
    for name in [each[0] for each in (*faults.gaps, *faults.sensor_stops_s)]:
        if name not in points.values():
            raise SettingError(f"no sensor on {name!r}; there are {', '.join(points.values())}", where="fault")
    streams = np.random.default_rng(seed).spawn(5)
    every = max(1, int(np.ceil(FINE_RATE_HZ / rate_hz)))
    zero_shift_deg = person.zero_shift_mean_deg + person.zero_shift_sd_deg * float(streams[0].standard_normal())
    course = run_course(routine, zero_shift_deg, rate_hz * every, streams[1])
    body = random_body(person, routine.joint, routine.side, streams[0])
    motion = move_body(course, body, person, streams[2])
    sensors, gaps, filled = {}, [], {}
    for which, point in points.items():
        accelerometer, gyroscope = measured(motion, which, every, errors, streams[3])
        full_scale = faults.gyroscope_full_scale_deg_s and float(np.deg2rad(faults.gyroscope_full_scale_deg_s))
        if full_scale:
            gyroscope = np.clip(gyroscope, -full_scale, full_scale)
        if faults.accelerometer_full_scale_m_s2:
            limit = faults.accelerometer_full_scale_m_s2
            accelerometer = np.clip(accelerometer, -limit, limit)
        if faults.gyroscope_step:
            gyroscope = np.round(gyroscope / faults.gyroscope_step) * faults.gyroscope_step
        if faults.accelerometer_step:
            accelerometer = np.round(accelerometer / faults.accelerometer_step) * faults.accelerometer_step
        missing = _missing(point, len(gyroscope), rate_hz, faults, streams[4])
        long = np.zeros_like(missing)
        for start, stop in _runs(missing):
            if stop - start + 1 > longest_filled_gap_s * rate_hz:
                long[start:stop] = True
                gaps.append(Gap(max(0, start - 1) / rate_hz, min(stop, len(missing) - 1) / rate_hz, point))
        filled[point] = int(np.sum(missing & ~long))
        sensors[point] = Sensor(
            tracked_point=point,
            accelerometer_m_s2=_filled(accelerometer, missing),
            gyroscope_rad_s=_filled(gyroscope, missing),
            magnetometer_t=None,
            missing=long,
            full_scale_m_s2=faults.accelerometer_full_scale_m_s2,
            full_scale_rad_s=full_scale,
        )
    truth = _truth(course, motion, body, every)
    recording = Recording(
        rate_hz=rate_hz,
        sensors=sensors,
        label=f"simulated {routine.task} {seed}",
        task=routine.task,
        subject=subject,
        gaps=tuple(gaps),
        filled_samples=filled,
    )
    return SimulatedSession(recording, truth, routine)
