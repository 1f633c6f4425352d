"""Relative heading of two sensors without a magnetometer, from the axis that they share.

Each attitude filter leaves the heading free, and it drifts. Seen from both sensors the joint's axis points the same
way, so the angle between its two horizontal projections is the heading of one sensor against the other (after Laidig,
Schauer and Seel 2017, doi:10.1109/ICORR.2017.8009375). Turning round and walking rotate both alike and cancel. Where
the axis stands upright it has no heading; then the last known one is carried on and its uncertainty grows.

The recording is whole, so the heading is smoothed in both directions at once: a penalised second difference
(Whittaker 1922, doi:10.1017/S0013091500077853; the mean of a random-walk-rate model) with robust weights.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.smoothing import slow_curve, true_before

__all__ = ["RelativeHeading", "heading_difference_rad", "smooth_relative_heading"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class RelativeHeading:
    """Heading of the distal sensor's world against the proximal one's.

    Parameters
    ----------
    angle_rad : ndarray of shape (m,)
        Rotation about the vertical that takes distal world coordinates to proximal ones, unwrapped.
    standard_uncertainty_rad : ndarray of shape (m,)
        Grows where the axis does not show it.
    observed : ndarray of bool of shape (m,)
        True where the axis is flat enough to show it.
    """

    angle_rad: Floats
    standard_uncertainty_rad: Floats
    observed: NDArray[np.bool_]


def heading_difference_rad(proximal_axis_world: Floats, distal_axis_world: Floats) -> tuple[Floats, Floats]:
    """Angle between the horizontal projections of the axis as both sensors see it, and how well it shows.

    Parameters
    ----------
    proximal_axis_world, distal_axis_world : ndarray of shape (m, 3)
        The axis' direction in each sensor's own world (z up).

    Returns
    -------
    difference_rad : ndarray of shape (m,)
        Rotation about the vertical from the distal to the proximal one, in -pi to pi.
    flatness : ndarray of shape (m,)
        Product of both horizontal lengths: 1 for a level axis, 0 for an upright one.
    """
    px, py = proximal_axis_world[:, 0], proximal_axis_world[:, 1]
    dx, dy = distal_axis_world[:, 0], distal_axis_world[:, 1]
    difference = np.arctan2(py * dx - px * dy, px * dx + py * dy)
    flatness = np.sqrt((px * px + py * py) * (dx * dx + dy * dy))
    return difference, flatness


def _moving_mean(values: Floats, half: int) -> Floats:
    padded = np.concatenate([np.zeros(1), np.cumsum(values)])
    count = len(values)
    low = np.maximum(np.arange(count) - half, 0)
    high = np.minimum(np.arange(count) + half + 1, count)
    return np.asarray(padded[high] - padded[low])


def smooth_relative_heading(
    difference_rad: Floats,
    flatness: Floats,
    usable: NDArray[np.bool_],
    missing: NDArray[np.bool_],
    rate_hz: float,
    *,
    time_constant_s: float,
    drift_rad_s: float,
    spread_rad: float,
) -> RelativeHeading:
    """Smooth the heading difference over the whole recording.

    Parameters
    ----------
    difference_rad, flatness : ndarray of shape (m,)
        From `heading_difference_rad`.
    usable : ndarray of bool of shape (m,)
        False where the sensors were not worn or delivered nothing.
    missing : ndarray of bool of shape (m,)
        True in gaps, over which the heading may jump.
    rate_hz : float
        Rate of these arrays.
    time_constant_s : float
        Changes slower than this are followed.
    drift_rad_s : float
        Standard deviation of the heading's own drift rate, for the growth of its uncertainty.
    spread_rad : float
        Standard deviation of one sample of the difference for a level axis.

    Returns
    -------
    RelativeHeading
        On the same samples.
    """
    weight = np.where(usable, np.clip((flatness - 0.15) / 0.85, 0.0, 1.0) ** 2, 0.0)
    observed = weight > 0.02
    if not observed.any():
        grown = np.asarray(drift_rad_s * np.arange(len(difference_rad)) / rate_hz)
        return RelativeHeading(np.zeros(len(difference_rad)), grown, observed)
    # a coarse circular mean decides the turns, the smoother works on what is left
    half = max(1, round(time_constant_s * rate_hz))
    vector = weight * np.exp(1j * difference_rad)
    coarse = _moving_mean(vector.real, half) + 1j * _moving_mean(vector.imag, half)
    shown = _moving_mean(weight, half) > 1e-6
    filled = np.flatnonzero(shown)
    nearest = filled[np.minimum(true_before(shown), len(filled) - 1)]
    base = np.unwrap(np.angle(coarse[nearest]))
    values = base + np.angle(np.exp(1j * (difference_rad - base)))
    slope = drift_rad_s / spread_rad
    smooth = slow_curve(values, weight, missing, rate_hz, time_constant_s, slope_spread=slope)
    for _ in range(4):
        off = (values - smooth) / (3.0 * spread_rad)
        robust = weight / (1.0 + off**2) ** 2
        smooth = slow_curve(values, robust, missing, rate_hz, time_constant_s, slope_spread=slope)
    seconds = np.arange(len(values)) / rate_hz
    seen = seconds[observed]
    position = true_before(observed)
    before = seconds - seen[np.clip(position - 1, 0, len(seen) - 1)]
    after = seen[np.clip(position, 0, len(seen) - 1)] - seconds
    distance = np.minimum(np.abs(before), np.abs(after))
    # neighbouring samples share their error: the mean over one time constant is about two independent looks
    known = spread_rad / np.sqrt(2.0) / np.sqrt(np.maximum(weight, 0.02))
    uncertainty = np.where(observed, known, spread_rad + drift_rad_s * distance)
    return RelativeHeading(smooth, np.asarray(uncertainty), observed)
