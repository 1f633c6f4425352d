"""Two clocks, fine stage: what each stretch of the recording says about where the other clock stands.

Three kinds of evidence, each a lag with its own standard uncertainty:

- *held together*: one hand holds both sensors, so one rotation takes one's angular rates into the other's (Wahba's
  problem at each lag, solved by a singular value decomposition: Markley 1988, J. Astronaut. Sci. 36(3):245-258, from
  memory). Nothing else in a session agrees so well, and nothing tells the lag so sharply.
- *motion*: both sensors worn on the two sides of a joint. The joint turns one and not the other, but its centre moves
  with both: the specific force there, |a - w' x r - w x (w x r)|, has the same length seen from either sensor, for any
  joint and mounting (Seel, Schauer, Raisch 2012, doi:10.1109/CCA.2012.6402423, for the way to the centre r). So
  walking, turning and stepping tell the lag, whatever the joint does meanwhile.
- *jolts*: shocks that both accelerometers feel. Through a limb they arrive some milliseconds late.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.recording.clock_fit import ClockEvidence, Kind
from imu_rom.recording.clock_search import SensorMotion, binned, jolts
from imu_rom.recording.model import Floats

__all__ = ["FINE_SMOOTH_S", "MOTION_AGREEMENT", "ROUGH_AGREEMENT", "WINDOW_S", "jolt_evidence", "movement_evidence"]

WINDOW_S = 4.0
FINE_HZ = 50.0
FINE_SMOOTH_S = 0.06
# what changes more slowly is gravity's share and the accelerometers' biases
SLOWEST_S = 2.0
# windows in which either sensor turns less say nothing
LEAST_RATE_RAD_S = 0.1
# share of both sensors' power that one rotation explains when a hand holds both
HELD_AGREEMENT = 0.985
# second singular value against the first: a turn about one axis alone may be a coincidence
HELD_VARIETY = 0.1
# the same share in motion: roughly aligned, when the joint's centre is not well known, and finely
ROUGH_AGREEMENT, MOTION_AGREEMENT = 0.6, 0.75
LEAST_MOVING_RAD_S = 0.3
# no window is surer than this of its lag
LEAST_LAG_S = 1e-4
FEWEST_CENTRE_SAMPLES, MOST_CENTRE_SAMPLES = 100, 3000
CENTRE_SCALE_M_S2 = 0.3
SMALLEST_JOLT_M_S2, JOLT_STANDS_OUT = 1.0, 4.0
JOLT_HALF_S = 0.12
JOLT_SMOOTH_S = 0.03
JOLT_AGREEMENT = 0.7
JOLTS_APART_S = 0.25
JOLT_SAMPLES, JOLT_LEAST_S = 0.5, 0.008


@dataclass(frozen=True)
class _Pair:
    """Both sensors in common bins: middles by the reference's clock, forces and rates; NaN where not measured."""

    middle_s: Floats
    forces: tuple[Floats, Floats]
    rates: tuple[Floats, Floats]


def _pair(reference: SensorMotion, other: SensorMotion, offset_s: float, skew: float, smooth_s: float) -> _Pair:
    start_s = max(reference.start_s, offset_s + (1 + skew) * other.start_s)
    stop_s = min(reference.stop_s, offset_s + (1 + skew) * other.stop_s)
    count = max(int((stop_s - start_s) * FINE_HZ), 0)
    edges_s = start_s + np.arange(count + 1) / FINE_HZ
    window = round(smooth_s * FINE_HZ)
    forces: list[Floats] = []
    rates: list[Floats] = []
    for motion, own_s in ((reference, edges_s), (other, (edges_s - offset_s) / (1 + skew))):
        unknown = binned(motion.missing.astype(float), motion, own_s) > 0
        for samples, kept in ((motion.accelerometer_m_s2, forces), (motion.gyroscope_rad_s, rates)):
            values = _smoothed(binned(samples, motion, own_s), window)
            values[unknown] = np.nan
            kept.append(values)
    return _Pair((edges_s[:-1] + edges_s[1:]) / 2, (forces[0], forces[1]), (rates[0], rates[1]))


def _smoothed(values: Floats, window: int) -> Floats:
    """Average over an odd number of samples."""
    if window < 2:
        return values
    from scipy.ndimage import uniform_filter1d  # noqa: PLC0415 - only separate clocks need it

    return np.asarray(uniform_filter1d(values, window | 1, axis=0, mode="nearest"))


@dataclass(frozen=True)
class _Windows:
    """A signal of both sensors cut into windows; the other's reach further by ``reach`` bins on both sides."""

    middle_s: Floats
    first: Floats
    second: Floats
    reach: int


