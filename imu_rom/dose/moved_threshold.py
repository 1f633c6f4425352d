"""Time past any angle, read off the exposure curves of a written result, and compared with what the plan asks.

A reader may want to know what another compressive angle would have said. The repetitions' curves hold that: the time
past the angle itself, and by the quantiles of the error that a set has in common its interval, as in `exposure`. What
differs from the analysis: between the curve's steps of 0.1 degrees the time is taken as straight; the sets' intervals
are added, as if they had all of their error in common, so that a session's interval is rather too wide than too narrow;
and doubts about the zero after a slip, which a result does not hold apart, are no part of it.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from imu_rom.dose.compared import SessionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure import COVERAGE_FACTOR, ExposureCurve, total_curve
from imu_rom.dose.verdict import joint_time
from imu_rom.motion.uncertainty import Budget

__all__ = [
    "MovedSet",
    "MovedThreshold",
    "TimeAnswer",
    "asked_levels",
    "common_variance",
    "moved_threshold",
    "own_threshold",
    "set_curves",
]

TimeAnswer = Literal["more", "less", "as asked", "undecided", "not prescribed"]
DECIMALS = 3
"""Of the summed curves, as of those in the result."""


@dataclass(frozen=True)
class MovedSet:
    """Time of one set past an angle, against what was asked.

    Parameters
    ----------
    past_s, low_s, high_s : float
        Time past the angle and its 95 % interval.
    excess_deg_s : float
        Area of the angle above it.
    probability_above, probability_below : float or None
        That the time is above, and below, what was asked; None where nothing is.
    answer : {"more", "less", "as asked", "undecided", "not prescribed"}
        At the plan's decide value.
    """

    past_s: float
    low_s: float
    high_s: float
    excess_deg_s: float
    probability_above: float | None
    probability_below: float | None
    answer: TimeAnswer


@dataclass(frozen=True)
class MovedThreshold:
    """Time past an angle.

    Parameters
    ----------
    threshold_deg : float
        The angle.
    sets : tuple of MovedSet
        In time order.
    past_s, low_s, high_s, excess_deg_s : float
        Of all sets together.
    """

    threshold_deg: float
    sets: tuple[MovedSet, ...]
    past_s: float
    low_s: float
    high_s: float
    excess_deg_s: float


def set_curves(done: SessionComparison) -> tuple[ExposureCurve, ...]:
    """Add the curves of the repetitions of each set.

    Parameters
    ----------
    done : SessionComparison
        As a written result holds it.

    Returns
    -------
    tuple of ExposureCurve
        To a thousandth of a second; the time without data between the repetitions is part of the time not seen.
    """
    return tuple(_set_curve(each) for each in done.sets)


def _set_curve(done: SetComparison) -> ExposureCurve:
    curve = total_curve([each.curve for each in done.repetitions])
    parts = [each.exposure for each in done.repetitions if each.exposure is not None]
    between_s = 0.0
    if done.exposure is not None:
        between_s = done.exposure.past_threshold_high_s - sum(each.past_threshold_high_s for each in parts)
    # what is left by rounding each repetition is no time without data
    between_s = between_s if between_s > 0.0005 * (len(parts) + 1) else 0.0
    return ExposureCurve(
        curve.first_deg,
        curve.step_deg,
        np.round(curve.time_past_s, DECIMALS) + 0.0,
        round(curve.unseen_s + between_s, DECIMALS),
    )


def common_variance(budget: Budget) -> tuple[float, float]:
    """Give what the repetitions of a set have in common as a variance that grows with the angle.

    Parameters
    ----------
    budget : Budget
        The uncertainty budget.

    Returns
    -------
    constant_deg2, growth : float
        The variance at an angle a is constant_deg2 + growth * a * a.
    """
    constant = budget.constant_deg("session") ** 2 + budget.constant_deg("set") ** 2
    return constant, budget.share("session") ** 2 + budget.share("set") ** 2


def moved_threshold(
    exercise: Exercise, budget: Budget, done: SessionComparison, threshold_deg: float
) -> MovedThreshold:
    """Read the time past an angle off the curves.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    budget : Budget
        The uncertainty budget.
    done : SessionComparison
        What was done, as a written result holds it.
    threshold_deg : float
        The angle, in degrees.

    Returns
    -------
    MovedThreshold
        Sets and their sum. A time that was derived from hold and tempo belongs to the plan's own angle, and is not
        compared with another.
    """
    constant, growth = common_variance(budget)
    u_deg = math.sqrt(constant + growth * threshold_deg * threshold_deg)
    sets = tuple(
        _moved(exercise, each, curve, threshold_deg, u_deg)
        for each, curve in zip(done.sets, set_curves(done), strict=True)
    )
    return MovedThreshold(
        threshold_deg,
        sets,
        sum(each.past_s for each in sets),
        sum(each.low_s for each in sets),
        sum(each.high_s for each in sets),
        sum(each.excess_deg_s for each in sets),
    )


def own_threshold(exercise: Exercise, budget: Budget, done: SessionComparison) -> MovedThreshold | None:
    """Give the figures of the result itself, at the plan's own angle.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    budget : Budget
        The uncertainty budget.
    done : SessionComparison
        What was done, as a written result holds it.

    Returns
    -------
    MovedThreshold or None
        None where the plan names no angle or one sensor can't tell it.
    """
    if exercise.compression_threshold is None or done.exposure is None:
        return None
    threshold_deg = exercise.compression_threshold.deg
    constant, growth = common_variance(budget)
    u_deg = math.sqrt(constant + growth * threshold_deg * threshold_deg)
    sets = []
    for each, curve in zip(done.sets, set_curves(done), strict=True):
        one = _moved(exercise, each, curve, threshold_deg, u_deg, derived=True)
        if each.exposure is not None:
            past = each.exposure
            one = MovedSet(
                past.past_threshold_s,
                past.past_threshold_low_s,
                past.past_threshold_high_s,
                past.excess_deg_s,
                each.probability_above_window,
                each.probability_below_window,
                one.answer,
            )
        sets.append(one)
    total = done.exposure
    return MovedThreshold(
        threshold_deg,
        tuple(sets),
        total.past_threshold_s,
        total.past_threshold_low_s,
        total.past_threshold_high_s,
        total.excess_deg_s,
    )


def asked_levels(done: SetComparison, curve: ExposureCurve) -> tuple[float, float, float, float] | None:
    """Give the angles at which the time past them leaves what was asked: they hold for every moved angle.

    Parameters
    ----------
    done : SetComparison
        A set.
    curve : ExposureCurve
        Its curve, of `set_curves`.

    Returns
    -------
    tuple of float or None
        The time is above what was asked for angles below the first, and with all time that was not seen below the
        second; it is below what was asked for angles above the third, and with that time above the fourth. None where
        nothing is compared.
    """
    asked = _asked(done)
    if asked is None:
        return None
    low_s, high_s = asked
    return (
        curve.level_above(high_s),
        curve.level_above(high_s - curve.unseen_s),
        curve.level_below(low_s),
        curve.level_below(low_s - curve.unseen_s),
    )


def _moved(
    exercise: Exercise,
    done: SetComparison,
    curve: ExposureCurve,
    threshold_deg: float,
    u_deg: float,
    *,
    derived: bool = False,
) -> MovedSet:
    reach_deg = COVERAGE_FACTOR * u_deg
    above = below = None
    answer: TimeAnswer = "not prescribed"
    asked = _asked(done, derived=derived)
    if asked is not None:
        more, less = joint_time(curve, threshold_deg, asked, u_deg)
        above, below = more.measured, less.measured
        decide = exercise.decide.reached
        answers = (more.answer(decide), less.answer(decide))
        answer = "as asked"
        if answers[0] == "yes":
            answer = "more"
        elif answers[1] == "yes" and answers[0] == "no":
            answer = "less"
        elif "undecided" in answers:
            answer = "undecided"
    return MovedSet(
        past_s=float(curve.time_past(threshold_deg)),
        low_s=float(curve.time_past(threshold_deg + reach_deg)),
        high_s=float(curve.time_past(threshold_deg - reach_deg)) + curve.unseen_s,
        excess_deg_s=curve.excess(threshold_deg),
        probability_above=above,
        probability_below=below,
        answer=answer,
    )


def _asked(done: SetComparison, *, derived: bool = False) -> tuple[float, float] | None:
    if (done.prescribed_derived and not derived) or done.prescribed_low_s is None or done.prescribed_high_s is None:
        return None
    return done.prescribed_low_s, done.prescribed_high_s
