"""The neutral pose: where the zero of the joint angle comes from.

The pose is a still stretch of a person who wears both sensors and stands (a person sways; a table does not), before the
calibration movement: a few slow movements to one side of the pose and back, done on the spot straight after it. Long
holds sway like standing, but come later. Walking and stepping never settle the sign.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import CannotAnswerError
from imu_rom.motion.calibration import FEWEST_CYCLES, CalibrationMovement, find_calibration
from imu_rom.motion.coarse import CoarseMotion, moving_mean
from imu_rom.motion.movement import first_bout
from imu_rom.motion.stillness import Stillness, find_still_stretches
from imu_rom.settings import PoseSettings

__all__ = ["NeutralPose", "PoseCandidate", "find_neutral_pose"]

Floats = NDArray[np.float64]

# The first seconds after the second sensor is on belong to the hand that puts it there.
WORN_MARGIN_S = 2.0
# A person who sits sways less than one who stands.
QUIETER = 0.65
NO_SWAY = "nothing sways, as on a table"
SWAY_S = 1.6
MOST_LISTED = 6
# Between a pose and the movement that belongs to it nobody walks off or leans a limb this far.
SHORTEST_WALK_S = 0.5
CHANGED_POSTURE_DEG = 15.0
# Back where they were after the movement: both sensors' inclinations, within so much and so soon.
SAME_PLACE_DEG = 8.0
AFTER_MOVEMENT_S = 1.0


@dataclass(frozen=True)
class PoseCandidate:
    """A still stretch and whether it could serve as the neutral pose.

    Parameters
    ----------
    stretch : Stillness
        Where it lies and how it sways.
    level_rad : float
        Median joint angle, zero and sign as in the angle given.
    why_not : str
        Why it can't serve; empty where it could.
    """

    stretch: Stillness
    level_rad: float
    why_not: str


@dataclass(frozen=True)
class NeutralPose:
    """The chosen neutral pose.

    Parameters
    ----------
    start, stop : int
        First block and the one after the last.
    level_rad : float
        Joint angle there, which is taken as zero.
    calibration : CalibrationMovement or None
        The movement straight after it, where there is one.
    candidates : tuple of PoseCandidate
        All still stretches, with reasons.
    other_postures : tuple of PoseCandidate
        Earlier stretches of a worn sensor that were taken for another posture.
    second : tuple of int or None
        First block of a second known pose and the one after its last, which are no repetition.
    """

    start: int
    stop: int
    level_rad: float
    calibration: CalibrationMovement | None
    candidates: tuple[PoseCandidate, ...]
    other_postures: tuple[PoseCandidate, ...]
    second: tuple[int, int] | None = None


def _candidates(
    motion: CoarseMotion, angle_rad: Floats, worn_start_s: float, worn_stop_s: float, settings: PoseSettings
) -> list[PoseCandidate]:
    time_s = motion.time_s
    margin = WORN_MARGIN_S if worn_start_s > 0 else 0.0
    found = []
    for stretch in find_still_stretches(motion, settings.shortest_pose_s):
        begin = max(stretch.start, int(np.searchsorted(time_s, worn_start_s + margin)))
        end = min(stretch.stop, int(np.searchsorted(time_s, worn_stop_s)))
        why_not = ""
        if (end - begin) / motion.rate_hz < settings.shortest_pose_s:
            why_not = (
                "a sensor was not worn yet" if stretch.stop <= end or begin >= stretch.stop else "a sensor was off"
            )
            begin, end = stretch.start, stretch.stop
        elif not stretch.sways:
            why_not = NO_SWAY
        kept = Stillness(begin, end, stretch.proximal_sway, stretch.distal_sway)
        found.append(PoseCandidate(kept, float(np.median(angle_rad[begin:end])), why_not))
    return found


def _followed(
    candidates: list[PoseCandidate],
    angle_rad: Floats,
    walking: NDArray[np.bool_],
    rate_hz: float,
    settings: PoseSettings,
) -> list[tuple[PoseCandidate, CalibrationMovement]]:
    """Pair each stretch that a calibration movement follows with that movement."""
    pairs = []
    for each in candidates:
        movement = find_calibration(
            angle_rad, walking, each.stretch.stop, each.level_rad, rate_hz, settings.longest_wait_s
        )
        if movement is not None:
            pairs.append((each, movement))
    return pairs


def _worn_though_quiet(
    motion: CoarseMotion,
    angle_rad: Floats,
    walking: NDArray[np.bool_],
    worn: NDArray[np.bool_],
    each: PoseCandidate,
    settings: PoseSettings,
) -> bool:
    """Whether a stretch without sway is a person's all the same: a limb that rests on something keeps as still.

    Walking before and after it with one mounting says so, since nobody takes the sensors off and puts them on again
    just as they were; and so does a clear calibration movement straight after it that comes back to where both sensors
    were, since from a table they would be taken up and turned.
    """
    start, stop = each.stretch.start, each.stretch.stop
    walks = walking & worn
    if min(walks[:start].sum(), walks[stop:].sum()) > SHORTEST_WALK_S * motion.rate_hz:
        return True
    movement = find_calibration(angle_rad, walking, stop, each.level_rad, motion.rate_hz, settings.longest_wait_s)
    if movement is None or movement.cycles <= FEWEST_CYCLES:
        return False
    after = slice(movement.stop, movement.stop + round(AFTER_MOVEMENT_S * motion.rate_hz))
    for up in (motion.proximal_up, motion.distal_up):
        # the least turned within a moment after it: the last movement still comes back
        there = up[start:stop].mean(axis=0)
        if not len(up[after]) or np.max(up[after] @ there) < np.cos(np.radians(SAME_PLACE_DEG)):
            return False
    return True


def _sway_rad_s(motion: CoarseMotion, stretch: Stillness) -> float:
    """Root mean square of the slow part of both sensors' angular rate."""
    window = max(1, round(SWAY_S * motion.rate_hz))
    inside = slice(stretch.start, stretch.stop)
    rates = np.hstack([moving_mean(each[inside], window) for each in (motion.proximal_rate, motion.distal_rate)])
    return float(np.sqrt(rates.var(axis=0).sum()))


