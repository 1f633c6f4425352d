"""The error model alone: a true angle and what a perfect analysis would make of it, for coverage figures."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.simulation.body import band_noise

__all__ = ["AngleErrors", "ModelledAngle", "angle_error_model"]

Floats = NDArray[np.float64]


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
    """A true angle and its erroneous copy.

    Parameters
    ----------
    angle_deg : ndarray of shape (n,)
        With errors.
    zero_error_deg : float
        The shared part.
    slow_error_deg : ndarray of shape (n,)
        The slow part.
    """

    angle_deg: Floats
    zero_error_deg: float
    slow_error_deg: Floats


def angle_error_model(
    seed: int, true_angle_deg: Floats, rate_hz: float, errors: AngleErrors | None = None
) -> ModelledAngle:
    """Add the error model to a true angle.

    Parameters
    ----------
    seed : int
        Seed of chance.
    true_angle_deg : ndarray of shape (n,)
        True joint angle in degrees.
    rate_hz : float
        Its rate.
    errors : AngleErrors, optional
        Sizes; None takes the defaults.

    Returns
    -------
    ModelledAngle
        The angle with errors, and the errors.
    """
    errors = errors or AngleErrors()
    rng = np.random.default_rng(seed)
    zero = float(errors.zero_deg * rng.standard_normal())
    count = len(true_angle_deg)
    knots = int(np.ceil(count / rate_hz / errors.slow_period_s)) + 2
    # normal values at knots; cosine weights keep the variance between them
    values = rng.standard_normal(knots)
    place = np.arange(count) / rate_hz / errors.slow_period_s + rng.uniform(0, 1)
    index = np.minimum(place.astype(int), knots - 2)
    share = np.pi / 2 * (place - index)
    slow = errors.slow_deg * (np.cos(share) * values[index] + np.sin(share) * values[index + 1])
    wobble = errors.wobble_deg * band_noise(count, rate_hz, (0.5, min(6.0, rate_hz / 2.5)), 1.0, rng)
    return ModelledAngle(true_angle_deg + zero + slow + wobble, zero, slow)
