"""Exposure: time past an angle, excess in degree-seconds, and the exposure curve.

Time past an angle is counted strictly past it, without hysteresis, with crossings interpolated between samples.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Exposure", "ExposureCurve"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ExposureCurve:
    """Time past each angle, on even steps of 0.1 degrees.

    Parameters
    ----------
    first_deg : float
        Lowest angle of the curve, a multiple of the step; below it the time past is ``total_s``.
    step_deg : float
        Step between angles.
    time_past_s : ndarray of shape (m,)
        Seconds strictly past ``first_deg + i * step_deg``; the last entry is 0.
    """

    first_deg: float
    step_deg: float
    time_past_s: Floats


@dataclass(frozen=True)
class Exposure:
    """Exposure past the compressive angle.

    Parameters
    ----------
    past_threshold_s, past_threshold_low_s, past_threshold_high_s : float
        Time past the threshold and its 95 % interval.
    excess_deg_s : float
        Area of the angle above the threshold.
    longest_s : float
        Longest unbroken stretch past the threshold.
    loaded_s, unloaded_s : float or None
        Parts of the time past the threshold in phases declared loaded or unweighted; None where the plan declares none.
    """

    past_threshold_s: float
    past_threshold_low_s: float
    past_threshold_high_s: float
    excess_deg_s: float
    longest_s: float
    loaded_s: float | None
    unloaded_s: float | None
