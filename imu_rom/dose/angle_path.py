"""A joint angle over time as straight lines between samples, cut into windows.

Time without data stays out of the lines and is counted beside them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["AnglePath", "angle_path", "remaining_stretches", "sustained_level"]

Floats = NDArray[np.float64]

ROUNDING_S = 1e-9


@dataclass(frozen=True)
class AnglePath:
    """A joint angle that is straight between points, over one or several stretches of time.

    Parameters
    ----------
    pieces : tuple of tuple of ndarray
        One (angle_deg of shape (k + 1,), duration_s of shape (k,)) for each unbroken stretch.
    unseen_s : float
        Time inside the window without data.
    """

    pieces: tuple[tuple[Floats, Floats], ...]
    unseen_s: float = 0.0

    @cached_property
    def segments(self) -> tuple[Floats, Floats, Floats]:
        """Lower and upper end of each straight segment in degrees and its duration in seconds, each of shape (n,)."""
        if not self.pieces:
            return np.empty(0), np.empty(0), np.empty(0)
        before = _joined([angle[:-1] for angle, _ in self.pieces])
        after = _joined([angle[1:] for angle, _ in self.pieces])
        return np.minimum(before, after), np.maximum(before, after), _joined([each for _, each in self.pieces])


def _joined(arrays: list[Floats]) -> Floats:
    return arrays[0] if len(arrays) == 1 else np.concatenate(arrays)


def remaining_stretches(
    start_s: float, stop_s: float, removed: Iterable[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Remove stretches of time from another one.

    Parameters
    ----------
    start_s, stop_s : float
        The stretch.
    removed : iterable of tuple of float
        (start_s, stop_s) of what is removed, in any order, overlapping or not.

    Returns
    -------
    list of tuple of float
        (start_s, stop_s) in order of time, none of them empty.
    """
    left = []
    at_s = start_s
    for gone_start_s, gone_stop_s in sorted(removed):
        if gone_stop_s <= at_s or gone_start_s >= stop_s:
            continue
        if gone_start_s > at_s:
            left.append((at_s, gone_start_s))
        at_s = gone_stop_s
    if at_s < stop_s:
        left.append((at_s, stop_s))
    return left


def angle_path(
    rate_hz: float,
    angle_deg: Floats,
    start_s: float = 0.0,
    stop_s: float = np.inf,
    *,
    without_data: Sequence[tuple[float, float]] = (),
    left_out: Sequence[tuple[float, float]] = (),
) -> AnglePath:
    """Cut a window out of an evenly sampled joint angle.

    Parameters
    ----------
    rate_hz : float
        Sampling rate; sample k is at k / rate_hz seconds.
    angle_deg : ndarray of shape (n,)
        Joint angle in degrees, finite.
    start_s, stop_s : float
        Window in seconds, its ends between samples or not; cut off where the angle begins and ends.
    without_data : sequence of tuple of float
        (start_s, stop_s) of gaps: not part of the path, their time inside the window counted as unseen.
    left_out : sequence of tuple of float
        (start_s, stop_s) of stretches that are not asked about: neither part of the path nor unseen.

    Returns
    -------
    AnglePath
        The path within the window.

    Raises
    ------
    ValueError
        An angle inside the window is not finite.
    """
    angle_deg = np.asarray(angle_deg, dtype=np.float64)
    start_s = max(start_s, 0.0)
    stop_s = min(stop_s, (len(angle_deg) - 1) / rate_hz)
    asked = remaining_stretches(start_s, stop_s, left_out)
    seen = remaining_stretches(start_s, stop_s, [*left_out, *without_data])
    pieces = tuple(_piece(rate_hz, angle_deg, *each) for each in seen)
    unseen_s = sum(b - a for a, b in asked) - sum(b - a for a, b in seen) if without_data else 0.0
    return AnglePath(pieces, max(unseen_s, 0.0))


def _piece(rate_hz: float, angle_deg: Floats, start_s: float, stop_s: float) -> tuple[Floats, Floats]:
    first = start_s * rate_hz
    last = min(stop_s * rate_hz, len(angle_deg) - 1.0)
    inner_first = int(np.floor(first)) + 1
    inner_stop = max(int(np.ceil(last)), inner_first)
    inside = angle_deg[inner_first:inner_stop]
    angle = np.concatenate(([_sample(angle_deg, first)], inside, [_sample(angle_deg, last)]))
    if not np.isfinite(angle).all():
        raise ValueError(f"the joint angle between {start_s:.2f} s and {stop_s:.2f} s must be finite")
    duration = np.full(len(angle) - 1, 1.0 / rate_hz)
    duration[0] = (min(inner_first, last) - first) / rate_hz
    if len(inside):
        duration[-1] = (last - (inner_stop - 1)) / rate_hz
    return angle, duration


