"""Two clocks: the straight line that leads from one to the other, and how sure it is at each time."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["ClockEvidence", "ClockFit", "Kind", "fit_clock"]

Floats = NDArray[np.float64]
Kind = Literal["held together", "motion", "jolt"]

# what all evidence of a kind shares, and no number of windows averages out: filters of both sensors that differ; flesh
# that follows late (1 ms on the real walk of tests/benchmarks/clocks.py); a shock that takes its time through a limb
# and its flesh (there 6 to 34 ms from shank to thigh, at each heel strike)
SHARED_S: dict[Kind, float] = {"held together": 0.0003, "motion": 0.002, "jolt": 0.010}
# clocks wander with temperature: some 0.03 ppm/K^2 about 25 degC for a tuning-fork crystal (from memory)
WANDER = 1e-6
# how much wider than stated windows scatter in tests/benchmarks/clocks.py, worth so many windows against what is seen
SPREAD, SPREAD_WORTH = 2.0, 4.0
OUTLIER = 4.0
SMALLEST_OUTLIER_S = 0.003
MOST_ROUNDS, SETTLED = 20, 1e-4


@dataclass(frozen=True)
class ClockEvidence:
    """What one stretch says about the other clock.

    Parameters
    ----------
    kind : {"held together", "motion", "jolt"}
        What it comes from.
    time_s : float
        Where, by the reference's clock.
    lag_s : float
        How much later than assumed the other sensor's samples were taken, by the reference's clock.
    standard_uncertainty_s : float
        Of the lag, without what all evidence of the kind shares.
    agreement : float
        Share of both sensors' signal that is the same in both at this lag, below 1.
    """

    kind: Kind
    time_s: float
    lag_s: float
    standard_uncertainty_s: float
    agreement: float


@dataclass(frozen=True)
class ClockFit:
    """How one sensor's clock was brought to the other's: reference time = offset_s + (1 + skew) * stamp.

    Parameters
    ----------
    reference, other : str
        Tracked points of the sensor whose clock was kept, and of the one whose clock was moved.
    offset_s : float
        Reference time at the other clock's zero.
    skew : float
        How much longer a second of the other clock is, as a share.
    start_s : float
        Reference time at which the recording's time base starts.
    pivot_s : float
        Reference time at which the line is best known.
    pivot_standard_uncertainty_s, skew_standard_uncertainty : float
        Of the line there, and of its slope; these two are uncorrelated.
    evidence : tuple of ClockEvidence
        What the line rests on, with the lag that is left.
    contradicting : int
        Stretches that said otherwise and were left out.
    spread : float
        Scatter of the lags against what they claim; 1 is as claimed. The uncertainties are widened by it.
    """

    reference: str
    other: str
    offset_s: float
    skew: float
    start_s: float
    pivot_s: float
    pivot_standard_uncertainty_s: float
    skew_standard_uncertainty: float
    evidence: tuple[ClockEvidence, ...]
    contradicting: int
    spread: float

    @property
    def found_by(self) -> tuple[Kind, ...]:
        """Kinds of evidence, the sharpest first."""
        kinds = {each.kind for each in self.evidence}
        return tuple(kind for kind in SHARED_S if kind in kinds)

    @property
    def residual_s(self) -> float:
        """Root mean square of the lags that are left, each weighted by what it is worth."""
        weight = np.array([each.standard_uncertainty_s**-2 for each in self.evidence])
        lag = np.array([each.lag_s for each in self.evidence])
        return float(np.sqrt(np.sum(weight * lag**2) / np.sum(weight)))

    def standard_uncertainty_s(self, time_s: Floats) -> Floats:
        """Say how far one clock may still be off the other.

        Parameters
        ----------
        time_s : ndarray of shape (n,)
            Seconds from the recording's start.

        Returns
        -------
        ndarray of shape (n,)
            Standard uncertainty in seconds.
        """
        at_s = np.asarray(time_s) + self.start_s
        known_s = np.sort([each.time_s for each in self.evidence])
        after = np.searchsorted(known_s, at_s).clip(0, len(known_s) - 1)
        away_s = np.minimum(np.abs(at_s - known_s[after]), np.abs(at_s - known_s[np.maximum(after - 1, 0)]))
        squared = self.pivot_standard_uncertainty_s**2 + ((at_s - self.pivot_s) * self.skew_standard_uncertainty) ** 2
        return np.asarray(np.sqrt(squared + (WANDER * away_s) ** 2))


@dataclass(frozen=True)
class Line:
    """Lag against time: lag = lag_s + slope * (time - pivot_s).

    Parameters
    ----------
    pivot_s, lag_s, slope : float
        The line; at the pivot lag and slope are uncorrelated.
    lag_uncertainty_s, slope_uncertainty : float
        Standard uncertainties.
    spread : float
        Scatter against what the evidence claims.
    kept : ndarray of bool of shape (n,)
        Evidence that the line rests on.
    """

    pivot_s: float
    lag_s: float
    slope: float
    lag_uncertainty_s: float
    slope_uncertainty: float
    spread: float
    kept: NDArray[np.bool_]

    def at(self, time_s: Floats) -> Floats:
        """Lag at some times.

        Parameters
        ----------
        time_s : ndarray
            By the reference's clock.

        Returns
        -------
        ndarray
            Seconds.
        """
        return np.asarray(self.lag_s + self.slope * (time_s - self.pivot_s))


def fit_clock(evidence: Sequence[ClockEvidence], assumed_skew: float, skew_uncertainty: float) -> Line:
    """Fit the line by generalised least squares; what all evidence of a kind shares stands off the diagonal.

    Parameters
    ----------
    evidence : sequence of ClockEvidence
        At least one.
    assumed_skew : float
        Skew that the lags are counted from.
    skew_uncertainty : float
        Standard uncertainty with which the skew is known to be 0 beforehand.

    Returns
    -------
    Line
        With its standard uncertainties (JCGM 100:2008, 6.3 and H.3, from memory, for the form).
    """
    time_s = np.array([each.time_s for each in evidence])
    lag_s = np.array([each.lag_s for each in evidence])
    own_s = np.array([each.standard_uncertainty_s for each in evidence])
    kinds = np.array([each.kind for each in evidence])
    shared = np.zeros((len(evidence), len(evidence)))
    for kind, shared_s in SHARED_S.items():
        of_kind = (kinds == kind).astype(float)
        shared += shared_s**2 * np.outer(of_kind, of_kind)
    kept = np.ones(len(evidence), dtype=bool)
    middle_s = float(np.average(time_s, weights=own_s**-2))
    spread = SPREAD
    for _ in range(MOST_ROUNDS):
        use = np.flatnonzero(kept)
        covariance = np.diag((spread * own_s[use]) ** 2) + shared[np.ix_(use, use)]
        inverse = np.linalg.inv(covariance)
        design = np.column_stack([np.ones(len(use)), time_s[use] - middle_s])
        # the skew is not known at all from one event: then it is that of ordinary crystals
        information = design.T @ inverse @ design + np.diag([0.0, skew_uncertainty**-2])
        wanted = design.T @ inverse @ lag_s[use] + np.array([0.0, -assumed_skew * skew_uncertainty**-2])
        found = np.linalg.solve(information, wanted)
        left_s = lag_s - found[0] - found[1] * (time_s - middle_s)
        ratio = left_s / own_s
        # what is shared moves all lags of a kind together and is no scatter
        for kind in SHARED_S:
            alike = use[kinds[use] == kind]
            if 0 < len(alike) < len(use):
                together_s = np.average(left_s[alike], weights=own_s[alike] ** -2)
                ratio[alike] = (left_s[alike] - together_s) / own_s[alike]
        freedom = max(len(use) - 2, 0)
        scatter = float(np.sum(ratio[use] ** 2)) if freedom else 0.0
        before = spread
        spread = max(1.0, float(np.sqrt((scatter + SPREAD_WORTH * SPREAD**2) / (freedom + SPREAD_WORTH))))
        # the median, which outliers don't widen
        usual = max(1.0, float(np.median(np.abs(ratio))) / 0.6745)
        limit_s = np.maximum(OUTLIER * np.sqrt((usual * own_s) ** 2 + np.diag(shared)), SMALLEST_OUTLIER_S)
        again = np.abs(left_s) <= limit_s
        settled = abs(spread - before) < SETTLED * before
        if not again.any() or (settled and (again == kept).all()):
            break
        kept = again
    together = np.linalg.inv(information)
    pivot_s = middle_s - float(together[0, 1] / together[1, 1])
    return Line(
        pivot_s=pivot_s,
        lag_s=float(found[0] + found[1] * (pivot_s - middle_s)),
        slope=float(found[1]),
        lag_uncertainty_s=float(np.sqrt(together[0, 0] - together[0, 1] ** 2 / together[1, 1])),
        slope_uncertainty=float(np.sqrt(together[1, 1])),
        spread=spread,
        kept=kept,
    )
