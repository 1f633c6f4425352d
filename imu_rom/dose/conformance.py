"""Conformance: the probability that what was done met what was asked, and the answer that it allows.

Book: JCGM 106:2012, Evaluation of measurement data - The role of measurement uncertainty in conformity assessment
(doi:10.59161/JCGM106-2012). What is known about a quantity after measuring it is taken as a normal distribution around
the estimate y with standard uncertainty u, without prior knowledge. Clause numbers are from memory.

Where several quantities share an error, their probabilities can't be multiplied: ``shared_error_nodes`` spreads that
error over nodes of equal probability, given each of which the rest is independent.
"""

import math
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Answer",
    "GlobalRisk",
    "acceptance_limits",
    "answer",
    "at_least_probability",
    "capability_index",
    "conformance_probability",
    "global_risk",
    "normal_cdf",
    "shared_error_nodes",
    "standard_nodes",
]

Floats = NDArray[np.float64]
Answer = Literal["yes", "no", "undecided"]

NODES = 1001
"""Nodes of a shared error: a step anywhere along it is placed to 1 in 2000 of probability."""


def normal_cdf(z: float | Floats) -> Floats:
    """Give the standard normal distribution function.

    Parameters
    ----------
    z : float or ndarray
        Standardised values.

    Returns
    -------
    ndarray
        Probabilities, of the shape of ``z``.
    """
    z = np.asarray(z, dtype=np.float64)
    # number by number, yet faster than loading SciPy for the few hundred thousand of a session;
    # beyond these it is 0 or 1 in double precision
    probability = np.where(z > 0, 1.0, 0.0)
    open_ = ~((z < -39.0) | (z > 8.5))
    probability[open_] = [0.5 * each for each in map(math.erfc, (z[open_] * -math.sqrt(0.5)).tolist())]
    return probability


def conformance_probability(
    value: float | Floats,
    standard_uncertainty: float | Floats,
    lower: float | Floats = -math.inf,
    upper: float | Floats = math.inf,
) -> Floats:
    """Probability that a quantity lies within its tolerance limits, given its estimate.

    Parameters
    ----------
    value : float or ndarray
        Estimate y.
    standard_uncertainty : float or ndarray
        Standard uncertainty u in the same unit, at least 0; with 0 the estimate is taken as exact, and a limit
        belongs to the tolerance.
    lower, upper : float or ndarray
        Tolerance limits; infinite where there is none.

    Returns
    -------
    ndarray
        Phi((upper - y) / u) - Phi((lower - y) / u), of the broadcast shape.

    References
    ----------
    JCGM 106:2012, clauses 7.3 (one-sided) and 7.4 (two-sided tolerance interval).
    """
    value, u = np.asarray(value, dtype=np.float64), np.asarray(standard_uncertainty, dtype=np.float64)
    return _below(upper, value, u, at_limit=1.0) - _below(lower, value, u, at_limit=0.0)


def _below(limit: float | Floats, value: Floats, u: Floats, *, at_limit: float) -> Floats:
    """Phi((limit - value) / u), and for u = 0 a step that takes the given value at the limit."""
    limit = np.asarray(limit, dtype=np.float64)
    # an infinite limit is none, whatever the value
    if limit.ndim == 0 and np.isinf(limit):
        return np.full(np.broadcast_shapes(value.shape, u.shape), float(limit > 0))
    room = np.where(np.isinf(limit), limit, np.where(np.isinf(limit), 0.0, limit) - value)
    with np.errstate(over="ignore"):  # a tiny u gives infinity, which is right
        if (u > 0).all():
            return normal_cdf(room / u)
        exact = np.where(room == 0, at_limit, (room > 0).astype(np.float64))
        return np.where(u > 0, normal_cdf(room / np.where(u > 0, u, 1.0)), exact)


def answer(probability: float, decide: float) -> Answer:
    """Turn a probability into an answer.

    Parameters
    ----------
    probability : float
        Probability that the question's answer is yes.
    decide : float
        How sure is sure: more than 0.5, at most 1.

    Returns
    -------
    {"yes", "no", "undecided"}
        Yes from that probability on, no from one minus it down.
    """
    if probability >= decide:
        return "yes"
    # 1 - 0.95 is a little more than 0.05, 1 - 0.8 a little less than 0.2
    return "no" if probability <= 1 - decide + 1e-12 else "undecided"


def capability_index(standard_uncertainty: float, lower: float, upper: float) -> float:
    """Measurement capability index: how fine a measurement is against the tolerance it has to judge.

    Parameters
    ----------
    standard_uncertainty : float
        Standard uncertainty u, more than 0.
    lower, upper : float
        Tolerance limits.

    Returns
    -------
    float
        (upper - lower) / (4 u); infinite for a one-sided tolerance.

    References
    ----------
    JCGM 106:2012, clause 7.6.
    """
    return (upper - lower) / (4 * standard_uncertainty)