def _sample(angle_deg: Floats, at: float) -> float:
    before = int(np.floor(at))
    value = float(angle_deg[before])
    if at == before:
        return value
    return value + (at - before) * (float(angle_deg[before + 1]) - value)


def sustained_level(path: AnglePath, duration_s: float) -> float:
    """Highest angle that is kept or exceeded without a break for a given time.

    The lowest angle within a moving window of that length, at its largest. Between two of the instants at which either
    end of the window passes a sample, the angles at both ends are straight and the samples inside are the same, so the
    largest lies at such an instant or where the two ends are level: exact for the path.

    Parameters
    ----------
    path : AnglePath
        Joint angle over time; a gap breaks a stretch.
    duration_s : float
        Length of the window in seconds, more than 0.

    Returns
    -------
    float
        Degrees; minus infinity where no stretch lasts that long.
    """
    return max((_sustained(angle, duration, duration_s) for angle, duration in path.pieces), default=-np.inf)


def _sustained(angle: Floats, duration: Floats, window_s: float) -> float:
    # a stretch of exactly that length must not be lost to rounding
    if duration.sum() < window_s - ROUNDING_S:
        return -np.inf
    # samples below what is kept for a few samples more can't be part of the answer
    bound = _kept_for_samples(angle, int(np.ceil(window_s / duration.max())) + 3)
    reaching = np.flatnonzero(angle >= bound)
    first, last = max(reaching[0] - 1, 0), min(reaching[-1] + 1, len(angle) - 1)
    angle, duration = angle[first : last + 1], duration[first:last]

    at = np.concatenate(([0.0], np.cumsum(duration)))
    spare_s = at[-1] - window_s
    if spare_s < -ROUNDING_S:
        return -np.inf
    starts = np.concatenate((at, at - window_s))
    starts = np.unique(np.clip(starts, 0.0, max(spare_s, 0.0)))
    head = np.interp(starts, at, angle)
    tail = np.interp(starts + window_s, at, angle)
    between = _lowest_between(angle, at, starts, window_s)
    at_instants = np.minimum(np.minimum(head, tail), between)
    best = float(at_instants.max())
    if len(starts) == 1:
        return best
    # between neighbouring instants both ends are straight: where they cross, both are at their common best
    difference = head - tail
    crosses = difference[:-1] * difference[1:] < 0
    share = difference[:-1][crosses] / (difference[:-1] - difference[1:])[crosses]
    level = head[:-1][crosses] + share * (head[1:] - head[:-1])[crosses]
    higher = level > best
    if not higher.any():
        return best
    level, middle = level[higher], (starts[:-1] + starts[1:])[crosses][higher] / 2
    level = np.minimum(level, _lowest_between(angle, at, middle, window_s))
    return max(best, float(level.max(initial=-np.inf)))


def _kept_for_samples(angle: Floats, count: int) -> float:
    """Largest of the lowest of so many neighbouring samples; the lowest of all where there are not so many."""
    if count >= len(angle):
        return float(angle.min())
    running, length = angle, 1
    while 2 * length <= count:
        running = np.minimum(running[:-length], running[length:])
        length *= 2
    rest = count - length
    return float(np.minimum(running[: len(running) - rest], running[rest:]).max())


def _lowest_between(angle: Floats, at: Floats, starts: Floats, window_s: float) -> Floats:
    """Lowest of the samples strictly inside each window; infinity where there is none."""
    first = np.searchsorted(at, starts, side="right")
    count = np.searchsorted(at, starts + window_s, side="left") - first
    lowest = np.full(len(starts), np.inf)
    some = count > 0
    if not some.any():
        return lowest
    first, count = first[some], count[some]
    # all windows hold nearly the same number of samples: cover each by a few runs of 2^k samples
    running, length = angle, 1
    while 2 * length <= count.min():
        running = np.minimum(running[:-length], running[length:])
        length *= 2
    last = count - length
    found = running[first]
    for offset in range(length, int(count.max()), length):
        found = np.minimum(found, running[first + np.minimum(offset, last)])
    lowest[some] = found
    return lowest