def _starts(pair: _Pair, reach: int) -> NDArray[np.int64]:
    """First bins of the windows in which both sensors were measured and turn."""
    size = round(WINDOW_S * FINE_HZ)
    starts = np.arange(reach, len(pair.middle_s) - size - reach + 1, size)
    speeds = [np.sqrt((rate**2).sum(axis=1)) for rate in pair.rates]
    total = [np.concatenate([[0.0], np.cumsum(np.nan_to_num(speed, nan=-1e9))]) for speed in speeds]
    mean = np.minimum(*[(each[starts + size] - each[starts]) / size for each in total])
    return np.asarray(starts[mean > LEAST_RATE_RAD_S])


def _cut(signals: tuple[Floats, Floats], middle_s: Floats, starts: NDArray[np.int64], reach: int) -> _Windows:
    size = round(WINDOW_S * FINE_HZ)
    one = signals[0][starts[:, None] + np.arange(size)]
    two = signals[1][starts[:, None] + np.arange(-reach, size + reach)]
    known = np.isfinite(one.sum(axis=(1, 2))) & np.isfinite(two.sum(axis=(1, 2)))
    return _Windows(middle_s[starts + size // 2][known], one[known], two[known], reach)


def _lagged_products(first: Floats, second: Floats) -> Floats:
    """Sum of products of (K, n, a) and (K, n + 2r, b) at each of 2r + 1 lags, shape (K, 2r + 1, a, b)."""
    from scipy import fft  # noqa: PLC0415 - only separate clocks need it

    length = fft.next_fast_len(second.shape[1], real=True)
    one, two = (fft.rfft(each, length, axis=1) for each in (first, second))
    product = np.conj(one)[:, :, :, None] * two[:, :, None, :]
    lags = second.shape[1] - first.shape[1] + 1
    return np.asarray(fft.irfft(product, length, axis=1)[:, :lags])


def _lagged_power(second: Floats, size: int) -> Floats:
    total = np.concatenate([np.zeros((len(second), 1)), np.cumsum(np.sum(second**2, axis=2), axis=1)], axis=1)
    return np.asarray(total[:, size:] - total[:, :-size])


def _peak(agreement: Floats) -> tuple[NDArray[np.int64], Floats, NDArray[np.bool_]]:
    """Find the highest lag of each row and its place between samples; False where it lies at an end."""
    at = np.argmax(agreement, axis=1)
    inside = (at > 0) & (at < agreement.shape[1] - 1)
    index = np.clip(at, 1, agreement.shape[1] - 2)
    rows = np.arange(len(at))
    before, top, after = (agreement[rows, index + step] for step in (-1, 0, 1))
    bend = before - 2 * top + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1.0), 0.0)
    return index, np.asarray(index + np.clip(shift, -1, 1)), inside


def _lag_uncertainty_s(residual: Floats, slope: Floats) -> float:
    """Say how sure a lag by least squares is, for residuals that are not white (Newey, West 1987).

    Parameters are of shape (n, k): what is left at the best lag, and the signal's slope in 1/s.
    """
    score = (residual * slope).sum(axis=1)
    information = float((slope**2).sum())
    spread = float((score**2).sum())
    reach = round(0.4 * FINE_HZ)
    for lag in range(1, reach):
        spread += 2 * (1 - lag / reach) * float((score[lag:] * score[:-lag]).sum())
    # a lag that turns the sum negative by chance must not make the window sure of itself
    spread = max(spread, float((score**2).sum()))
    return max(float(np.sqrt(spread) / information), LEAST_LAG_S) if information > 0 else np.inf


def movement_evidence(
    reference: SensorMotion,
    other: SensorMotion,
    offset_s: float,
    skew: float,
    *,
    reach_s: float,
    smooth_s: float = FINE_SMOOTH_S,
    least_agreement: float = MOTION_AGREEMENT,
) -> list[ClockEvidence]:
    """Collect the evidence of movement, window by window.

    Parameters
    ----------
    reference, other : SensorMotion
        Both sensors.
    offset_s, skew : float
        The other clock as assumed: reference time = offset_s + (1 + skew) * stamp.
    reach_s : float
        Largest lag that is looked at.
    smooth_s : float
        Samples are averaged over this time.
    least_agreement : float
        Stretches of motion that agree less are left out.

    Returns
    -------
    list of ClockEvidence
        In order of time.
    """
    pair = _pair(reference, other, offset_s, skew, smooth_s)
    reach = max(2, round(reach_s * FINE_HZ))
    starts = _starts(pair, reach)
    if not len(starts):
        return []
    found = _held(_cut(pair.rates, pair.middle_s, starts, reach))
    held_s = {each.time_s for each in found}
    centre = _centre_forces(pair)
    if centre is not None:
        moved = _moved(_cut(centre, pair.middle_s, starts, reach), least_agreement)
        found += [each for each in moved if each.time_s not in held_s]
    return sorted(found, key=lambda each: each.time_s)


