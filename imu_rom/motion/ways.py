"""Ways between turning points: which are like each other, and how alike.

A way is the rotation from one turning point to the next, a vector with a direction, a size and a duration.
"""

import itertools

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "FEWEST_WAYS",
    "SHAPE_POINTS",
    "alike_runs",
    "between_samples",
    "regularity_of",
    "steady_run",
    "ways_between",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

# A way is like the others where it goes along their median by this much of it, and aside by at most so much; at a
# set's ends, where a limb is brought into place, by at most so much or so many times what is usual within.
ALONG, ASIDE = (0.25, 2.2), 0.75
ASIDE_AT_END, ASIDE_AT_END_TIMES = 0.50, 3.0
# A way next to a run belongs to it where it is like this many of the run's ways there.
NEXT_WAYS, NEXT_ALONG, NEXT_ASIDE, NEXT_LASTS = 4, (0.5, 2.0), 0.50, (0.5, 2.0)
SHAPE_POINTS, WAY_EDGE = 12, 0.05
FEWEST_WAYS, MOST_UNLIKE = 4, 4


def _along_and_aside(ways: Floats, template: Floats) -> tuple[Floats, Floats]:
    """How far ways go along a template, and how far aside, as shares of its length."""
    length = float(np.linalg.norm(template))
    along = ways @ template / length**2
    return along, np.linalg.norm(ways - along[:, None] * template, axis=1) / length


def _grown(ways: Floats, run: tuple[int, int]) -> tuple[int, int]:
    """Take on to a run what is like the ways next to it: people find their form, tire and turn little by little."""
    first, last = run
    if last - first < FEWEST_WAYS:
        return run

    def follows(place: int, near: Floats) -> bool:
        template = np.median(near, axis=0)
        along, aside = _along_and_aside(ways[place : place + 1], template)
        return bool(NEXT_ALONG[0] < along[0] < NEXT_ALONG[1] and aside[0] < NEXT_ASIDE)

    while first > 0 and follows(first - 1, ways[first : first + NEXT_WAYS]):
        first -= 1
    while last < len(ways) and follows(last, ways[last - NEXT_WAYS : last]):
        last += 1
    return first, last


def _course(rotation: Floats, points: Indices, ways: list[int]) -> Floats:
    """Mean course of some ways from their first turning points, at even times."""
    ends = np.array([points[ways], points[[each + 1 for each in ways]]]).T
    where = np.linspace(ends[:, 0], ends[:, 1], 2 * SHAPE_POINTS, axis=1)
    courses = between_samples(rotation, where)
    return np.asarray((courses - courses[:, :1]).mean(axis=0))


def ways_between(rotation: Floats, points: Indices, cut: tuple[bool, bool]) -> Floats:
    """List the rotation on each way, each second one turned round.

    Parameters
    ----------
    rotation : ndarray of shape (m, 3)
        Rotation vector, degrees.
    points : ndarray of int of shape (k,)
        Turning points.
    cut : tuple of bool
        True where measuring begins, or ends, with the stretch.

    Returns
    -------
    ndarray of shape (k - 1, 3)
        Degrees. A way that measuring cuts is compared with as much of the ways next to it: it is straightened as these
        would be, since few movements run along a straight line.
    """
    ways = np.diff(rotation[points], axis=0)
    last = len(ways) - 1
    if last >= 2 * FEWEST_WAYS:
        if cut[0] and points[0] == 0:
            course = _course(rotation, points, [2, 4])
            ways[0] = _straightened(ways[0], course[-1] - course, course[-1])
        if cut[1] and points[-1] == len(rotation) - 1:
            course = _course(rotation, points, [last - 4, last - 2])
            ways[last] = _straightened(ways[last], course, course[-1])
    ways[1::2] *= -1.0
    return np.asarray(ways)


def _straightened(seen: Floats, course: Floats, whole: Floats) -> Floats:
    """Put the share of a whole way in place of that part of a course which comes nearest to what was seen."""
    nearest = course[np.argmin(np.linalg.norm(course - seen, axis=1))]
    return np.asarray(nearest @ whole / max(float(whole @ whole), 1e-9) * whole + seen - nearest)


