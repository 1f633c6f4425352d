"""The deepest point of a repetition, without noise bias, and what was held there.

The highest sample of a noisy angle reads deep on holds, since noise adds to its own maximum; the highest point of a
low-passed angle reads shallow on fast repetitions, since the filter cuts the peak. So the smoothing follows the dwell:
a parabola is fitted by least squares over a window that is a share of the time spent near the deepest point. A parabola
keeps a fast rounded peak whole, and over a long hold its window averages the noise away (local polynomial smoothing:
Savitzky and Golay 1964, doi:10.1021/ac60214a047).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["EndRange", "estimate_end_range"]

Floats = NDArray[np.float64]

DWELL_DEPTH_DEG = 3.0
DWELL_DEPTH_SHARE = 0.10
WINDOW_SHARE = 0.6
SHORTEST_WINDOW_S = 0.28
HELD_DEPTH_DEG = 2.0
HELD_FOR_S = 0.3


@dataclass(frozen=True)
class EndRange:
    """Deepest point of one repetition.

    Parameters
    ----------
    index : int
        Sample at which it lies.
    angle_deg : float
        Estimated angle there.
    standard_uncertainty_deg : float
        From the scatter of the samples about the fit; neighbouring samples count as dependent over 0.2 s.
    held_deg : float or None
        Median of the smoothed angle within 2 degrees of it, where that lasts 0.3 s or more.
    dwell_s : float
        Time spent near it.
    """

    index: int
    angle_deg: float
    standard_uncertainty_deg: float
    held_deg: float | None
    dwell_s: float


def _around(values: Floats, peak: int, depth: float) -> tuple[int, int]:
    """Stretch around a peak that stays within a depth of it: first sample and the one after the last."""
    below = values < values[peak] - depth
    left = np.flatnonzero(below[:peak])
    right = np.flatnonzero(below[peak:])
    return (int(left[-1]) + 1 if len(left) else 0), (peak + int(right[0]) if len(right) else len(values))


def _parabola_kernel(half: int) -> Floats:
    """Weights that give a least-squares parabola's value at the centre of 2 half + 1 samples."""
    offsets = np.arange(-half, half + 1.0)
    count, second, fourth = (float(np.sum(offsets**power)) for power in (0, 2, 4))
    return np.asarray((fourth - second * offsets**2) / (count * fourth - second**2))


def _parabola(around: Floats, middle: float) -> Floats:
    """Least-squares parabola through an odd number of samples, its value at their middle known."""
    half = len(around) // 2
    offsets = np.arange(-half, half + 1.0)
    squares = offsets * offsets
    slope = offsets @ around / squares.sum()
    bend = (squares - squares.mean()) @ around / ((squares - squares.mean()) @ squares)
    return np.asarray(middle + slope * offsets + bend * squares)


def estimate_end_range(
    angle_deg: Floats, smooth_deg: Floats, peak: int, excursion_deg: float, rate_hz: float
) -> EndRange:
    """Estimate the deepest point of one repetition.

    Parameters
    ----------
    angle_deg : ndarray of shape (k,)
        Angle over the repetition, positive towards its end range.
    smooth_deg : ndarray of shape (k,)
        The same, lightly smoothed.
    peak : int
        Sample of the highest value of ``smooth_deg``.
    excursion_deg : float
        Size of the repetition.
    rate_hz : float
        Rate of both.

    Returns
    -------
    EndRange
        Deepest point and what was held.
    """
    low, high = _around(smooth_deg, peak, max(DWELL_DEPTH_DEG, DWELL_DEPTH_SHARE * excursion_deg))
    dwell_s = (high - low) / rate_hz
    half = max(2, round(max(SHORTEST_WINDOW_S, WINDOW_SHARE * dwell_s) * rate_hz / 2))
    # windows lie wholly within the dwell, since a ramp in a window's end would bend the parabola up; where the dwell is
    # shorter than the window there is one window, about its middle
    begin, end = low, high
    if end - begin < 2 * half + 1:
        begin = max(0, (low + high - 1) // 2 - half)
        end = begin + 2 * half + 1
    inside = angle_deg[begin:end]
    if len(inside) < 2 * half + 1:
        inside = np.pad(inside, (0, 2 * half + 1 - len(inside)), mode="edge")
    fitted = np.convolve(inside, _parabola_kernel(half), mode="valid")
    deepest = int(np.argmax(fitted))
    value = float(fitted[deepest])
    around = inside[deepest : deepest + 2 * half + 1]
    # a centred parabola's value has 9/4 of a mean's variance
    looks = max(1.0, len(around) / rate_hz / 0.2)
    scatter = around - _parabola(around, value)
    uncertainty = 1.5 * float(np.std(scatter, ddof=3)) / np.sqrt(looks)
    near = smooth_deg[low:high] >= value - HELD_DEPTH_DEG
    held = float(np.median(angle_deg[low:high][near])) if np.sum(near) >= HELD_FOR_S * rate_hz else None
    return EndRange(min(begin + deepest + half, len(angle_deg) - 1), value, uncertainty, held, dwell_s)
