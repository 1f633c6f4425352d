"""Jolts that both sensors feel at once, by which separately started clocks are compared: knocks and toe taps.

Sizes and durations are common practice, no source.
"""

from collections.abc import Mapping, MutableMapping

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation, RotationSpline

from imu_rom.simulation.noise import band_noise
from imu_rom.simulation.performer import Course, Interval, minimum_jerk

__all__ = ["add_taps", "hold_together"]

Floats = NDArray[np.float64]
GRAVITY_M_S2 = 9.81
# a tap on the floor reaches the shank a little later, and softer, than the foot
LIMB_DELAY_S = (0.002, 0.006)
LIMB_SHARE = 0.5


def _ring(time_s: Floats, frequency_hz: float, decay_s: float) -> Floats:
    """Give a knock of unit size that starts at 0 and dies away."""
    since_s = np.maximum(time_s, 0.0)
    return np.asarray((time_s >= 0) * np.exp(-since_s / decay_s) * np.sin(2 * np.pi * frequency_hz * since_s))


def add_taps(course: Course, forces: Mapping[str, Floats]) -> None:
    """Add toe taps, which reach the proximal sensor a few milliseconds later than the distal one.

    Parameters
    ----------
    course : Course
        When they happen.
    forces : mapping of str to ndarray of shape (n, 3)
        Specific force of ``proximal`` and ``distal`` sensor in m/s^2, world axes; changed in place.
    """
    time_s = np.arange(len(forces["distal"])) / course.rate_hz
    for number, (start_s, size) in enumerate(course.taps):
        delay_s = LIMB_DELAY_S[0] + (LIMB_DELAY_S[1] - LIMB_DELAY_S[0]) * (number % 3) / 2
        for which, share, later_s in (("distal", 1.0, 0.0), ("proximal", LIMB_SHARE, delay_s)):
            near = slice(*np.searchsorted(time_s, (start_s, start_s + 0.2)))
            forces[which][near, 2] += size * share * _ring(time_s[near] - start_s - later_s, 25.0, 0.02)


def _hand(span: Interval, course: Course, rng: np.random.Generator) -> tuple[slice, Rotation, Floats]:
    """Give how a hand turns and shakes what it holds, with the knocks in it."""
    rate = course.rate_hz
    held = slice(round(span.start_s * rate), round(span.stop_s * rate))
    count = held.stop - held.start
    turns = Rotation.concatenate(
        [Rotation.identity(), *Rotation.from_rotvec(rng.normal(0, 0.5, (7, 3))), Rotation.identity()]
    )
    way = RotationSpline(np.linspace(0, 1, len(turns)), turns)(minimum_jerk(np.linspace(0, 1, count)))
    force = np.transpose([band_noise(count, rate, (0.3, 5.0), 1.0, rng) for _ in range(3)])
    force *= 1.5 * np.sin(np.pi * np.linspace(0, 1, count))[:, None]
    force[:, 2] += GRAVITY_M_S2
    time_s = span.start_s + np.arange(count) / rate
    jerk = np.zeros((count, 3))
    for start_s, size in course.knocks:
        if span.start_s <= start_s <= span.stop_s:
            pulse = _ring(time_s - start_s, 40.0, 0.015)
            force += size * pulse[:, None] * rng.normal([0, 0, 1], 0.3)
            jerk += np.deg2rad(size / 60) * pulse[:, None] * rng.normal(0, 1, 3)
    return held, way * Rotation.from_rotvec(jerk), force


def hold_together(
    course: Course, sensors: MutableMapping[str, Rotation], forces: Mapping[str, Floats], rng: np.random.Generator
) -> None:
    """Let one hand hold both sensors, turn them and knock them on the table.

    Parameters
    ----------
    course : Course
        Stretches in which they are held together, and the knocks.
    sensors : mapping of str to Rotation
        Attitude of ``proximal`` and ``distal`` sensor, sensor -> world; changed in these stretches, before and after
        which the sensors lie still.
    forces : mapping of str to ndarray of shape (n, 3)
        Specific force in m/s^2, world axes; changed in these stretches.
    rng : numpy.random.Generator
        Source of chance.
    """
    for span in course.intervals.get("held together", []):
        held, way, force = _hand(span, course, rng)
        for which in ("proximal", "distal"):
            quaternions = sensors[which].as_quat()
            quaternions[held] = (way * sensors[which][held.start]).as_quat()
            sensors[which] = Rotation.from_quat(quaternions)
            forces[which][held] = force
