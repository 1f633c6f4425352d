"""Motion of one segment from the sensor on it: attitude, angular rate and jolts at a low rate, and where to look.

Nothing here depends on how the sensor is mounted: turned on its segment, it gives the same vectors in turned axes.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import quaternion_product, up_in_sensor
from imu_rom.motion.coarse import COARSE_RATE_HZ, block_mean, moving_mean
from imu_rom.motion.gaps import attitude_between_gaps

__all__ = ["SegmentMotion", "active_stretches", "rotation_about_mean_deg", "segment_motion", "strides"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

GRAVITY_M_S2 = 9.80665
SLOW_S = 1.0
STILL_RAD_S = np.radians(3.0)
# Walking: jolts at each step that are large and larger than the turning explains. The second figure is a length: jolt
# over squared angular rate, which for a movement without steps is a share of the limb's own length.
JOLT_LOOK_S = 2.0
WALKING_JOLT_M_S2 = 1.5
WALKING_JOLT_M = 0.20
STEP_S = 1.0


@dataclass(frozen=True)
class SegmentMotion:
    """One sensor at about 25 Hz.

    Parameters
    ----------
    rate_hz : float
        Blocks a second.
    block : int
        Samples in a block.
    quaternion : ndarray of shape (m, 4)
        Attitude at the middle of each block, scalar first, sensor -> world with z up.
    rate_rad_s : ndarray of shape (m, 3)
        Angular rate, sensor axes, the filter's bias estimate taken off.
    upward_m_s2 : ndarray of shape (m,)
        Acceleration upwards, gravity taken off.
    jolt_m_s2 : ndarray of shape (m,)
        What is rough in the size of the specific force: RMS of its second difference from block to block over two
        seconds, scaled so that white noise gives its own RMS.
    turning_rad_s : ndarray of shape (m,)
        RMS of the angular rate over the same two seconds.
    missing : ndarray of bool of shape (m,)
        True where there is no measurement.
    """

    rate_hz: float
    block: int
    quaternion: Floats
    rate_rad_s: Floats
    upward_m_s2: Floats
    jolt_m_s2: Floats
    turning_rad_s: Floats
    missing: Mask

    @property
    def first_s(self) -> float:
        """Middle of the first block in seconds from the recording's start."""
        return (0.5 - 0.5 / self.block) / self.rate_hz

    def cut(self, start: int, stop: int) -> tuple[bool, bool]:
        """Tell where measuring begins or ends with a stretch.

        Parameters
        ----------
        start, stop : int
            First block of the stretch and the one after its last.

        Returns
        -------
        tuple of bool
            At its start and at its stop.
        """
        return (
            start == 0 or bool(self.missing[start - 1]),
            stop == len(self.missing) or bool(self.missing[stop]),
        )