def _held(windows: _Windows) -> list[ClockEvidence]:
    size = windows.first.shape[1]
    products = _lagged_products(windows.first, windows.second)
    values = np.linalg.svd(products, compute_uv=False)
    values[..., 2] *= np.sign(np.linalg.det(products))
    power = (windows.first**2).sum(axis=(1, 2))[:, None] + _lagged_power(windows.second, size)
    agreement = 2 * values.sum(axis=2) / power
    index, place, inside = _peak(agreement)
    found = []
    for row in np.flatnonzero(inside & (agreement.max(axis=1) > HELD_AGREEMENT)).tolist():
        at = index[row]
        if values[row, at, 1] < HELD_VARIETY * values[row, at, 0]:
            continue
        left, _, right = np.linalg.svd(products[row, at])
        turn = left @ np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right))]) @ right
        second = windows.second[row, at : at + size]
        residual, slope = second - windows.first[row] @ turn, np.gradient(second, 1 / FINE_HZ, axis=0)
        # what is left at the nearest bin holds the part of a bin; that is no noise
        residual = residual + slope * (place[row] - at) / FINE_HZ
        own_s = _lag_uncertainty_s(residual, slope)
        found.append(_evidence("held together", windows, row, place[row], own_s, float(agreement[row, at])))
    return found


def _evidence(
    kind: Kind, windows: _Windows, row: int, place: float, standard_uncertainty_s: float, agreement: float
) -> ClockEvidence:
    # a pattern that comes later in the other's samples was given too late a time: it was taken earlier
    lag_s = -(float(place) - windows.reach) / FINE_HZ
    return ClockEvidence(kind, float(windows.middle_s[row]), lag_s, standard_uncertainty_s, agreement)


def _moved(windows: _Windows, least: float) -> list[ClockEvidence]:
    size = windows.first.shape[1]
    products = _lagged_products(windows.first, windows.second)[..., 0, 0]
    power = (windows.first**2).sum(axis=(1, 2))[:, None] + _lagged_power(windows.second, size)
    agreement = 2 * products / np.maximum(power, 1e-12)
    index, place, inside = _peak(agreement)
    found = []
    for row in np.flatnonzero(inside & (agreement.max(axis=1) > least)).tolist():
        second = windows.second[row, index[row] : index[row] + size]
        residual, slope = second - windows.first[row], np.gradient(second, 1 / FINE_HZ, axis=0)
        residual = residual + slope * (place[row] - index[row]) / FINE_HZ
        own_s = _lag_uncertainty_s(residual, slope)
        found.append(_evidence("motion", windows, row, place[row], own_s, float(agreement[row, index[row]])))
    return found


def _across(vectors: Floats) -> Floats:
    """Matrices that give the cross product of each vector with another, shape (n, 3, 3)."""
    found = np.zeros((len(vectors), 3, 3))
    for row, column, axis in ((2, 1, 0), (0, 2, 1), (1, 0, 2)):
        found[:, row, column], found[:, column, row] = vectors[:, axis], -vectors[:, axis]
    return found


def _length(vectors: Floats) -> Floats:
    return np.asarray(np.sqrt(np.einsum("ij,ij->i", vectors, vectors)))


