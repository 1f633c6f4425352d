"""Relative heading from looks at it, each with its own standard uncertainty, smoothed forwards and backwards.

Between looks the heading drifts by what the attitude filters leave of the gyroscopes' bias. The model: a drift rate
that wanders about zero (an Ornstein-Uhlenbeck process: the random walk of a bias that the filters keep pulling back)
and white noise on top. The smoother is that of Rauch, Tung and Striebel 1965 (doi:10.2514/3.3166); its covariance is
the heading's uncertainty: small between looks, growing with time where there are none. Looks far off what the others
say lose their weight (iterated reweighting).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.heading import RelativeHeading

__all__ = ["Drift", "Look", "looks_of", "smooth_looks"]

Floats = NDArray[np.float64]

STEP_S = 1.0
# A look counts as showing the heading if it is at least this good.
OBSERVED_RAD = np.radians(25.0)
BASE_S = 20.0
ROBUST = 3.0
ROUNDS = 5
# Without any look the heading may be anything: the standard deviation of a whole turn.
NOTHING_KNOWN_RAD = 2 * np.pi / np.sqrt(12.0)


@dataclass(frozen=True)
class Look:
    """Looks of one kind at the relative heading.

    Parameters
    ----------
    kind : str
        What showed it, in words.
    time_s : ndarray of shape (k,)
        When.
    heading_rad : ndarray of shape (k,)
        Rotation about the vertical from distal world to proximal world.
    standard_uncertainty_rad : ndarray of shape (k,)
        Of each; infinite for no look.
    """

    kind: str
    time_s: Floats
    heading_rad: Floats
    standard_uncertainty_rad: Floats


@dataclass(frozen=True)
class Drift:
    """How the relative heading drifts by itself.

    Parameters
    ----------
    rate_rad_s : float
        Standard deviation of the drift rate.
    time_constant_s : float
        Time over which that rate forgets itself.
    noise_rad_sqrt_s : float
        White noise: standard deviation of the heading after one second.
    """

    rate_rad_s: float = float(np.radians(0.1))
    time_constant_s: float = 60.0
    noise_rad_sqrt_s: float = float(np.radians(0.05))


def looks_of(kind: str, time_s: Floats, heading_rad: Floats, standard_uncertainty_rad: Floats | float) -> Look:
    """Bundle looks, leaving out those that show nothing.

    Parameters
    ----------
    kind : str
        What showed it, in words.
    time_s, heading_rad : ndarray of shape (k,)
        When and what.
    standard_uncertainty_rad : ndarray of shape (k,) or float
        Of each, or of all.

    Returns
    -------
    Look
        Only those with a finite uncertainty.
    """
    spread = np.broadcast_to(np.asarray(standard_uncertainty_rad, dtype=float), np.shape(time_s))
    kept = np.isfinite(spread)
    return Look(kind, np.asarray(time_s)[kept], np.asarray(heading_rad)[kept], spread[kept])


def _wrapped(angle: Floats) -> Floats:
    return np.asarray(angle - 2 * np.pi * np.round(angle / (2 * np.pi)))


def _base(time_s: Floats, look_s: Floats, heading: Floats, information: Floats) -> Floats:
    """Coarse heading on the grid that decides the turns: what the looks near by say together."""
    index = np.clip(np.round((look_s - time_s[0]) / STEP_S).astype(int), 0, len(time_s) - 1)
    vector = np.zeros(len(time_s), dtype=complex)
    np.add.at(vector, index, information * np.exp(1j * heading))
    half = round(BASE_S / STEP_S)
    total = np.convolve(vector, np.ones(2 * half + 1), mode="full")[half : half + len(time_s)]
    known = np.flatnonzero(np.abs(total) > 1e-12 * np.abs(total).max())
    nearest = known[np.clip(np.searchsorted(known, np.arange(len(total))), 0, len(known) - 1)]
    return np.asarray(np.unwrap(np.angle(total[nearest])))


def _smooth(
    values: Floats, information: Floats, jump: NDArray[np.bool_], drift: Drift, dark_rad: float
) -> tuple[Floats, Floats]:
    """Rauch-Tung-Striebel smoother of heading and drift rate on an even grid: mean and variance of the heading.

    Two states, written out in plain numbers: an hour has thousands of steps.
    """
    count = len(values)
    keep = float(np.exp(-STEP_S / drift.time_constant_s))
    rate_noise = drift.rate_rad_s**2 * (1.0 - keep**2)
    heading_noise = drift.noise_rad_sqrt_s**2 * STEP_S + rate_noise * STEP_S**2 / 3.0
    heading, rate = 0.0, 0.0
    hh, hr, rr = dark_rad**2 * 1e2, 0.0, drift.rate_rad_s**2
    filtered, predicted = [], []
    for index, (value, say, lost) in enumerate(zip(values.tolist(), information.tolist(), jump.tolist(), strict=True)):
        if index:
            heading, rate = heading + rate * STEP_S, keep * rate
            hh = hh + 2 * STEP_S * hr + STEP_S**2 * rr + heading_noise
            hr, rr = keep * (hr + STEP_S * rr), keep**2 * rr + rate_noise
            if lost:
                hh += dark_rad**2 * 1e2
        predicted.append((heading, rate, hh, hr, rr))
        if say > 0:
            size = hh + 1.0 / say
            gain_h, gain_r, off = hh / size, hr / size, value - heading
            heading, rate = heading + gain_h * off, rate + gain_r * off
            hh, hr, rr = (1 - gain_h) * hh, (1 - gain_h) * hr, rr - gain_r * hr
        filtered.append((heading, rate, hh, hr, rr))
    mean, variance = np.empty(count), np.empty(count)
    s_h, s_r, s_hh, s_hr, s_rr = filtered[-1]
    mean[-1], variance[-1] = s_h, s_hh
    for index in range(count - 2, -1, -1):
        heading, rate, hh, hr, rr = filtered[index]
        p_h, p_r, p_hh, p_hr, p_rr = predicted[index + 1]
        # C = P F' inv(P predicted), with F = [[1, step], [0, keep]]
        c_h, c_r = hh + STEP_S * hr, keep * hr
        d_h, d_r = hr + STEP_S * rr, keep * rr
        size = p_hh * p_rr - p_hr**2
        g11, g12 = (c_h * p_rr - c_r * p_hr) / size, (c_r * p_hh - c_h * p_hr) / size
        g21, g22 = (d_h * p_rr - d_r * p_hr) / size, (d_r * p_hh - d_h * p_hr) / size
        off_h, off_r = s_h - p_h, s_r - p_r
        e_hh, e_hr, e_rr = s_hh - p_hh, s_hr - p_hr, s_rr - p_rr
        s_h, s_r = heading + g11 * off_h + g12 * off_r, rate + g21 * off_h + g22 * off_r
        s_hh = hh + g11 * (g11 * e_hh + g12 * e_hr) + g12 * (g11 * e_hr + g12 * e_rr)
        s_hr = hr + g21 * (g11 * e_hh + g12 * e_hr) + g22 * (g11 * e_hr + g12 * e_rr)
        s_rr = rr + g21 * (g21 * e_hh + g22 * e_hr) + g22 * (g21 * e_hr + g22 * e_rr)
        mean[index], variance[index] = s_h, s_hh
    return mean, np.maximum(variance, 0.0)


def smooth_looks(
    looks: Sequence[Look],
    time_s: Floats,
    missing: NDArray[np.bool_],
    drift: Drift,
) -> RelativeHeading:
    """Join all looks into one heading over the whole recording.

    Parameters
    ----------
    looks : sequence of Look
        Of any kinds, in any order.
    time_s : ndarray of shape (m,)
        Even times at which the heading is wanted.
    missing : ndarray of bool of shape (m,)
        True in gaps, over which the heading may jump.
    drift : Drift
        How the heading drifts between looks.

    Returns
    -------
    RelativeHeading
        At ``time_s``; without any look the heading is 0 and its standard uncertainty that of a whole turn (104
        degrees).
    """
    grid_s = np.arange(time_s[0], time_s[-1] + STEP_S, STEP_S)
    look_s, heading, spread = (
        np.concatenate([getattr(each, name) for each in looks] or [np.zeros(0)])
        for name in ("time_s", "heading_rad", "standard_uncertainty_rad")
    )
    if len(look_s) == 0:
        unknown = np.full(len(time_s), NOTHING_KNOWN_RAD)
        return RelativeHeading(np.zeros(len(time_s)), unknown, np.zeros(len(time_s), dtype=bool))
    information = 1.0 / np.maximum(spread, 1e-6) ** 2
    index = np.clip(np.round((look_s - grid_s[0]) / STEP_S).astype(int), 0, len(grid_s) - 1)
    gaps = np.searchsorted(grid_s, time_s[missing]) if missing.any() else np.zeros(0, dtype=int)
    jump = np.zeros(len(grid_s), dtype=bool)
    jump[np.clip(gaps, 0, len(grid_s) - 1)] = True
    mean = _base(grid_s, look_s, heading, information)
    variance = np.full(len(grid_s), 0.0)
    robust = np.ones(len(look_s))
    for _ in range(ROUNDS):
        # each look is read within half a turn of what is thought so far
        near = mean[index] + _wrapped(heading - mean[index])
        say = np.bincount(index, robust * information, len(grid_s))
        value = np.bincount(index, robust * information * near, len(grid_s)) / np.maximum(say, 1e-300)
        mean, variance = _smooth(value, np.asarray(say, dtype=float), jump, drift, NOTHING_KNOWN_RAD)
        off = _wrapped(heading - mean[index])
        robust = 1.0 / (1.0 + (off / ROBUST) ** 2 / (spread**2 + variance[index])) ** 2
    uncertainty = np.minimum(np.sqrt(variance), NOTHING_KNOWN_RAD)
    on_time = np.interp(time_s, grid_s, uncertainty)
    seen = np.bincount(index, robust * information, len(grid_s)) > 1.0 / OBSERVED_RAD**2
    place = np.clip(np.round((time_s - grid_s[0]) / STEP_S).astype(int), 0, len(grid_s) - 1)
    return RelativeHeading(np.interp(time_s, grid_s, mean), on_time, seen[place])
