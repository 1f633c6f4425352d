"""One simulated session: what the file would hold, and the truth."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import SettingError
from imu_rom.recording.model import Floats, Gap, Recording
from imu_rom.simulation.body import measured, move_body, random_body
from imu_rom.simulation.course import run_course
from imu_rom.simulation.faults import Faults, faulty_sensor, logged_rows
from imu_rom.simulation.own_clock import SensorLog, measured_by_own_clock
from imu_rom.simulation.person import Person, SensorErrors
from imu_rom.simulation.routine import Routine
from imu_rom.simulation.slips import with_slips
from imu_rom.simulation.truth import Truth, truth_of

__all__ = ["SimulatedSession", "simulate_session"]

FINE_RATE_HZ = 200.0


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
    lost : mapping of str to ndarray of bool of shape (n,)
        By tracked point: samples that were not delivered. The recording has the short stretches filled.
    rows : ndarray of int of shape (m,)
        Which sample each row of the logger's file holds: doubled rows stand twice.
    stamps_s : ndarray of shape (m,)
        The logger's stamp of each row.
    logs : mapping of str to SensorLog
        By tracked point: what each sensor wrote, where one was started separately; empty else.
    """

    recording: Recording
    truth: Truth
    routine: Routine
    lost: Mapping[str, NDArray[np.bool_]]
    rows: NDArray[np.int64]
    stamps_s: Floats
    logs: Mapping[str, SensorLog] = field(default_factory=dict)


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
    points = {
        which: point
        for which, point in (("proximal", routine.proximal), ("distal", routine.distal))
        if routine.sensors in {"both", f"{which} only"}
    }
    slipping = [each.tracked_point for each in faults.slips] + [each.point for each in faults.clocks]
    for name in [*(each[0] for each in (*faults.gaps, *faults.sensor_stops_s)), *slipping]:
        if name not in points.values():
            raise SettingError(f"no sensor on {name!r}; there are {', '.join(points.values())}", where="fault")
    streams = np.random.default_rng(seed).spawn(7)
    every = max(1, int(np.ceil(FINE_RATE_HZ / rate_hz)))
    zero_shift_deg = person.zero_shift_mean_deg + person.zero_shift_sd_deg * float(streams[0].standard_normal())
    course = run_course(routine, zero_shift_deg, rate_hz * every, streams[1])
    body = random_body(person, routine, streams[0])
    motion = move_body(course, body, person, streams[2])
    motion, turns_deg = with_slips(motion, body, faults.slips, points, streams[6])
    sensors, lost = {}, {}
    gaps: list[Gap] = []
    for which, point in points.items():
        samples = measured(motion, which, every, errors, streams[3])
        sensors[point], its_gaps, lost[point] = faulty_sensor(
            point, *samples, rate_hz, faults, longest_filled_gap_s, streams[4]
        )
        gaps.extend(its_gaps)
    recording = Recording(
        rate_hz=rate_hz,
        sensors=sensors,
        label=f"simulated {routine.task} {seed}",
        task=routine.task,
        subject=subject,
        gaps=tuple(gaps),
        filled_samples={point: int(np.sum(each & ~sensors[point].missing)) for point, each in lost.items()},
    )
    rows, stamps_s = logged_rows(recording.sample_count, rate_hz, faults, streams[5])
    logs: dict[str, SensorLog] = {}
    if faults.clocks:
        clocks = {each.point: each for each in faults.clocks}
        for which, point in points.items():
            if point not in clocks:
                logs[point] = SensorLog(rate_hz, stamps_s[np.diff(rows, prepend=-1) > 0], sensors[point], lost[point])
                continue
            own_rate_hz = clocks[point].rate_hz or rate_hz
            own_stamps_s, force, rate = measured_by_own_clock(motion, which, clocks[point], rate_hz, errors, streams[3])
            sensor, _, missed = faulty_sensor(point, force, rate, own_rate_hz, faults, longest_filled_gap_s, streams[4])
            logs[point] = SensorLog(own_rate_hz, own_stamps_s, sensor, missed)
    truth = truth_of(course, motion, body, every, turns_deg)
    return SimulatedSession(recording, truth, routine, MappingProxyType(lost), rows, stamps_s, MappingProxyType(logs))
