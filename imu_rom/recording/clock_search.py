"""Two clocks, coarse stage: about where one sensor's recording lies on the other's clock, wherever that may be.

What both sensors share at any mounting and any posture is when there is movement and when there are jolts. So the
logarithms of the angular speed and of the jolts are correlated. Each chunk of the reference is correlated with the
whole other recording, and the chunks' correlations are added along straight lines offset + skew * time (a Radon
transform), so that a clock that drifts by more than the width of a peak does not smear it.

The correlation C(f, g) at each lag is divided by the square root of C(f^2, g^2), its variance were the two signals
independent there, and by the spread that these ratios have over all lags: what is left is comparable between
recordings of any length, overlap and share of rest.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.recording.model import Floats

__all__ = ["ClockCandidate", "SensorMotion", "binned", "clock_candidates", "jolts"]

BIN_S = 0.05
CHUNK_S = 100.0
# what changes more slowly (a set, a rest) correlates at lags of seconds too, and only blurs the peak
SLOW_S = 8.0
# below this overlap a coincidence is as likely as a match
SHORTEST_OVERLAP_S = 10.0
# candidates closer than this are one and the same peak
SAME_PEAK_S = 0.6
SPEED_RAD_S, JOLT_M_S2 = 0.1, 1.0
SKEW_DISCOUNT = 0.25
# a limb's own movement is slower than this, a jolt is not
JOLT_S = 0.09


@dataclass(frozen=True)
class SensorMotion:
    """What one sensor measured, evenly by its own clock.

    Parameters
    ----------
    start_s : float
        Stamp of the first sample.
    rate_hz : float
        Samples a second by its own clock.
    accelerometer_m_s2, gyroscope_rad_s : ndarray of shape (n, 3)
        In sensor axes, no NaN.
    missing : ndarray of bool of shape (n,)
        Samples that were not measured.
    """

    start_s: float
    rate_hz: float
    accelerometer_m_s2: Floats
    gyroscope_rad_s: Floats
    missing: NDArray[np.bool_]

    @property
    def stop_s(self) -> float:
        """Stamp of the last sample."""
        return self.start_s + (len(self.missing) - 1) / self.rate_hz


@dataclass(frozen=True)
class ClockCandidate:
    """Where the other clock may lie: reference time = offset_s + (1 + skew) * stamp.

    Parameters
    ----------
    offset_s : float
        Reference time at the other clock's zero.
    skew : float
        How much longer a second of the other clock is.
    score : float
        Correlation in units of its spread over all lags.
    """

    offset_s: float
    skew: float
    score: float


def binned(values: Floats, motion: SensorMotion, edges_s: Floats) -> Floats:
    """Average a sensor's samples between given stamps; each sample stands for the time around its stamp.

    Parameters
    ----------
    values : ndarray of shape (n,) or (n, k)
        Samples.
    motion : SensorMotion
        Whose samples; gives their stamps.
    edges_s : ndarray of shape (m + 1,)
        Edges of the bins, stamps of that sensor's clock.

    Returns
    -------
    ndarray of shape (m,) or (m, k)
        Means; outside the recording the nearest samples fade to zero.
    """
    columns = values.reshape(len(values), -1).T
    position = np.clip((edges_s - motion.start_s) * motion.rate_hz + 0.5, 0.0, len(values))
    whole = np.minimum(position.astype(np.int64), len(values) - 1)
    width = np.diff(edges_s) * motion.rate_hz
    means = []
    for column in columns:
        total = np.concatenate([[0.0], np.cumsum(column)])
        means.append(np.diff(total[whole] + (position - whole) * column[whole]) / width)
    return np.asarray(means).T.reshape(len(edges_s) - 1, *values.shape[1:])


def _features(motion: SensorMotion) -> Floats:
    """Logarithms of angular speed and jolts of one sensor in bins, each without its slow part, shape (2, m)."""
    rate = motion.gyroscope_rad_s
    speed = np.log1p(np.sqrt(np.einsum("ij,ij->i", rate, rate)) / SPEED_RAD_S)
    jolt = np.log1p(jolts(motion) / JOLT_M_S2)
    measured = (~motion.missing).astype(np.float64)
    count = max(1, int((motion.stop_s - motion.start_s) / BIN_S))
    edges_s = np.asarray(motion.start_s + np.arange(count + 1) * BIN_S, dtype=np.float64)
    share = binned(measured, motion, edges_s)
    features = []
    for values in (speed, jolt):
        mean = binned(values * measured, motion, edges_s) / np.maximum(share, 1e-9)
        mean[share < 0.5] = np.nan
        quick = mean - _moving_mean(mean, round(SLOW_S / BIN_S))
        quick[~np.isfinite(quick)] = 0.0
        size = float(np.sqrt(np.mean(quick**2)))
        features.append(quick / size if size > 0 else quick)
    return np.asarray(features)


def jolts(motion: SensorMotion) -> Floats:
    """Size of what is too quick for a limb's own movement in the length of the specific force.

    Parameters
    ----------
    motion : SensorMotion
        One sensor.

    Returns
    -------
    ndarray of shape (n,)
        In m/s^2, 0 or more.
    """
    force = motion.accelerometer_m_s2
    size = np.sqrt(np.einsum("ij,ij->i", force, force))
    return np.asarray(np.abs(size - _moving_mean(size, max(3, round(JOLT_S * motion.rate_hz)))))


def _moving_mean(values: Floats, window: int) -> Floats:
    """Centred mean over a window that shrinks at the ends; NaN is left out."""
    known = np.isfinite(values)
    total = np.concatenate([[0.0], np.cumsum(np.where(known, values, 0.0))])
    counted = np.concatenate([[0.0], np.cumsum(known)])
    low = np.maximum(np.arange(len(values)) - window // 2, 0)
    high = np.minimum(low + window, len(values))
    return np.asarray((total[high] - total[low]) / np.maximum(counted[high] - counted[low], 1))


def _correlations(reference: Floats, other: Floats, chunks: Sequence[slice]) -> Floats:
    """Correlate each chunk with the whole other recording, shape (chunks, lags); lag 0 at ``other.shape[-1] - 1``.

    The lag is by how many bins the other recording's start lies after the reference's.
    """
    from scipy import fft  # noqa: PLC0415 - only separate clocks need it

    lags = reference.shape[-1] + other.shape[-1] - 1
    length = fft.next_fast_len(lags, real=True)
    reversed_other = fft.rfft(other[..., ::-1], length)
    found = np.empty((len(chunks), lags))
    for row, chunk in enumerate(chunks):
        only = np.zeros_like(reference)
        only[..., chunk] = reference[..., chunk]
        product = (fft.rfft(only, length) * reversed_other).sum(axis=0)
        found[row] = fft.irfft(product, length)[:lags]
    return found


def clock_candidates(
    reference: SensorMotion, other: SensorMotion, largest_skew: float, *, most: int = 5
) -> tuple[ClockCandidate, ...]:
    """Find where the other sensor's recording may lie on the reference's clock.

    Parameters
    ----------
    reference, other : SensorMotion
        Both sensors.
    largest_skew : float
        Largest difference of the rates of both clocks, as a share.
    most : int
        So many candidates at most.

    Returns
    -------
    tuple of ClockCandidate
        Best first; empty where the recordings can't overlap.
    """
    first, second = _features(reference), _features(other)
    count, shift = first.shape[1], second.shape[1] - 1
    size = max(1, round(CHUNK_S / BIN_S))
    chunks = [slice(start, min(start + size, count)) for start in range(0, count, size)]
    products = _correlations(first, second, chunks)
    variance = _correlations(first**2, second**2, [slice(0, count)])[0]
    lag = np.arange(products.shape[1]) - shift
    overlap_s = (np.minimum(count, lag + second.shape[1]) - np.maximum(0, lag)) * BIN_S
    shortest_s = min(SHORTEST_OVERLAP_S, 0.5 * BIN_S * min(first.shape[1], second.shape[1]))
    allowed = (overlap_s >= shortest_s) & (variance > 1e-9)
    if not allowed.any():
        return ()
    spread = np.sqrt(np.maximum(variance, 1e-9))
    middle_s = np.asarray([(each.start + each.stop) / 2 for each in chunks]) * BIN_S
    centre_s = float(np.mean(middle_s))
    reach_s = max(float(np.max(np.abs(middle_s - centre_s))), BIN_S)
    steps = int(np.ceil(largest_skew * reach_s / (2 * BIN_S)))
    skews = np.linspace(-largest_skew, largest_skew, 2 * steps + 1) if steps else np.zeros(1)
    best, best_skew, scale = np.full(len(lag), -np.inf), np.zeros(len(lag)), 1.0
    for skew in sorted(skews, key=abs):
        total = np.zeros(len(lag))
        for row, at_s in zip(products, middle_s, strict=True):
            moved = round(skew * (at_s - centre_s) / BIN_S)
            # the other clock's second is longer: late in the recording its start seems to lie later still
            total += np.roll(row, -moved)
        score = total / spread
        if skew == 0.0:
            scale = float(np.median(np.abs(score[allowed]))) / 0.6745
        # a large skew must earn its place: with few events it can always be bent to fit one more
        score *= 1 - SKEW_DISCOUNT * abs(skew) / largest_skew
        better = score > best
        best[better], best_skew[better] = score[better], skew
    best[~allowed] = -np.inf
    return tuple(_peaks(best / scale, best_skew, lag, (reference, other), centre_s, most))


def _peaks(
    score: Floats,
    skews: Floats,
    lag: NDArray[np.int64],
    both: tuple[SensorMotion, SensorMotion],
    centre_s: float,
    most: int,
) -> list[ClockCandidate]:
    score = score.copy()
    reference, other = both
    found: list[ClockCandidate] = []
    apart = round(SAME_PEAK_S / BIN_S)
    for _ in range(most):
        at = int(np.argmax(score))
        if not np.isfinite(score[at]) or score[at] <= 0:
            break
        skew = float(skews[at])
        # at the centre of the reference the other clock is this much behind
        centre_stamp_s = other.start_s + centre_s - lag[at] * BIN_S
        offset_s = reference.start_s + centre_s - (1 + skew) * centre_stamp_s
        found.append(ClockCandidate(offset_s, skew, float(score[at])))
        score[max(0, at - apart) : at + apart + 1] = -np.inf
    return found