def acceptance_limits(
    standard_uncertainty: float,
    lower: float = -math.inf,
    upper: float = math.inf,
    guard_factor: float = 1.0,
) -> tuple[float, float]:
    """Give the limits within which a measured value is accepted, drawn in by a guard band.

    Parameters
    ----------
    standard_uncertainty : float
        Standard uncertainty u.
    lower, upper : float
        Tolerance limits; infinite where there is none.
    guard_factor : float
        Length of the guard band in expanded uncertainties U = 2 u: 1 is guarded acceptance, 0 simple acceptance,
        -1 guarded rejection.

    Returns
    -------
    tuple of float
        Lower and upper acceptance limit.

    References
    ----------
    JCGM 106:2012, clause 8.3 (guard bands).
    """
    guard = guard_factor * 2 * standard_uncertainty
    return lower + guard, upper - guard


@dataclass(frozen=True)
class GlobalRisk:
    """Shares of a population that are conforming, wrongly accepted, and wrongly rejected.

    Parameters
    ----------
    conforming : float
        Share that conforms.
    consumers_risk : float
        Share that is accepted and does not conform.
    producers_risk : float
        Share that is rejected and conforms.
    """

    conforming: float
    consumers_risk: float
    producers_risk: float


def global_risk(
    mean: float,
    spread: float,
    standard_uncertainty: float,
    tolerance: tuple[float, float],
    acceptance: tuple[float, float],
) -> GlobalRisk:
    """Work out the risks of judging a normal population with a normal measurement, before anything is measured.

    Parameters
    ----------
    mean, spread : float
        Mean and standard deviation (more than 0) of the population.
    standard_uncertainty : float
        Standard uncertainty of one measurement, more than 0.
    tolerance : tuple of float
        Lower and upper tolerance limit; infinite where there is none.
    acceptance : tuple of float
        Lower and upper acceptance limit of the measured value; infinite where there is none.

    Returns
    -------
    GlobalRisk
        Conforming share, consumer's and producer's risk.

    Notes
    -----
    Gauss-Legendre quadrature over the true value, in panels that break at the limits and around them.

    References
    ----------
    JCGM 106:2012, clause 9.5 (global consumer's and producer's risk).
    """
    far = 9.0  # standard deviations; the rest is 1e-19
    inner = [mean + far * spread * step for step in np.linspace(-1, 1, 37)]
    inner += [limit for limit in (*tolerance, *acceptance) if math.isfinite(limit)]
    for limit in acceptance:
        if math.isfinite(limit):
            inner += [limit + far * standard_uncertainty * step for step in np.linspace(-1, 1, 37)]
    edges = np.unique(np.clip(inner, mean - far * spread, mean + far * spread))
    node, weight = np.polynomial.legendre.leggauss(12)
    half = np.diff(edges)[:, None] / 2
    true = (edges[:-1, None] + half) + half * node
    density = np.exp(-0.5 * ((true - mean) / spread) ** 2) / (spread * math.sqrt(2 * math.pi)) * (half * weight)
    accepted = conformance_probability(true, standard_uncertainty, *acceptance)
    conforms = (true >= tolerance[0]) & (true <= tolerance[1])
    return GlobalRisk(
        conforming=float(density[conforms].sum()),
        consumers_risk=float((density * accepted)[~conforms].sum()),
        producers_risk=float((density * (1 - accepted))[conforms].sum()),
    )


@cache
def standard_nodes(count: int) -> Floats:
    """Split the standard normal distribution into layers of equal probability.

    Parameters
    ----------
    count : int
        How many.

    Returns
    -------
    ndarray of shape (count,)
        The middle of each layer, by probability; rising, read-only.
    """
    nodes = np.array([NormalDist().inv_cdf((place + 0.5) / count) for place in range(count)])
    nodes.flags.writeable = False
    return nodes


def shared_error_nodes(standard_uncertainty: float) -> Floats:
    """Spread a shared normal error over values that each stand for the same share of its probability.

    Parameters
    ----------
    standard_uncertainty : float
        Its standard uncertainty; its mean is 0.

    Returns
    -------
    ndarray of shape (nodes,)
        Rising values; the mean of a function over them is its expectation.
    """
    return standard_nodes(NODES) * standard_uncertainty


def at_least_probability(probabilities: Floats, count: int) -> float:
    """Probability that at least so many of several independent events happen, averaged over a shared error.

    Parameters
    ----------
    probabilities : ndarray of shape (nodes, n)
        Probability of each event, given each node of the shared error.
    count : int
        How many must happen.

    Returns
    -------
    float
        Mean over the nodes of the upper tail of the Poisson binomial distribution.
    """
    nodes, events = probabilities.shape
    if count <= 0:
        return 1.0
    if count > events:
        return 0.0
    # share[:, k]: probability of exactly k so far, the last entry of count or more
    share = np.zeros((nodes, count + 1))
    share[:, 0] = 1.0
    for happens in probabilities.T:
        moved = share[:, :-1] * happens[:, None]
        share[:, :-1] -= moved
        share[:, 1:] += moved
    return float(min(1.0, max(0.0, share[:, -1].mean())))
