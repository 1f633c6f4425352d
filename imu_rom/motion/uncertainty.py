"""The uncertainty budget of a joint angle: which part is shared by what.

Parts are combined as independent standard uncertainties (JCGM 100:2008, 5.1.2, from memory). What matters is what each
part has in common: the neutral pose's error is one number for the whole session and never averages out; soft tissue
and attitude errors that change slowly are common to the repetitions of a set; wobble is each sample's own.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.settings import UncertaintySettings

__all__ = [
    "Budget",
    "angle_budget",
    "foot_inclination_standard_uncertainty_deg",
    "sample_standard_uncertainty_deg",
]

Floats = NDArray[np.float64]

NOTHING_KNOWN_DEG = 180.0
RECOVERY_S = 3.0
AFTER_GAP_DEG = 5.0


@dataclass(frozen=True)
class Budget:
    """Standard uncertainties of one session's joint angle, in degrees.

    Parameters
    ----------
    parts_deg : dict of str to float
        Each part by name.
    u_shared_deg : float
        What the whole session shares: the zero.
    u_set_deg : float
        What the repetitions of one set share besides.
    """

    parts_deg: dict[str, float]
    u_shared_deg: float
    u_set_deg: float

    @property
    def u_common_deg(self) -> float:
        """Both together: what every repetition of a set has in common."""
        return float(np.hypot(self.u_shared_deg, self.u_set_deg))


def angle_budget(
    settings: UncertaintySettings,
    *,
    axis_deg: float = 0.0,
    excursion_deg: float = 0.0,
    has_zero: bool = True,
    zero_deg: float | None = None,
) -> Budget:
    """Put the budget together.

    Parameters
    ----------
    settings : UncertaintySettings
        Parts that don't come from the recording.
    axis_deg : float
        Standard uncertainty of the axis' direction.
    excursion_deg : float
        Largest distance of the angle from its zero; an axis that is off by e scales it by cos e.
    has_zero : bool
        False where the angle's zero is arbitrary, so that there is nothing to be off from.
    zero_deg : float, optional
        Standard uncertainty of the zero; None takes the setting for a neutral pose.

    Returns
    -------
    Budget
        Parts and what shares them.
    """
    # the expectation of 1 - cos e for a direction that is off by e in two directions is e^2, for small e
    axis = abs(excursion_deg) * (1.0 - np.cos(np.radians(min(axis_deg, 90.0)))) * np.sqrt(2.0)
    parts = {
        "zero_pose": (settings.zero_pose_deg if zero_deg is None else zero_deg) if has_zero else 0.0,
        "soft_tissue_slow": settings.soft_tissue_slow_deg,
        "attitude": settings.attitude_deg,
        "axis": float(axis),
        "soft_tissue_fast": settings.soft_tissue_fast_deg,
    }
    u_set = np.sqrt(sum(parts[name] ** 2 for name in ("soft_tissue_slow", "attitude", "axis")))
    return Budget(parts, parts["zero_pose"], float(u_set))


def foot_inclination_standard_uncertainty_deg(settings: UncertaintySettings) -> float:
    """Give the standard uncertainty of one sensor's inclination since the neutral pose, the foot back on the floor.

    Parameters
    ----------
    settings : UncertaintySettings
        Attitude, slow soft tissue, and how alike a foot lies flat each time.

    Returns
    -------
    float
        Degrees, shared by the repetitions of one set.

    Notes
    -----
    The parts for attitude and slow soft tissue are those of the difference of two sensors at one time. One sensor has
    1 / sqrt 2 of each, and the difference of one sensor between two times has sqrt 2 of that, so they stand as they
    are. The neutral pose's distance from the joint's zero has no part in it.
    """
    return float(np.sqrt(settings.attitude_deg**2 + settings.soft_tissue_slow_deg**2 + settings.foot_flat_deg**2))


def sample_standard_uncertainty_deg(
    budget: Budget,
    heading_rad: Floats,
    flatness: Floats,
    missing: NDArray[np.bool_],
    worn: NDArray[np.bool_],
    rate_hz: float,
) -> Floats:
    """Combine all parts of the standard uncertainty of each sample.

    Parameters
    ----------
    budget : Budget
        Constant parts.
    heading_rad : ndarray of shape (m,)
        Standard uncertainty of the relative heading.
    flatness : ndarray of shape (m,)
        1 where the axis lies level, 0 where it stands upright: a heading error turns about the vertical.
    missing : ndarray of bool of shape (m,)
        True where a sensor delivered nothing.
    worn : ndarray of bool of shape (m,)
        True where both sensors were worn; elsewhere nothing is known of the joint (180 degrees).
    rate_hz : float
        Rate of these arrays.

    Returns
    -------
    ndarray of shape (m,)
        Degrees, at most 180.
    """
    upright = np.sqrt(np.clip(1.0 - flatness**2, 0.0, 1.0))
    squared = np.full(len(worn), sum(part**2 for part in budget.parts_deg.values()))
    squared += (np.degrees(heading_rad) * upright) ** 2
    if missing.any():
        # after a gap the filter finds its inclination again within a few seconds
        since = np.arange(len(missing)) - np.maximum.accumulate(np.where(missing, np.arange(len(missing)), -(10**9)))
        squared += (AFTER_GAP_DEG * np.exp(-since / rate_hz / RECOVERY_S)) ** 2
    total = np.sqrt(squared)
    total[missing | ~worn] = NOTHING_KNOWN_DEG
    return np.asarray(np.minimum(total, NOTHING_KNOWN_DEG))
