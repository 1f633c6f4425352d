"""Still stands later in a session that may be the neutral pose again."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.motion.tracking import HingeTrack
from imu_rom.settings import Settings

__all__ = ["Stand", "angle_between_deg", "later_stands", "moved_at_the_end"]

Floats = NDArray[np.float64]

# In the same posture a sensor is inclined as before, but for what it may have slipped.
LARGEST_SLIP_DEG = 20.0
# Standing still straight after walking and straight before a set is the wait at its place, not the pose.
WALKED_BEFORE_S = 12.0


@dataclass(frozen=True)
class Stand:
    """A still stand after the neutral pose, in its posture.

    Parameters
    ----------
    start, stop : int
        Samples at the coarse rate.
    start_s, stop_s : float
        Times.
    difference_deg : float
        Joint angle from the neutral pose.
    """

    start: int
    stop: int
    start_s: float
    stop_s: float
    difference_deg: float


def later_stands(
    track: HingeTrack, angle_deg: Floats, pose: NeutralPose, sets: Sequence[RepetitionSet], settings: Settings
) -> list[Stand]:
    """Find the still stands after the first pose that may be the same pose again.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.
    angle_deg : ndarray of shape (m,)
        Joint angle at the coarse rate, with its sign and zero.
    pose : NeutralPose
        The first pose.
    sets : sequence of RepetitionSet
        Sets as found with that zero.
    settings : Settings
        All tunables.

    Returns
    -------
    list of Stand
        In time order.
    """
    motion = track.motion
    time_s = motion.time_s
    walks_s = time_s[track.walks]
    after = pose.calibration.stop if pose.calibration is not None else pose.stop
    stood = [up[pose.start : pose.stop].mean(axis=0) for up in (motion.proximal_up, motion.distal_up)]
    found = []
    for each in (candidate.stretch for candidate in pose.candidates):
        begin = max(each.start, after)
        if (each.stop - begin) / motion.rate_hz < settings.pose.again_s or not each.sways:
            continue
        start_s, stop_s = float(time_s[begin]), float(time_s[each.stop - 1])
        if not track.worn_start_s <= start_s <= stop_s <= track.worn_stop_s:
            continue
        if any(one.start_s < stop_s and one.stop_s > start_s for one in sets):
            continue
        inside = slice(begin, each.stop)
        if any(
            angle_between_deg(up[inside].mean(axis=0), there) > LARGEST_SLIP_DEG
            for up, there in zip((motion.proximal_up, motion.distal_up), stood, strict=True)
        ):
            continue
        following = [one.start_s for one in sets if one.start_s >= stop_s]
        walked_in = np.any((walks_s > start_s - WALKED_BEFORE_S) & (walks_s < start_s))
        if following and walked_in and not np.any((walks_s > stop_s) & (walks_s < min(following))):
            continue
        found.append(Stand(begin, each.stop, start_s, stop_s, float(np.median(angle_deg[inside]))))
    return found


def moved_at_the_end(
    stands: list[Stand], begin_s: float, largest_deg: float, slips_s: list[float]
) -> tuple[list[Stand], float]:
    """Give the last stands that all differ the same way.

    Parameters
    ----------
    stands : list of Stand
        In time order.
    begin_s : float
        End of the first pose.
    largest_deg : float
        A difference up to this is none.
    slips_s : list of float
        Times of located slips, which begin it anew.

    Returns
    -------
    moved : list of Stand
        The stands.
    agreed_s : float
        Until when the zero was seen to hold.
    """
    since_s = max([begin_s, *slips_s])
    # what a located slip explains needs no other reason
    considered = [each for each in stands if each.start_s > since_s] if not slips_s else []
    moved: list[Stand] = []
    for each in reversed(considered):
        if abs(each.difference_deg) <= largest_deg or (moved and each.difference_deg * moved[0].difference_deg < 0):
            break
        moved.insert(0, each)
    agreed = considered[: len(considered) - len(moved)]
    return moved, agreed[-1].stop_s if agreed else begin_s


def angle_between_deg(first: Floats, second: Floats) -> float:
    """Angle between two directions.

    Parameters
    ----------
    first, second : ndarray of shape (3,)
        Of any length.

    Returns
    -------
    float
        Degrees.
    """
    cosine = first @ second / (np.linalg.norm(first) * np.linalg.norm(second) + 1e-12)
    return float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
