"""The floor as what ends a repetition: whether the foot came back to lie flat, and how far the shank leaned there.

A foot that is back on the floor is tilted as it was in the neutral pose, whatever the shank does. Its own sensor shows
that by gravity alone, without the other sensor, a relative heading or the joint's zero, and so far more surely than
the joint's angle shows an end range. A drop past the floor is impossible; a foot that stays raised stopped short.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exposure import COVERAGE_FACTOR
from imu_rom.motion.end_range import estimate_end_range
from imu_rom.motion.repetitions import Repetition

__all__ = ["FloorContact", "FloorReference", "floor_contact"]

Floats = NDArray[np.float64]

# what is faster is wobble of the flesh
SMOOTH_S = 0.2
LEAN_LOOK_S = 0.5


@dataclass(frozen=True)
class FloorReference:
    """Inclination of both segments over a whole recording, from gravity alone, 0 in the neutral pose.

    Parameters
    ----------
    rate_hz : float
        Rate of the arrays.
    first_s : float
        Time of their first sample.
    foot_deg : ndarray of shape (m,)
        Inclination of the foot, whose sole was flat in the pose: below 0 the heel is raised.
    lean_deg : ndarray of shape (m,)
        Inclination of the shank, positive where it leans so as to bend the ankle.
    u_set_deg : float
        Standard uncertainty of either that the repetitions of one set share.
    """

    rate_hz: float
    first_s: float
    foot_deg: Floats
    lean_deg: Floats
    u_set_deg: float


@dataclass(frozen=True)
class FloorContact:
    """Foot and shank where a repetition stops on the floor, both from their own position in the neutral pose.

    Parameters
    ----------
    foot_deg, foot_low_deg, foot_high_deg : float
        Inclination of the foot where it came nearest to lying flat, and its 95 % interval; below 0 the heel stayed
        raised.
    foot_own_uncertainty_deg : float
        Standard uncertainty of it that is this repetition's own.
    shank_lean_deg, shank_lean_low_deg, shank_lean_high_deg : float
        Lean of the shank at the deepest point, and its 95 % interval.
    """

    foot_deg: float
    foot_low_deg: float
    foot_high_deg: float
    foot_own_uncertainty_deg: float
    shank_lean_deg: float
    shank_lean_low_deg: float
    shank_lean_high_deg: float


def floor_contact(repetition: Repetition, reference: FloorReference) -> FloorContact:
    """Measure where the foot was when a repetition stopped on the floor.

    Parameters
    ----------
    repetition : Repetition
        What was done.
    reference : FloorReference
        Inclination of foot and shank over the recording.

    Returns
    -------
    FloorContact
        The foot nearest to lying flat within the repetition, without noise bias, and the shank's lean.
    """
    rate_hz = reference.rate_hz

    def index(time_s: float) -> int:
        return int(np.clip(round((time_s - reference.first_s) * rate_hz), 0, len(reference.foot_deg) - 1))

    first, last = index(repetition.start_s), index(repetition.stop_s)
    foot = reference.foot_deg[first : last + 1]
    width = max(1, round(SMOOTH_S * rate_hz)) | 1
    smooth = np.convolve(np.pad(foot, width // 2, mode="edge"), np.full(width, 1 / width), mode="valid")
    peak = int(np.argmax(smooth))
    found = estimate_end_range(foot, smooth, peak, float(np.ptp(smooth)), rate_hz)
    deepest, look = index(repetition.end_range_s), round(LEAN_LOOK_S / 2 * rate_hz)
    lean = float(np.median(reference.lean_deg[max(0, deepest - look) : deepest + look + 1]))
    half_deg = COVERAGE_FACTOR * math.hypot(reference.u_set_deg, found.standard_uncertainty_deg)
    return FloorContact(
        foot_deg=found.angle_deg,
        foot_low_deg=found.angle_deg - half_deg,
        foot_high_deg=found.angle_deg + half_deg,
        foot_own_uncertainty_deg=found.standard_uncertainty_deg,
        shank_lean_deg=lean,
        shank_lean_low_deg=lean - half_deg,
        shank_lean_high_deg=lean + half_deg,
    )
