"""Repeated movement in a rotation vector over time: its direction, its turning points and how alike the cycles are.

Several readings of the same movement are tried: one for each period at which the movement resembles itself, and one
without any period. Each reading is a direction in the three-dimensional rotation, the turning points along it and
the cycles between them. The reading is chosen by evidence: the finest one whose cycles are as alike as those of any
other. A repetition with two peaks fails that at half its period, since each second half differs in some direction, or
else in the acceleration upwards: a limb that turns to and fro on its way up and again on its way down.

No number of repetitions is expected anywhere here.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.excursion_shape import gaussian_smooth
from imu_rom.motion.movement import turning_points
from imu_rom.motion.ways import FEWEST_WAYS, SHAPE_POINTS, alike_runs, between_samples, regularity_of, ways_between

__all__ = ["Cycles", "find_cycles", "follow_cycles"]

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

SMOOTH_S = 0.08
# Drift (heading, posture) is slower than this.
DRIFT_S = 5.0
SHORTEST_PERIOD_S, LONGEST_PERIOD_S = 0.4, 20.0
LONGEST_PERIOD_SHARE = 0.6
# Periods at which the movement resembles itself this much, and as a share of the best resemblance.
RESEMBLANCE, RESEMBLANCE_SHARE = 0.25, 0.5
MOST_PERIODS = 5
# Around a period: pass the fundamental, damp the second harmonic to a fifth of it, take drift off.
BAND_LOW, BAND_HIGH = 0.16, 0.80
HYSTERESIS_SHARE = 0.28
# Odd and even cycles differ where telling them apart explains this share of the movement more. In sets of real people
# (the tuned ones of tests/benchmarks/repetitions.py) it was 0.02 at the most.
PARITY_SHARE, PARITY_ALIKE, FEWEST_FOR_PARITY = 0.20, 0.50, 8
PARITY_SMOOTH, PARITY_DRIFT = 0.08, 0.80
# Less than this is noise, wobble, or what an inclination that is a degree off makes of gravity.
PARITY_DEG, PARITY_M_S2 = 1.0, 0.20
WHOLE_SHARE = 0.4
# A last way that goes on to elsewhere arrives where it has gone this share of the others, within this many of their
# times, without going back first.
ARRIVED, ARRIVED_ASIDE, ARRIVED_FAR, ARRIVED_BACK, LONGEST_ARRIVAL = 0.85, 0.3, 1.3, 0.2, 2.0
LEAST_PERIOD_SHARE = 0.7
REFINE_SMOOTH = 0.06
# Readings whose cycles are alike to within this of the best are equally good.
AS_GOOD = 0.12
# A reading that covers much less of the stretch than another is none of it; more ways than this share are the same.
LONG_SHARE, SAME_SHARE, AS_ALIKE = 0.7, 0.75, 0.005
# Two cycles are alike by chance more easily than twenty.
LEAST_REGULARITY, MORE_FOR_FEW = 0.40, 0.30


@dataclass(frozen=True)
class Cycles:
    """One reading of a repeated movement.

    Parameters
    ----------
    signal_deg : ndarray of shape (m,)
        Lightly smoothed rotation along the main direction; sign and zero arbitrary, drift left in.
    points : ndarray of int of shape (k,)
        Alternating turning points of it, from the first to the last way that is like the others. The first and last
        may be where the stretch begins and ends.
    shares : ndarray of shape (k - 1,)
        Size of each way over the median way's, along the main direction.
    regularity : float
        Share of the movement within the cycles that their mean shape explains, 0 to 1.
    period : float or None
        Period in samples about which the movement was filtered to find the turning points; None: it wasn't.
    direction : ndarray of shape (3,)
        Main direction, a unit vector.
    hysteresis_deg : float
        A turn back by less was no turning point.
    way_deg : ndarray of shape (3,)
        Median way, from an even to an odd turning point.
    halves : bool
        True where each second cycle differs from the one before: two of them are a repetition.
    others : tuple of tuple of int and float
        Ways and regularity of the readings that were not chosen.
    """

    signal_deg: Floats
    points: Indices
    shares: Floats
    regularity: float
    period: float | None
    direction: Floats
    hysteresis_deg: float
    way_deg: Floats
    halves: bool = False
    others: tuple[tuple[int, float], ...] = ()

    @property
    def ways(self) -> int:
        """Number of ways out or back between the turning points."""
        return len(self.points) - 1


def _smooth(values: Floats, width: float) -> Floats:
    return np.stack([gaussian_smooth(each, width) for each in values.T], axis=1)


def _lightly_smooth(rotation: Floats, rate_hz: float, cut: tuple[bool, bool]) -> Floats:
    """Smooth; where measuring begins or ends, as if the movement went on: held, a way that is cut would shrink."""
    width = SMOOTH_S * rate_hz
    room = min(len(rotation) - 1, max(1, round(3 * width)))
    before = 2.0 * rotation[0] - rotation[room:0:-1] if cut[0] else np.repeat(rotation[:1], room, axis=0)
    after = 2.0 * rotation[-1] - rotation[-2 : -room - 2 : -1] if cut[1] else np.repeat(rotation[-1:], room, axis=0)
    return _smooth(np.concatenate([before, rotation, after]), width)[room : room + len(rotation)]


def _resemblance(values: Floats, lags: int) -> Floats:
    """Correlation of a movement with itself, all directions together, at the lags 0, 1, ... samples."""
    count = len(values)
    size = 1 << int(np.ceil(np.log2(2 * count)))
    spectrum = np.fft.rfft(values, size, axis=0)
    product = np.fft.irfft((spectrum * spectrum.conj()).sum(axis=1), size)[:lags]
    energy = np.concatenate([[0.0], np.cumsum(np.einsum("ij,ij->i", values, values))])
    lag = np.arange(lags)
    return np.asarray(product / np.sqrt((energy[count - lag]) * (energy[-1] - energy[lag]) + 1e-9))


def _periods(steady: Floats, rate_hz: float) -> list[float]:
    """Periods in samples at which the movement resembles itself, the shortest first."""
    lags = int(min(LONGEST_PERIOD_S * rate_hz, LONGEST_PERIOD_SHARE * len(steady)))
    first = int(SHORTEST_PERIOD_S * rate_hz)
    if lags < first + 3:
        return []
    alike = _resemblance(steady, lags)
    middle = alike[first:-1]
    peaks = np.flatnonzero((middle[1:-1] >= middle[:-2]) & (middle[1:-1] > middle[2:])) + 1 + first
    if len(peaks) == 0:
        return []
    kept = peaks[alike[peaks] > max(RESEMBLANCE, RESEMBLANCE_SHARE * alike[peaks].max())]
    return [float(each) for each in kept[:MOST_PERIODS]]


def _main_directions(values: Floats) -> tuple[Floats, Floats]:
    centred = values - values.mean(axis=0)
    spread, directions = np.linalg.eigh(centred.T @ centred / len(centred))
    return directions[:, ::-1].T, np.sqrt(np.maximum(spread[::-1], 0.0))


def _refined(points: Indices, signal: Floats) -> Indices:
    """Move turning points of a filtered signal to the extremes of the signal itself nearby."""
    if len(points) < 3:
        return points
    refined = points.copy()
    rises = signal[points[1]] > signal[points[0]]
    for position, point in enumerate(points.tolist()):
        before = point - points[position - 1] if position else point
        after = points[position + 1] - point if position < len(points) - 1 else len(signal) - 1 - point
        room = [int(0.35 * each) for each in (before, after)]
        # both ends of the stretch: as far out as the movement goes
        low = point - room[0] if position else max(0, point - int(points[1] - points[0]))
        high = point + room[1] if position < len(points) - 1 else min(len(signal) - 1, 2 * point - int(points[-2]))
        part = signal[low : high + 1]
        is_high = (position % 2 == 1) == rises
        refined[position] = low + int(np.argmax(part) if is_high else np.argmin(part))
    return refined if (np.diff(refined) > 0).all() else points


def _alternates(channels: Floats, points: Indices, smallest: float) -> bool:
    """Whether odd and even cycles have shapes of their own, in channels that move at all (RMS of smallest or more)."""
    period = 2.0 * float(np.median(np.diff(points)))
    steady = _smooth(channels, PARITY_SMOOTH * period)
    steady = steady - _smooth(steady, PARITY_DRIFT * period)
    whole_cycles = points[::2]
    where = np.linspace(whole_cycles[:-1], whole_cycles[1:], 2 * SHAPE_POINTS, axis=1)
    shapes = between_samples(steady, where).swapaxes(1, 2)
    number = len(shapes) // 2 * 2
    if number < FEWEST_FOR_PARITY:
        return False
    shapes = shapes[:number] - shapes[:number].mean(axis=(0, 2), keepdims=True)
    whole = float(np.sum(shapes**2))
    if whole < smallest**2 * number * shapes.shape[2]:
        return False
    one = float(np.sum((shapes - shapes.mean(axis=0)) ** 2)) * number / (number - 1)
    two = sum(float(np.sum((each - each.mean(axis=0)) ** 2)) for each in (shapes[::2], shapes[1::2]))
    two *= number / (number - 2)
    return (one - two) / whole > PARITY_SHARE + 1.0 / number and two / whole < 1.0 - PARITY_ALIKE


def _filtered(rotation: Floats, period: float | None) -> tuple[Floats, Floats]:
    """Movement about a period, and the movement itself without what is much faster."""
    if period is None:
        return rotation, rotation
    low = _smooth(rotation, BAND_LOW * period)
    return low - _smooth(low, BAND_HIGH * period), _smooth(rotation, REFINE_SMOOTH * period)


def _reading(rotation: Floats, period: float | None, smallest_deg: float, cut: tuple[bool, bool]) -> Cycles | None:
    filtered, smoothed = _filtered(rotation, period)
    directions, spread = _main_directions(filtered)
    # the swing of a sine is 2 sqrt(2) times its RMS
    hysteresis_deg = HYSTERESIS_SHARE * 2.83 * spread[0]
    found = turning_points(filtered @ directions[0], hysteresis_deg)
    points = _refined(found.index, smoothed @ directions[0])
    if len(points) <= FEWEST_WAYS:
        return None
    ways = ways_between(rotation, points, cut)
    runs = alike_runs(ways, np.median(ways, axis=0))
    if not runs:
        return None
    first, last = max(runs, key=lambda run: run[1] - run[0])
    cycles = _cycles(rotation, points[first : last + 1], ways[first:last], period, directions[0], hysteresis_deg)
    if cycles is None or np.linalg.norm(cycles.way_deg) < smallest_deg:
        return None
    if period is not None and 2.0 * np.median(np.diff(cycles.points)) < LEAST_PERIOD_SHARE * period:
        return None  # these are the cycles of a shorter period, which its own filter shows better
    return cycles


def _arrival(rotation: Floats, place: int, way: Floats, longest: int) -> int | None:
    """Where the movement arrives that leaves a turning point along a way but then goes on to elsewhere."""
    moved = rotation[place : place + longest + 1] - rotation[place]
    length = float(np.linalg.norm(way))
    along = moved @ way / length**2
    aside = np.linalg.norm(moved - along[:, None] * way, axis=1) / length
    there = np.flatnonzero((along > ARRIVED) & (aside < ARRIVED_ASIDE))
    if len(there) == 0 or (along[: there[0]] < -ARRIVED_BACK).any():
        return None
    stays = there[(along[there] < ARRIVED_FAR) & (there <= there[0] + 0.5 * longest)]
    return place + int(stays[np.argmax(along[stays])]) if len(stays) else None


def _cycles(
    rotation: Floats, points: Indices, ways: Floats, period: float | None, direction: Floats, hysteresis_deg: float
) -> Cycles | None:
    if len(ways) < FEWEST_WAYS:
        return None
    median = np.median(ways, axis=0)
    # signed along each way: the first goes along the median one if its number is even
    first_sign = 1.0 if (rotation[points[1]] - rotation[points[0]]) @ median > 0 else -1.0
    last_sign = first_sign * (-1.0) ** (len(ways) - 1)
    longest = int(LONGEST_ARRIVAL * np.median(np.diff(points)))
    after = _arrival(rotation, int(points[-1]), -last_sign * median, longest)
    before = _arrival(rotation[::-1], len(rotation) - 1 - int(points[0]), first_sign * median, longest)
    if after is not None:
        points = np.append(points, after)
    if before is not None:
        points = np.insert(points, 0, len(rotation) - 1 - before)
    along = np.abs(np.diff(rotation[points] @ direction))
    return Cycles(
        signal_deg=rotation @ direction,
        points=points,
        shares=along / np.median(along),
        regularity=regularity_of(rotation, rotation @ direction, points),
        period=period,
        direction=direction,
        hysteresis_deg=hysteresis_deg,
        way_deg=median,
    )


def follow_cycles(
    rotation_deg: Floats, rate_hz: float, seed: Cycles, first: int, cut: tuple[bool, bool] = (False, False)
) -> Cycles | None:
    """Follow a repeated movement that was found in a part of a stretch to both sides.

    Parameters
    ----------
    rotation_deg : ndarray of shape (m, 3)
        Rotation vector over the whole stretch, about the mean attitude of that part, degrees.
    rate_hz : float
        Its rate.
    seed : Cycles
        What was found in the part.
    first : int
        Where the part begins in the stretch.
    cut : tuple of bool
        True where measuring begins, or ends, with the stretch.

    Returns
    -------
    Cycles or None
        The run of ways that holds most of the part's; None where it is no longer than the part's.
    """
    rotation = _lightly_smooth(rotation_deg, rate_hz, cut)
    filtered, smoothed = _filtered(rotation, seed.period)
    found = turning_points(filtered @ seed.direction, seed.hysteresis_deg)
    points = _refined(found.index, smoothed @ seed.direction)
    if len(points) <= FEWEST_WAYS:
        return None
    ways = ways_between(rotation, points, cut)
    begin, end = first + int(seed.points[0]), first + int(seed.points[-1])
    within = (points[:-1] >= begin - 1) & (points[1:] <= end + 1)
    if np.sum(ways[within] @ seed.way_deg) < 0:
        ways = -ways
    runs = alike_runs(ways, seed.way_deg)
    shared = [int(within[run[0] : run[1]].sum()) for run in runs]
    if not runs or max(shared) == 0:
        return None
    run = runs[int(np.argmax(shared))]
    return _cycles(
        rotation, points[run[0] : run[1] + 1], ways[run[0] : run[1]], seed.period, seed.direction, seed.hysteresis_deg
    )


def find_cycles(
    rotation_deg: Floats,
    rate_hz: float,
    smallest_deg: float,
    upward_m_s2: Floats | None = None,
    cut: tuple[bool, bool] = (False, False),
) -> Cycles | None:
    """Find the repeated movement in a stretch.

    Parameters
    ----------
    rotation_deg : ndarray of shape (m, 3)
        Rotation vector about a mean attitude, degrees.
    rate_hz : float
        Its rate, about 25 Hz.
    smallest_deg : float
        A smaller movement is no repetition.
    upward_m_s2 : ndarray of shape (m,), optional
        Acceleration upwards, which may tell the halves of a repetition apart where the turning is the same in both.
    cut : tuple of bool
        True where measuring begins, or ends, with the stretch.

    Returns
    -------
    Cycles or None
        The reading with the best evidence; None where nothing is repeated at least twice.
    """
    if len(rotation_deg) < 3:
        return None
    rotation = _lightly_smooth(rotation_deg, rate_hz, cut)
    steady = rotation - _smooth(rotation, DRIFT_S * rate_hz)
    readings = [
        each
        for period in (None, *_periods(steady, rate_hz))
        if (each := _reading(rotation, period, smallest_deg, cut)) is not None
        and each.regularity >= LEAST_REGULARITY + MORE_FOR_FEW / (each.ways // 2 - 1)
    ]
    if not readings:
        return None
    for number, each in enumerate(readings):
        alternates = _alternates(rotation, each.points, PARITY_DEG)
        if upward_m_s2 is not None:
            alternates |= _alternates(upward_m_s2[:, None], each.points, PARITY_M_S2)
        readings[number] = replace(each, halves=alternates)
    # whole repetitions are better than halves to be put together
    most = max((each.ways for each in readings if each.halves), default=0)
    readings = [each for each in readings if not each.halves and each.ways > WHOLE_SHARE * most] or readings
    lasts = [each.points[-1] - each.points[0] for each in readings]
    long = [each for each, its in zip(readings, lasts, strict=True) if its >= LONG_SHARE * max(lasts)]
    best = max(each.regularity for each in long)
    good = [each for each in long if each.regularity >= best - AS_GOOD]
    most = max(each.ways for each in good)
    # the same cycles, read with other filters: those that are most alike, then the one that leaves fewest out
    same = [each for each in good if each.ways > SAME_SHARE * most]
    best = max(each.regularity for each in same)
    chosen = max((each for each in same if each.regularity > best - AS_ALIKE), key=lambda each: each.ways)
    others = tuple((each.ways, each.regularity) for each in readings if each is not chosen)
    return replace(chosen, others=others)
