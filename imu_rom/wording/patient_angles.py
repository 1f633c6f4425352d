"""Angles, times and the parts of a movement in the words of a patient, in the patient's language.

Whole degrees and seconds are enough to act on; an interval is widened to whole numbers, so that it never looks surer
than it is.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import median

from imu_rom.dose.compared import RepetitionComparison, SessionComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.session.result import Allotment
from imu_rom.wording.exercise_text import is_undecided
from imu_rom.wording.figures import compared_depths
from imu_rom.wording.language import Speech

__all__ = ["Measured", "PlannedPart", "about", "furthest", "planned_part", "planned_words", "span", "stop_deg", "usual"]


@dataclass(frozen=True)
class PlannedPart:
    """The part of the range in which a movement is to end.

    Parameters
    ----------
    low_deg, high_deg : float
        Its ends; the upper one may be infinite, the lower one minus infinity where only a limit is prescribed.
    """

    low_deg: float
    high_deg: float


@dataclass(frozen=True)
class Measured:
    """An angle with its 95 % interval.

    Parameters
    ----------
    deg, low_deg, high_deg : float
        The angle and the ends of the interval.
    """

    deg: float
    low_deg: float
    high_deg: float


def planned_part(exercise: Exercise) -> PlannedPart | None:
    """Give the part of the range that the plan asks for.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.

    Returns
    -------
    PlannedPart or None
        The window, ended by the limit where that comes first; all up to the limit where no window is prescribed; None
        where neither is, or where the floor ends a repetition.
    """
    if exercise.ends_on_floor:
        return None
    limit_deg = math.inf if exercise.limit_deg is None else exercise.limit_deg
    if exercise.end_range_deg is not None:
        low, high = exercise.end_range_deg
        return PlannedPart(low, min(high, limit_deg))
    return None if math.isinf(limit_deg) else PlannedPart(-math.inf, limit_deg)


def stop_deg(exercise: Exercise) -> float | None:
    """Give the angle at which to stop at the latest.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.

    Returns
    -------
    float or None
        The end of the planned part; None where the plan has none.
    """
    part = planned_part(exercise)
    return None if part is None or math.isinf(part.high_deg) else part.high_deg


def _judged(comparison: SessionComparison) -> Iterator[RepetitionComparison]:
    return (each for done in comparison.sets for each in done.repetitions if not each.touched_by)


def furthest(exercise: Exercise, comparison: SessionComparison, allotment: Allotment | None) -> Measured | None:
    """Find the furthest that was reached.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    comparison : SessionComparison
        What was done.
    allotment : Allotment or None
        How it is known that the sets are this exercise's; None where the recording is of one exercise alone.

    Returns
    -------
    Measured or None
        Of the repetitions that could be judged, partial ones included; None where no angle is known.
    """
    if not exercise.angle_is_known or is_undecided(allotment):
        return None
    deepest = max(_judged(comparison), key=lambda each: each.repetition.end_range_deg, default=None)
    if deepest is None:
        return None
    return Measured(deepest.repetition.end_range_deg, deepest.end_range_low_deg, deepest.end_range_high_deg)


def usual(exercise: Exercise, comparison: SessionComparison) -> Measured | None:
    """Find how far most repetitions went.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    comparison : SessionComparison
        What was done.

    Returns
    -------
    Measured or None
        Median over the complete repetitions of all sets; its interval is not narrower than a repetition's own, because
        the zero is shared. None where no angle is known.
    """
    depths = [depth for done in comparison.sets for depth in compared_depths(exercise, done)]
    if not exercise.angle_is_known or not depths:
        return None
    complete = [each for done in comparison.sets for each in done.repetitions if each.repetition.complete]
    middle = median(depths)
    below = median(each.repetition.end_range_deg - each.end_range_low_deg for each in complete)
    above = median(each.end_range_high_deg - each.repetition.end_range_deg for each in complete)
    return Measured(middle, middle - below, middle + above)


def about(deg: float, to: Speech) -> str:
    """Say one angle.

    Parameters
    ----------
    deg : float
        The angle.
    to : Speech
        The patient's language.

    Returns
    -------
    str
        Such as ``"10 degrees"`` or ``"2 degrees before 0"``: minus signs are easily read over.
    """
    number = round(abs(deg), 1)
    if number == 0:
        return to.say("0 degrees")
    if deg < 0:
        return to.say("{degrees} degrees before 0", degrees=to.number(number))
    if number == 1:
        return to.say("1 degree")
    return to.say("{degrees} degrees", degrees=to.number(number))


def span(low_deg: float, high_deg: float, to: Speech) -> str:
    """Say an interval.

    Parameters
    ----------
    low_deg, high_deg : float
        Its ends.
    to : Speech
        The patient's language.

    Returns
    -------
    str
        Such as ``"6 to 14 degrees"``, or, with an end before 0, ``"from 4 degrees before 0 to 2 degrees"``.
    """
    if low_deg < 0:
        return to.say("from {low} to {high}", low=about(low_deg, to), high=about(high_deg, to))
    return to.say("from {low} to {high} degrees", low=to.number(low_deg), high=to.number(high_deg))


def planned_words(part: PlannedPart, to: Speech) -> str:
    """Say which part of the range is planned.

    Parameters
    ----------
    part : PlannedPart
        The part.
    to : Speech
        The patient's language.

    Returns
    -------
    str
        Such as ``"from 5 to 15 degrees"``.
    """
    if math.isinf(part.low_deg):
        return to.say("up to {high}", high=about(part.high_deg, to))
    if math.isinf(part.high_deg):
        return to.say("at least {low}", low=about(part.low_deg, to))
    return span(part.low_deg, part.high_deg, to)
