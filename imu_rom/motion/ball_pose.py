"""Neutral pose and functional movement of a joint that turns about more than one axis, before any frame is known.

The hinge's way (an angle first, then the pose in it) does not go here: which angle is meant follows from the pose. So
each still stretch is tried: what the distal sensor turned against the proximal one since then is a rotation vector; if
along its main direction it goes to one side and back two to four times, on the spot, that is the movement.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.angle import quaternion_product
from imu_rom.motion.calibration import FEWEST_CYCLES, CalibrationMovement, find_calibration
from imu_rom.motion.coarse import CoarseMotion, moving_mean
from imu_rom.motion.stillness import SWAY_RATIO, Stillness, find_still_stretches

__all__ = ["MovementFound", "find_movement", "steps_taken", "turns_since"]

Floats = NDArray[np.float64]

SMOOTH_S = 0.2
# The movement's main direction is looked for in the first so many seconds of moving: what follows may go elsewhere.
MAIN_DIRECTION_S = (4.0, 8.0, 12.0, 18.0, 25.0)
MOVING_RAD = np.radians(6.0)
REST_S = 2.0
REST_SHARE = 0.45
# A step lifts and drops the trunk: slower than the first of these, faster than the second, and by at least this (a
# person's walk gives 2 and more).
BOB_S = (0.12, 0.9)
BOB_M_S2 = 0.8
BOB_LOOK_S = 2.0
TURN_RAD_S = np.radians(40.0)


@dataclass(frozen=True)
class MovementFound:
    """A still stretch and the functional movement after it.

    Parameters
    ----------
    start, stop : int
        First block of the pose and the one after its last.
    movement : CalibrationMovement or None
        The movement, in the angle about its main direction; None where the pose was named and nothing follows it.
    direction : ndarray of shape (3,)
        Main direction of the turns, distal sensor's axes, as the pose saw them.
    """

    start: int
    stop: int
    movement: CalibrationMovement | None
    direction: Floats


def steps_taken(motion: CoarseMotion) -> NDArray[np.bool_]:
    """Tell walking and turning round by the bobbing of the proximal segment, whatever the joint does.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.

    Returns
    -------
    ndarray of bool of shape (m,)
        True while walking or turning.
    """
    size = np.sqrt(np.einsum("ij,ij->i", motion.proximal_force_m_s2, motion.proximal_force_m_s2))
    quick, slow = (max(1, round(each * motion.rate_hz)) for each in BOB_S)
    bob = moving_mean(size, quick) - moving_mean(size, slow)
    look = max(2, round(BOB_LOOK_S * motion.rate_hz))
    walks = moving_mean(bob**2, look) > BOB_M_S2**2
    second = max(2, round(motion.rate_hz))
    turn = np.minimum(
        *(
            np.abs(moving_mean(np.einsum("ij,ij->i", rate, up), second))
            for rate, up in ((motion.proximal_rate, motion.proximal_up), (motion.distal_rate, motion.distal_up))
        )
    )
    return np.asarray(walks | (turn > TURN_RAD_S))


def turns_since(relative: Floats, start: int, stop: int) -> Floats:
    """Rotation vector since a stretch, in the distal sensor's axes.

    Parameters
    ----------
    relative : ndarray of shape (m, 4)
        Attitude of the distal sensor in the proximal one's axes, scalar first.
    start, stop : int
        The stretch.

    Returns
    -------
    ndarray of shape (m, 3)
        Radians, at most half a turn.
    """
    there = relative[start:stop]
    # the mean of quaternions that are close together, with their signs brought together
    there = there * np.sign(there @ there[0])[:, None]
    mean = there.mean(axis=0)
    turned = quaternion_product(mean / np.linalg.norm(mean) * [1.0, -1.0, -1.0, -1.0], relative)
    turned = turned * np.where(turned[:, :1] < 0, -1.0, 1.0)
    size = np.linalg.norm(turned[:, 1:], axis=1)
    factor = np.where(size > 1e-9, 2.0 * np.arctan2(size, turned[:, 0]) / np.maximum(size, 1e-9), 2.0)
    return np.asarray(turned[:, 1:] * factor[:, None])


def _tried(
    relative: Floats, stretch: tuple[int, int], walking: NDArray[np.bool_], rate_hz: float, longest_wait_s: float
) -> MovementFound:
    start, stop = stretch
    # nothing later than this belongs to the movement, and an hour has a hundred stretches
    last = stop + round((longest_wait_s + 2 * MAIN_DIRECTION_S[-1]) * rate_hz)
    length, walks_here = stop - start, walking[start:last]
    turns = moving_mean(turns_since(relative[start:last], 0, length), max(1, round(SMOOTH_S * rate_hz)))
    steps = np.flatnonzero(walks_here[length:])
    after = turns[length : length + steps[0]] if len(steps) else turns[length:]
    moves = np.flatnonzero(np.linalg.norm(after, axis=1) > MOVING_RAD)
    best = MovementFound(start, stop, None, np.array([1.0, 0.0, 0.0]))
    for seconds in MAIN_DIRECTION_S if len(moves) else ():
        part = after[moves[0] : moves[0] + round(seconds * rate_hz)]
        _, vectors = np.linalg.eigh(part.T @ part)
        direction = vectors[:, -1]
        # a set that follows may go to the other side more often: only the first movement counts
        until = length + int(moves[0]) + round(seconds * rate_hz)
        found = find_calibration((turns @ direction)[:until], walks_here, length, 0.0, rate_hz, longest_wait_s)
        if found is None or not _comes_to_rest(turns, found, rate_hz):
            continue
        if best.movement is None or found.cycles > best.movement.cycles:
            movement = replace(found, start=start + found.start, stop=start + found.stop)
            best = MovementFound(start, stop, movement, found.direction * direction)
    return best


def _comes_to_rest(turns: Floats, movement: CalibrationMovement, rate_hz: float) -> bool:
    """Whether the person stands for a moment after a movement: the first repetitions of a set go on."""
    after = turns[movement.stop : movement.stop + round(REST_S * rate_hz)]
    return not len(after) or float(np.linalg.norm(after, axis=1).max()) < REST_SHARE * movement.excursion_rad


def find_movement(
    motion: CoarseMotion,
    relative: Floats,
    walking: NDArray[np.bool_],
    *,
    given: tuple[int, int] | None,
    shortest_pose_s: float,
    longest_wait_s: float,
) -> MovementFound | None:
    """Find the neutral pose and the functional movement straight after it.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    relative : ndarray of shape (m, 4)
        Attitude of the distal sensor in the proximal one's axes, scalar first.
    walking : ndarray of bool of shape (m,)
        True while walking or turning.
    given : tuple of int or None
        First block of a pose that a person named, and the one after its last.
    shortest_pose_s, longest_wait_s : float
        A shorter stretch is no pose; the movement starts within this time of it.

    Returns
    -------
    MovementFound or None
        The last still stretch before the first clear movement (three swings or more; two where there is nothing
        better). None where no still stretch of a person has one, and no pose was named.
    """
    if given is not None:
        return _tried(relative, given, walking, motion.rate_hz, longest_wait_s)
    stretches = [each for each in find_still_stretches(motion, shortest_pose_s) if min(_sways(each)) > SWAY_RATIO]
    found = [_tried(relative, (each.start, each.stop), walking, motion.rate_hz, longest_wait_s) for each in stretches]
    followed = [each for each in found if each.movement is not None]
    clear = [each for each in followed if each.movement and each.movement.cycles > FEWEST_CYCLES] or followed
    if not clear:
        return None
    first = clear[0].movement
    same = [
        each for each in clear if each.movement and first and abs(each.movement.start - first.start) < motion.rate_hz
    ]
    return same[-1]


def _sways(stretch: Stillness) -> tuple[float, float]:
    return stretch.proximal_sway, stretch.distal_sway
