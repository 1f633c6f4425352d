"""Sums of time past the compressive angle over sessions, with their intervals.

Within one session all exercises of a side share the error of the zero: their lowest values go together, and so do their
highest. Between sessions the sensors are taped anew, so the errors are taken as independent; how far they are alike
because a person always stands in the same wrong way is not known, so the widest sum is given beside.

Time past an angle only grows with that error, and of each session it is known either at a row of errors (from its
exposure curve), between which it is taken as linear; or, from its interval alone, at the 2.5 %, 50 % and 97.5 %
quantile of the error, with one slope on either side (a two-piece normal distribution). Either way the first three
cumulants of the session's time follow, and they add up over independent sessions; a Pearson type III distribution with
the sum's cumulants gives the sum's quantiles. Adding half-widths in quadrature instead would leave out that, near the
angle, an error can only add time: the mean of the sum then lies far above the sum of the single values (JCGM 101:2008
on skewed distributions; from memory).

Validity: tests/dose/test_exposure_sum.py compares with drawn sums, at the angle and away from it. From intervals alone
the median of a sum comes out up to a half too low for repetitions that end exactly at the angle.
"""

import math
from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exposure_answer import ExposureSum
from imu_rom.dose.follow_up import ZERO_ERRORS, Interval
from imu_rom.motion.small_samples import NORMAL_FACTOR

__all__ = ["exposure_sum", "together"]

MEAN_OF_HALF = 1 / math.sqrt(2 * math.pi)
"""Mean of the positive part of a standard normal variable; its square's is 1/2, its cube's twice this."""

QUANTILES = (0.025, 0.5, 0.975)
NO_SKEW = 1e-3
NO_VARIANCE_S2 = 1e-12
EQUAL_PARTS = 401


def together(of_one_session: Sequence[Interval]) -> Interval:
    """Add up what one error moves together.

    Parameters
    ----------
    of_one_session : sequence of Interval
        Of exercises that share the zero.

    Returns
    -------
    Interval
        Sum of the values, of the lowest and of the highest.
    """
    return Interval(
        math.fsum(each.value for each in of_one_session),
        math.fsum(each.low for each in of_one_session),
        math.fsum(each.high for each in of_one_session),
    )


def exposure_sum(
    sessions: Sequence[Interval], by_error: Sequence[Sequence[float] | None] | None = None
) -> ExposureSum | None:
    """Add up the time of independent sessions.

    Parameters
    ----------
    sessions : sequence of Interval
        Seconds of each session with their 95 % interval, 0 or more.
    by_error : sequence of sequence of float or None, optional
        Of each session its seconds at each of `imu_rom.dose.follow_up.ZERO_ERRORS`; None where not known.

    Returns
    -------
    ExposureSum or None
        None where there is no session. One session keeps its own interval.
    """
    if not sessions:
        return None
    alike = together(sessions)
    if len(sessions) == 1:
        return ExposureSum(alike.value, sessions[0], alike)
    rows = by_error or [None] * len(sessions)
    cumulants = [
        _cumulants(each) if row is None else _cumulants_of_row(row) for each, row in zip(sessions, rows, strict=True)
    ]
    mean, variance, third = (math.fsum(each[order] for each in cumulants) for order in range(3))
    low, median, high = (_pearson_quantile(share, mean, variance, third) for share in QUANTILES)
    # what a sum of independent parts says can't lie beyond what all together say
    low, high = max(low, alike.low, 0.0), min(high, alike.high)
    return ExposureSum(alike.value, Interval(min(max(median, low), high), low, high), alike)


def _cumulants(session: Interval) -> tuple[float, float, float]:
    """Give mean, variance and third central moment of v + a max(z, 0) - b max(-z, 0) for a standard normal z."""
    up = (session.high - session.value) / NORMAL_FACTOR
    down = (session.value - session.low) / NORMAL_FACTOR
    mean = MEAN_OF_HALF * (up - down)
    square = (up**2 + down**2) / 2
    cube = 2 * MEAN_OF_HALF * (up**3 - down**3)
    return session.value + mean, square - mean**2, cube - 3 * mean * square + 2 * mean**3


def _cumulants_of_row(row: Sequence[float]) -> tuple[float, float, float]:
    """Give the same from a row of values at the errors of ``ZERO_ERRORS``, by errors of equal probability."""
    seconds = np.interp(_errors_of_equal_probability(), ZERO_ERRORS, row)
    mean = float(seconds.mean())
    off = seconds - mean
    return mean, float((off**2).mean()), float((off**3).mean())


@cache
def _errors_of_equal_probability() -> NDArray[np.float64]:
    from scipy.special import ndtri  # noqa: PLC0415  loads slowly

    return np.asarray(ndtri((np.arange(EQUAL_PARTS) + 0.5) / EQUAL_PARTS), dtype=np.float64)


def _pearson_quantile(share: float, mean: float, variance: float, third: float) -> float:
    if variance <= NO_VARIANCE_S2:
        return mean
    from scipy.special import gammaincinv, ndtri  # noqa: PLC0415  loads slowly

    spread = math.sqrt(variance)
    skew = third / spread**3
    if abs(skew) < NO_SKEW:
        return mean + spread * float(ndtri(share))
    # a gamma distribution, mirrored where the skew is negative
    shape = 4 / skew**2
    quantile = float(gammaincinv(shape, share if skew > 0 else 1 - share))
    return mean + math.copysign(spread, skew) * (quantile - shape) / math.sqrt(shape)
