"""How well a figure repeats from day to day: intraclass correlation, standard error of measurement, detectable change.

References
----------
P. E. Shrout and J. L. Fleiss, "Intraclass correlations: uses in assessing rater reliability", Psychol Bull 86:420-428,
1979, doi:10.1037/0033-2909.86.2.420 (the six forms and their intervals; formulas from memory, checked against the
paper's worked example). J. P. Weir, J Strength Cond Res 19:231-240, 2005, doi:10.1519/15184.1 (from memory), for the
standard error of measurement from a mean square and the minimal detectable change.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.detectable_change import minimal_detectable_change_deg

__all__ = ["FEWEST_SUBJECTS", "IntraclassCorrelation", "Reliability", "reliability"]

FEWEST_SUBJECTS = 5
"""With fewer people nothing is said about how well people are told apart; common practice, no source."""

Floats = NDArray[np.float64]
_TAIL = 0.975


@dataclass(frozen=True)
class IntraclassCorrelation:
    """One form of the intraclass correlation.

    Parameters
    ----------
    form : str
        As Shrout and Fleiss name it: ``ICC(2,1)`` is one measurement, days drawn at random, absolute agreement.
    value, low, high : float
        Estimate and its 95 % interval; may be negative.
    """

    form: str
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Reliability:
    """How well one figure repeats.

    Parameters
    ----------
    subjects, measurements : int
        People, and measurements of each.
    mean : float
        Of all.
    between_square, within_square, measurement_square, error_square : float
        Mean squares: between people; within people; between measurements; what is left.
    correlations : tuple of IntraclassCorrelation
        ICC(1,1), ICC(2,1), ICC(3,1) and those of the mean of all measurements, ICC(1,k), ICC(2,k), ICC(3,k).
    sem, sem_low, sem_high : float
        Standard error of measurement, absolute agreement: the root of the mean square within people; with its 95 %
        interval by the chi-square distribution.
    detectable_change : float
        1.96 times the root of 2 times the standard error: two days of a person must differ by more (MDC95).
    """

    subjects: int
    measurements: int
    mean: float
    between_square: float
    within_square: float
    measurement_square: float
    error_square: float
    correlations: tuple[IntraclassCorrelation, ...]
    sem: float
    sem_low: float
    sem_high: float
    detectable_change: float

    def correlation(self, form: str) -> IntraclassCorrelation:
        """Give one form.

        Parameters
        ----------
        form : str
            Such as ``"ICC(2,1)"``.

        Returns
        -------
        IntraclassCorrelation
            That one.
        """
        return next(each for each in self.correlations if each.form == form)


def reliability(values: Floats) -> Reliability:
    """Work out how well a figure repeats, from as many measurements of each person.

    Parameters
    ----------
    values : ndarray of shape (n, k)
        People by measurements, all known.

    Returns
    -------
    Reliability
        Both-way analysis of variance, the six forms with their intervals, error and detectable change.

    Raises
    ------
    ValueError
        There are fewer than two people or measurements, or a value is missing, or all are the same.
    """
    values = np.asarray(values, dtype=np.float64)
    n, k = values.shape
    if n < 2 or k < 2 or not np.isfinite(values).all():
        raise ValueError(f"at least 2 people with at least 2 known measurements each are needed, got {values.shape}")
    mean = values.mean()
    people, times = values.mean(axis=1), values.mean(axis=0)
    between = k * float(((people - mean) ** 2).sum()) / (n - 1)
    within = float(((values - people[:, None]) ** 2).sum()) / (n * (k - 1))
    measurement = n * float(((times - mean) ** 2).sum()) / (k - 1)
    error = float(((values - people[:, None] - times + mean) ** 2).sum()) / ((n - 1) * (k - 1))
    if within <= 0.0 or error <= 0.0:
        raise ValueError("all measurements of each person are the same")
    from scipy.special import chdtri  # noqa: PLC0415  loads slowly, and only statistics need it

    sem = math.sqrt(within)
    degrees = n * (k - 1)
    return Reliability(
        subjects=n,
        measurements=k,
        mean=float(mean),
        between_square=between,
        within_square=within,
        measurement_square=measurement,
        error_square=error,
        correlations=(
            *_one_way(n, k, between, within),
            *_two_way_random(n, k, between, measurement, error),
            *_two_way_fixed(n, k, between, error),
        ),
        sem=sem,
        # chdtri takes the probability of what lies above
        sem_low=sem * math.sqrt(degrees / float(chdtri(degrees, 1 - _TAIL))),
        sem_high=sem * math.sqrt(degrees / float(chdtri(degrees, _TAIL))),
        detectable_change=minimal_detectable_change_deg(sem),
    )


def _quantile(upper: float, lower: float) -> float:
    from scipy.special import fdtri  # noqa: PLC0415

    return float(fdtri(upper, lower, _TAIL))


def _single(ratio: float, k: int) -> float:
    return (ratio - 1.0) / (ratio + k - 1.0)


def _averaged(single: float, k: int) -> float:
    """Reliability of the mean of k measurements (Spearman and Brown)."""
    return k * single / (1.0 + (k - 1.0) * single)


def _both(form: str, k: int, value: float, low: float, high: float) -> tuple[IntraclassCorrelation, ...]:
    mean = (_averaged(each, k) for each in (value, low, high))
    return IntraclassCorrelation(f"ICC({form},1)", value, low, high), IntraclassCorrelation(f"ICC({form},k)", *mean)


def _one_way(n: int, k: int, between: float, within: float) -> tuple[IntraclassCorrelation, ...]:
    ratio, upper, lower = between / within, n - 1, n * (k - 1)
    low, high = ratio / _quantile(upper, lower), ratio * _quantile(lower, upper)
    return _both("1", k, _single(ratio, k), _single(low, k), _single(high, k))


def _two_way_fixed(n: int, k: int, between: float, error: float) -> tuple[IntraclassCorrelation, ...]:
    ratio, upper, lower = between / error, n - 1, (n - 1) * (k - 1)
    low, high = ratio / _quantile(upper, lower), ratio * _quantile(lower, upper)
    return _both("3", k, _single(ratio, k), _single(low, k), _single(high, k))


def _two_way_random(
    n: int, k: int, between: float, measurement: float, error: float
) -> tuple[IntraclassCorrelation, ...]:
    value = (between - error) / (between + (k - 1) * error + k * (measurement - error) / n)
    ratio = measurement / error
    part = n * (1.0 + (k - 1.0) * value) - k * value
    degrees = (k - 1) * (n - 1) * (k * value * ratio + part) ** 2 / ((n - 1) * k**2 * value**2 * ratio**2 + part**2)
    above, below = _quantile(n - 1, degrees), _quantile(degrees, n - 1)
    others = k * measurement + (k * n - k - n) * error
    low = n * (between - above * error) / (above * others + n * between)
    high = n * (below * between - error) / (others + n * below * between)
    return _both("2", k, value, low, high)
