"""Exposure: time past an angle, excess in degree-seconds, longest stretch, and the exposure curve.

The joint angle is taken as straight between samples, so crossings are interpolated and every figure below is exact for
that path. "Past" means strictly past, without hysteresis: an angle that rests on the threshold is not past it.

Time past an angle falls, never rises, with that angle. An error of the zero that is common to a stretch shifts all of
its angles alike, so the interval of the time past a threshold is exact: evaluate the curve at the threshold moved by
the quantiles of the error (quantiles pass through a monotone function unchanged). Near the threshold the linear
propagation of JCGM 100:2008 would be wrong by a whole hold.

Time without data (a gap of g seconds) is counted neither past nor not past: it is left out of the time past and of
the low end of its interval, and all of it is added to the high end.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.angle_path import AnglePath

__all__ = [
    "Exposure",
    "ExposureCurve",
    "excess",
    "exposure_curve",
    "longest_past",
    "time_past",
    "time_past_interval",
    "total_curve",
]

Floats = NDArray[np.float64]
Segments = tuple[Floats, Floats, Floats]

STEPS_PER_DEG = 10
"""The curve has one entry every 0.1 degrees; counted in whole steps, because n / 10 * 10 == n in floating point."""


COVERAGE_FACTOR = 1.959963984540054
"""Two-sided 95 % quantile of the standard normal distribution."""


@dataclass(frozen=True)
class ExposureCurve:
    """Time past each angle, on even steps of 0.1 degrees.

    Exact on its steps, linear between them.

    Parameters
    ----------
    first_deg : float
        Lowest angle of the curve, a multiple of the step; below it the time past is ``total_s``.
    step_deg : float
        Step between angles.
    time_past_s : ndarray of shape (m,)
        Seconds strictly past ``first_deg + i * step_deg``; the last entry is 0.
    unseen_s : float
        Time of the same stretch without data; it adds [0, unseen_s] to the interval of every entry.
    """

    first_deg: float
    step_deg: float
    time_past_s: Floats
    unseen_s: float = 0.0

    @property
    def total_s(self) -> float:
        """Time with data: the time past an angle below all that was reached."""
        return float(self.time_past_s[0])

    @property
    def angle_deg(self) -> Floats:
        """Angles of the entries, shape (m,)."""
        return (round(self.first_deg * STEPS_PER_DEG) + np.arange(len(self.time_past_s))) / STEPS_PER_DEG

    def time_past(self, threshold_deg: float | Floats) -> Floats:
        """Look up the time past one or many angles.

        Parameters
        ----------
        threshold_deg : float or ndarray
            Angles in degrees; need not lie on a step.

        Returns
        -------
        ndarray
            Seconds, of the shape of ``threshold_deg``.
        """
        return np.asarray(np.interp(threshold_deg, self.angle_deg, self.time_past_s), dtype=np.float64)

    def excess(self, threshold_deg: float) -> float:
        """Area of the angle above a threshold: the time past every angle above it, added up.

        Parameters
        ----------
        threshold_deg : float
            Angle in degrees; need not lie on a step.

        Returns
        -------
        float
            Degree-seconds, exact for a curve that is straight between its steps.
        """
        angle_deg = self.angle_deg
        above = angle_deg > threshold_deg
        time_s = np.concatenate(([float(self.time_past(threshold_deg))], self.time_past_s[above]))
        steps_deg = np.diff(np.concatenate(([threshold_deg], angle_deg[above])))
        return float((steps_deg * (time_s[:-1] + time_s[1:]) / 2).sum())

    def level_above(self, time_s: float) -> float:
        """Angle below which the time past exceeds a given time.

        Parameters
        ----------
        time_s : float
            Seconds.

        Returns
        -------
        float
            The largest angle L such that the time past is more than ``time_s`` exactly for angles below L; minus
            infinity where it never is, infinity where it always is (a negative time).
        """
        if time_s < 0:
            return np.inf
        if self.total_s <= time_s:
            return -np.inf
        # first entry that is not above; the one before it is, so the two differ
        after = int(np.searchsorted(-self.time_past_s, -time_s, side="left"))
        return self._between(after, time_s)

    def level_below(self, time_s: float) -> float:
        """Angle above which the time past falls short of a given time.

        Parameters
        ----------
        time_s : float
            Seconds.

        Returns
        -------
        float
            The smallest angle M such that the time past is less than ``time_s`` exactly for angles above M; infinity
            where it never is (no time at all), minus infinity where it always is.
        """
        if time_s <= 0:
            return np.inf
        if self.total_s < time_s:
            return -np.inf
        after = int(np.searchsorted(-self.time_past_s, -time_s, side="right"))
        return self._between(after, time_s)

    def _between(self, after: int, time_s: float) -> float:
        more, less = self.time_past_s[after - 1], self.time_past_s[after]
        return float(self.first_deg + (after - 1 + (more - time_s) / (more - less)) * self.step_deg)


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


def time_past(path: AnglePath, threshold_deg: float) -> float:
    """Time strictly past an angle.

    Parameters
    ----------
    path : AnglePath
        Joint angle over time.
    threshold_deg : float
        Angle in degrees.

    Returns
    -------
    float
        Seconds, exact for the path.
    """
    return _time_past(_past(path.segments, threshold_deg), threshold_deg)


def _past(segments: Segments, threshold_deg: float) -> Segments:
    """Segments of which a part is past the threshold."""
    low, high, duration = segments
    past = high > threshold_deg
    return low[past], high[past], duration[past]


def _time_past(segments: Segments, threshold_deg: float) -> float:
    low, high, duration = segments
    crossing = low < threshold_deg
    inside = duration[~crossing].sum()
    low, high, duration = low[crossing], high[crossing], duration[crossing]
    return float(inside + (duration * ((high - threshold_deg) / (high - low))).sum())


def time_past_interval(
    path: AnglePath, threshold_deg: float, standard_uncertainty_deg: float
) -> tuple[float, float, float]:
    """Time past an angle with its 95 % interval, for an error of the angle that is common to the path.

    Parameters
    ----------
    path : AnglePath
        Joint angle over time.
    threshold_deg : float
        Angle in degrees.
    standard_uncertainty_deg : float
        Standard uncertainty of the common error in degrees, normal with mean zero.

    Returns
    -------
    time_s, low_s, high_s : float
        Time past the threshold, and at the 2.5 % and 97.5 % quantiles of the error; time without data is added to the
        high end.
    """
    reach_deg = COVERAGE_FACTOR * standard_uncertainty_deg
    times_s = []
    segments = path.segments
    for level_deg in (threshold_deg - reach_deg, threshold_deg, threshold_deg + reach_deg):
        segments = _past(segments, level_deg)  # what is past a higher level is among what is past a lower one
        times_s.append(_time_past(segments, level_deg))
    high_s, time_s, low_s = times_s
    return time_s, low_s, high_s + path.unseen_s


def excess(path: AnglePath, threshold_deg: float) -> float:
    """Area of the angle above a threshold.

    Parameters
    ----------
    path : AnglePath
        Joint angle over time.
    threshold_deg : float
        Angle in degrees.

    Returns
    -------
    float
        Degree-seconds, exact for the path: a trapezoid for each segment above, a triangle for each that crosses.
    """
    low, high, duration = _past(path.segments, threshold_deg)
    crossing = low < threshold_deg
    whole = ~crossing
    inside = (duration[whole] * ((low[whole] + high[whole]) / 2 - threshold_deg)).sum()
    low, high, duration = low[crossing], high[crossing], duration[crossing]
    return float(inside + (duration * ((high - threshold_deg) ** 2 / (2 * (high - low)))).sum())


def longest_past(path: AnglePath, threshold_deg: float) -> float:
    """Longest unbroken stretch strictly past an angle.

    Parameters
    ----------
    path : AnglePath
        Joint angle over time; a gap breaks a stretch.
    threshold_deg : float
        Angle in degrees.

    Returns
    -------
    float
        Seconds; 0 where the angle is never past it.
    """
    return max((_longest(angle, duration, threshold_deg) for angle, duration in path.pieces), default=0.0)


def _longest(angle: Floats, duration: Floats, threshold_deg: float) -> float:
    past = angle > threshold_deg
    if not past.any():
        return 0.0
    at = np.concatenate(([0.0], np.cumsum(duration)))
    up = np.flatnonzero(~past[:-1] & past[1:])
    down = np.flatnonzero(past[:-1] & ~past[1:])

    def crossing(index: NDArray[np.intp]) -> Floats:
        rise = angle[index + 1] - angle[index]
        return np.asarray(at[index] + duration[index] * ((threshold_deg - angle[index]) / rise))

    begins = np.concatenate(([0.0] if past[0] else [], crossing(up)))
    ends = np.concatenate((crossing(down), [at[-1]] if past[-1] else []))
    return float((ends - begins).max())


def exposure_curve(path: AnglePath) -> ExposureCurve:
    """Time past every angle at once, in 0.1 degree steps.

    Each segment between two samples spends its time evenly over the angles that it crosses; that time is dropped into
    bins one step wide, open below and closed above, and summed from the top. One pass, O(samples + steps).

    Parameters
    ----------
    path : AnglePath
        Joint angle over time.

    Returns
    -------
    ExposureCurve
        Exact on its steps.
    """
    low, high, duration = path.segments
    if not len(low):
        return _curve(0, np.zeros(1), path.unseen_s)
    low, high = low * STEPS_PER_DEG, high * STEPS_PER_DEG  # copies
    # bin i covers (i, i + 1]: an angle that rests on a step is not past that step
    first = int(np.ceil(low.min())) - 1
    low -= first
    high -= first
    bottom = np.ceil(low).astype(np.intp) - 1
    top = np.ceil(high).astype(np.intp) - 1
    np.maximum(bottom, 0, out=bottom)  # where the subtraction rounded onto the edge
    np.maximum(top, 0, out=top)
    bins = int(top.max()) + 1

    within = bottom == top
    spent = np.zeros(bins)  # bincount of nothing is of whole numbers
    spent += np.bincount(bottom[within], weights=duration[within], minlength=bins)
    across = ~within
    low, high, bottom, top = low[across], high[across], bottom[across], top[across]
    each_step = duration[across] / (high - low)
    spent += np.bincount(bottom, weights=(bottom + 1 - low) * each_step, minlength=bins)
    spent += np.bincount(top, weights=(high - top) * each_step, minlength=bins)
    far = top > bottom + 1
    if far.any():
        change = np.bincount(bottom[far] + 1, weights=each_step[far], minlength=bins)
        change -= np.bincount(top[far], weights=each_step[far], minlength=bins)
        spent += np.maximum(np.cumsum(change), 0.0)
    past = np.concatenate((np.cumsum(spent[::-1])[::-1], [0.0]))
    return _curve(first, past, path.unseen_s)


def _curve(first: int, past: Floats, unseen_s: float) -> ExposureCurve:
    past.flags.writeable = False
    return ExposureCurve(first / STEPS_PER_DEG, 1 / STEPS_PER_DEG, past, unseen_s)


def total_curve(curves: Sequence[ExposureCurve]) -> ExposureCurve:
    """Add the curves of stretches that do not overlap.

    Parameters
    ----------
    curves : sequence of ExposureCurve
        Curves in 0.1 degree steps.

    Returns
    -------
    ExposureCurve
        Time past each angle in all of them together.
    """
    if not curves:
        return _curve(0, np.zeros(1), 0.0)
    firsts = [round(each.first_deg * STEPS_PER_DEG) for each in curves]
    start = min(firsts)
    past = np.zeros(max(first + len(each.time_past_s) for first, each in zip(firsts, curves, strict=True)) - start)
    for first, each in zip(firsts, curves, strict=True):
        past[: first - start] += each.total_s
        past[first - start : first - start + len(each.time_past_s)] += each.time_past_s
    return _curve(start, past, sum(each.unseen_s for each in curves))
