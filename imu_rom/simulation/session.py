"""One simulated session: what the file would hold, and the truth."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import SettingError
from imu_rom.recording.model import Event, Floats, Gap, Recording
from imu_rom.simulation.body import measured, move_body, random_body
from imu_rom.simulation.course import run_course
from imu_rom.simulation.faults import Faults, faulty_sensor, logged_rows
from imu_rom.simulation.own_clock import SensorLog, measured_by_own_clock
from imu_rom.simulation.person import Person, SensorErrors
from imu_rom.simulation.routine import Routine
from imu_rom.simulation.slips import with_slips
from imu_rom.simulation.truth import TrueSet, Truth, truth_of

__all__ = ["WHOLE_SESSION", "SimulatedSession", "routine_events", "simulate_session"]

FINE_RATE_HZ = 200.0
WHOLE_SESSION = "session"
"""Task label of a recording of several exercises."""
SAME_SENSORS = ("joint", "side", "proximal", "distal", "sensors", "on_floor", "proximal_mounting", "distal_mounting")
BESIDE_S = 1.0


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
    then : tuple of Routine
        What was to be done after the first routine; sets are numbered on.
    wearings : tuple of Truth
        Where the sensors were moved to another leg or shoe in between: the truth of each wearing, with the times of the
        recording; ``truth`` then has the pose and the zero of the first, and the sets of all. Empty else.
    """

    recording: Recording
    truth: Truth
    routine: Routine
    lost: Mapping[str, NDArray[np.bool_]]
    rows: NDArray[np.int64]
    stamps_s: Floats
    logs: Mapping[str, SensorLog] = field(default_factory=dict)
    then: tuple[Routine, ...] = ()
    wearings: tuple[Truth, ...] = ()


def routine_events(routines: Sequence[Routine], sets: Sequence[TrueSet]) -> tuple[Event, ...]:
    """Say when each routine was done, as somebody beside the person would.

    Parameters
    ----------
    routines : sequence of Routine
        In their order.
    sets : sequence of TrueSet
        All sets, in order.

    Returns
    -------
    tuple of Event
        One a routine: from a second before its first set to a second after its last one.
    """
    events, done = [], 0
    for each in routines:
        own = sets[done : done + each.sets]
        done += each.sets
        onset_s = round(own[0].start_s - BESIDE_S, 3)
        events.append(Event(onset_s, round(own[-1].stop_s + BESIDE_S - onset_s, 3), each.task, each.side))
    return tuple(events)


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
    then: Sequence[Routine] = (),
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
    then : sequence of Routine, optional
        What is done after it in the same shoe with the same sensors. The recording then has events, and the task
        label of a whole session.

    Returns
    -------
    SimulatedSession
        Recording and truth.

    Raises
    ------
    SettingError
        The rate is out of range, a fault names a sensor that is not there, or a later routine needs other sensors.

    Examples
    --------
    >>> from imu_rom import simulate_session
    >>> made = simulate_session(7, rate_hz=50)
    >>> len(made.truth.sets), sorted(made.recording.sensors)
    (3, ['foot', 'shank'])
    """
    routine, person = routine or Routine(), person or Person()
    errors, faults = errors or SensorErrors(), faults or Faults()
    if not 20 <= rate_hz <= 1000:
        raise SettingError(f"must lie in 20 to 1000 Hz, got {rate_hz}", where="simulated rate_hz")
    for each in then:
        if any(getattr(each, name) != getattr(routine, name) for name in SAME_SENSORS):
            raise SettingError(
                f"must be of the same {', '.join(SAME_SENSORS)} as the first one",
                where=f"simulated routine {each.task}",
            )
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
    course = run_course(routine, zero_shift_deg, rate_hz * every, streams[1], then)
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
    truth = truth_of(course, motion, body, every, turns_deg)
    task = WHOLE_SESSION if then else routine.task
    recording = Recording(
        rate_hz=rate_hz,
        sensors=sensors,
        label=f"simulated {task} {seed}",
        task=task,
        subject=subject,
        gaps=tuple(gaps),
        filled_samples={point: int(np.sum(each & ~sensors[point].missing)) for point, each in lost.items()},
        events=routine_events((routine, *then), truth.sets) if then else (),
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
    return SimulatedSession(
        recording, truth, routine, MappingProxyType(lost), rows, stamps_s, MappingProxyType(logs), tuple(then)
    )
