"""Whose sets are whose: those found in one recording given to its exercises, or left open where nobody can tell."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from statistics import median

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import Exercise
from imu_rom.errors import CannotAnswerError
from imu_rom.findings import Finding
from imu_rom.motion.pose import NeutralPose
from imu_rom.motion.repetitions import RepetitionSet
from imu_rom.motion.tracking import HingeTrack
from imu_rom.recording.model import Recording
from imu_rom.session.holds import hold_sets
from imu_rom.session.marks import apply_marks
from imu_rom.session.parts import Part, Span, combined_exercise
from imu_rom.session.result import Allotment, Mark
from imu_rom.session.sets import found_sets, sets_in_order, sets_of
from imu_rom.settings import Settings

__all__ = ["Allotted", "allotted_sets", "elsewhere", "left_out_findings"]

Floats = NDArray[np.float64]

# Prescribed holds that differ by this factor are told apart, whoever does them.
CLEARLY_LONGER = 3.0
# Fewer movements back and forth are no set that somebody would miss.
FEWEST_LEFT_OUT = 3


@dataclass(frozen=True)
class Allotted:
    """Sets and the exercise that they belong to.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed; where nobody can tell, what all that it may be have alike.
    sets : list of RepetitionSet
        In time order.
    allotment : Allotment
        How that is known.
    prescribed_repetitions : int
        In all sets together.
    """

    exercise: Exercise
    sets: list[RepetitionSet]
    allotment: Allotment
    prescribed_repetitions: int

    def touched_by(self, mark: Mark) -> bool:
        """Tell whether a correction is about one of these sets.

        Parameters
        ----------
        mark : Mark
            A person's correction.

        Returns
        -------
        bool
            True where it overlaps one of them.
        """
        return any(each.start_s < mark.stop_s and each.stop_s > mark.start_s for each in self.sets)

    def corrected(self, marks: Sequence[Mark], complete_share: float) -> "Allotted":
        """Apply a person's corrections.

        Parameters
        ----------
        marks : sequence of Mark
            In their order; holds by hand are already among the sets.
        complete_share : float
            Share of the set's median excursion from which a repetition is complete.

        Returns
        -------
        Allotted
            With the corrected sets.

        Raises
        ------
        CannotAnswerError
            A mark touches nothing.
        """
        others = [each for each in marks if not (self.exercise.is_held and each.action == "hold")]
        return replace(self, sets=apply_marks(self.sets, others, complete_share))


def allotted_sets(
    recording: Recording,
    track: HingeTrack,
    angles_deg: tuple[Floats, Floats],
    pose: NeutralPose,
    parts: Sequence[Part],
    said_by: str,
    settings: Settings,
    marks: Sequence[Mark] = (),
    *,
    given: bool = False,
) -> list[Allotted]:
    """Find the sets of exercises that share one angle and its zero.

    Parameters
    ----------
    recording : Recording
        For taps on its sensors.
    track : HingeTrack
        Tracked angle.
    angles_deg : tuple of two ndarrays
        Joint angle at the coarse rate and at every sample, with its sign, 0 in the neutral pose.
    pose : NeutralPose
        Neutral pose.
    parts : sequence of Part
        The exercises, and where each was done, as far as somebody said so.
    said_by : str
        Who says so (`imu_rom.session.parts.Parts`).
    settings : Settings
        All tunables.
    marks : sequence of Mark
        A person's corrections, for holds by hand.
    given : bool
        True where a person named the pose.

    Returns
    -------
    list of Allotted
        One for each exercise. Where only the plan's order is known, and the sets found are not as many as it
        prescribes or are clearly in another order, one for all of them, undecided. An exercise may have no sets.

    Raises
    ------
    CannotAnswerError
        A set was done before the pose, no hold is visible, or the exercises differ so much that the order can't tell
        them apart.
    """

    def holds(exercise: Exercise, spans_s: tuple[Span, ...] | None) -> list[RepetitionSet]:
        by_hand = [each for each in marks if each.action == "hold" and _holds_mark(spans_s, each)]
        return hold_sets(recording, track, angles_deg, pose, exercise, settings, by_hand, spans_s)

    @cache
    def found(repetitions: int) -> list[RepetitionSet]:
        return found_sets(track, angles_deg[0], pose, repetitions, settings, given=given)

    if len(parts) > 1 and any(each.spans_s is None for each in parts):
        return _by_order([each.exercise for each in parts], recording.label, found, holds, settings)
    allotted = []
    for part in parts:
        exercise, spans_s = part.exercise, part.spans_s
        if exercise.is_held:
            try:
                sets = holds(exercise, spans_s)
            except CannotAnswerError:
                if len(parts) == 1:
                    raise
                sets = []
        else:
            all_sets = found(exercise.repetitions)
            mine = all_sets if spans_s is None else [each for each in all_sets if _is_of(part, each, parts)]
            sets = sets_of(mine, exercise, settings)
        allotted.append(Allotted(exercise, sets, Allotment(said_by), exercise.sets * exercise.repetitions))
    return allotted


def left_out_findings(
    track: HingeTrack, coarse_deg: Floats, pose: NeutralPose, parts: Sequence[Part], settings: Settings
) -> list[Finding]:
    """Say which sets lie in no exercise's stretches.

    Parameters
    ----------
    track : HingeTrack
        Tracked angle.
    coarse_deg : ndarray of shape (m,)
        Joint angle at the coarse rate, with its sign, 0 in the neutral pose.
    pose : NeutralPose
        Neutral pose.
    parts : sequence of Part
        The exercises.
    settings : Settings
        All tunables.

    Returns
    -------
    list of Finding
        One for each set that was left out; none where nothing says where the exercises are, or one of them is held.
    """
    if any(each.spans_s is None or each.exercise.is_held for each in parts):
        return []
    every = found_sets(track, coarse_deg, pose, 1, settings, given=True)
    after_s = float(track.motion.time_s[pose.start])
    return [
        Finding(
            "set-left-out",
            "caution",
            f"{one.complete_count} repetitions from {one.start_s:.1f} to {one.stop_s:.1f} s lie in no stretch that "
            "belongs to an exercise, and were left out.",
            one.start_s,
            one.stop_s,
        )
        for one in every
        if one.start_s > after_s
        and one.complete_count >= FEWEST_LEFT_OUT
        and not any(_covered_s(each, one) for each in parts)
    ]


def _holds_mark(spans_s: tuple[Span, ...] | None, mark: Mark) -> bool:
    return spans_s is None or any(start_s < mark.stop_s and stop_s > mark.start_s for start_s, stop_s in spans_s)


def _covered_s(part: Part, one: RepetitionSet) -> float:
    return sum(max(0.0, min(stop_s, one.stop_s) - max(start_s, one.start_s)) for start_s, stop_s in part.spans_s or ())


def _is_of(part: Part, one: RepetitionSet, parts: Sequence[Part]) -> bool:
    """Whether a set lies in this exercise's stretches more than in those of any other."""
    mine = _covered_s(part, one)
    return mine > 0 and all(_covered_s(each, one) < mine for each in parts if each is not part)


