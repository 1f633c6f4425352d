"""Windows prescribed as shares of a person's own range, turned into angles by the range that was measured."""

from dataclasses import replace
from datetime import date

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import OwnRange, Plan, Stage
from imu_rom.dose.sites import SITES

__all__ = ["angles_of_own_range", "measured_motion", "own_range_for", "with_own_range"]


def measured_motion(plan: Plan, own: OwnRange) -> tuple[str | None, str | None]:
    """Tell of which joint and motion a range was measured.

    Parameters
    ----------
    plan : Plan
        The plan, whose tendon site may be unknown yet.
    own : OwnRange
        One of its ranges.

    Returns
    -------
    tuple of str or None
        As the range says, else those that compress the plan's tendon site; None where that site is unknown.
    """
    if own.joint is None and own.motion is None and plan.tendon_site in SITES:
        site = SITES[plan.tendon_site]
        return site.joint, site.motion
    return own.joint, own.motion


def own_range_for(plan: Plan, exercise: Exercise, day: date | None = None) -> OwnRange | None:
    """Find the measured range that an exercise's shares count from.

    Parameters
    ----------
    plan : Plan
        The plan.
    exercise : Exercise
        One of its exercises.
    day : date, optional
        What was measured last up to this day counts, or first where nothing was by then; None: what was measured last.

    Returns
    -------
    OwnRange or None
        Of the exercise's side, joint and motion; None where it was not measured.
    """
    measured = sorted(
        (
            each
            for each in plan.own_ranges
            if each.side == exercise.side and measured_motion(plan, each) == (exercise.joint, exercise.motion)
        ),
        key=lambda each: each.measured_on,
    )
    by_then = [each for each in measured if day is None or each.measured_on <= day]
    return by_then[-1] if by_then else next(iter(measured), None)


def angles_of_own_range(exercise: Exercise, own_range_deg: float) -> Exercise:
    """Turn an exercise's shares of the own range into angles.

    Parameters
    ----------
    exercise : Exercise
        Any; one without such shares stays as it is.
    own_range_deg : float
        The own range in degrees, positive in the exercise's motion.

    Returns
    -------
    Exercise
        With ``end_range_deg`` filled in, rounded to 0.1 degrees.
    """
    if exercise.share_of_own_range is None:
        return exercise
    low, high = (round(share * own_range_deg, 1) for share in exercise.share_of_own_range)
    return replace(exercise, end_range_deg=(low, high))


def with_own_range(plan: Plan, day: date | None = None) -> Plan:
    """Turn all shares of the own range in a plan into angles.

    Parameters
    ----------
    plan : Plan
        The plan.
    day : date, optional
        As for `own_range_for`.

    Returns
    -------
    Plan
        Exercises whose own range was not measured stay without angles.
    """

    def angles(exercise: Exercise) -> Exercise:
        own = own_range_for(plan, exercise, day)
        return exercise if own is None else angles_of_own_range(exercise, own.own_range_deg)

    def stage(each: Stage) -> Stage:
        return replace(each, exercises=tuple(map(angles, each.exercises)))

    return replace(plan, stages=tuple(map(stage, plan.stages)))
