"""The holds of an exercise, each a repetition: seen as plateaus, between taps, or marked by hand; grouped into sets."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import Exercise
from imu_rom.errors import CannotAnswerError
from imu_rom.motion.holds import Hold, find_holds, steadiness
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.repetitions import Repetition, RepetitionSet, join_interrupted
from imu_rom.motion.taps import find_taps, spans_between_taps
from imu_rom.motion.tracking import HingeTrack
from imu_rom.recording.model import Recording
from imu_rom.session.result import Mark
from imu_rom.session.sets import where_sets_can_be
from imu_rom.settings import Settings

__all__ = ["hold_sets"]

Floats = NDArray[np.float64]

# A hold that is left sooner than this share of the time asked for is a pause on the way; one that lasts longer than
# twice and a little more is a rest.
SHORTEST_SHARE, SHORTEST_S = 0.25, 2.0
LONGEST_SHARE, LONGER_S = 2.0, 10.0
# How far beside the window a hold may lie and still be one that missed it.
BESIDE_DEG = 15.0
# A hold ended early where this much of the time asked for is missing.
MISSING_SHARE, MISSING_S = 0.1, 1.0
LONGEST_REST_S = 1800.0


def hold_sets(
    recording: Recording,
    track: HingeTrack,
    angles_deg: tuple[Floats, Floats],
    pose: NeutralPose,
    exercise: Exercise,
    settings: Settings,
    marks: Sequence[Mark] = (),
    spans_s: Sequence[tuple[float, float]] | None = None,
) -> list[RepetitionSet]:
    """Find the holds of one exercise and group them.

    Parameters
    ----------
    recording : Recording
        For taps on its sensors.
    track : HingeTrack
        Tracked angle, for walking and the worn part.
    angles_deg : tuple of two ndarrays
        Joint angle at the coarse rate and at every sample, with its sign, 0 in the neutral pose.
    pose : NeutralPose
        Neutral pose: what comes before is no set.
    exercise : Exercise
        A hold or a stretch with its time.
    settings : Settings
        All tunables.
    marks : sequence of Mark
        Holds that a person marked by hand.
    spans_s : sequence of tuple of float, optional
        (start_s, stop_s) of the stretches that hold this exercise; None looks everywhere.

    Returns
    -------
    list of RepetitionSet
        In time order; angles about the plan's zero.

    Raises
    ------
    CannotAnswerError
        No hold is visible, tapped or marked.
    """
    coarse_deg, fine_deg = angles_deg
    asked_s = exercise.tempo.end_range_hold_s or 0.0
    shortest_s, longest_s = max(SHORTEST_S, SHORTEST_SHARE * asked_s), LONGEST_SHARE * asked_s + LONGER_S
    pose_deg = exercise.neutral_deg or 0.0
    window = exercise.end_range_deg if exercise.angle_is_known else None
    motion = track.motion
    eligible = where_sets_can_be(track, pose) & (motion.time_s >= motion.time_s[pose.start])
    if spans_s is not None:
        named = [(motion.time_s >= start_s) & (motion.time_s <= stop_s) for start_s, stop_s in spans_s]
        eligible &= np.any(named, axis=0)
    seen = find_holds(
        coarse_deg,
        eligible,
        motion.rate_hz,
        shortest_s=shortest_s,
        longest_s=longest_s,
        between_deg=None if window is None else (window[0] - pose_deg - BESIDE_DEG, window[1] - pose_deg + BESIDE_DEG),
        smallest_excursion_deg=settings.repetitions.smallest_excursion_deg,
        first_s=float(motion.time_s[0]),
    )
    seen = _without_surplus(seen, window, pose_deg, exercise.sets * exercise.repetitions)
    after_s = float(motion.time_s[pose.stop - 1])
    tapped = [
        span
        for span in _tapped(recording, exercise, (asked_s, shortest_s, longest_s))
        if span[0] > after_s and _all_within(eligible, (motion.time_s > span[0]) & (motion.time_s < span[1]))
    ]
    seen += [_hold(fine_deg, recording.rate_hz, *span) for span in tapped if not _overlaps(seen, *span)]
    for mark in marks:
        # a person's word goes before what was seen
        seen = [each for each in seen if not _overlaps([each], mark.start_s, mark.stop_s)]
        seen.append(_hold(fine_deg, recording.rate_hz, mark.start_s, mark.stop_s))
    if not seen:
        raise CannotAnswerError(
            f"no hold of {exercise.name!r} is visible: nothing moves into a position, stays there for {shortest_s:g} s "
            "or more, and leaves it again; a hold at the neutral pose's own angle shows no movement at its ends",
            where=recording.label,
            do="tap a sensor three times before and after each hold, or mark them by hand (--marks, action hold)",
        )
    held = [
        _repetition(each, fine_deg, recording.rate_hz, asked_s, pose_deg, settings)
        for each in sorted(seen, key=lambda each: each.hold_start_s)
    ]
    return _grouped(held, exercise, settings)


def _without_surplus(
    seen: list[Hold], window: tuple[float, float] | None, pose_deg: float, prescribed: int
) -> list[Hold]:
    """Leave out the positions furthest beside the window, such as sitting, where there are more than prescribed."""
    if window is None:
        return seen
    low, high = window

    def beside_deg(hold: Hold) -> float:
        return max(low - hold.held_deg - pose_deg, hold.held_deg + pose_deg - high, 0.0)

    kept = list(seen)
    while len(kept) > prescribed and max(map(beside_deg, kept)) > 0:
        kept.remove(max(kept, key=beside_deg))
    return kept


def _tapped(
    recording: Recording, exercise: Exercise, lengths_s: tuple[float, float, float]
) -> list[tuple[float, float]]:
    """Stretches between three taps and three taps on any sensor: time asked for, shortest and longest."""
    marks = []
    for point in exercise.tracked_points:
        sensor = recording.sensor(point)
        marks += find_taps(sensor.accelerometer_m_s2, sensor.gyroscope_rad_s, recording.rate_hz)
    return spans_between_taps(marks, *lengths_s)


def _all_within(eligible: NDArray[np.bool_], inside: NDArray[np.bool_]) -> bool:
    """Whether a stretch lies in the tracked part, and nowhere where a set can't be."""
    return bool(inside.any()) and bool(eligible[inside].all())