def listed(
    candidates: tuple[PoseCandidate, ...] | list[PoseCandidate], motion: CoarseMotion, zero_rad: float = 0.0
) -> str:
    """Say where still stretches lie and at which joint angle.

    Parameters
    ----------
    candidates : sequence of PoseCandidate
        Still stretches.
    motion : CoarseMotion
        For their times.
    zero_rad : float
        Angle counted as zero.

    Returns
    -------
    str
        ``"12.0:18.4 s (+3.1 deg)"``, joined by commas, at most six; ``"none"`` where there are none.
    """
    time_s = motion.time_s
    words = [
        f"{time_s[each.stretch.start]:.1f}:{time_s[each.stretch.stop - 1]:.1f} s"
        f" ({each.why_not or f'{np.degrees(math.remainder(each.level_rad - zero_rad, math.tau)):+.1f} deg'})"
        for each in candidates[:MOST_LISTED]
    ]
    if len(candidates) > MOST_LISTED:
        words.append(f"{len(candidates) - MOST_LISTED} more")
    return ", ".join(words) or "none"


def find_neutral_pose(
    motion: CoarseMotion,
    angle_rad: Floats,
    walking: NDArray[np.bool_],
    worn_start_s: float,
    worn_stop_s: float,
    settings: PoseSettings,
    *,
    needs_calibration: bool,
) -> NeutralPose:
    """Choose the neutral pose: the last still stretch of a person wearing both sensors before the calibration movement.

    Parameters
    ----------
    motion : CoarseMotion
        Both sensors.
    angle_rad : ndarray of shape (m,)
        Joint angle of either sign and any zero, smoothed, on the samples of ``motion``.
    walking : ndarray of bool of shape (m,)
        True while walking or turning.
    worn_start_s, worn_stop_s : float
        Stretch in which both sensors are worn with one mounting.
    settings : PoseSettings
        Limits.
    needs_calibration : bool
        True: the calibration movement must follow (it settles the sign). False: where none follows, the longest still
        stretch before the first repetitions serves, if all others agree.

    Returns
    -------
    NeutralPose
        With all candidates and why others could not serve.

    Raises
    ------
    CannotAnswerError
        There is no such stretch, or stretches that could serve differ by more than the allowed difference.
    """
    candidates = _candidates(motion, angle_rad, worn_start_s, worn_stop_s, settings)
    worn = (motion.time_s >= worn_start_s) & (motion.time_s <= worn_stop_s)
    candidates = [
        replace(each, why_not="")
        if each.why_not == NO_SWAY and _worn_though_quiet(motion, angle_rad, walking, worn, each, settings)
        else each
        for each in candidates
    ]
    able = [each for each in candidates if not each.why_not]
    first = len(angle_rad)
    followed = _followed(able, angle_rad, walking, motion.rate_hz, settings)
    if not needs_calibration and not followed:
        # nothing follows the pose, so it must lie before the first set
        first = first_bout(angle_rad, walking | (motion.time_s < worn_start_s), motion.rate_hz)
        able = [each for each in able if each.stretch.start < first]
    if not able:
        raise CannotAnswerError(
            "no neutral pose: no still stretch of a person wearing both sensors was found; still stretches: "
            + listed(candidates, motion),
            do="stand still for 5 s before the exercise, or name the pose by --neutral START:STOP",
        )
    chosen, calibration = None, None
    # two swings may be a shift of weight: they serve only where nothing clearer follows another stretch
    clear = [pair for pair in followed if pair[1].cycles > FEWEST_CYCLES]
    if followed:
        movement = (clear or followed)[0][1]
        # several stretches may come before the same movement: the last one serves
        chosen, calibration = [pair for pair in followed if abs(pair[1].start - movement.start) < motion.rate_hz][-1]
    if chosen is None:
        if needs_calibration:
            raise CannotAnswerError(
                "no calibration movement (two to four slow movements to one side and back, straight after standing "
                "still) follows any still stretch: " + listed(candidates, motion),
                do="record it again with the movement, or name the pose by --neutral START:STOP and declare the "
                "mounting",
            )
        chosen = max(able, key=lambda each: each.stretch.stop - each.stretch.start)
    limit = calibration.start if calibration else first
    return _judged(motion, walking, candidates, chosen, calibration, limit, settings)


