"""The course of a session: what the invented person does, from the table and back to it.

Durations, depths and habits are common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from imu_rom.simulation.performer import Course, Interval, Performer
from imu_rom.simulation.routine import Routine

__all__ = ["run_course"]


def _knock(person: Performer) -> None:
    """Take both sensors in one hand, knock three times on the table, lay them down again."""
    start_s = person.time_s
    person.stay(person.uniform(1.5, 2.5))
    for _ in range(3):
        person.course.knocks.append((person.time_s, person.uniform(40, 120)))
        person.stay(person.uniform(0.5, 1.0))
    person.stay(person.uniform(1.0, 2.0))
    person.note("held together", start_s)
    person.stay(person.uniform(1, 3))


def _toe_taps(person: Performer, seated_deg: float) -> None:
    """Seated: lift the forefoot and tap it on the floor, three times."""
    for _ in range(3):
        person.move(person.uniform(0.25, 0.4), angle=seated_deg + person.uniform(8, 14))
        person.move(person.uniform(0.09, 0.14), angle=seated_deg)
        person.course.taps.append((person.time_s, person.uniform(12, 30)))
        person.stay(person.uniform(0.2, 0.7))
    person.stay(person.uniform(1, 3))


def _setup(person: Performer) -> None:
    """Sensors on the table, taped on in turn, the person gets up and takes the neutral pose."""
    seated = {"angle": 85.0, "pitch": -85.0} if person.knee else {"angle": 5.0, "pitch": 10.0}
    person.now.update(seated, sway=0.25, yaw=person.uniform(-180, 180))
    person.stay(person.uniform(6, 25))
    person.course.table = Interval(0.0, person.time_s)
    if person.routine.shared_jolts == "knocks":
        _knock(person)
    order = ["proximal", "distal"]
    person.rng.shuffle(order)
    for which in order:
        start_s = person.time_s
        until_s = start_s + person.uniform(12, 30)
        while person.time_s < until_s:
            person.move(
                person.uniform(0.8, 2),
                angle=seated["angle"] + person.uniform(-15, 10),
                pitch=seated["pitch"] + person.uniform(-12, 20),
                roll=person.uniform(-10, 25),
            )
            person.stay(person.uniform(1, 5))
        person.course.handling[which].append(Interval(start_s, person.time_s))
        person.stay(person.uniform(2, 8))
    if person.routine.shared_jolts == "toe taps":
        _toe_taps(person, seated["angle"])
    sits = person.routine.sits_before
    if person.rng.random() < 0.5 if sits is None else sits:
        tilt = person.uniform(8, 25)
        posture = {"angle": 90 + tilt, "pitch": -90.0} if person.knee else {"angle": tilt, "pitch": tilt}
        person.move(1.5, roll=0.0, flat=1.0, **posture)
        start_s = person.time_s
        person.stay(person.uniform(8, 30))
        person.note("chair", start_s)
    lean = {"angle": 95.0, "pitch": -80.0} if person.knee else {"angle": 18.0, "pitch": 18.0}
    person.move(person.uniform(0.8, 1.3), roll=0.0, **lean)
    person.stand(person.uniform(1.0, 1.6))
    person.linger(person.uniform(0, 6))
    person.walk(int(person.rng.integers(2, 6)), length_m=person.uniform(0.2, 1.1), turn_deg=person.uniform(-120, 120))
    if person.routine.leans_before_deg is not None:
        person.stand(1.0, error_deg=person.routine.leans_before_deg)
        start_s = person.time_s
        person.stay(person.uniform(8, 14))
        person.note("leaning", start_s)
    person.stand(person.uniform(0.6, 1.5), error_deg=0.0)
    person.stay(person.uniform(0.5, 1.5))
    start_s = person.time_s
    person.stay(person.uniform(6, 14))
    person.note("pose", start_s)


def _calibration(person: Performer) -> None:
    """Three slow movements straight after the pose."""
    person.stay(person.uniform(0.3, 2))
    start_s = person.time_s
    for turn in range(3):
        depth = person.uniform(*person.routine.calibration_deg) * person.routine.calibration_sign
        way = {"angle": depth, "pitch": -0.58 * depth, "flat": 0.0} if person.knee else person.pose(depth, 0.5)
        person.move(person.uniform(1.2, 2.2), straightness=person.uniform(0, 0.4), **way)
        person.stay(person.uniform(0.2, 0.8))
        person.stand(person.uniform(1.2, 2.0))
        if turn < 2:
            person.stay(person.uniform(0.2, 1.0))
    person.note("calibration", start_s)
    person.linger(person.uniform(1, 6))


def _step(person: Performer, rise_m: float) -> None:
    if not (person.knee or person.routine.on_floor):
        person.walk(1, length_m=0.3, rise_m=rise_m)


def _to_place(person: Performer) -> None:
    """Up on the step, foot towards its edge, and a wait there: not quite neutral."""
    _step(person, 0.16)
    error = None if person.knee or person.routine.on_floor else person.uniform(-7, 6)
    person.stand(person.uniform(0.6, 1.2), error_deg=error)
    start_s = person.time_s
    person.stay(person.uniform(2, 10))
    person.note("step wait", start_s)


@dataclass(frozen=True)
class _Fatigue:
    """How the set has told so far: factor on the times, and shift of the depth in its own spreads."""

    slowing: float
    deepening: float


def _taps(person: Performer) -> None:
    """Three taps on the sensors, by hand."""
    person.stay(person.uniform(1.6, 2.0))
    for _ in range(3):
        person.stay(person.uniform(0.3, 0.5))
        person.course.shocks.append((person.time_s, person.uniform(20, 35)))
    person.stay(person.uniform(0.3, 0.5))


def _repetition(person: Performer, number: int, fatigue: _Fatigue, *, last: bool, partial: bool) -> None:
    routine, rng = person.routine, person.rng

    def phase_s(mean: float) -> float:
        return max(0.05, mean * fatigue.slowing * (1 + routine.time_variation * rng.normal()))

    shape = {"straightness": person.uniform(0, 0.5), "skew": person.uniform(0.85, 1.2)}
    target = routine.end_range_deg + (rng.normal() + fatigue.deepening) * routine.end_range_sd_deg
    depth = 1.0
    if partial:
        depth = person.uniform(0.3, 0.6)
        target = person.now["angle"] + depth * (target - person.now["angle"])
    if routine.taps:
        _taps(person)
    start_s = person.time_s
    person.move(phase_s(routine.eccentric_s), **shape, **person.pose(target, depth))
    hold_start_s = person.time_s
    if routine.hold_s > 0:
        # people sink or rise a little while they hold
        drift = 0.0 if routine.on_floor else rng.normal(0.2 + routine.sag_deg, 0.4)
        held_s = phase_s(routine.hold_s)
        if routine.ends_early_share and rng.random() < routine.ends_early_share:
            held_s *= person.uniform(0.4, 0.7)
        person.move(held_s, straightness=1.0, angle=target + drift)
    hold_stop_s = person.time_s
    if routine.taps:
        _taps(person)
    if not (last and routine.on_floor) or routine.foot_stays_flat:
        start_deg = routine.start_deg + rng.normal() * routine.start_sd_deg
        person.move(phase_s(routine.concentric_s), **shape, **person.pose(start_deg, 0.0))
    person.course.marks.append((number, start_s, hold_start_s, hold_stop_s, person.time_s, partial))
    if not last:
        person.stay(phase_s(routine.top_pause_s))


def _pause(person: Performer, number: int) -> None:
    """Wait within a set, as when it hurts."""
    start_s, start_deg = person.time_s, person.now["angle"]
    if person.routine.pauses_standing:
        person.stand(person.uniform(0.8, 1.5))
    person.stay(person.uniform(5, 20))
    if person.routine.pauses_standing:
        person.move(person.uniform(0.8, 1.5), **person.pose(start_deg, 0.0))
    person.course.pauses.append((number, start_s, person.time_s))


def _set(person: Performer, number: int, own_number: int) -> None:
    routine, rng = person.routine, person.rng
    person.move(person.uniform(1.0, 2.0), **person.pose(routine.start_deg + rng.normal() * routine.start_sd_deg, 0.0))
    person.stay(person.uniform(0.3, 2.0))
    repetitions = routine.set_repetitions[own_number - 1] if routine.set_repetitions else routine.repetitions
    order = [False] * repetitions
    for _ in range(int(rng.binomial(repetitions, routine.partial_share))):
        order.insert(int(rng.integers(1, len(order) + 1)), True)
    pause_after = int(rng.integers(1, len(order))) if len(order) > 3 else 0
    pauses = rng.random() < routine.pause_probability
    slowing, deepening = person.uniform(0, 0.15), rng.normal(0, 0.7)
    for index, partial in enumerate(order):
        last, told = index == len(order) - 1, index / len(order) - 0.5
        fatigue = _Fatigue(1 + slowing * told, deepening * told)
        _repetition(person, number, fatigue, last=last, partial=partial)
        if pauses and index + 1 == pause_after and not last:
            _pause(person, number)
    person.stay(person.uniform(0.2, 1.0))
    person.stand(person.uniform(1.0, 1.8))


def _pose_again(person: Performer, when: tuple[str, ...]) -> None:
    """Stand in the neutral pose once more, nobody coming back to quite the same angle."""
    if person.routine.poses_again not in when:
        return
    person.stand(person.uniform(0.8, 1.5), error_deg=person.routine.closing_off_deg + person.rng.normal(0, 0.8))
    person.stay(person.uniform(0.5, 1.0))
    start_s = person.time_s
    person.stay(person.uniform(6, 12))
    person.note("closing pose", start_s)


def _rest(person: Performer) -> None:
    until_s = person.time_s + person.routine.rest_s * person.uniform(0.85, 1.15)
    if not person.routine.walks_in_rests or person.routine.rest_s < 25:
        person.linger(max(2.0, until_s - person.time_s - 2))
        _pose_again(person, ("rests",))
        return
    person.linger(person.uniform(1, 4))
    _step(person, -0.16)
    turn = float(person.rng.choice([-180, 180]))
    strides = int(person.rng.integers(2, 7))
    person.walk(strides, length_m=person.uniform(0.8, 1.4), turn_deg=person.uniform(-30, 30))
    person.stand(0.6)
    person.walk(2, length_m=0.3, turn_deg=turn)
    person.stand(0.6)
    _pose_again(person, ("rests",))
    person.linger(max(2.0, until_s - person.time_s - 4 - 1.2 * (strides + 4)))
    person.walk(strides, length_m=person.uniform(0.8, 1.4), turn_deg=person.uniform(-30, 30))
    person.stand(0.6)
    person.walk(int(person.rng.integers(2, 4)), length_m=0.3, turn_deg=float(person.rng.choice([180, -180, 360])))
    person.stand(0.6)
    _to_place(person)


def _leave(person: Performer) -> None:
    """Down from the step, back to the table, sensors off."""
    person.linger(person.uniform(1, 5))
    _step(person, -0.16)
    person.walk(2, length_m=0.3, turn_deg=float(person.rng.choice([-180, 180])))
    person.walk(int(person.rng.integers(4, 9)), length_m=person.uniform(0.9, 1.4), turn_deg=person.uniform(-60, 60))
    person.stand(0.6)
    _pose_again(person, ("end", "rests"))
    seated = {"angle": 85.0, "pitch": -85.0} if person.knee else {"angle": 5.0, "pitch": 10.0}
    person.move(1.8, sway=0.25, **seated)
    person.stay(person.uniform(1, 4))
    if person.routine.shared_jolts == "toe taps":
        _toe_taps(person, seated["angle"])
    for which in person.rng.permutation(["proximal", "distal"]):
        start_s = person.time_s
        person.move(person.uniform(2, 4), roll=person.uniform(-5, 25), pitch=seated["pitch"] + person.uniform(-10, 20))
        person.stay(person.uniform(2, 6))
        person.course.handling[str(which)].append(Interval(start_s, person.time_s))
    if person.routine.shared_jolts == "knocks":
        person.stay(person.uniform(1, 3))
        _knock(person)
    person.stay(person.uniform(3, 10))


def run_course(
    routine: Routine, zero_shift_deg: float, rate_hz: float, rng: np.random.Generator, then: Sequence[Routine] = ()
) -> Course:
    """Let the person do the whole session.

    Parameters
    ----------
    routine : Routine
        What is to be done.
    zero_shift_deg : float
        True angle at which this person stands "at neutral" today.
    rate_hz : float
        Rate of the channels.
    rng : numpy.random.Generator
        Source of chance.
    then : sequence of Routine, optional
        What is done after it in the same shoe with the same sensors, each after a rest; sets are numbered on.

    Returns
    -------
    Course
        Channels and what they mean.
    """
    person = Performer(routine, zero_shift_deg, rate_hz, rng)
    _setup(person)
    _calibration(person)
    person.walk(int(rng.integers(4, 10)), length_m=person.uniform(0.9, 1.4), turn_deg=person.uniform(-150, 150))
    person.stand(0.6)
    _to_place(person)
    number = 0
    for each in (routine, *then):
        if number:
            _rest(person)
            person.routine = each
        for own_number in range(1, each.sets + 1):
            number += 1
            _set(person, number, own_number)
            if own_number < each.sets:
                _rest(person)
    _leave(person)
    return person.finish()
