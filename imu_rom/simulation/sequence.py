"""One recording of several wearings: sensors taken off one leg or shoe, laid down, and taped on again for the next."""

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from scipy.spatial.transform import Rotation

from imu_rom.errors import SettingError
from imu_rom.recording.model import Floats, Recording, Sensor, freeze
from imu_rom.simulation.body import GRAVITY_M_S2, with_errors
from imu_rom.simulation.performer import Interval, minimum_jerk
from imu_rom.simulation.person import Person, SensorErrors
from imu_rom.simulation.routine import Routine
from imu_rom.simulation.session import WHOLE_SESSION, SimulatedSession, routine_events, simulate_session
from imu_rom.simulation.truth import TrueSet, Truth

__all__ = ["simulate_wearings"]

# A sensor lies otherwise on the table the next time it is laid down: it is turned over in so many seconds.
TURNED_OVER_S = 3.0


def simulate_wearings(
    seed: int,
    wearings: Sequence[Sequence[Routine]],
    person: Person | None = None,
    errors: SensorErrors | None = None,
    *,
    rate_hz: float = 100.0,
    subject: str | None = None,
) -> SimulatedSession:
    """Simulate one recording in which the sensors are moved to another leg or shoe, each time with a new neutral pose.

    Parameters
    ----------
    seed : int
        Seed of chance: the same seed gives the same recording.
    wearings : sequence of sequence of Routine
        What is done each time the sensors are worn; at least one, with the same tracked points throughout.
    person : Person, optional
        Ranges from which legs and postures are drawn.
    errors : SensorErrors, optional
        Errors of the sensors, which they keep from one wearing to the next.
    rate_hz : float
        Rate of the recording, 20 to 1000.
    subject : str, optional
        BIDS subject label of the recording.

    Returns
    -------
    SimulatedSession
        Recording with its events, and the truth of each wearing.

    Raises
    ------
    SettingError
        The tracked points change.
    """
    errors = errors or SensorErrors()
    if len({(each.proximal, each.distal, each.sensors) for each in itertools.chain(*wearings)}) != 1:
        raise SettingError("must keep its two tracked points when the sensors are moved", where="simulated routine")
    seeds = [seed, *np.random.SeedSequence([seed, len(wearings)]).generate_state(len(wearings) - 1).tolist()]
    sessions = [
        simulate_session(own, each[0], person, SensorErrors.none(), rate_hz=rate_hz, then=each[1:])
        for own, each in zip(seeds, wearings, strict=True)
    ]
    between = round(TURNED_OVER_S * rate_hz)
    starts_s = np.cumsum([0.0, *((each.recording.sample_count + between) / rate_hz for each in sessions[:-1])])
    noise = np.random.default_rng([seed, len(wearings)])
    sensors = {
        point: _joined(point, which, sessions, between, errors, noise)
        for which, point in _points(sessions[0].routine).items()
    }
    count = len(next(iter(sensors.values())).missing)
    angle_deg = np.concatenate(
        [np.pad(each.truth.angle_deg, (0, between), mode="edge") for each in sessions], dtype=np.float64
    )[:count]
    truths, done = [], 0
    for each, start_s in zip(sessions, starts_s.tolist(), strict=True):
        truths.append(replace(_later(each.truth, start_s, done), angle_deg=freeze(angle_deg)))
        done += len(each.truth.sets)
    sets = tuple(one for each in truths for one in each.sets)
    routines = tuple(itertools.chain(*wearings))
    recording = Recording(
        rate_hz=rate_hz,
        sensors=sensors,
        label=f"simulated {WHOLE_SESSION} {seed}",
        task=WHOLE_SESSION,
        subject=subject,
        filled_samples=dict.fromkeys(sensors, 0),
        events=routine_events(routines, sets),
    )
    return SimulatedSession(
        recording=recording,
        truth=replace(truths[0], sets=sets),
        routine=routines[0],
        lost={point: np.zeros(count, dtype=bool) for point in sensors},
        rows=np.arange(count),
        stamps_s=freeze(np.arange(count) / rate_hz),
        then=routines[1:],
        wearings=tuple(truths),
    )


def _points(routine: Routine) -> dict[str, str]:
    named = {"proximal": routine.proximal, "distal": routine.distal}
    return {which: point for which, point in named.items() if routine.sensors in {"both", f"{which} only"}}


def _joined(
    point: str,
    which: str,
    sessions: Sequence[SimulatedSession],
    between: int,
    errors: SensorErrors,
    rng: np.random.Generator,
) -> Sensor:
    """Put one sensor's samples one after the other; in between it is turned over on the table."""
    rate_hz = sessions[0].recording.rate_hz
    forces, rates = [], []
    for number, each in enumerate(sessions):
        sensor = each.recording.sensor(point)
        if number:
            ends = Rotation.from_quat([sessions[number - 1].truth.sensors[which][-1], each.truth.sensors[which][0]])
            force, rate = _turned_over(ends, between, rate_hz)
            forces.append(force)
            rates.append(rate)
        forces.append(sensor.accelerometer_m_s2)
        rates.append(sensor.gyroscope_rad_s)
    force, rate = with_errors(np.concatenate(forces), np.concatenate(rates), rate_hz, errors, rng)
    return Sensor(point, force, rate, None, np.zeros(len(force), dtype=bool))


def _turned_over(ends: Rotation, count: int, rate_hz: float) -> tuple[Floats, Floats]:
    """Specific force and rate of a sensor that turns smoothly from one attitude to another, in its own axes."""
    way = (ends[0].inv() * ends[1]).as_rotvec()
    share = minimum_jerk(np.arange(count + 1) / count)
    attitude = ends[0] * Rotation.from_rotvec(share[1:, None] * way)
    return attitude.inv().apply([0.0, 0.0, GRAVITY_M_S2]), np.diff(share)[:, None] * way * rate_hz


def _interval(each: Interval, by_s: float) -> Interval:
    return Interval(each.start_s + by_s, each.stop_s + by_s)


def _later(truth: Truth, by_s: float, sets_before: int) -> Truth:
    """Give a truth the times of a recording that began earlier."""

    def moved_set(one: TrueSet) -> TrueSet:
        number = one.number + sets_before
        repetitions = tuple(
            replace(
                each,
                set_number=number,
                start_s=each.start_s + by_s,
                hold_start_s=each.hold_start_s + by_s,
                end_range_s=each.end_range_s + by_s,
                hold_stop_s=each.hold_stop_s + by_s,
                stop_s=each.stop_s + by_s,
            )
            for each in one.repetitions
        )
        pauses = tuple(_interval(each, by_s) for each in one.pauses)
        return TrueSet(number, one.start_s + by_s, one.stop_s + by_s, repetitions, pauses)

    def moved(intervals: Iterable[Interval]) -> tuple[Interval, ...]:
        return tuple(_interval(each, by_s) for each in intervals)

    return replace(
        truth,
        sets=tuple(map(moved_set, truth.sets)),
        pose=_interval(truth.pose, by_s),
        calibration=_interval(truth.calibration, by_s),
        worn=_interval(truth.worn, by_s),
        chair=None if truth.chair is None else _interval(truth.chair, by_s),
        leaning=None if truth.leaning is None else _interval(truth.leaning, by_s),
        walking=moved(truth.walking),
        step_waits=moved(truth.step_waits),
        closing_poses=moved(truth.closing_poses),
    )
