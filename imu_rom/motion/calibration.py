"""The calibration movement straight after the neutral pose: where the sign of the joint angle comes from.

Three slow movements are asked for, to one side of the pose and back, on the spot. One more or less still counts; a set
of repetitions has more of them and a swing to the other side. Walking and stepping never settle the sign.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.movement import turning_points

__all__ = ["FEWEST_CYCLES", "CalibrationMovement", "find_calibration"]

Floats = NDArray[np.float64]

SMALLEST_EXCURSION_RAD = np.radians(8.0)
HYSTERESIS_RAD = np.radians(5.0)
SHORTEST_CYCLE_S = 1.2
LONGEST_CYCLE_S = 15.0
LONGEST_PAUSE_S = 5.0
FEWEST_CYCLES = 2
MOST_CYCLES = 4
# Back at the pose's angle within this share of the excursion, and no further than this share past it.
RETURN_SHARE = 0.35
LARGEST_OTHER_SIDE = 0.25
# Swings to one side before larger ones to the other are fidgeting up to this share of their size.
NO_FIDGET_SHARE = 0.5


@dataclass(frozen=True)
class CalibrationMovement:
    """A few slow movements to one side of the neutral pose and back.

    Parameters
    ----------
    start, stop : int
        First sample and the one after the last.
    direction : {1, -1}
        Side to which the angle moved.
    excursion_rad : float
        Median size.
    cycles : int
        How many.
    other_side_share : float
        Largest movement to the other side as a share of the excursion: near 0 for a clear sign.
    """

    start: int
    stop: int
    direction: int
    excursion_rad: float
    cycles: int
    other_side_share: float


def find_calibration(
    angle_rad: Floats,
    walking: NDArray[np.bool_],
    pose_stop: int,
    pose_level_rad: float,
    rate_hz: float,
    longest_wait_s: float,
) -> CalibrationMovement | None:
    """Look for the calibration movement straight after a pose.

    Parameters
    ----------
    angle_rad : ndarray of shape (m,)
        Joint angle of either sign, any zero, smoothed.
    walking : ndarray of bool of shape (m,)
        True while walking or turning.
    pose_stop : int
        Sample at which the still stretch ends.
    pose_level_rad : float
        Angle during the still stretch.
    rate_hz : float
        Rate of these arrays.
    longest_wait_s : float
        The movement starts within this time.

    Returns
    -------
    CalibrationMovement or None
        None where what follows the pose is not such a movement.
    """
    horizon = min(len(angle_rad), pose_stop + round((longest_wait_s + MOST_CYCLES * LONGEST_CYCLE_S) * rate_hz))
    off = angle_rad[pose_stop:horizon] - pose_level_rad
    walks = np.flatnonzero(walking[pose_stop:horizon])
    if len(walks):
        off = off[: walks[0]]
    if len(off) < rate_hz * SHORTEST_CYCLE_S:
        return None
    runs = {side: _cycles(side * off, rate_hz) for side in (1, -1)}
    more = max(runs, key=lambda each: (len(runs[each]), float(np.max(each * off))))
    movements = [
        movement
        for side in (more, -more)
        if (movement := _as_movement(off, runs[side], side, longest_wait_s * rate_hz)) is not None
    ]
    usual = movements[0] if movements and movements[0].direction == more else None
    other = movements[-1] if movements and movements[-1].direction != more else None
    # to the other side first, and then for instance a set: what comes first after the pose is the movement, unless it
    # is fidgeting, much smaller than what follows
    if (
        other is not None
        and other.stop <= runs[more][0][0] + 1
        and other.excursion_rad > NO_FIDGET_SHARE * float(np.median([size for _, _, size in runs[more]]))
    ):
        # two swings may be shifts of weight: then nothing tells which of both belongs to the pose
        usual = other if other.cycles > FEWEST_CYCLES else None
    if usual is None:
        return None
    return replace(usual, start=pose_stop + usual.start, stop=pose_stop + usual.stop)


def _as_movement(
    off: Floats, cycles: list[tuple[int, int, float]], side: int, longest_wait: float
) -> CalibrationMovement | None:
    """One side's cycles as a calibration movement, in samples from the pose's end, where they can be one."""
    # a weight shift before or after is no part of it
    usual = float(np.median([size for _, _, size in cycles])) if cycles else 0.0
    found = [cycle for cycle in cycles if cycle[2] >= 0.5 * usual]
    if not FEWEST_CYCLES <= len(found) <= MOST_CYCLES:
        return None
    start, stop = found[0][0], found[-1][1]
    if start > longest_wait:
        return None
    sizes = np.array([size for _, _, size in found])
    excursion = float(np.median(sizes))
    across = float(max(0.0, np.max(-side * off[start:stop])))
    if across > LARGEST_OTHER_SIDE * excursion:
        return None
    return CalibrationMovement(start, stop, side, excursion, len(found), across / excursion)


def _cycles(off: Floats, rate_hz: float) -> list[tuple[int, int, float]]:
    """Excursions to the positive side that come back to the pose's angle: (start, stop, size), one run of them."""
    points = turning_points(off, HYSTERESIS_RAD)
    found: list[tuple[int, int, float]] = []
    for position in points.highs():
        size = float(points.value[position])
        if size < SMALLEST_EXCURSION_RAD:
            continue
        top = int(points.index[position])
        near = off < RETURN_SHARE * size
        before = np.flatnonzero(near[:top])
        after = np.flatnonzero(near[top:])
        if len(before) == 0 or len(after) == 0:
            continue
        start, stop = int(before[-1]), top + int(after[0])
        if not SHORTEST_CYCLE_S / 2 <= (stop - start) / rate_hz <= LONGEST_CYCLE_S:
            continue
        if found and (start - found[-1][1]) / rate_hz > LONGEST_PAUSE_S:
            break
        found.append((start, stop, size))
    return found
