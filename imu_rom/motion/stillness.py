"""Still stretches, and whether a person or a table keeps still.

A stretch is still where both sensors' slow motion stops: inclinations stay put and the slow part of the angular rate is
small; fast wobble of the soft tissue does not count. A standing person sways at a fraction of a hertz, so the slow part
of the angular rate carries more than its share of white noise; a sensor on a table has white noise alone.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.coarse import CoarseMotion, moving_mean

__all__ = ["Stillness", "find_still_stretches", "sway_ratio", "tilt_from_vertical_deg"]

Floats = NDArray[np.float64]

SLOW_S = 1.0
LOOK_S = 1.6
LARGEST_INCLINATION_SPREAD_RAD = np.radians(1.0)
LARGEST_SLOW_RATE_RAD_S = np.radians(5.0)
SWAY_RATIO = 4.0
SMOOTH = 0.35
LARGEST_NOISE_RAD_S = np.radians(1.5)


@dataclass(frozen=True)
class Stillness:
    """One still stretch.

    Parameters
    ----------
    start, stop : int
        First block and the one after the last.
    proximal_sway, distal_sway : float
        Ratio of the slow part of the angular rate to its share of white noise.
    """

    start: int
    stop: int
    proximal_sway: float
    distal_sway: float

    @property
    def sways(self) -> bool:
        """True where either sensor moves as a living body does."""
        return max(self.proximal_sway, self.distal_sway) > SWAY_RATIO


def tilt_from_vertical_deg(up: Floats) -> float:
    """Angle between the sensor's z axis and the vertical over a stretch.

    Parameters
    ----------
    up : ndarray of shape (m, 3)
        Directions to the sky in sensor axes.

    Returns
    -------
    float
        Degrees, 0 to 180.
    """
    mean = up.mean(axis=0)
    return float(np.degrees(np.arccos(np.clip(mean[2] / np.linalg.norm(mean), -1, 1))))


def sway_ratio(rate: Floats, rate_hz: float) -> float:
    """Slow part of the angular rate over its share of white noise.

    Parameters
    ----------
    rate : ndarray of shape (m, 3)
        Angular rate over a still stretch, rad/s.
    rate_hz : float
        Its rate.

    Returns
    -------
    float
        About 1 for white noise, whatever its size; far above for sway and for wobbling flesh. 0 where the stretch is
        too short to tell.
    """
    width = max(2, round(0.6 * rate_hz))
    count = len(rate) // width
    # a partner that stands in for a missing sensor measures exactly nothing
    if count < 3 or not rate.any():
        return 0.0
    blocks = rate[: count * width].reshape(count, width, 3)
    slow = blocks.mean(axis=1).var(axis=0, ddof=1)
    # differences of neighbours feel the white noise and little of the sway
    white = np.diff(rate, axis=0).var(axis=0) / 2.0
    # what is smooth from sample to sample (wobbling flesh) is no white noise either, and no table
    smoothness = 1.0 - np.sum(white) / (np.sum(rate.var(axis=0)) + 1e-14)
    # nor is what shakes by far more than a sensor's own noise
    shaking = float(np.sqrt(np.sum(rate.var(axis=0)))) / LARGEST_NOISE_RAD_S
    return float(
        max(np.sum(slow) * width / (np.sum(white) + 1e-14), SWAY_RATIO * smoothness / SMOOTH, SWAY_RATIO * shaking)
    )


def find_still_stretches(motion: CoarseMotion, shortest_s: float) -> list[Stillness]:
    """List the stretches in which both sensors keep still.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    shortest_s : float
        Shorter stretches are left out.

    Returns
    -------
    list of Stillness
        In time order.
    """
    slow, look = (max(1, round(each * motion.rate_hz)) for each in (SLOW_S, LOOK_S))
    still = ~motion.missing
    for rate, up in ((motion.proximal_rate, motion.proximal_up), (motion.distal_rate, motion.distal_up)):
        slow_rate = moving_mean(rate, slow)
        slow_up = moving_mean(up, slow)
        spread = np.maximum((moving_mean(slow_up**2, look) - moving_mean(slow_up, look) ** 2).sum(axis=1), 0.0)
        still = still & (np.einsum("ij,ij->i", slow_rate, slow_rate) < LARGEST_SLOW_RATE_RAD_S**2)
        still = still & (spread < LARGEST_INCLINATION_SPREAD_RAD**2)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], still.astype(np.int8), [0]])))
    found = []
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if stop - start >= shortest_s * motion.rate_hz:
            ratios = [
                sway_ratio(each[start:stop], motion.rate_hz) for each in (motion.proximal_rate, motion.distal_rate)
            ]
            found.append(Stillness(start, stop, *ratios))
    return found
