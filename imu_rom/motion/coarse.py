"""Both sensors' motion at a low rate: enough to find poses, sets and the axis, and quick to look through.

Samples are averaged in blocks (no aliasing of vibration into the slow motion that is looked for); the joint angle
itself is computed from every sample.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import up_in_sensor
from imu_rom.motion.orientation import Attitude
from imu_rom.recording.model import freeze

__all__ = ["CoarseMotion", "block_mean", "coarse_motion", "moving_mean"]

Floats = NDArray[np.float64]
COARSE_RATE_HZ = 25.0
STEADY_S = 0.3


@dataclass(frozen=True)
class CoarseMotion:
    """Both sensors at about 25 Hz.

    Parameters
    ----------
    rate_hz : float
        Blocks a second.
    block : int
        Samples in a block.
    proximal_rate, distal_rate : ndarray of shape (m, 3)
        Angular rate in rad/s, sensor axes, the filter's bias estimate taken off.
    proximal_up, distal_up : ndarray of shape (m, 3)
        Direction to the sky in sensor axes, from the attitude filter.
    proximal_quaternion, distal_quaternion : ndarray of shape (m, 4)
        Attitude at the middle of each block.
    proximal_force_m_s2, distal_force_m_s2 : ndarray of shape (m, 3)
        Specific force in sensor axes.
    shock_m_s2 : ndarray of shape (m,)
        Spread of the specific force's size within each block, the larger of both sensors.
    missing : ndarray of bool of shape (m,)
        True where either sensor has no measurement.
    first_s : float
        When the first block begins, in seconds from the recording's start: above 0 in a later part of a recording.
    """

    rate_hz: float
    block: int
    proximal_rate: Floats
    distal_rate: Floats
    proximal_up: Floats
    distal_up: Floats
    proximal_quaternion: Floats
    distal_quaternion: Floats
    proximal_force_m_s2: Floats
    distal_force_m_s2: Floats
    shock_m_s2: Floats
    missing: NDArray[np.bool_]
    first_s: float = 0.0

    @cached_property
    def time_s(self) -> Floats:
        """Middle of each block in seconds from the recording's start."""
        return freeze(self.first_s + np.asarray((np.arange(len(self.missing)) + 0.5 - 0.5 / self.block) / self.rate_hz))

    @cached_property
    def steady(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Rates and directions to the sky, proximal before distal, without the flesh's wobble (means over 0.3 s)."""
        window = max(1, round(STEADY_S * self.rate_hz))
        proximal_rate, distal_rate, proximal_up, distal_up = (
            freeze(moving_mean(each, window))
            for each in (self.proximal_rate, self.distal_rate, self.proximal_up, self.distal_up)
        )
        return proximal_rate, distal_rate, proximal_up, distal_up


def block_mean(values: Floats, block: int) -> Floats:
    """Mean of each whole block of samples.

    Parameters
    ----------
    values : ndarray of shape (n,) or (n, k)
        Samples.
    block : int
        Samples in a block.

    Returns
    -------
    ndarray of shape (n // block,) or (n // block, k)
        Means; what is left over at the end is dropped.
    """
    count = len(values) // block
    blocks = values[: count * block].reshape(count, block, *values.shape[1:])
    # sample by sample of all blocks at once: a mean over so few neighbours takes five times as long
    total = blocks[:, 0].astype(np.float64)
    for place in range(1, block):
        total += blocks[:, place]
    return np.asarray(total / block)


def moving_mean(values: Floats, window: int) -> Floats:
    """Centred moving mean whose window shrinks at both ends.

    Parameters
    ----------
    values : ndarray of shape (m,) or (m, k)
        Samples.
    window : int
        Samples in the window.

    Returns
    -------
    ndarray of the same shape
        Means.
    """
    count = len(values)
    total = np.zeros((count + 1, *values.shape[1:]))
    np.cumsum(values, axis=0, out=total[1:])
    low = np.maximum(np.arange(count) - window // 2, 0)
    high = np.minimum(low + window, count)
    width = (high - low).reshape(-1, *([1] * (values.ndim - 1)))
    return np.asarray((total.take(high, axis=0) - total.take(low, axis=0)) / width)


def coarse_motion(
    proximal: tuple[Floats, Floats, Attitude],
    distal: tuple[Floats, Floats, Attitude],
    missing: NDArray[np.bool_],
    rate_hz: float,
) -> CoarseMotion:
    """Average both sensors down to about 25 Hz.

    Parameters
    ----------
    proximal, distal : tuple of ndarray, ndarray, Attitude
        Specific force in m/s^2, angular rate in rad/s (both of shape (n, 3), sensor axes) and attitude.
    missing : ndarray of bool of shape (n,)
        True where either sensor has no measurement.
    rate_hz : float
        Sampling rate.

    Returns
    -------
    CoarseMotion
        Block means.
    """
    block = max(1, round(rate_hz / COARSE_RATE_HZ))
    rates, quaternions, shocks = [], [], []
    for force, rate, attitude in (proximal, distal):
        mean_rate = block_mean(rate, block)
        quaternion = np.ascontiguousarray(attitude.quaternion[block // 2 :: block][: len(mean_rate)])
        if attitude.gyroscope_bias_rad_s is not None:
            mean_rate = mean_rate - attitude.gyroscope_bias_rad_s[block // 2 :: block][: len(mean_rate)]
        size = np.sqrt(np.einsum("ij,ij->i", force, force))
        mean = block_mean(size, block)
        steps = np.diff(mean, prepend=mean[:1])
        variance = np.maximum(block_mean(size * size, block) - mean * mean, 0.0)
        shocks.append(np.sqrt(variance + steps * steps / 4))
        rates.append(mean_rate)
        quaternions.append(quaternion)
    return CoarseMotion(
        rate_hz=rate_hz / block,
        block=block,
        proximal_rate=rates[0],
        distal_rate=rates[1],
        proximal_up=up_in_sensor(quaternions[0]),
        distal_up=up_in_sensor(quaternions[1]),
        proximal_quaternion=quaternions[0],
        distal_quaternion=quaternions[1],
        proximal_force_m_s2=block_mean(proximal[0], block),
        distal_force_m_s2=block_mean(distal[0], block),
        shock_m_s2=np.maximum(*shocks),
        missing=block_mean(missing.astype(float), block) > 0,
    )