def _by_order(
    exercises: list[Exercise],
    label: str,
    found: Callable[[int], list[RepetitionSet]],
    holds: Callable[[Exercise, tuple[Span, ...] | None], list[RepetitionSet]],
    settings: Settings,
) -> list[Allotted]:
    whole = combined_exercise(exercises, label)
    prescribed = sum(each.sets for each in exercises)
    asked = " and ".join(f"{each.sets} of {each.name}" for each in exercises)
    if whole.is_held:
        if whole.tempo.end_range_hold_s is None or not whole.repetitions:
            raise CannotAnswerError(
                f"{' and '.join(each.name for each in exercises)} are held for different times, so the plan's order "
                "can't tell where one ends and the other begins",
                where=label,
                do="say it by events beside the recording, or by --exercise NAME@START:STOP for each",
            )
        every = holds(whole, None)
        in_order = _sliced(every, exercises) if len(every) == prescribed else None
    else:
        most = max(each.repetitions for each in exercises)
        every = found(most)
        in_order = sets_in_order(every, exercises, settings)
        if in_order is None:
            every = sets_of(every, replace(whole, repetitions=most), settings)
    if in_order is None:
        why = f"{len(every)} set{'' if len(every) == 1 else 's'} were found where the plan asks for {asked}"
    else:
        why = _contradicted(exercises, in_order)
        every = every if not why else [one for sets in in_order for one in sets]
    if in_order is not None and not why:
        return [
            Allotted(exercise, sets, Allotment("order"), exercise.sets * exercise.repetitions)
            for exercise, sets in zip(exercises, in_order, strict=True)
        ]
    undecided = Allotment("order", tuple(each.name for each in exercises), why)
    return [Allotted(whole, every, undecided, sum(each.sets * each.repetitions for each in exercises))]


def _sliced(every: list[RepetitionSet], exercises: Sequence[Exercise]) -> list[list[RepetitionSet]]:
    ends = np.cumsum([each.sets for each in exercises]).tolist()
    return [every[stop - each.sets : stop] for each, stop in zip(exercises, ends, strict=True)]


def _contradicted(exercises: Sequence[Exercise], in_order: Sequence[Sequence[RepetitionSet]]) -> str:
    """Say what speaks against the plan's order; empty where nothing does. It is never used to choose another."""
    held_s = [median(each.hold_s for one in sets for each in one.repetitions) for sets in in_order]
    for first, before in enumerate(exercises):
        for second, after in enumerate(exercises[first + 1 :], start=first + 1):
            asked = before.tempo.end_range_hold_s or 0.0, after.tempo.end_range_hold_s or 0.0
            if min(asked) <= 0 or max(asked) < CLEARLY_LONGER * min(asked):
                continue
            middle = (asked[0] * asked[1]) ** 0.5
            fits = [
                (held_s[place] > middle) == (other > middle) for place, other in ((first, asked[0]), (second, asked[1]))
            ]
            if not any(fits):
                return (
                    f"by the plan's order {before.name} was held for {held_s[first]:.1f} s where {asked[0]:g} s are "
                    f"asked, and {after.name} for {held_s[second]:.1f} s where {asked[1]:g} s are: they may have been "
                    "done in another order"
                )
    return ""


def elsewhere(own: Allotted, found: Sequence[Allotted], duration_s: float) -> list[Span]:
    """List the stretches that belong to other exercises of the same angle.

    Parameters
    ----------
    own : Allotted
        The exercise in question.
    found : sequence of Allotted
        All of them.
    duration_s : float
        Length of the recording.

    Returns
    -------
    list of tuple of float
        (start_s, stop_s): an exercise's time begins where the last set of another one ended, the first one's with the
        recording; so all of them together cover it once.
    """
    every = sorted(
        ((one.start_s, one.stop_s, each is own) for each in found for one in each.sets), key=lambda each: each[0]
    )
    spans: list[Span] = []
    begin_s = 0.0
    for number, (_, stop_s, mine) in enumerate(every):
        until_s = stop_s if number + 1 < len(every) else duration_s
        if not mine:
            spans.append((begin_s, until_s))
        begin_s = until_s
    return spans