def _overlaps(holds: Sequence[Hold], start_s: float, stop_s: float) -> bool:
    return any(each.hold_start_s < stop_s and each.hold_stop_s > start_s for each in holds)


def _hold(angle_deg: Floats, rate_hz: float, start_s: float, stop_s: float) -> Hold:
    """Take a stretch for a hold, without ways in and out."""
    inside = angle_deg[max(0, round(start_s * rate_hz)) : max(1, round(stop_s * rate_hz))]
    if not len(inside):
        raise CannotAnswerError(f"the hold {start_s:g}:{stop_s:g} s must lie within the recording")
    level = float(np.median(inside))
    return Hold(start_s, start_s, stop_s, stop_s, level, level)


def _repetition(
    hold: Hold, angle_deg: Floats, rate_hz: float, asked_s: float, pose_deg: float, settings: Settings
) -> Repetition:
    steady = steadiness(angle_deg, rate_hz, hold.hold_start_s, hold.hold_stop_s)
    early = hold.hold_s < asked_s - max(MISSING_S, MISSING_SHARE * asked_s)
    return Repetition(
        start_s=hold.start_s,
        end_range_s=(hold.hold_start_s + hold.hold_stop_s) / 2,
        stop_s=hold.stop_s,
        hold_start_s=hold.hold_start_s,
        hold_stop_s=hold.hold_stop_s,
        end_range_deg=hold.held_deg + pose_deg,
        end_range_uncertainty_deg=steady.held_uncertainty_deg,
        held_deg=hold.held_deg + pose_deg,
        start_deg=hold.start_deg + pose_deg,
        complete=not early,
        ended_early=early,
        shaking_deg=steady.shaking_deg,
        sag_deg=steady.sag_deg,
        # the attitude's slow error may drift by about its size from one end to the other
        sag_uncertainty_deg=float(np.hypot(steady.sag_uncertainty_deg, settings.uncertainty.attitude_deg)),
    )


def _grouped(held: list[Repetition], exercise: Exercise, settings: Settings) -> list[RepetitionSet]:
    alone = [RepetitionSet((each,)) for each in held]
    if exercise.repetitions == 1:
        return alone
    # a rest between two holds of a set is as long as it likes: only their number says what belongs together
    patient = replace(settings.repetitions, longest_interruption_s=LONGEST_REST_S)
    joined = join_interrupted(alone, [exercise.repetitions] * exercise.sets, patient)
    return [replace(each, interruptions=()) for each in joined]
