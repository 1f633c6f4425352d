"""Holds: time spent in a position, found as plateaus of a joint angle with a way in and a way out.

A plateau is a stretch in which the slow part of the angle hardly changes, so that shaking and sagging do not end it. It
is a hold where it lies off the neutral pose and the angle moved there and away again; a hold at the neutral pose's own
angle, with no movement at its ends, looks like standing and can't be seen. Its ends are those of the ways in and out,
each extrapolated from its own middle: between a minimum-jerk movement (Flash and Hogan 1985,
doi:10.1523/JNEUROSCI.05-07-01688.1985), which takes 0.72 of the time from 50 to 90 % again to arrive, and a steady one,
which takes 0.25.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.coarse import moving_mean
from imu_rom.motion.excursion_shape import gaussian_smooth

__all__ = ["Hold", "Steadiness", "find_holds", "steadiness"]

Floats = NDArray[np.float64]

SLOW_S, FINE_S = 0.4, 0.08
LARGEST_SPEED_DEG_S = 4.0
# A wobble out of the position and back within this is part of the hold; smoothing makes it seem about a second longer.
LONGEST_SLIP_S = 2.0
LARGEST_STEP_DEG = 6.0
LONGEST_WAY_S = 6.0
SMALLEST_WAY_DEG = 5.0
# Rest of a way behind its 90 % (before its 10 %) as a share of the time from 50 to 90 % (10 to 50 %); see above.
REST_SHARE = 0.6
PAUSE_S, TURN_S = 0.3, 0.5
SHAKING_SLOWER_S = 1.0
EDGE_S = 0.5


@dataclass(frozen=True)
class Hold:
    """One hold.

    Parameters
    ----------
    start_s, hold_start_s, hold_stop_s, stop_s : float
        Leaving the posture before; arriving in the position; leaving it; arriving in the posture after.
    held_deg : float
        Median angle in the position.
    start_deg : float
        Angle of the posture before.
    """

    start_s: float
    hold_start_s: float
    hold_stop_s: float
    stop_s: float
    held_deg: float
    start_deg: float

    @property
    def hold_s(self) -> float:
        """Time in the position."""
        return self.hold_stop_s - self.hold_start_s


@dataclass(frozen=True)
class Steadiness:
    """How steadily a position was held.

    Parameters
    ----------
    shaking_deg : float
        Root mean square of the angle around its mean over one second.
    sag_deg : float
        Change of the angle from the start to the end of the hold, in the angle's own sign.
    sag_uncertainty_deg : float
        Standard uncertainty of the straight line that it is read from.
    held_uncertainty_deg : float
        Standard uncertainty of the held angle that is the hold's own.
    """

    shaking_deg: float
    sag_deg: float
    sag_uncertainty_deg: float
    held_uncertainty_deg: float


def _runs(inside: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.astype(np.int8), [0]])))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _quiet(angle: Floats, eligible: NDArray[np.bool_], rate_hz: float) -> list[tuple[int, int]]:
    slow = gaussian_smooth(angle, SLOW_S * rate_hz)
    speed = np.abs(np.gradient(slow)) * rate_hz
    return _runs((speed < LARGEST_SPEED_DEG_S) & eligible)


def _plateaus(
    angle: Floats, quiet: list[tuple[int, int]], eligible: NDArray[np.bool_], rate_hz: float
) -> list[tuple[int, int]]:
    """Join quiet stretches that are one position, shaken in between."""
    joined: list[tuple[int, int]] = []
    for start, stop in quiet:
        # where a wobble turns back it is quiet too, for a moment
        if stop - start < TURN_S * rate_hz:
            continue
        if joined and start - joined[-1][1] < LONGEST_SLIP_S * rate_hz:
            before = float(np.median(angle[joined[-1][0] : joined[-1][1]]))
            step = abs(float(np.median(angle[start:stop])) - before)
            if step < LARGEST_STEP_DEG and eligible[joined[-1][1] : start].all():
                joined[-1] = (joined[-1][0], stop)
                continue
        joined.append((start, stop))
    return joined


def _way_in(values: Floats, level: float) -> tuple[float, float, float] | None:
    """Start of the way, arrival and level before, as samples back from the end of the values, where the hold begins.

    The way ends where the values end; it starts where they are furthest from the level.
    """
    off = np.abs(values - level)
    far = len(off) - 1 - int(np.argmax(off[::-1]))
    size = float(off[far])
    if size < SMALLEST_WAY_DEG:
        return None
    share = 1.0 - off[far:] / size
    below = np.flatnonzero(share < 0.1)
    ten = int(below[-1]) if len(below) else 0
    half, ninety = (ten + int(np.argmax(share[ten:] >= each)) for each in (0.5, 0.9))
    if share[ninety] < 0.9:
        return None
    begin = far + ten - REST_SHARE * (half - ten)
    return max(float(far), begin), far + ninety + REST_SHARE * (ninety - half), float(values[far])


def find_holds(
    angle_deg: Floats,
    eligible: NDArray[np.bool_],
    rate_hz: float,
    *,
    shortest_s: float,
    longest_s: float,
    between_deg: tuple[float, float] | None,
    smallest_excursion_deg: float,
    first_s: float = 0.0,
) -> list[Hold]:
    """Find the holds of an exercise.

    Parameters
    ----------
    angle_deg : ndarray of shape (m,)
        Joint angle at about 25 Hz, 0 in the neutral pose.
    eligible : ndarray of bool of shape (m,)
        False while walking, before the sensors were worn, during pose and calibration.
    rate_hz : float
        Rate of these arrays.
    shortest_s, longest_s : float
        Shorter plateaus are pauses on the way, longer ones rests.
    between_deg : tuple of float or None
        Angles between which a hold may lie; None: anywhere on the positive side.
    smallest_excursion_deg : float
        A hold lies at least this far off the neutral pose.
    first_s : float
        Time of the first sample.

    Returns
    -------
    list of Hold
        In time order.
    """
    fine = gaussian_smooth(angle_deg, FINE_S * rate_hz)
    low, high = between_deg if between_deg is not None else (smallest_excursion_deg, np.inf)
    reach = round(LONGEST_WAY_S * rate_hz)
    found = []
    quiet = _quiet(angle_deg, eligible, rate_hz)
    # a pause on the way ends what belongs to it
    paused = [each for each in quiet if each[1] - each[0] >= PAUSE_S * rate_hz]
    for start, stop in _plateaus(angle_deg, quiet, eligible, rate_hz):
        level = float(np.median(angle_deg[start:stop]))
        if abs(level) < smallest_excursion_deg or not low <= level <= high:
            continue
        # a little into the plateau on both sides, so that the ways reach their 90 %
        inner = min(round(EDGE_S * rate_hz), (stop - start) // 3)
        begin = max([0, start - reach, *(each[1] - inner for each in paused if each[1] <= start)])
        end = min([len(fine), stop + reach, *(each[0] + inner for each in paused if each[0] >= stop)])
        entry = _way_in(fine[begin : start + inner], float(np.median(fine[start : start + 2 * inner + 1])))
        leave = _way_in(fine[stop - inner : end][::-1], float(np.median(fine[max(start, stop - 2 * inner - 1) : stop])))
        if entry is None or leave is None:
            continue
        arrive = begin + entry[1]
        depart = end - 1 - leave[1]
        if not shortest_s <= (depart - arrive) / rate_hz <= longest_s:
            continue
        times = [first_s + each / rate_hz for each in (begin + entry[0], arrive, depart, end - 1 - leave[0])]
        found.append(Hold(times[0], times[1], times[2], times[3], level, entry[2]))
    return found


def steadiness(angle_deg: Floats, rate_hz: float, start_s: float, stop_s: float) -> Steadiness:
    """Tell how steadily a position was held.

    Parameters
    ----------
    angle_deg : ndarray of shape (n,)
        Joint angle of the whole recording; sample k is at k / rate_hz seconds.
    rate_hz : float
        Its rate.
    start_s, stop_s : float
        The hold. Half a second at either end is left out, where the way in or out may still show.

    Returns
    -------
    Steadiness
        Shaking of the joint and of the flesh under the sensors alike; sag by a straight line. Its uncertainty counts
        what is left about the line as dependent over one second.
    """
    edge_s = min(EDGE_S, (stop_s - start_s) / 4)
    first, last = round((start_s + edge_s) * rate_hz), round((stop_s - edge_s) * rate_hz)
    inside = np.asarray(angle_deg[max(first, 0) : max(last, first + 3)], dtype=np.float64)
    window = max(3, round(SHAKING_SLOWER_S * rate_hz))
    slow = moving_mean(inside, window)
    time_s = np.arange(len(inside)) / rate_hz
    length_s = float(time_s[-1])
    slope, middle = np.polyfit(time_s - length_s / 2, inside, 1)
    scatter = float(np.std(slow - middle - slope * (time_s - length_s / 2)))
    looks = max(1.0, length_s / SHAKING_SLOWER_S)
    return Steadiness(
        shaking_deg=float(np.sqrt(np.mean((inside - slow) ** 2))),
        sag_deg=float(slope * (stop_s - start_s)),
        sag_uncertainty_deg=float(np.sqrt(12.0 / looks) * scatter),
        held_uncertainty_deg=scatter / float(np.sqrt(looks)),
    )
