"""Slow curves through noisy values over a whole recording: penalised second differences, in both directions at once.

The minimum of sum w (x - values)^2 + tau^4 sum (second difference of x)^2 is the mean of a model whose rate walks at
random (Whittaker 1922, doi:10.1017/S0013091500077853). How slow is slow is asked of the values themselves: stretches
are left out and foretold from the rest (cross-validation after Stone 1974, doi:10.1111/j.2517-6161.1974.tb00994.x;
whole stretches, because neighbours share their error).
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["best_time_constant", "slow_curve", "true_before"]

Floats = NDArray[np.float64]

BLOCKS_A_TIME_CONSTANT = 16
CANDIDATES_S = (0.5, 1.0, 2.0, 4.0, 8.0, 24.0)
LEFT_OUT_S = 1.5
LOOK_S = 0.25
AS_GOOD = 1.05
# A gyroscope's bias, which makes the slope, is another one after about this time. Common practice, no source.
SLOPE_CHANGES_S = 100.0


def _minimum(values: Floats, weight: Floats, penalty: Floats, slope_penalty: Floats | None = None) -> Floats:
    """Minimise the weighted squares of x - values, of the second and, where asked, of the first differences of x."""
    from scipy.linalg import solveh_banded  # noqa: PLC0415  scipy.linalg loads slowly

    count = len(values)
    if count < 3:
        return values
    # the lower form: LAPACK takes a fifth longer over the upper one
    bands = np.zeros((3, count))
    # a trace of weight keeps stretches without any from being singular in rounded numbers
    bands[0] = weight + 1e-9 + 1e-13 * float(np.max(penalty, initial=0.0))
    bands[0, :-2] += penalty
    bands[0, 1:-1] += 4 * penalty
    bands[0, 2:] += penalty
    bands[1, :-2] -= 2 * penalty
    bands[1, 1:-1] -= 2 * penalty
    bands[2, :-2] += penalty
    if slope_penalty is not None:
        bands[0, :-1] += slope_penalty
        bands[0, 1:] += slope_penalty
        bands[1, :-1] -= slope_penalty
    return np.asarray(solveh_banded(bands, weight * values, lower=True, overwrite_b=True, check_finite=False))


def _block_means(values: Floats, weight: Floats, block: int) -> tuple[Floats, Floats]:
    edges = np.arange(0, len(values), block)
    total = np.add.reduceat(weight, edges)
    return np.add.reduceat(weight * values, edges) / np.maximum(total, 1e-12), total / block


def _stiffness(cut: NDArray[np.bool_], block: int) -> Floats:
    """1 where three neighbouring blocks hang together, 0 at a cut."""
    cuts = np.logical_or.reduceat(cut, np.arange(0, len(cut), block))
    return (~(cuts[:-2] | cuts[1:-1] | cuts[2:])).astype(np.float64)


def true_before(mask: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Count how many are true before each place.

    Parameters
    ----------
    mask : ndarray of bool of shape (m,)
        What is counted.

    Returns
    -------
    ndarray of int of shape (m,)
        Position of each place, or of the next one that is true, among those that are true.
    """
    return np.asarray(np.cumsum(mask, dtype=np.intp) - mask)


def slow_curve(
    values: Floats,
    weight: Floats,
    cut: NDArray[np.bool_],
    rate_hz: float,
    time_constant_s: float,
    *,
    slope_spread: float | None = None,
) -> Floats:
    """Draw a slow curve through weighted values.

    Parameters
    ----------
    values : ndarray of shape (m,)
        What is smoothed, in any unit.
    weight : ndarray of shape (m,)
        Say of each value, 1 for an ordinary one.
    cut : ndarray of bool of shape (m,)
        True where the curve may jump.
    rate_hz : float
        Rate of these arrays.
    time_constant_s : float
        What changes more slowly is followed: the gain at the period 2 pi times this is one half, for weights of 1.
    slope_spread : float, optional
        Standard deviation of the curve's slope a second, in standard deviations of one value of weight 1; None leaves
        the slope free. Without it a few values would be drawn out to a steep line where there are none.

    Returns
    -------
    ndarray of shape (m,)
        The curve.

    Notes
    -----
    It is worked out in blocks and interpolated: what is slow needs no look at every sample.
    """
    count = len(values)
    block = max(1, round(time_constant_s * rate_hz / BLOCKS_A_TIME_CONSTANT))
    mean, say = _block_means(values, weight, block)
    edges = np.arange(0, count, block)
    middle = edges + (np.diff(edges, append=count) - 1) / 2.0
    level = None
    if slope_spread is not None:
        joined = ~np.logical_or.reduceat(cut, edges)
        each = (rate_hz / block / slope_spread) ** 2 / (SLOPE_CHANGES_S * rate_hz)
        level = np.where(joined[1:] & joined[:-1], each, 0.0)
    curve = _minimum(mean, say, _stiffness(cut, block) * (time_constant_s * rate_hz / block) ** 4, level)
    # a block inside a cut hangs on nothing, and must not be drawn into its neighbours
    holds = (say > 0) | ~np.logical_or.reduceat(cut, edges)
    return np.interp(np.arange(count), middle[holds], curve[holds]) if holds.any() else np.zeros(count)


def best_time_constant(values: Floats, weight: Floats, cut: NDArray[np.bool_], rate_hz: float) -> tuple[float, float]:
    """Find how slow the curve through these values is, by foretelling stretches that are left out.

    Parameters
    ----------
    values : ndarray of shape (m,)
        What is to be smoothed, in any unit.
    weight : ndarray of shape (m,)
        Say of each value, 1 for an ordinary one.
    cut : ndarray of bool of shape (m,)
        True where the curve may jump.
    rate_hz : float
        Rate of these arrays.

    Returns
    -------
    time_constant_s : float
        The longest one that foretells nearly as well as the best.
    error : float
        Root mean square error of the mean over a stretch that was left out, in the unit of the values.
    """
    block = max(1, round(LOOK_S * rate_hz))
    mean, say = _block_means(values, weight, block)
    count, looks_hz = len(mean), rate_hz / block
    stiff = _stiffness(cut, block)
    stretch = np.arange(count) // max(1, round(LEFT_OUT_S * looks_hz))
    found: list[tuple[float, float]] = []
    for time_constant_s in CANDIDATES_S:
        if found and time_constant_s * looks_hz > count / 3:
            break
        errors, says = [], []
        for fold in range(3):
            out = stretch % 3 == fold
            foretold = _minimum(mean, np.where(out, 0.0, say), stiff * (time_constant_s * looks_hz) ** 4)
            total = np.bincount(stretch[out], weights=say[out])
            off = np.bincount(stretch[out], weights=(say * (mean - foretold))[out])
            seen = total > 0
            errors.append(off[seen] / total[seen])
            says.append(total[seen])
        error, share = np.concatenate(errors), np.concatenate(says)
        if len(error) == 0:
            return CANDIDATES_S[-1], 0.0
        # a few stretches that nothing foretells must not decide
        largest = 4.0 * 1.4826 * float(np.median(np.abs(error))) + 1e-12
        loss = np.sum(share * np.minimum(error**2, largest**2)) / np.sum(share)
        found.append((time_constant_s, float(np.sqrt(loss))))
    least = min(loss for _, loss in found)
    return max(pair for pair in found if pair[1] <= AS_GOOD * least)
