"""What really happened in a simulated session: angles, repetitions, sets and where everything lies."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from imu_rom.recording.model import Floats, freeze
from imu_rom.simulation.body import Body, Motion
from imu_rom.simulation.performer import Course, Interval

__all__ = ["TrueRepetition", "TrueSet", "Truth", "true_sets", "truth_of"]


@dataclass(frozen=True)
class TrueRepetition:
    """One repetition as it was done. Angles are true angles, about the joint's true zero.

    Parameters
    ----------
    set_number, repetition_number : int
        From 1.
    start_s, hold_start_s, end_range_s, hold_stop_s, stop_s : float
        Leaving the start position; arriving in the end range; deepest instant; leaving it; back at the start position.
    end_range_deg : float
        Deepest true angle.
    held_deg : float
        Median true angle between arriving and leaving; the deepest one where there is no hold.
    hold_s, eccentric_s, concentric_s : float
        Time of each phase. The last lowering to a floor has no way back: its concentric time is 0.
    partial : bool
        True where it was cut short on purpose of the simulation.
    """

    set_number: int
    repetition_number: int
    start_s: float
    hold_start_s: float
    end_range_s: float
    hold_stop_s: float
    stop_s: float
    end_range_deg: float
    held_deg: float
    hold_s: float
    eccentric_s: float
    concentric_s: float
    partial: bool


@dataclass(frozen=True)
class TrueSet:
    """One set as it was done.

    Parameters
    ----------
    number : int
        From 1.
    start_s, stop_s : float
        First repetition's start to last repetition's stop.
    repetitions : tuple of TrueRepetition
        In order, complete and partial.
    pauses : tuple of Interval
        Pauses within the set.
    """

    number: int
    start_s: float
    stop_s: float
    repetitions: tuple[TrueRepetition, ...]
    pauses: tuple[Interval, ...] = ()


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
    leaning : Interval or None
        A quiet stand with the shank leaning, before the neutral pose.
    walking, step_waits : tuple of Interval
        Walking, stepping up and turning; quiet waits at the place of exercise.
    closing_poses : tuple of Interval
        Neutral poses taken again, between the sets or at the end.
    slips_deg : tuple of tuple of float
        Rotation vector of each slip that was asked for, in its sensor's axes, in degrees.
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
    leaning: Interval | None
    walking: tuple[Interval, ...]
    step_waits: tuple[Interval, ...]
    closing_poses: tuple[Interval, ...]
    slips_deg: tuple[tuple[float, float, float], ...]
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

    def past_threshold_s(self, threshold_deg: float) -> tuple[float, ...]:
        """Time strictly past an angle in each set.

        Parameters
        ----------
        threshold_deg : float
            True angle.

        Returns
        -------
        tuple of float
            Seconds, one entry a set, from first start to last stop.
        """
        past = self.angle_deg > threshold_deg
        return tuple(
            float(np.sum(past[round(one.start_s * self.rate_hz) : round(one.stop_s * self.rate_hz) + 1]) / self.rate_hz)
            for one in self.sets
        )

    @property
    def within_sets(self) -> NDArray[np.bool_]:
        """True for the samples between a set's first start and last stop, shape (n,)."""
        within = np.zeros(len(self.angle_deg), dtype=bool)
        for one in self.sets:
            within[round(one.start_s * self.rate_hz) : round(one.stop_s * self.rate_hz) + 1] = True
        return within


def true_sets(course: Course, angle_deg: Floats) -> tuple[TrueSet, ...]:
    """Measure the sets and repetitions that were done on the true angle.

    Parameters
    ----------
    course : Course
        What was done.
    angle_deg : ndarray of shape (n,)
        True angle on the course's time base.

    Returns
    -------
    tuple of TrueSet
        In order.
    """
    sets = []
    for number in sorted({mark[0] for mark in course.marks}):
        repetitions: list[TrueRepetition] = []
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


def truth_of(
    course: Course, motion: Motion, body: Body, every: int, slips_deg: tuple[tuple[float, float, float], ...] = ()
) -> Truth:
    """Gather the truth of a session.

    Parameters
    ----------
    course : Course
        What was done.
    motion : Motion
        What the body did.
    body : Body
        Whose body.
    every : int
        Fine samples a sample of the recording.
    slips_deg : tuple of tuple of float
        Rotation vectors of the sensors' slips.

    Returns
    -------
    Truth
        The truth.
    """

    def kept(attitudes: Rotation) -> Floats:
        return freeze(attitudes.as_quat()[::every])

    named = course.intervals
    pose = named["pose"][0]
    first, last = round(pose.start_s * course.rate_hz), round(pose.stop_s * course.rate_hz)
    on = max(course.handling[which][0].stop_s for which in ("proximal", "distal"))
    off = min(course.handling[which][1].start_s for which in ("proximal", "distal"))
    return Truth(
        rate_hz=course.rate_hz / every,
        angle_deg=freeze(motion.angle_deg[::every].copy()),
        zero_shift_deg=float(np.mean(motion.angle_deg[first : last + 1])),
        sets=true_sets(course, motion.angle_deg),
        pose=pose,
        calibration=named["calibration"][0],
        worn=Interval(on, off),
        chair=named["chair"][0] if "chair" in named else None,
        leaning=named["leaning"][0] if "leaning" in named else None,
        walking=tuple(named["walking"]),
        step_waits=tuple(named["step wait"]),
        closing_poses=tuple(named.get("closing pose", ())),
        slips_deg=slips_deg,
        body=body,
        segments=MappingProxyType({which: kept(each) for which, each in motion.segments.items()}),
        sensors=MappingProxyType({which: kept(each) for which, each in motion.sensors.items()}),
    )
