"""Where sensors lie still, whatever their bias: found in the raw samples, for checks of the sensors themselves.

`imu_rom.motion.stillness` looks for standing people and trusts the attitude filter's idea of the gyroscope's bias; a
check must not, because a sensor whose bias is too large for the filter is just what it is for.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.coarse import COARSE_RATE_HZ, block_mean, moving_mean

__all__ = ["SHORTEST_REST_S", "find_rests"]

Floats = NDArray[np.float64]

SHORTEST_REST_S = 4.0
SLOW_S = 0.5
LOOK_S = 1.6
"""Samples within half of this of a movement are left out, so that a hand that lets go does not count."""
LARGEST_TILT_SPREAD_RAD = np.radians(0.5)
LARGEST_RATE_SPREAD_RAD_S = np.radians(1.0)
LARGEST_RATE_CHANGE_RAD_S = np.radians(3.0)
LONGEST_GAP_S = 1.0
"""What was not seen for longer may have been a movement there and back."""
BUMP_RAD = np.radians(2.0)
SAME_PLACE_RAD = np.radians(0.5)


def _spread_squared(values: Floats, window: int) -> Floats:
    centred = values - values.mean(axis=0)
    return np.asarray((moving_mean(centred**2, window) - moving_mean(centred, window) ** 2).sum(axis=1))


def _angle_rad(one: Floats, other: Floats) -> float:
    size = float(np.linalg.norm(one) * np.linalg.norm(other))
    return float(np.arccos(np.clip(one @ other / size, -1.0, 1.0)))


def find_rests(
    forces_m_s2: Sequence[Floats],
    rates_rad_s: Sequence[Floats],
    missing: NDArray[np.bool_],
    rate_hz: float,
    shortest_s: float = SHORTEST_REST_S,
) -> list[tuple[int, int]]:
    """List the stretches in which all sensors lie still, without the moments just before and after a movement.

    Parameters
    ----------
    forces_m_s2, rates_rad_s : sequence of ndarray of shape (n, 3)
        Specific force and angular rate of each sensor, in its own axes.
    missing : ndarray of bool of shape (n,)
        True where any of them has no measurement.
    rate_hz : float
        Sampling rate.
    shortest_s : float
        Shorter stretches are left out.

    Returns
    -------
    list of (int, int)
        First sample and the one after the last, in time order. Stretches that only a knock parts are one.
    """
    block = max(1, round(rate_hz / COARSE_RATE_HZ))
    coarse_hz = rate_hz / block
    slow, look = (max(2, round(each * coarse_hz)) for each in (SLOW_S, LOOK_S))
    unseen = block_mean(missing.astype(float), block) > 0
    still = ~unseen
    directions = []
    rates = [block_mean(each, block) for each in rates_rad_s]
    for force, rate in zip(forces_m_s2, rates, strict=True):
        smooth = moving_mean(block_mean(force, block), slow)
        size = np.sqrt(np.einsum("ij,ij->i", smooth, smooth))
        directions.append(smooth / np.maximum(size, 1e-9)[:, None])
        still &= _spread_squared(directions[-1], look) < LARGEST_TILT_SPREAD_RAD**2
        still &= _spread_squared(moving_mean(rate, slow), look) < LARGEST_RATE_SPREAD_RAD_S**2
    edges = np.flatnonzero(np.diff(np.concatenate([[0], still.astype(np.int8), [0]])))
    found = [(int(start), int(stop)) for start, stop in zip(edges[::2], edges[1::2], strict=True)]
    found = _joined(found, directions, rates, unseen, coarse_hz)
    margin = look // 2
    # the recording's own ends are no movements
    trimmed = [
        (start + margin * (start > 0), stop - margin * (stop < len(still)))
        for start, stop in found
        if stop - start >= shortest_s * coarse_hz
    ]
    return [(start * block, stop * block) for start, stop in _at_rest(trimmed, rates)]


def _joined(
    found: list[tuple[int, int]],
    directions: list[Floats],
    rates: list[Floats],
    unseen: NDArray[np.bool_],
    rate_hz: float,
) -> list[tuple[int, int]]:
    """Join neighbours between which nothing tilted or turned: somebody knocked on the table."""
    joined: list[tuple[int, int]] = []
    for start, stop in found:
        gap_s = unseen[joined[-1][1] : start].sum() / rate_hz if joined else np.inf
        if gap_s <= LONGEST_GAP_S and all(
            _stayed(each, rate, joined[-1], (start, stop), rate_hz)
            for each, rate in zip(directions, rates, strict=True)
        ):
            joined[-1] = (joined[-1][0], stop)
        else:
            joined.append((start, stop))
    return joined


def _stayed(direction: Floats, rate: Floats, before: tuple[int, int], after: tuple[int, int], rate_hz: float) -> bool:
    old, new = (direction[start:stop].mean(axis=0) for start, stop in (before, after))
    between = slice(before[1], after[0])
    farthest = max((_angle_rad(old, each) for each in direction[between]), default=0.0)
    turned = np.linalg.norm((rate[between] - rate[slice(*before)].mean(axis=0)).sum(axis=0)) / rate_hz
    return bool(_angle_rad(old, new) < SAME_PLACE_RAD and farthest < BUMP_RAD and turned < BUMP_RAD)


def _at_rest(found: list[tuple[int, int]], rates: list[Floats]) -> list[tuple[int, int]]:
    """Leave out stretches of steady turning about the vertical: their rate is not that of the other stretches."""
    if len(found) < 3:
        return found
    kept = np.ones(len(found), dtype=bool)
    for each in rates:
        means = np.array([each[start:stop].mean(axis=0) for start, stop in found])
        kept &= np.linalg.norm(means - np.median(means, axis=0), axis=1) < LARGEST_RATE_CHANGE_RAD_S
    return [each for each, keep in zip(found, kept, strict=True) if keep]
