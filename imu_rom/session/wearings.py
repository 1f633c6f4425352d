"""Stretches of a recording with the same leg, shoe and sensors: each needs a neutral pose of its own.

A zero holds as long as the sensors stay where they are, in the same shoe with the same lift. Exercises of another leg
or shoe are tracked in a part of the recording of their own, as if it were a recording of its own.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import Exercise
from imu_rom.errors import CannotAnswerError
from imu_rom.motion.tracking import HingeTrack
from imu_rom.recording.model import Recording
from imu_rom.session.parts import Part, Parts, Span
from imu_rom.session.tracked import exercise_track
from imu_rom.session.zero import neutral_pose
from imu_rom.settings import Settings

__all__ = ["Wearing", "track_within", "wearings_of"]

Floats = NDArray[np.float64]

_SAME_ANGLE = ("joint", "motion", "sensors", "still_segment", "calibration_movement", "second_pose", "mounting")
# Setting up, the pose, its movement and the shortest set take longer.
SHORTEST_S = 30.0
# So many looks are taken at what is left of the recording; the same end is found again to within so much.
LOOKS = 10
SAME_END_S = 5.0


@dataclass(frozen=True)
class Wearing:
    """Exercises that share leg, shoe and sensors, and the part of the recording that is theirs.

    Parameters
    ----------
    parts : tuple of Part
        In the order in which they were done, or in the plan's.
    window_s : tuple of float
        (start_s, stop_s): from the last set before it to the first set after it.
    """

    parts: tuple[Part, ...]
    window_s: Span


def wearings_of(recording: Recording, parts: Parts, settings: Settings) -> tuple[Wearing, ...]:
    """Group exercises by leg, shoe and sensors, and by the angle that is measured.

    Parameters
    ----------
    recording : Recording
        What was measured.
    parts : Parts
        Its exercises.
    settings : Settings
        All tunables.

    Returns
    -------
    tuple of Wearing
        In order of time.

    Raises
    ------
    CannotAnswerError
        One leg or shoe comes back after another one, or the plan's order does not tell where one ends.
    """
    return tuple(
        Wearing(tuple(alike), each.window_s)
        for each in _leg_by_leg(recording, parts, settings)
        for alike in _tracked_alike(each.parts)
    )


def _tracked_alike(parts: Sequence[Part]) -> list[list[Part]]:
    """Part exercises of one leg and shoe whose angles are not the same one; by order alone they stay together."""
    if any(each.spans_s is None for each in parts):
        return [list(parts)]
    groups: list[list[Part]] = []
    for part in parts:
        for group in groups:
            if all(getattr(part.exercise, name) == getattr(group[0].exercise, name) for name in _SAME_ANGLE):
                group.append(part)
                break
        else:
            groups.append([part])
    return groups


def _leg_by_leg(recording: Recording, parts: Parts, settings: Settings) -> tuple[Wearing, ...]:
    whole = (0.0, recording.duration_s)
    if len({each.exercise.worn for each in parts.parts}) == 1:
        return (Wearing(parts.parts, whole),)
    if any(each.spans_s is None for each in parts.parts):
        return _in_order(recording, parts.parts, settings)
    runs = _runs(parts.parts)
    keys = [each[0][0].worn for each in runs]
    if len(set(keys)) < len(keys):
        again = next(run[0] for place, run in enumerate(runs) if keys[place] in keys[:place])
        raise CannotAnswerError(
            f"{again[0].name!r} ({again[0].side}) is done again from {again[1][0]:g} s on, after another leg or shoe, "
            "so its sets would have two zeros",
            where=recording.label,
            do="do all sets of one leg and shoe before those of the next, or make a recording of each",
        )
    starts = [run[0][1][0] for run in runs]
    stops = [max(span[1] for _, span in run) for run in runs]
    ends = [*starts[1:], whole[1]]
    found = []
    for run, start_s, stop_s in zip(runs, [0.0, *stops[:-1]], ends, strict=True):
        names = [exercise.name for exercise, _ in run]
        own = tuple(each for each in parts.parts if each.exercise.name in names)
        found.append(Wearing(own, (start_s, max(stop_s, start_s))))
    return tuple(found)


def _runs(parts: Sequence[Part]) -> list[list[tuple[Exercise, Span]]]:
    """Stretches in order of time, neighbours with the same leg and shoe together."""
    pairs = sorted(((each.exercise, span) for each in parts for span in each.spans_s or ()), key=lambda pair: pair[1])
    return [list(run) for _, run in itertools.groupby(pairs, key=lambda pair: pair[0].worn)]


def _in_order(recording: Recording, parts: Sequence[Part], settings: Settings) -> tuple[Wearing, ...]:
    """Find where the sensors were taken off and put on again, as often as the plan's order changes leg or shoe."""
    runs = [tuple(run) for _, run in itertools.groupby(parts, key=lambda each: each.exercise.worn)]
    names = ", then ".join(" and ".join(each.exercise.name for each in run) for run in runs)
    advice = "say which is when by events beside the recording, or by --exercise NAME@START:STOP for each"
    pairs = {(each.exercise.proximal, each.exercise.distal) for each in parts}
    if len(pairs) > 1:
        raise CannotAnswerError(
            f"the plan's order ({names}) does not tell when which of the sensors were in use",
            where=recording.label,
            do=advice,
        )
    worn = _worn_stretches(recording, parts[0].exercise, settings)
    if len(worn) != len(runs):
        raise CannotAnswerError(
            f"by the plan's order ({names}) the sensors were put on {len(runs)} times, each followed by a neutral "
            f"pose, but the recording shows {len(worn)}: "
            + (", ".join(f"{start_s:.0f} to {stop_s:.0f} s" for start_s, stop_s in worn) or "none"),
            where=recording.label,
            do=f"stand in the neutral pose after every change of leg or shoe; or {advice}",
        )
    starts = [0.0, *(stop_s for _, stop_s in worn[:-1])]
    stops = [*(start_s for start_s, _ in worn[1:]), recording.duration_s]
    return tuple(Wearing(*each) for each in zip(runs, zip(starts, stops, strict=True), strict=True))


