"""Joint movement at a low rate: pitch of both segments about the joint's axis, turning points, walking.

A repetition is done on the spot: one segment carries the joint's movement while the other stays or moves against it.
Walking swings both segments the same way, by far more than the joint bends; that tells the two apart for any hinge.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.coarse import CoarseMotion, moving_mean

__all__ = ["TurningPoints", "first_bout", "locomotion", "turning_points"]

Floats = NDArray[np.float64]

WALK_LOOK_S = 2.0
# Faster than a step's swing is wobble of the flesh.
SWING_S = 0.3
SLOWEST_WALK_RAD_S = np.radians(20.0)
# Root mean square of the slower segment's pitch rate over the joint's: walking is above, exercise below.
WALK_SHARE = 0.60
WALK_SHARE_WITH_SHOCKS = 0.33
SHOCK_M_S2 = 1.2
TURN_RAD_S = np.radians(40.0)
# A bout turns back this often, by at least this much, each turn within this time.
BOUT_TURNS = 9
BOUT_TURN_RAD = np.radians(8.0)
LONGEST_TURN_S = 15.0


def locomotion(motion: CoarseMotion, proximal_axis: Floats, distal_axis: Floats) -> NDArray[np.bool_]:
    """Tell walking, stepping and turning round from movement on the spot.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    proximal_axis, distal_axis : ndarray of shape (3,)
        Unit vector of the joint's axis in each sensor's axes.

    Returns
    -------
    ndarray of bool of shape (m,)
        True while walking or turning round.
    """
    look = max(2, round(WALK_LOOK_S * motion.rate_hz))
    swing = max(1, round(SWING_S * motion.rate_hz))
    proximal = moving_mean(motion.proximal_rate @ proximal_axis, swing)
    distal = moving_mean(motion.distal_rate @ distal_axis, swing)
    powers = [moving_mean(each * each, look) for each in (proximal, distal, distal - proximal)]
    slower = np.minimum(powers[0], powers[1])
    share = slower / (powers[2] + 1e-6)
    shock = np.sqrt(moving_mean(motion.shock_m_s2**2, look))
    walks = (slower > SLOWEST_WALK_RAD_S**2) & (
        (share > WALK_SHARE**2) | ((share > WALK_SHARE_WITH_SHOCKS**2) & (shock > SHOCK_M_S2))
    )
    # turning round: the slow part of the rate about the vertical, the same for both sensors
    second = max(2, round(motion.rate_hz))
    turn = np.minimum(
        *(
            np.abs(moving_mean(np.einsum("ij,ij->i", rate, up), second))
            for rate, up in ((motion.proximal_rate, motion.proximal_up), (motion.distal_rate, motion.distal_up))
        )
    )
    return np.asarray(walks | (turn > TURN_RAD_S))


@dataclass(frozen=True)
class TurningPoints:
    """Alternating lowest and highest points of an angle.

    Parameters
    ----------
    index : ndarray of int of shape (k,)
        Sample of each point.
    value : ndarray of shape (k,)
        Angle there.
    first_is_high : bool
        True where the first point is a highest one.
    """

    index: NDArray[np.int64]
    value: Floats
    first_is_high: bool

    def highs(self) -> NDArray[np.int64]:
        """Find the highest points that have a lowest one on both sides.

        Returns
        -------
        ndarray of int
            Positions into ``index``.
        """
        first = 0 if self.first_is_high else 1
        found = np.arange(first, len(self.index), 2)
        return found[(found > 0) & (found < len(self.index) - 1)]


def turning_points(angle: Floats, hysteresis: float) -> TurningPoints:  # noqa: C901  one pass, three states
    """Find the points at which an angle turns back by more than a hysteresis.

    Parameters
    ----------
    angle : ndarray of shape (m,)
        Smoothed angle.
    hysteresis : float
        A turn back by less is no turning point; the unit of the angle.

    Returns
    -------
    TurningPoints
        Alternating points; a constant offset or a change of sign of the angle does not move them.
    """
    slope = np.sign(np.diff(angle))
    nonzero = np.flatnonzero(slope)
    if len(nonzero) == 0:
        return TurningPoints(np.empty(0, dtype=np.int64), np.empty(0), first_is_high=False)
    turn = np.flatnonzero(np.diff(slope[nonzero])) + 1
    local = np.concatenate([[0], nonzero[turn], [len(angle) - 1]])
    values = angle[local]
    found: list[int] = []
    high = low = 0
    rising: bool | None = None
    for position, value in enumerate(values.tolist()):
        if rising is None:
            high = position if value > values[high] else high
            low = position if value < values[low] else low
            if values[high] - values[low] > hysteresis:
                rising = high > low
                found.append(low if rising else high)
        elif rising:
            if value > values[high]:
                high = position
            elif values[high] - value > hysteresis:
                found.append(high)
                rising, low = False, position
        elif value < values[low]:
            low = position
        elif value - values[low] > hysteresis:
            found.append(low)
            rising, high = True, position
    if rising is not None:
        found.append(high if rising else low)
    index = local[np.array(found, dtype=int)] if found else np.empty(0, dtype=np.int64)
    value = angle[index]
    return TurningPoints(index.astype(np.int64), value, first_is_high=len(value) > 1 and bool(value[0] > value[1]))


def first_bout(angle_rad: Floats, walking: NDArray[np.bool_], rate_hz: float) -> int:
    """Find where movement back and forth on the spot first goes on for a while: the first set, whatever it is.

    Parameters
    ----------
    angle_rad : ndarray of shape (m,)
        Joint angle of either sign, any zero, smoothed.
    walking : ndarray of bool of shape (m,)
        True where it can't be: while walking or turning, or before both sensors are worn.
    rate_hz : float
        Rate of these arrays.

    Returns
    -------
    int
        Its first sample; the number of samples where there is none.
    """
    points = turning_points(angle_rad, BOUT_TURN_RAD).index
    points = points[~walking[points]]
    if len(points) <= BOUT_TURNS:
        return len(angle_rad)
    quick = points[BOUT_TURNS:] - points[:-BOUT_TURNS] < BOUT_TURNS * LONGEST_TURN_S * rate_hz
    starts = np.flatnonzero(quick)
    for start in starts.tolist():
        if walking[points[start] : points[start + BOUT_TURNS]].mean() < 0.1:
            # the first turning point is anywhere in the stand before it, so the bout begins where that is left
            first, second = int(points[start]), int(points[start + 1])
            near = np.abs(angle_rad[first:second] - angle_rad[first]) < BOUT_TURN_RAD / 4
            return first + int(np.flatnonzero(near)[-1])
    return len(angle_rad)
