"""One excursion of a joint angle: a high between two lows, and where the ways up and down cross shares of it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Excursion", "excursion_between", "gaussian_smooth", "ramp_crossings"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Excursion:
    """A high between two lows, with the ramps on both sides. Places are samples, angles are degrees.

    Parameters
    ----------
    low, high, next_low : int
        The low before, the high, the low after.
    rise, fall : float
        Size of the way up and down; a fall of 0 says that the person stayed there.
    level : float
        Angle of the high.
    up, down : tuple of float
        Crossings of 10, 25, 75 and 90 % of the way up (the last before the high) and down (the first after it).
    dwell_s : float
        Time between both crossings of 90 %.
    """

    low: int
    high: int
    next_low: int
    rise: float
    fall: float
    level: float
    up: tuple[float, float, float, float]
    down: tuple[float, float, float, float]
    dwell_s: float

    @property
    def size(self) -> float:
        """The smaller of rise and fall."""
        return min(self.rise, self.fall)

    @property
    def start_level(self) -> float:
        """Angle of the low before."""
        return self.level - self.rise


def gaussian_smooth(values: Floats, width: float) -> Floats:
    """Smooth by a Gaussian, edges held.

    Parameters
    ----------
    values : ndarray of shape (m,)
        Samples.
    width : float
        Standard deviation of the Gaussian in samples.

    Returns
    -------
    ndarray of shape (m,)
        Smoothed.
    """
    half = max(1, round(3 * width))
    kernel = np.exp(-0.5 * (np.arange(-half, half + 1) / width) ** 2)
    held = np.concatenate([np.full(half, values[0]), values, np.full(half, values[-1])])
    return np.convolve(held, kernel / kernel.sum(), mode="valid")


def _last_crossing(values: Floats, level: float) -> float:
    """Position after which the values stay above a level up to their end, interpolated."""
    below = (values < level).nonzero()[0]
    if len(below) == 0 or below[-1] == len(values) - 1:
        return 0.0 if len(below) == 0 else float(len(values) - 1)
    last = int(below[-1])
    return last + float((level - values[last]) / (values[last + 1] - values[last]))


def _first_crossing(values: Floats, level: float, after: float) -> float:
    """Position at which the values first reach a level after a position, interpolated."""
    begin = int(after)
    above = (values[begin + 1 :] >= level).nonzero()[0]
    if len(above) == 0:
        return float(len(values) - 1)
    last = begin + int(above[0])
    step = float(values[last + 1] - values[last])
    return max(after, last + float(np.clip((level - values[last]) / step, 0.0, 1.0)) if step > 0 else float(last))


def ramp_crossings(values: Floats, bottom: float, top: float) -> tuple[float, float, float, float]:
    """Find where the way from a low up to a high crosses 10, 25, 75 and 90 % of it.

    Parameters
    ----------
    values : ndarray of shape (m,)
        From the low to the high.
    bottom, top : float
        Their levels.

    Returns
    -------
    tuple of float
        Positions in samples: the last crossings of 10, 25 and 75 %, and the first one of 90 % after them. Sway on a
        long hold crosses 90 % over and over; it stays above 75 %.
    """
    ten, quarter, three = (_last_crossing(values, bottom + share * (top - bottom)) for share in (0.1, 0.25, 0.75))
    return ten, quarter, three, _first_crossing(values, bottom + 0.9 * (top - bottom), three)


def excursion_between(smooth: Floats, low: int, high: int, next_low: int, rate_hz: float) -> Excursion:
    """Measure the excursion between three turning points.

    Parameters
    ----------
    smooth : ndarray of shape (m,)
        Smoothed angle in degrees.
    low, high, next_low : int
        Samples of the low before, the high and the low after.
    rate_hz : float
        Rate of the array.

    Returns
    -------
    Excursion
        With the crossings of both ramps.
    """
    level = float(smooth[high])
    rise, fall = level - float(smooth[low]), level - float(smooth[next_low])
    up = ramp_crossings(smooth[low : high + 1], level - rise, level)
    down = ramp_crossings(smooth[high : next_low + 1][::-1], level - fall, level)
    up_at = tuple(low + each for each in up)
    down_at = tuple(next_low - each for each in down)
    dwell_s = (down_at[3] - up_at[3]) / rate_hz
    return Excursion(low, high, next_low, rise, fall, level, up_at, down_at, dwell_s)  # type: ignore[arg-type]
