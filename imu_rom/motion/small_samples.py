"""What a few values tell about a spread: standard deviation with its own interval, coverage factors, one more value.

Formulas: JCGM 100:2008 (the GUM), "Evaluation of measurement data: guide to the expression of uncertainty in
measurement", 4.2 (type A evaluation), G.3 (Student's t) and G.4.1 (Welch-Satterthwaite); the interval of a standard
deviation from the chi-square distribution is that of the NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.8
(sections from memory; the numbers are checked in tests/references).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

__all__ = ["NORMAL_FACTOR", "Spread", "coverage_factor", "effective_degrees", "spread_of"]

CONFIDENCE = 0.95
NORMAL_FACTOR = 1.959963984540054
"""Coverage factor of 95 % for a standard uncertainty that is well known."""


def coverage_factor(degrees: float) -> float:
    """Give the coverage factor of a 95 % interval for a standard uncertainty with some degrees of freedom.

    Parameters
    ----------
    degrees : float
        Degrees of freedom, at least 1; may be infinite.

    Returns
    -------
    float
        Student's t at 0.975 (JCGM 100:2008, G.3.2 and table G.2); 1.96 for infinitely many.

    Raises
    ------
    ValueError
        There are no degrees of freedom.
    """
    if not degrees >= 1:
        raise ValueError(f"degrees of freedom must be at least 1, got {degrees}")
    if math.isinf(degrees):
        return NORMAL_FACTOR
    from scipy.special import stdtrit  # noqa: PLC0415  loads slowly, and only checks need it

    return float(stdtrit(degrees, 0.5 + CONFIDENCE / 2))


def effective_degrees(parts: Sequence[tuple[float, float]]) -> float:
    """Give the degrees of freedom of a combined standard uncertainty.

    Parameters
    ----------
    parts : sequence of (float, float)
        Standard uncertainty of each independent part and its degrees of freedom; infinite where it is well known.

    Returns
    -------
    float
        After Welch and Satterthwaite (JCGM 100:2008, equation G.2b); infinite where nothing uncertain is left.
    """
    spread = sum(u**4 / degrees for u, degrees in parts if not math.isinf(degrees))
    total = sum(u**2 for u, _ in parts)
    return math.inf if spread == 0.0 else max(1.0, total**2 / spread)


@dataclass(frozen=True)
class Spread:
    """Standard deviation of a few values, and what it is worth.

    Parameters
    ----------
    count : int
        Number of values.
    mean : float
        Their mean.
    standard_deviation : float
        With n - 1 degrees of freedom (JCGM 100:2008, equation 4).
    low, high : float
        95 % interval of the standard deviation that so many values came from, by the chi-square distribution.
    standard_uncertainty : float
        What to take for one more value's standard uncertainty where 1.96 of them shall make a 95 % interval: the
        standard deviation, enlarged by Student's t over 1.96 because so few values know it so badly.
    smallest_real_change : float
        A smaller difference between two more values may be chance alone, in 95 of 100 cases: t times the square root
        of 2 times the standard deviation (the minimal detectable change of Weir, J Strength Cond Res 19(1):231-240,
        2005; the repeatability limit of ISO 5725-6 for many values).
    """

    count: int
    mean: float
    standard_deviation: float
    low: float
    high: float
    standard_uncertainty: float
    smallest_real_change: float

    @property
    def degrees(self) -> int:
        """Degrees of freedom."""
        return self.count - 1


def spread_of(values: Sequence[float]) -> Spread:
    """Work out the spread of a few values.

    Parameters
    ----------
    values : sequence of float
        At least two, independent of each other.

    Returns
    -------
    Spread
        In the unit of the values.

    Raises
    ------
    ValueError
        There are fewer than two.
    """
    count = len(values)
    if count < 2:
        raise ValueError(f"a spread needs at least 2 values, got {count}")
    from scipy.special import chdtri  # noqa: PLC0415  as above

    degrees = count - 1
    deviation = float(np.std(values, ddof=1))
    factor = coverage_factor(degrees)
    # chdtri takes the probability of what lies above
    tails = (0.5 - CONFIDENCE / 2, 0.5 + CONFIDENCE / 2)
    low, high = (deviation * math.sqrt(degrees / float(chdtri(degrees, above))) for above in tails)
    return Spread(
        count=count,
        mean=float(np.mean(values)),
        standard_deviation=deviation,
        low=low,
        high=high,
        standard_uncertainty=deviation * factor / NORMAL_FACTOR,
        smallest_real_change=factor * math.sqrt(2.0) * deviation,
    )
