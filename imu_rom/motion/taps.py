"""Three taps on a sensor, by which a person marks the start or the end of what no movement shows.

A tap is a knock of a few milliseconds while the sensor hardly turns. Three of them, a fraction of a second apart and
with none shortly before or after, are a mark; heel strikes come one after the other, and a bump comes alone.
"""

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.coarse import moving_mean

__all__ = ["TAPS", "find_taps", "spans_between_taps"]

Floats = NDArray[np.float64]

TAPS = 3
# Common practice, no source: a finger's tap on a taped sensor gives 10 to 50 m/s^2 for some milliseconds, of which the
# mean over a slow sensor's sample leaves a part.
SMALLEST_TAP_M_S2 = 2.5
SPREADS = 8.0
SMOOTH_S = 0.5
SAME_TAP_S = 0.12
SHORTEST_BETWEEN_S, LONGEST_BETWEEN_S = 0.15, 1.2
ALONE_S = 1.5
FASTEST_TURN_RAD_S = np.radians(60.0)


def find_taps(force_m_s2: Floats, rate_rad_s: Floats, rate_hz: float) -> list[tuple[float, float]]:
    """Find the marks of three taps on one sensor.

    Parameters
    ----------
    force_m_s2, rate_rad_s : ndarray of shape (n, 3)
        Specific force and angular rate in the sensor's axes.
    rate_hz : float
        Sampling rate.

    Returns
    -------
    list of tuple of float
        (first_s, last_s): time of the first and of the last tap of each mark, in time order.
    """
    size = np.sqrt(np.einsum("ij,ij->i", force_m_s2, force_m_s2))
    off = np.abs(size - moving_mean(size, max(2, round(SMOOTH_S * rate_hz))))
    bound = max(SMALLEST_TAP_M_S2, SPREADS * 1.4826 * float(np.median(off)))
    over = np.flatnonzero(off > bound)
    if len(over) < TAPS:
        return []
    first = over[np.flatnonzero(np.diff(over, prepend=-(10**9)) > SAME_TAP_S * rate_hz)] / rate_hz
    apart = np.diff(first)
    groups = np.split(first, np.flatnonzero(apart > LONGEST_BETWEEN_S) + 1)
    turn = np.sqrt(np.einsum("ij,ij->i", rate_rad_s, rate_rad_s))
    marks = []
    for number, group in enumerate(groups):
        if len(group) != TAPS or np.diff(group).min() < SHORTEST_BETWEEN_S:
            continue
        before = groups[number - 1][-1] if number else -np.inf
        after = groups[number + 1][0] if number + 1 < len(groups) else np.inf
        inside = slice(int(group[0] * rate_hz), int(group[-1] * rate_hz) + 2)
        alone = group[0] - before > ALONE_S and after - group[-1] > ALONE_S
        if alone and float(np.median(turn[inside])) < FASTEST_TURN_RAD_S:
            marks.append((float(group[0]), float(group[-1])))
    return marks


def spans_between_taps(
    marks: list[tuple[float, float]], asked_s: float, shortest_s: float, longest_s: float
) -> list[tuple[float, float]]:
    """Pair marks into the stretches between them.

    Parameters
    ----------
    marks : list of tuple of float
        From `find_taps`; marks of several sensors that overlap are one.
    asked_s : float
        How long a stretch should last: rests lie between two marks too, and one mark may have gone unseen.
    shortest_s, longest_s : float
        A stretch between two marks lasts this long; one that does not is no pair.

    Returns
    -------
    list of tuple of float
        (start_s, stop_s): from the last tap of one mark to the first tap of the next. Of all ways to pair neighbours
        the one with the most pairs, then the one nearest to the time asked for.
    """
    joined: list[tuple[float, float]] = []
    for first_s, last_s in sorted(marks):
        if joined and first_s <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], last_s))
        else:
            joined.append((first_s, last_s))
    # best[k]: pairs (fewer is worse), distance from the time asked for, and the spans among the first k marks
    best: list[tuple[int, float, list[tuple[float, float]]]] = [(0, 0.0, [])]
    for index in range(len(joined)):
        options = [best[index]]
        if index:
            span = joined[index - 1][1], joined[index][0]
            length_s = span[1] - span[0]
            if shortest_s <= length_s <= longest_s:
                pairs, off, spans = best[index - 1]
                options.append((pairs - 1, off + abs(length_s - asked_s), [*spans, span]))
        best.append(min(options, key=lambda each: each[:2]))
    return best[-1][2]
