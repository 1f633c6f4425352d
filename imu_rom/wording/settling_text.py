"""What can't be told, why, and what would settle it."""

import math
from collections.abc import Sequence
from statistics import NormalDist

from imu_rom.dose.comparison import SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.verdict import needed_repetitions
from imu_rom.wording.figures import compared_depths, counted, likelihood, one_decimal, thing

__all__ = ["reached_it", "undecided_reason"]

# within this of the neutral angle, the foot's contact with the floor can be the reference instead of an angle
NEAR_NEUTRAL_DEG = 3.0
FLOOR_SETTLES = 'the floor as what ends a repetition instead of an angle (end_range = "floor")'


def reached_it(exercise: Exercise) -> str:
    """Say in the past tense what a repetition had to do.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.

    Returns
    -------
    str
        Such as ``"reached 5 deg"``.
    """
    if exercise.ends_on_floor:
        return "came back to the floor"
    return "reached it" if exercise.end_range_deg is None else f"reached {exercise.end_range_deg[0]:g} deg"


WHY_UNJUDGED = {
    "slip": "a sensor slipped",
    "slip-or-stance": "the zero moved: a sensor slipped or the person stood differently",
    "zero-drift": "the zero crept",
}


def undecided_reason(exercise: Exercise, done: SetComparison, u_deg: float) -> str:
    """Say why a set stays undecided, and what would settle it.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    done : SetComparison
        A set whose verdict is undecided.
    u_deg : float
        Combined standard uncertainty of the joint angle within the set, in degrees.

    Returns
    -------
    str
        Part of a sentence, in lower case.
    """
    decide = exercise.decide
    if not exercise.angle_is_known:
        (point,) = exercise.tracked_points
        return (
            f"the sensor on {point} alone can't tell how deep they went, and a second sensor, or a segment that keeps "
            "still (still_segment in the plan), would settle it"
        )
    unjudged = sum(bool(each.touched_by) for each in done.repetitions)
    if unjudged:
        codes = sorted({code for each in done.repetitions for code in each.touched_by})
        why = ", ".join(WHY_UNJUDGED.get(code, code) for code in codes)
        which = counted(unjudged, thing(exercise))
        return f"{which} can't be judged ({why}), and a recording without that would settle it"
    kept, reached = done.probability_within_limit, done.probability_reached
    if kept is not None and exercise.limit_deg is not None and 1 - decide.limit < kept < decide.limit:
        return (
            f"that the limit of {exercise.limit_deg:g} deg was kept is {likelihood(kept, decide.limit)}, and "
            f"{_settles_limit(exercise, done, u_deg)} would settle it"
        )
    if reached is not None and 1 - decide.reached < reached < decide.reached:
        settles = "a wider floor_tolerance_deg in the plan"
        if not exercise.ends_on_floor:
            settles = _settles_window(exercise, done, u_deg)
        return (
            f"that enough of them {reached_it(exercise)} is {likelihood(reached, decide.reached)}, "
            f"and {settles} would settle it"
        )
    above, below = done.probability_above_window, done.probability_below_window
    for word, probability in (("above", above), ("below", below)):
        if probability is not None and 1 - decide.reached < probability < decide.reached:
            return (
                f"that the time past the compressive angle is {word} what was asked is "
                f"{likelihood(probability, decide.reached)}, and a better neutral pose or a wider time window in the "
                "plan would settle it"
            )
    return "a part of it was not recorded, and a recording without gaps would settle it"


def _better_pose(margin_deg: float, decide: float, u_deg: float) -> str:
    """Say how good the neutral pose would have to be, where any could be good enough."""
    largest_deg = abs(margin_deg) / NormalDist().inv_cdf(decide)
    if not 0.3 <= largest_deg < u_deg:
        return "a better neutral pose"
    uncertainty = f"standard uncertainty of at most {one_decimal(largest_deg)} deg, here {one_decimal(u_deg)}"
    return f"a better neutral pose ({uncertainty})"


def _settles_limit(exercise: Exercise, done: SetComparison, u_deg: float) -> str:
    limit_deg = exercise.limit_deg or 0.0
    levels = [
        each.repetition.end_range_deg if each.sustained_deg is None else each.sustained_deg for each in done.repetitions
    ]
    deepest_deg = max(levels)
    tolerance_deg = math.ceil(deepest_deg + NormalDist().inv_cdf(exercise.decide.limit) * u_deg)
    ways = [_better_pose(limit_deg - deepest_deg, exercise.decide.limit, u_deg)]
    ways.append(f"a tolerance in the plan (a limit of about {max(tolerance_deg, math.floor(limit_deg) + 1)} deg)")
    if abs(limit_deg) <= NEAR_NEUTRAL_DEG:
        ways.append(FLOOR_SETTLES)
    return _either(ways)


def _settles_window(exercise: Exercise, done: SetComparison, u_deg: float) -> str:
    edge_deg = exercise.end_range_deg[0] if exercise.end_range_deg is not None else 0.0
    needed = needed_repetitions(exercise.decide.share_of_repetitions, exercise.repetitions, done.complete)
    depths = sorted(compared_depths(exercise, done), reverse=True)
    # the repetition on which the asked share hangs
    deciding_deg = depths[min(needed, len(depths)) - 1] if depths else edge_deg
    lower_deg = math.floor(deciding_deg - NormalDist().inv_cdf(exercise.decide.reached) * u_deg)
    ways = [_better_pose(deciding_deg - edge_deg, exercise.decide.reached, u_deg)]
    ways.append(f"a tolerance in the plan (a window from about {min(lower_deg, math.ceil(edge_deg) - 1)} deg)")
    if abs(edge_deg) <= NEAR_NEUTRAL_DEG:
        ways.append(FLOOR_SETTLES)
    return _either(ways)


def _either(ways: Sequence[str]) -> str:
    return ways[0] if len(ways) == 1 else f"{', '.join(ways[:-1])} or {ways[-1]}"
