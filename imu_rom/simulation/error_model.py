"""The error model alone: a true angle and what a perfect analysis would make of it, for coverage figures."""

from dataclasses import dataclass

import numpy as np

from imu_rom.recording.model import Floats, freeze
from imu_rom.simulation.body import joint_angle
from imu_rom.simulation.course import run_course
from imu_rom.simulation.noise import band_noise
from imu_rom.simulation.person import Person
from imu_rom.simulation.routine import Routine
from imu_rom.simulation.truth import TrueSet, true_sets

__all__ = ["AngleErrors", "ModelledAngle", "angle_error_model"]


@dataclass(frozen=True)
class AngleErrors:
    """Standard deviations of the parts of a joint angle's error.

    Parameters
    ----------
    zero_deg : float
        Shared by the whole session.
    slow_deg : float
        Wanders over minutes: not shared by the sets.
    slow_period_s : float
        Time over which the slow part changes.
    wobble_deg : float
        Fast, 0.5-6 Hz.
    """

    zero_deg: float = 2.0
    slow_deg: float = 0.5
    slow_period_s: float = 120.0
    wobble_deg: float = 0.65


@dataclass(frozen=True)
class ModelledAngle:
    """A session's true angle and its erroneous copy.

    Parameters
    ----------
    rate_hz : float
        Rate of the arrays.
    angle_deg, true_angle_deg : ndarray of shape (n,)
        With errors and without.
    zero_error_deg : float
        The shared part.
    slow_error_deg : ndarray of shape (n,)
        The slow part.
    sets : tuple of TrueSet
        What was done, in true angles.
    """

    rate_hz: float
    angle_deg: Floats
    true_angle_deg: Floats
    zero_error_deg: float
    slow_error_deg: Floats
    sets: tuple[TrueSet, ...]


def angle_error_model(
    seed: int,
    routine: Routine | None = None,
    errors: AngleErrors | None = None,
    person: Person | None = None,
    *,
    rate_hz: float = 50.0,
) -> ModelledAngle:
    """Let a person do a session and add the error model to the true angle: no sensors, no attitudes.

    Parameters
    ----------
    seed : int
        Seed of chance.
    routine : Routine, optional
        What is to be done; None is 3 x 15 heel drops.
    errors : AngleErrors, optional
        Sizes; None takes the defaults.
    person : Person, optional
        Sway and unsteadiness.
    rate_hz : float
        Rate of the angle.

    Returns
    -------
    ModelledAngle
        Angle, truth and errors.
    """
    errors, person = errors or AngleErrors(), person or Person()
    streams = np.random.default_rng(seed).spawn(3)
    # the pose's own error is the model's zero error
    course = run_course(routine or Routine(), 0.0, rate_hz, streams[0])
    angle = joint_angle(course, person, streams[1])[0]
    rng, count = streams[2], len(angle)
    zero = float(errors.zero_deg * rng.standard_normal())
    # normal values at knots; these weights keep the variance the same between them
    place = np.arange(count) / rate_hz / errors.slow_period_s + rng.uniform(0, 1)
    index = place.astype(int)
    values = rng.standard_normal(index[-1] + 2)
    share = np.pi / 2 * (place - index)
    slow = errors.slow_deg * (np.cos(share) * values[index] + np.sin(share) * values[index + 1])
    wobble = errors.wobble_deg * band_noise(count, rate_hz, (0.5, 6.0), 1.0, rng)
    return ModelledAngle(
        rate_hz, freeze(angle + zero + slow + wobble), freeze(angle), zero, freeze(slow), true_sets(course, angle)
    )