def _centre_forces(pair: _Pair) -> tuple[Floats, Floats] | None:
    """Length of the specific force at the joint's centre as either sensor has it, without what changes slowly."""
    from scipy.ndimage import uniform_filter1d  # noqa: PLC0415 - only separate clocks need it
    from scipy.optimize import least_squares  # noqa: PLC0415

    turns = [np.gradient(rate, 1 / FINE_HZ, axis=0) for rate in pair.rates]
    speed = np.minimum(*[np.sqrt((rate**2).sum(axis=1)) for rate in pair.rates])
    moving = np.flatnonzero(uniform_filter1d(np.nan_to_num(speed), round(FINE_HZ)) > LEAST_MOVING_RAD_S)[::2]
    moving = moving[np.isfinite(sum(each[moving].sum(axis=1) for each in (*pair.forces, *turns)))]
    if len(moving) < FEWEST_CENTRE_SAMPLES:
        return None
    # enough for six numbers, and an hour must not take longer
    moving = moving[:: max(1, len(moving) // MOST_CENTRE_SAMPLES)]

    # what a way to the centre takes from the force is linear in it: the turn's part and that of the turning itself
    arms = [_across(turn) + _across(rate) @ _across(rate) for rate, turn in zip(pair.rates, turns, strict=True)]
    fitted = [(force[moving], arm[moving]) for force, arm in zip(pair.forces, arms, strict=True)]

    def difference(ways: Floats) -> Floats:
        first, second = (
            _length(force - arm @ way) for (force, arm), way in zip(fitted, (ways[:3], ways[3:]), strict=True)
        )
        return np.asarray(first - second)

    def slope(ways: Floats) -> Floats:
        found = []
        for (force, arm), way in zip(fitted, (ways[:3], ways[3:]), strict=True):
            left = force - arm @ way
            found.append(-np.einsum("ij,ijk->ik", left / np.maximum(_length(left), 1e-12)[:, None], arm))
        return np.concatenate([found[0], -found[1]], axis=1)

    # the robust cost has valleys of its own; the plain one leads into the right one more often, not always
    starts = (np.zeros(6), least_squares(difference, np.zeros(6), slope, max_nfev=15).x)
    fits = [
        least_squares(difference, start, slope, loss="cauchy", f_scale=CENTRE_SCALE_M_S2, max_nfev=25)
        for start in starts
    ]
    fit = min(fits, key=lambda each: float(each.cost))
    slow = round(SLOWEST_S * FINE_HZ) | 1
    quick = []
    for force, arm, way in zip(pair.forces, arms, (fit.x[:3], fit.x[3:]), strict=True):
        length = _length(force - arm @ way)
        known = np.isfinite(length)
        filled = np.where(known, length, np.median(length[known]))
        quick.append(np.where(known, filled - uniform_filter1d(filled, slow), np.nan)[:, None])
    return quick[0], quick[1]


def jolt_evidence(
    reference: SensorMotion, other: SensorMotion, offset_s: float, skew: float, *, reach_s: float
) -> list[ClockEvidence]:
    """Collect the evidence of jolts that both accelerometers felt, jolt by jolt.

    Parameters
    ----------
    reference, other : SensorMotion
        Both sensors.
    offset_s, skew : float
        The other clock as assumed.
    reach_s : float
        Largest lag that is looked at.

    Returns
    -------
    list of ClockEvidence
        In order of time.
    """
    rate_hz = max(reference.rate_hz, other.rate_hz, 100.0)
    start_s = max(reference.start_s, offset_s + (1 + skew) * other.start_s)
    stop_s = min(reference.stop_s, offset_s + (1 + skew) * other.stop_s)
    count = int((stop_s - start_s) * rate_hz)
    half, reach = round(JOLT_HALF_S * rate_hz), max(2, round(reach_s * rate_hz))
    if count < 2 * (half + reach) + 1:
        return []
    time_s = start_s + np.arange(count) / rate_hz
    sizes = []
    for motion, own_s in ((reference, time_s), (other, (time_s - offset_s) / (1 + skew))):
        size = jolts(motion) * ~motion.missing
        stamps_s = motion.start_s + np.arange(len(size)) / motion.rate_hz
        envelope = _smoothed(size**2, round(JOLT_SMOOTH_S * motion.rate_hz))
        envelope = _smoothed(np.interp(own_s, stamps_s, envelope), round(JOLT_SMOOTH_S * rate_hz))
        sizes.append(np.sqrt(np.maximum(envelope, 0.0)))
    peaks = _apart(sizes[0], round(JOLTS_APART_S * rate_hz), margin=half + reach)
    if not len(peaks):
        return []
    one = sizes[0][peaks[:, None] + np.arange(-half, half + 1)][..., None]
    two = sizes[1][peaks[:, None] + np.arange(-half - reach, half + reach + 1)][..., None]
    products = _lagged_products(one, two)[..., 0, 0]
    power = _lagged_power(two, one.shape[1])
    agreement = products / np.sqrt(np.maximum((one**2).sum(axis=(1, 2))[:, None] * power, 1e-12))
    # what is loud in both, not only alike
    loud = agreement * np.sqrt(power)
    _, place, inside = _peak(loud)
    rows = np.arange(len(peaks))
    top = np.argmax(loud, axis=1)
    felt = two[..., 0].max(axis=1) > SMALLEST_JOLT_M_S2
    slower_hz = min(reference.rate_hz, other.rate_hz)
    standard_uncertainty_s = max(JOLT_SAMPLES / slower_hz, JOLT_LEAST_S)
    return [
        ClockEvidence(
            "jolt",
            float(time_s[peaks[row]]),
            -(float(place[row]) - reach) / rate_hz,
            standard_uncertainty_s,
            float(agreement[row, top[row]]),
        )
        for row in rows[inside & felt & (agreement[rows, top] > JOLT_AGREEMENT)]
    ]


def _apart(size: Floats, apart: int, *, margin: int) -> NDArray[np.int64]:
    """Find the jolts: larger than all around them."""
    from scipy.ndimage import maximum_filter1d  # noqa: PLC0415 - only separate clocks need it

    largest = maximum_filter1d(size, 2 * apart + 1)
    # shaking goes on, a jolt is over
    around = _smoothed(size, 8 * apart)
    peaks = np.flatnonzero((size >= largest) & (size > np.maximum(SMALLEST_JOLT_M_S2, JOLT_STANDS_OUT * around)))
    return np.asarray(peaks[(peaks >= margin) & (peaks < len(size) - margin)])