def _moved_on(motion: CoarseMotion, walking: NDArray[np.bool_], after: int, chosen: Stillness) -> bool:
    """Whether the person walked or stood up between a still stretch and the chosen one."""
    if not after < chosen.start:
        return False
    if walking[after : chosen.start].sum() > SHORTEST_WALK_S * motion.rate_hz:
        return True
    for up in (motion.proximal_up, motion.distal_up):
        there = up[chosen.start : chosen.stop].mean(axis=0)
        between = moving_mean(up[after : chosen.start], max(1, round(0.5 * motion.rate_hz)))
        if np.min(between @ there) < np.cos(np.radians(CHANGED_POSTURE_DEG)):
            return True
    return False


def _other_posture(
    motion: CoarseMotion, walking: NDArray[np.bool_], each: PoseCandidate, chosen: PoseCandidate, far: bool
) -> bool:
    """Whether two of three speak for another posture, such as sitting: far off, quieter, and the person moved on.

    Moving on is enough where both segments lean otherwise: the floor is level wherever one stands on it.
    """
    quieter = _sway_rad_s(motion, each.stretch) < QUIETER * _sway_rad_s(motion, chosen.stretch)
    moved_on = _moved_on(motion, walking, each.stretch.stop, chosen.stretch)
    return int(far) + int(quieter) + int(moved_on) >= 2 or (moved_on and _both_lean_otherwise(motion, each, chosen))


def _both_lean_otherwise(motion: CoarseMotion, each: PoseCandidate, chosen: PoseCandidate) -> bool:
    """Whether neither segment is inclined as in the chosen stretch."""
    return all(
        np.dot(*_directions(up, each.stretch, chosen.stretch)) < np.cos(np.radians(CHANGED_POSTURE_DEG))
        for up in (motion.proximal_up, motion.distal_up)
    )


def _directions(up: Floats, *stretches: Stillness) -> list[Floats]:
    means = [up[each.start : each.stop].mean(axis=0) for each in stretches]
    return [each / np.linalg.norm(each) for each in means]


def _judged(
    motion: CoarseMotion,
    walking: NDArray[np.bool_],
    candidates: list[PoseCandidate],
    chosen: PoseCandidate,
    calibration: CalibrationMovement | None,
    limit: int,
    settings: PoseSettings,
) -> NeutralPose:
    """Give every still stretch its reason, and refuse to choose between rivals."""
    length = chosen.stretch.stop - chosen.stretch.start
    judged, postures, rivals = [], [], []
    for each in candidates:
        why_not = each.why_not
        off_deg = abs(np.degrees(each.level_rad - chosen.level_rad))
        if each is not chosen and not why_not:
            if each.stretch.start >= limit:
                why_not = "after the calibration movement" if calibration else "after the first repetitions"
            elif off_deg > settings.largest_difference_deg:
                if each.stretch.stop - each.stretch.start < settings.rival_share * length:
                    why_not = "a stop on the way"
                elif calibration is not None and _other_posture(
                    motion, walking, each, chosen, off_deg > settings.other_posture_deg
                ):
                    why_not = "another posture than standing for the pose"
                else:
                    rivals.append(each)
        kept = PoseCandidate(each.stretch, each.level_rad, why_not)
        judged.append(kept)
        if why_not.startswith("another posture"):
            postures.append(kept)
    if rivals:
        raise CannotAnswerError(
            "the neutral pose is not clear: still stretches that could serve differ by more than "
            f"{settings.largest_difference_deg:g} deg: {listed([*rivals, chosen], motion, chosen.level_rad)}",
            do="name the right one by --neutral START:STOP",
        )
    return NeutralPose(
        chosen.stretch.start, chosen.stretch.stop, chosen.level_rad, calibration, tuple(judged), tuple(postures)
    )
