"""Bouts of repeated movement in a recording of one sensor.

A stretch between rests is looked at whole and in ever smaller parts, since other movement in it (taping, walking to the
place of exercise) may be larger than the exercise. The part with the most evidence is followed to both sides, then what
is left before and after it is searched the same way.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.cycles import Cycles, find_cycles, follow_cycles
from imu_rom.motion.segment_motion import SegmentMotion, active_stretches, rotation_about_mean_deg
from imu_rom.motion.ways import steady_run

__all__ = ["Bout", "find_bouts", "is_walking", "through_jolts"]

Mask = NDArray[np.bool_]

LONGEST_HOLD_S = 60.0
SHORTEST_STRETCH_S, SMALLEST_PART_S = 2.0, 12.0
MOST_TIMES_FOLLOWED, LEAST_FOLLOWED = 3, 0.7
# Whole bouts of walking, by what is usual within them; the length is as in segment_motion.
STRIDE_JOLT_M_S2, STRIDE_JOLT_M = 1.1, 0.15
STRIDE_SWING_DEG, LONGEST_STRIDE_S = 25.0, 2.0
# Jolts up to so many times a set's own may be the exercise's: a band that snaps back, a movement that is jerked.
OWN_JOLT_TIMES = 5.0


@dataclass(frozen=True, eq=False)
class Bout:
    """Cycles found in a stretch.

    Parameters
    ----------
    start, stop : int
        First block of the stretch in the recording and the one after its last.
    cycles : Cycles
        What is repeated there, its places counted from the stretch's start.
    """

    start: int
    stop: int
    cycles: Cycles

    @property
    def first(self) -> int:
        """Block of the first turning point."""
        return self.start + int(self.cycles.points[0])

    @property
    def last(self) -> int:
        """Block of the last turning point."""
        return self.start + int(self.cycles.points[-1])


def _cycles_in(motion: SegmentMotion, start: int, stop: int, smallest_deg: float) -> Bout | None:
    rotation = rotation_about_mean_deg(motion.quaternion[start:stop])
    found = find_cycles(rotation, motion.rate_hz, smallest_deg, motion.upward_m_s2[start:stop], motion.cut(start, stop))
    return None if found is None else Bout(start, stop, found)


def _seed(motion: SegmentMotion, start: int, stop: int, smallest_deg: float) -> Bout | None:
    """Find repeated movement in a stretch, or in an ever smaller part of it where other movement hides it."""
    length, best, levels = stop - start, None, 0
    while length >= SHORTEST_STRETCH_S * motion.rate_hz and levels < 2:
        parts = 2 * -(-(stop - start) // length) - 1
        for first in np.linspace(start, stop - length, parts).astype(int).tolist():
            found = _cycles_in(motion, first, first + length, smallest_deg)
            if found is not None and (best is None or _evidence(found) > _evidence(best)):
                best = found
        levels += best is not None
        if length < SMALLEST_PART_S * motion.rate_hz:
            break
        length = length // 2
    return best


def _evidence(bout: Bout) -> float:
    return bout.cycles.ways * bout.cycles.regularity


def _continues(bout: Bout, wider: Cycles) -> bool:
    return wider.ways > bout.cycles.ways and wider.regularity >= LEAST_FOLLOWED * bout.cycles.regularity


def _search(motion: SegmentMotion, start: int, stop: int, smallest_deg: float) -> list[Bout]:
    """Find repeated movement in a stretch, follow it to both sides, then look at what is left before and after it."""
    bout = _seed(motion, start, stop, smallest_deg)
    if bout is None:
        return []
    for _ in range(MOST_TIMES_FOLLOWED):
        within = slice(bout.first - start, bout.last + 1 - start)
        rotation = rotation_about_mean_deg(motion.quaternion[start:stop], within)
        wider = follow_cycles(rotation, motion.rate_hz, bout.cycles, bout.start - start, motion.cut(start, stop))
        if wider is None or not _continues(bout, wider):
            break
        bout = Bout(start, stop, replace(wider, others=bout.cycles.others, halves=bout.cycles.halves))
    return [*_search(motion, start, bout.first, smallest_deg), bout, *_search(motion, bout.last, stop, smallest_deg)]


def find_bouts(motion: SegmentMotion, eligible: Mask, rest_s: float, smallest_deg: float) -> list[Bout]:
    """Find repeated movement between rests, and across rests where it holds still at one end of each repetition.

    Parameters
    ----------
    motion : SegmentMotion
        One sensor.
    eligible : ndarray of bool of shape (m,)
        False where no repetition can be.
    rest_s : float
        A longer stretch without movement is a rest.
    smallest_deg : float
        A smaller movement is no repetition.

    Returns
    -------
    list of Bout
        In time order.
    """
    found: list[Bout] = []
    open_run: list[tuple[int, int]] = []

    def close() -> None:
        # what is left over from other movement before must not hide what comes after it
        while len(open_run) > 1:
            start, stop = open_run[0][0], open_run[-1][1]
            bouts = _search(motion, start, stop, smallest_deg)
            if bouts:
                found.extend(bouts)
                break
            open_run.pop(0)
        open_run.clear()

    for start, stop in active_stretches(motion, eligible, rest_s):
        apart = bool(open_run) and (
            start - open_run[-1][1] > LONGEST_HOLD_S * motion.rate_hz or not eligible[open_run[-1][1] : start].all()
        )
        bouts = _search(motion, start, stop, smallest_deg)
        if bouts or apart:
            close()
        if bouts:
            found.extend(bouts)
        else:
            open_run.append((start, stop))
    close()
    return sorted(found, key=lambda bout: bout.first)


def through_jolts(motion: SegmentMotion, bouts: list[Bout], jolts: Mask, eligible: Mask) -> list[Bout]:
    """Follow repeated movement through stretches that seemed to be walking for their jolts, where it just goes on.

    Parameters
    ----------
    motion : SegmentMotion
        One sensor.
    bouts : list of Bout
        Found beside those stretches, in time order.
    jolts : ndarray of bool of shape (m,)
        True in those stretches.
    eligible : ndarray of bool of shape (m,)
        False where no repetition can be whatever moves there.

    Returns
    -------
    list of Bout
        In time order. A movement goes on where its ways keep their size, direction and time, and where the jolts are
        not much harder than the set's own.
    """
    followed: list[Bout] = []
    for bout in bouts:
        if followed and bout.first + bout.last < 2 * followed[-1].last:
            continue  # followed there already
        own = float(np.median(motion.jolt_m_s2[bout.first : bout.last + 1]))
        may = eligible & (~jolts | (motion.jolt_m_s2 < OWN_JOLT_TIMES * own))
        before = np.flatnonzero(~may[: bout.first])
        after = np.flatnonzero(~may[bout.last + 1 :])
        start = int(before[-1]) + 1 if len(before) else 0
        stop = bout.last + 1 + int(after[0]) if len(after) else len(may)
        if followed:
            start = max(start, followed[-1].last)
        start = min(start, bout.start)
        stop = max(stop, bout.stop)
        if not jolts[start:stop].any():
            followed.append(bout)
            continue
        rotation = rotation_about_mean_deg(
            motion.quaternion[start:stop], slice(bout.first - start, bout.last + 1 - start)
        )
        wider = follow_cycles(rotation, motion.rate_hz, bout.cycles, bout.start - start, motion.cut(start, stop))
        if wider is not None:
            begin, end = steady_run(rotation, wider.points, bout.first - start, bout.last - start)
            wider = replace(wider, points=wider.points[begin : end + 1], shares=wider.shares[begin:end])
        if wider is None or not _continues(bout, wider):
            followed.append(bout)
            continue
        followed.append(Bout(start, stop, replace(wider, others=bout.cycles.others, halves=bout.cycles.halves)))
    return followed


def is_walking(motion: SegmentMotion, bout: Bout) -> bool:
    """Tell a bout of walking by what is usual within it: quick wide swings, and jolts larger than these explain.

    Parameters
    ----------
    motion : SegmentMotion
        One sensor.
    bout : Bout
        Repeated movement.

    Returns
    -------
    bool
        True for walking or running.
    """
    within = slice(bout.first, bout.last + 1)
    jolt, turning = float(np.median(motion.jolt_m_s2[within])), float(np.median(motion.turning_rad_s[within]))
    points = bout.cycles.points
    swing = float(np.median(np.abs(np.diff(bout.cycles.signal_deg[points]))))
    stride_s = 2.0 * float(np.median(np.diff(points))) / motion.rate_hz
    return (
        jolt > max(STRIDE_JOLT_M_S2, STRIDE_JOLT_M * turning**2)
        and swing > STRIDE_SWING_DEG
        and stride_s < LONGEST_STRIDE_S
    )