def alike_runs(ways: Floats, median: Floats) -> list[tuple[int, int]]:
    """List runs of ways like a median one.

    Parameters
    ----------
    ways : ndarray of shape (k, 3)
        Rotation on each way, degrees; each second one turned round, so that all go the same way.
    median : ndarray of shape (3,)
        What they are to be like.

    Returns
    -------
    list of tuple of int
        The first way of each run and the one after its last. Up to four that are unlike are passed over where two that
        are like come before and after.
    """
    if not np.any(median):
        return []
    along, aside = _along_and_aside(ways, median)
    like = (along > ALONG[0]) & (along < ALONG[1]) & (aside < ASIDE)
    bridged = like.copy()
    places = np.flatnonzero(like)
    for before, after in itertools.pairwise(places.tolist()):
        if (
            1 < after - before <= MOST_UNLIKE + 1
            and like[max(0, before - 1) : before + 1].all()
            and like[after : after + 2].all()
        ):
            bridged[before:after] = True
    edges = np.flatnonzero(np.diff(np.concatenate([[0], bridged.astype(np.int8), [0]])))
    runs = []
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        limit = max(ASIDE_AT_END, ASIDE_AT_END_TIMES * float(np.median(aside[first:last])))
        inside = np.flatnonzero(aside[first:last] <= limit)
        if len(inside):
            runs.append(_grown(ways, (first + int(inside[0]), first + int(inside[-1]) + 1)))
    return runs


def _way_ends(along: Floats, first: int, last: int) -> tuple[int, int]:
    """Where a way is at 5 and at 95 % of it: without the dwells, or the rest, before and after it."""
    way = along[first : last + 1]
    way = way if way[-1] > way[0] else -way
    share = (way - way[0]) / max(float(way[-1] - way[0]), 1e-9)
    begin = len(share) - 1 - int((share[::-1] <= WAY_EDGE).argmax())
    end = begin + int((share[begin:] >= 1.0 - WAY_EDGE).argmax())
    return first + begin, first + max(end, begin + 1)


def between_samples(values: Floats, positions: Floats) -> Floats:
    """Read values between their samples, along straight lines.

    Parameters
    ----------
    values : ndarray of shape (m, k)
        Samples.
    positions : ndarray of any shape
        Where, in samples from the first; none outside.

    Returns
    -------
    ndarray of the positions' shape and (k,)
        Interpolated.
    """
    before = positions.astype(np.int64)
    low, high = values[before], values[np.minimum(before + 1, len(values) - 1)]
    return np.asarray(low + (positions - before)[..., None] * (high - low))


def regularity_of(rotation: Floats, along: Floats, points: Indices) -> float:
    """Share of the movement on the ways that the cycles' mean shape explains, all directions together.

    Parameters
    ----------
    rotation : ndarray of shape (m, 3)
        Rotation vector, degrees.
    along : ndarray of shape (m,)
        The same along its main direction.
    points : ndarray of int of shape (k,)
        Turning points.

    Returns
    -------
    float
        0 to 1.
    """
    pairs = (len(points) - 1) // 2
    if pairs < 2:
        return 0.0
    # each way between 5 and 95 % of it, at even times; two ways are a cycle
    ends = np.array([_way_ends(along, *each) for each in itertools.pairwise(points[: 2 * pairs + 1].tolist())])
    shapes = between_samples(rotation, np.linspace(ends[:, 0], ends[:, 1], SHAPE_POINTS, axis=1))
    cycles = shapes.reshape(pairs, 2 * SHAPE_POINTS, -1)
    cycles = cycles - cycles.mean(axis=1, keepdims=True)
    rest = np.sum((cycles - cycles.mean(axis=0)) ** 2) * pairs / (pairs - 1)
    return float(np.clip(1.0 - rest / np.sum(cycles**2), 0.0, 1.0))


def steady_run(rotation: Floats, points: Indices, first: int, last: int) -> tuple[int, int]:
    """Find how far ways go on like those in the middle, in size, direction and time.

    Parameters
    ----------
    rotation : ndarray of shape (m, 3)
        Rotation vector, degrees.
    points : ndarray of int of shape (k,)
        Turning points.
    first, last : int
        Between these places all ways are taken for what the others are to be like.

    Returns
    -------
    tuple of int
        The first way that belongs to them and the one after the last.
    """
    ways = np.diff(rotation[points], axis=0)
    ways[1::2] *= -1.0
    inside = np.flatnonzero((points[:-1] >= first - 1) & (points[1:] <= last + 1))
    if len(inside) < FEWEST_WAYS:
        return 0, len(ways)
    template = np.median(ways[inside], axis=0)
    ends = [_way_ends(rotation @ template, *each) for each in itertools.pairwise(points.tolist())]
    lasting = np.array([high - low for low, high in ends])
    usual = float(np.median(lasting[inside]))
    along, aside = _along_and_aside(ways, template)
    like = (along > NEXT_ALONG[0]) & (along < NEXT_ALONG[1]) & (aside < NEXT_ASIDE)
    like &= (lasting > NEXT_LASTS[0] * usual) & (lasting < NEXT_LASTS[1] * usual)
    like[inside[0] : inside[-1] + 1] = True
    unlike = np.flatnonzero(~like)
    begin = int(unlike[unlike < inside[0]].max(initial=-1)) + 1
    end = int(unlike[unlike > inside[-1]].min(initial=len(ways)))
    return begin, end