def _worn_stretches(recording: Recording, exercise: Exercise, settings: Settings) -> list[Span]:
    """List stretches with one mounting each and a neutral pose in them, in order of time.

    Two mountings in one look would give an axis of neither, so the look begins where the stretch before ended and grows
    until a stretch has come to its own end twice in the same place.
    """
    found: list[Span] = []
    begin_s, end_s = 0.0, recording.duration_s
    while end_s - begin_s > SHORTEST_S:
        looked: Span | None = None
        ended: Span | None = None
        for share in range(1, LOOKS + 1):
            until_s = begin_s + (end_s - begin_s) * share / LOOKS
            before, looked = looked, _worn_with_pose(recording, exercise, (begin_s, until_s), settings)
            if share < LOOKS and looked is not None and looked[1] > until_s - SAME_END_S:
                looked = None
            if before is not None and looked is not None and abs(before[1] - looked[1]) < SAME_END_S:
                ended = looked
                break
        ended = ended or looked
        if ended is None:
            break
        found.append(ended)
        begin_s = ended[1]
    return found


def _worn_with_pose(recording: Recording, exercise: Exercise, window_s: Span, settings: Settings) -> Span | None:
    if window_s[1] - window_s[0] < SHORTEST_S:
        return None
    try:
        track = track_within(recording, exercise, window_s, None, settings)
        neutral_pose(track, None, settings.pose, needs_calibration=True)
    except CannotAnswerError:
        return None
    long_enough = track.worn_stop_s - track.worn_start_s > SHORTEST_S
    return (track.worn_start_s, track.worn_stop_s) if long_enough else None


def track_within(
    recording: Recording,
    exercise: Exercise,
    window_s: Span,
    neutral: Span | None,
    settings: Settings,
    second_pose: Span | None = None,
) -> HingeTrack:
    """Track an exercise in a part of a recording, as if it were a recording of its own.

    Parameters
    ----------
    recording : Recording
        What was measured.
    exercise : Exercise
        What was prescribed.
    window_s : tuple of float
        (start_s, stop_s) of the part.
    neutral : tuple of float or None
        (start_s, stop_s) of a neutral pose that a person named.
    settings : Settings
        All tunables.
    second_pose : tuple of float, optional
        (start_s, stop_s) of the plan's second pose.

    Returns
    -------
    HingeTrack
        With the times of the whole recording; its angle at every sample has the first and the last value of the part
        before and after it.

    Raises
    ------
    RecordingError, CannotAnswerError
        As for `exercise_track`.
    """
    first, last = (
        round(window_s[0] * recording.rate_hz),
        min(round(window_s[1] * recording.rate_hz), recording.sample_count),
    )
    if first == 0 and last == recording.sample_count:
        return exercise_track(recording, exercise, neutral, settings, second_pose)
    part = replace(
        recording,
        sensors={point: each.between(first, last) for point, each in recording.sensors.items()},
        gaps=(),
        references=(),
    )
    first_s = first / recording.rate_hz
    given, second = (
        None if each is None else (each[0] - first_s, each[1] - first_s) for each in (neutral, second_pose)
    )
    track = exercise_track(part, exercise, given, settings, second)
    return replace(
        track,
        angle_rad=np.pad(track.angle_rad, (first, recording.sample_count - last), mode="edge"),
        motion=replace(track.motion, first_s=first_s),
        worn_start_s=track.worn_start_s + first_s,
        worn_stop_s=track.worn_stop_s + first_s,
    )