def segment_motion(
    accelerometer_m_s2: Floats, gyroscope_rad_s: Floats, missing: Mask, rate_hz: float, filter_name: str = "vqf"
) -> SegmentMotion:
    """Average one sensor's motion down to about 25 Hz.

    Parameters
    ----------
    accelerometer_m_s2, gyroscope_rad_s : ndarray of shape (n, 3)
        Specific force and angular rate, sensor axes.
    missing : ndarray of bool of shape (n,)
        True where there is no measurement.
    rate_hz : float
        Sampling rate.
    filter_name : str
        Attitude filter by its published name.

    Returns
    -------
    SegmentMotion
        Block means and attitudes.
    """
    attitude = attitude_between_gaps(accelerometer_m_s2, gyroscope_rad_s, missing, rate_hz, filter_name)
    block = max(1, round(rate_hz / COARSE_RATE_HZ))
    rate = block_mean(gyroscope_rad_s, block)
    quaternion = attitude.quaternion[block // 2 :: block][: len(rate)]
    if attitude.gyroscope_bias_rad_s is not None:
        rate = rate - attitude.gyroscope_bias_rad_s[block // 2 :: block][: len(rate)]
    size = block_mean(np.sqrt(np.einsum("ij,ij->i", accelerometer_m_s2, accelerometer_m_s2)), block)
    rough = np.zeros(len(size))
    rough[1:-1] = np.diff(size, 2)
    coarse_hz = rate_hz / block
    look = max(2, round(JOLT_LOOK_S * coarse_hz))
    # the mean of three blocks: turning, without the jolts' own shaking of the sensor
    steady = moving_mean(rate, 3)
    return SegmentMotion(
        rate_hz=coarse_hz,
        block=block,
        quaternion=quaternion,
        rate_rad_s=rate,
        upward_m_s2=np.einsum("ij,ij->i", up_in_sensor(quaternion), block_mean(accelerometer_m_s2, block))
        - GRAVITY_M_S2,
        jolt_m_s2=np.sqrt(moving_mean(rough * rough, look) / 6.0),
        turning_rad_s=np.sqrt(moving_mean(np.einsum("ij,ij->i", steady, steady), look)),
        missing=block_mean(missing.astype(float), block) > 0,
    )


def strides(motion: SegmentMotion) -> Mask:
    """Tell walking, running and stepping from other movement, by the jolt of each step.

    Parameters
    ----------
    motion : SegmentMotion
        One sensor.

    Returns
    -------
    ndarray of bool of shape (m,)
        True while walking. A person who steps softly may go unnoticed; fast swings of an arm don't count.
    """
    walks = (motion.jolt_m_s2 > WALKING_JOLT_M_S2) & (motion.jolt_m_s2 > WALKING_JOLT_M * motion.turning_rad_s**2)
    # a first and a last step are soft
    return _widened(walks, round(STEP_S * motion.rate_hz))


def _widened(mask: Mask, room: int) -> Mask:
    return np.asarray(np.convolve(mask, np.ones(2 * room + 1), mode="full")[room : room + len(mask)] > 0.5)


def active_stretches(motion: SegmentMotion, eligible: Mask, rest_s: float) -> list[tuple[int, int]]:
    """List the stretches with movement, parted by rests and by what is not eligible.

    Parameters
    ----------
    motion : SegmentMotion
        One sensor.
    eligible : ndarray of bool of shape (m,)
        False where no repetition can be.
    rest_s : float
        A longer stretch without movement is a rest.

    Returns
    -------
    list of tuple of int
        First block and the one after the last, with half a rest of stillness left at each end.
    """
    slow = moving_mean(motion.rate_rad_s, max(2, round(SLOW_S * motion.rate_hz)))
    moving = eligible & (np.einsum("ij,ij->i", slow, slow) > STILL_RAD_S**2)
    room = max(1, round(0.5 * rest_s * motion.rate_hz))
    # widened by half a rest on each side, stretches join over shorter ones
    near = _widened(moving, room)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], (near & eligible).astype(np.int8), [0]])))
    return [(int(start), int(stop)) for start, stop in zip(edges[::2], edges[1::2], strict=True)]


def rotation_about_mean_deg(quaternion: Floats, within: slice | None = None) -> Floats:
    """Rotation vector of each attitude about their mean.

    Parameters
    ----------
    quaternion : ndarray of shape (m, 4)
        Scalar-first unit quaternions, sensor -> world.
    within : slice, optional
        Samples that the mean is taken of; None takes all.

    Returns
    -------
    ndarray of shape (m, 3)
        Degrees, in the axes of the mean attitude; at most 180 long.

    Notes
    -----
    The mean is the eigenvector of the sum of outer products (Markley, Cheng, Crassidis, Oshman 2007,
    doi:10.2514/1.28949, equation 13).
    """
    part = quaternion if within is None else quaternion[within]
    mean = np.linalg.eigh(part.T @ part)[1][:, -1]
    about = quaternion_product(mean * [1.0, -1.0, -1.0, -1.0], quaternion)
    about = about * np.where(about[:, :1] < 0, -1.0, 1.0)
    sine = np.linalg.norm(about[:, 1:], axis=1)
    half = np.arctan2(sine, about[:, 0])
    return np.asarray(np.degrees(2.0 * half / np.maximum(sine, 1e-12))[:, None] * about[:, 1:])
