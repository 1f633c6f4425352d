"""What speaks against the stillness of the segment that wears no sensor, and what one sensor can't tell."""

from collections.abc import Sequence

import numpy as np

from imu_rom.dose.exercise import Exercise
from imu_rom.errors import CannotAnswerError
from imu_rom.findings import Finding
from imu_rom.motion.coarse import moving_mean
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.motion.segment_tracking import SegmentTrack
from imu_rom.motion.tracking import HingeTrack

__all__ = ["check_movement_can_be_counted", "one_sensor_findings"]

# A step, a hop or a knock; slow exercise and sway stay far below. Common practice, no source.
SHOCK_M_S2 = 2.0
SHOCK_LOOK_S = 0.5
# The axis of a segment that moves in one plane beside a still one keeps its tilt against gravity to within this.
LARGEST_TILT_DEG = 6.0
UNSEEN_SLIP = (
    " Nobody was seen standing in the neutral pose again, so a slip of the sensor would hardly be noticed: stand in it "
    "once more after the last set."
)
# Beside a segment that may move, a smaller turn may be sway, or a lean that goes along with only some repetitions.
SMALLEST_COUNTED_DEG = 15.0


def check_movement_can_be_counted(exercise: Exercise, sets: Sequence[RepetitionSet], where: str) -> None:
    """Refuse to count repetitions by a segment that hardly takes part in them.

    Parameters
    ----------
    exercise : Exercise
        Which sensors are worn and which segment keeps still.
    sets : sequence of RepetitionSet
        As found.
    where : str
        Name of the recording.

    Raises
    ------
    CannotAnswerError
        One sensor is worn beside a segment that may move, and its own turn is small.
    """
    if exercise.angle_is_known:
        return
    turned_deg = float(np.median([each.end_range_deg - each.start_deg for one in sets for each in one.repetitions]))
    if turned_deg < SMALLEST_COUNTED_DEG:
        raise CannotAnswerError(
            f"the sensor on {exercise.tracked_points[0]!r} turns by only {turned_deg:.0f} deg, too little to count "
            "repetitions by",
            where=where,
            do="wear the sensor on the segment that moves, or both",
        )


def one_sensor_findings(
    exercise: Exercise, track: HingeTrack, pose: NeutralPose, sets: Sequence[RepetitionSet], *, stood_again: bool
) -> list[Finding]:
    """Say what one sensor leaves open.

    Parameters
    ----------
    exercise : Exercise
        Which sensors are worn and which segment keeps still.
    track : HingeTrack
        Tracked angle.
    pose : NeutralPose
        In which the tilt of the axis is known.
    sets : sequence of RepetitionSet
        As found.
    stood_again : bool
        True where the person was seen standing in the neutral pose again.

    Returns
    -------
    list of Finding
        Empty where both sensors are worn; with one, what its angle rests on comes first.
    """
    if not isinstance(track, SegmentTrack):
        return []
    (point,) = exercise.tracked_points
    if exercise.still_segment is None:
        return [
            Finding(
                "one-sensor",
                "problem",
                f"Only the sensor on {point} was worn, and the plan names no still_segment: the other segment may move "
                "too, as the shank leans in a heel raise while standing, so repetitions and their times are told, and "
                "no depth is judged, and a slip of the sensor would not be noticed.",
                sensor=point,
            )
        ]
    alone = Finding(
        "one-sensor",
        "note",
        f"Only the sensor on {point} was worn: its own turn since the neutral pose is the joint's angle only as long "
        f"as the other segment keeps still, as the plan says ({exercise.still_segment}); whatever that one moves is "
        f"counted as angle.{'' if stood_again else UNSEEN_SLIP}",
        sensor=point,
    )
    return [alone, *_impacts(exercise, track, sets, point), *_tilted(exercise, track, pose, sets, point)]


def _within(track: SegmentTrack, one: RepetitionSet) -> slice:
    first, last = np.searchsorted(track.motion.time_s, (one.start_s, one.stop_s)).tolist()
    return slice(first, max(last, first + 1))


def _impacts(exercise: Exercise, track: SegmentTrack, sets: Sequence[RepetitionSet], point: str) -> list[Finding]:
    motion = track.motion
    look = max(1, round(SHOCK_LOOK_S * motion.rate_hz))
    shock = np.sqrt(moving_mean(motion.shock_m_s2**2, look)) > SHOCK_M_S2
    found = []
    for number, one in enumerate(sets, start=1):
        moved = (shock | track.walks)[_within(track, one)]
        if moved.any():
            at_s = float(motion.time_s[_within(track, one)][np.argmax(moved)])
            found.append(
                Finding(
                    "still-segment-moved",
                    "caution",
                    f"In set {number} the sensor on {point} felt a step or a knock at {at_s:.1f} s, which speaks "
                    f"against the other segment keeping still ({exercise.still_segment}).",
                    at_s,
                    at_s,
                    point,
                )
            )
    return found


def _tilted(
    exercise: Exercise, track: SegmentTrack, pose: NeutralPose, sets: Sequence[RepetitionSet], point: str
) -> list[Finding]:
    motion = track.motion
    up, axis = (motion.distal_up, track.axis.distal) if track.distal_worn else (motion.proximal_up, track.axis.proximal)
    tilt_deg = np.degrees(np.arcsin(np.clip(up @ axis, -1.0, 1.0)))
    before = float(np.median(tilt_deg[pose.start : pose.stop]))
    found = []
    for number, one in enumerate(sets, start=1):
        off_deg = abs(float(np.median(tilt_deg[_within(track, one)])) - before)
        if off_deg > LARGEST_TILT_DEG:
            found.append(
                Finding(
                    "still-segment-moved",
                    "caution",
                    f"In set {number} the movement of the sensor on {point} was tilted sideways by {off_deg:.0f} "
                    "degrees against the neutral pose, which speaks against the other segment keeping still "
                    f"({exercise.still_segment}).",
                    one.start_s,
                    one.stop_s,
                    point,
                )
            )
    return found
