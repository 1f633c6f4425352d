"""How far two ways of measuring the same differ: bias and limits of agreement.

References
----------
J. M. Bland and D. G. Altman, "Agreement between methods of measurement with multiple observations per individual",
J Biopharm Stat 17:571-582, 2007, doi:10.1080/10543400701329422, section 3 (several pairs of each person, whose true
value varies); checked against that paper's example. The same, "Measuring agreement in method comparison studies", Stat
Methods Med Res 8:135-160, 1999, doi:10.1177/096228029900800204, section 2 (one pair of each).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.small_samples import NORMAL_FACTOR

__all__ = ["Agreement", "ClusteredAgreement", "agreement", "clustered_agreement"]

Floats = NDArray[np.float64]

FEWEST_PEOPLE = 5
"""With fewer people no interval of the limits is given; common practice, no source."""
DRAWS = 2000


@dataclass(frozen=True)
class Agreement:
    """Differences of independent pairs.

    Parameters
    ----------
    pairs : int
        How many.
    bias : float
        Mean difference.
    standard_deviation : float
        Of the differences.
    low, high : float
        95 % limits of agreement: bias less and plus 1.96 standard deviations.
    root_mean_square : float
        Of the differences.
    """

    pairs: int
    bias: float
    standard_deviation: float
    low: float
    high: float
    root_mean_square: float


@dataclass(frozen=True)
class ClusteredAgreement:
    """Differences of several pairs of each person.

    Parameters
    ----------
    people, pairs : int
        How many.
    bias : float
        Mean difference over all pairs.
    within_sd, between_sd : float
        Standard deviation of the differences within people, and between people.
    standard_deviation : float
        Of a new person's single difference: both together.
    low, high : float
        95 % limits of agreement.
    bias_low, bias_high, low_low, low_high, high_low, high_high : float or None
        95 % intervals of bias and both limits; None with fewer than `FEWEST_PEOPLE` people.
    """

    people: int
    pairs: int
    bias: float
    within_sd: float
    between_sd: float
    standard_deviation: float
    low: float
    high: float
    bias_low: float | None = None
    bias_high: float | None = None
    low_low: float | None = None
    low_high: float | None = None
    high_low: float | None = None
    high_high: float | None = None


def agreement(differences: Sequence[float]) -> Agreement:
    """Work out bias and limits of agreement of independent pairs.

    Parameters
    ----------
    differences : sequence of float
        One way less the other, at least two.

    Returns
    -------
    Agreement
        Bland and Altman 1999, section 2.

    Raises
    ------
    ValueError
        There are fewer than two.
    """
    values = np.asarray(differences, dtype=np.float64)
    if len(values) < 2:
        raise ValueError(f"at least 2 differences are needed, got {len(values)}")
    bias, deviation = float(values.mean()), float(values.std(ddof=1))
    reach = NORMAL_FACTOR * deviation
    return Agreement(len(values), bias, deviation, bias - reach, bias + reach, float(np.sqrt(np.mean(values * values))))


def clustered_agreement(differences: Sequence[float], people: Sequence[object], *, seed: int = 1) -> ClusteredAgreement:
    """Work out bias and limits of agreement where people gave several pairs each.

    Parameters
    ----------
    differences : sequence of float
        One way less the other.
    people : sequence of object
        Whose each is.
    seed : int
        Of the bootstrap.

    Returns
    -------
    ClusteredAgreement
        Bland and Altman 2007, section 3: one-way analysis of variance of the differences, the variance between people
        by moments (nought where it comes out negative). Intervals are percentiles of a bootstrap that draws whole
        people (2000 draws).

    Raises
    ------
    ValueError
        There are fewer than two people, or nobody gave two pairs.
    """
    values = np.asarray(differences, dtype=np.float64)
    names = list(dict.fromkeys(people))
    groups = [values[[each == name for each in people]] for name in names]
    if len(groups) < 2 or len(values) <= len(groups):
        raise ValueError("at least 2 people, one of them with 2 pairs, are needed")
    counts = np.array([len(each) for each in groups], dtype=np.float64)
    sums = np.array([each.sum() for each in groups])
    squares = np.array([float(each @ each) for each in groups])
    bias, within, between = (float(each) for each in _components(counts, sums, squares))
    deviation = math.sqrt(within + between)
    reach = NORMAL_FACTOR * deviation
    known = ClusteredAgreement(
        people=len(groups),
        pairs=len(values),
        bias=bias,
        within_sd=math.sqrt(within),
        between_sd=math.sqrt(between),
        standard_deviation=deviation,
        low=bias - reach,
        high=bias + reach,
    )
    return known if len(groups) < FEWEST_PEOPLE else replace(known, **_intervals(counts, sums, squares, seed))


def _components(counts: Floats, sums: Floats, squares: Floats) -> tuple[Floats, Floats, Floats]:
    """Bias, variance within people and variance between them; people lie along the last axis."""
    total, groups = counts.sum(axis=-1), counts.shape[-1]
    bias = sums.sum(axis=-1) / total
    within_sum = np.maximum((squares - sums * sums / counts).sum(axis=-1), 0.0)
    between_square = (counts * (sums / counts - bias[..., None]) ** 2).sum(axis=-1) / (groups - 1)
    # a draw of people who all gave one pair tells nothing of what is within them
    within = within_sum / np.maximum(total - groups, 1.0)
    divisor = (total**2 - (counts * counts).sum(axis=-1)) / ((groups - 1) * total)
    return bias, within, np.maximum((between_square - within) / divisor, 0.0)


def _intervals(counts: Floats, sums: Floats, squares: Floats, seed: int) -> dict[str, Any]:
    chance = np.random.default_rng(seed)
    chosen = chance.integers(0, len(counts), (DRAWS, len(counts)))
    bias, within, between = _components(counts[chosen], sums[chosen], squares[chosen])
    reach = NORMAL_FACTOR * np.sqrt(within + between)
    ends: dict[str, Any] = {}
    for name, drawn in (("bias", bias), ("low", bias - reach), ("high", bias + reach)):
        ends[f"{name}_low"], ends[f"{name}_high"] = np.percentile(drawn, [2.5, 97.5]).tolist()
    return ends
