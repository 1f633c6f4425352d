"""Whether next morning's pain rises with the day's time past the compressive angle.

Ranks of both are taken, the straight line through the days is taken out of either, because exposure and pain both drift
over weeks, and what is left is correlated: Spearman's rank correlation, partial to time. The 95 % interval is that of
Bonett and Wright on Fisher's z. Its number of days is reduced where neighbouring days are alike (the product of both
series' lag-1 correlations). Only days with a recording and an answer count: a day without is not zero. Sessions of that
day that were only ticked have an exposure that nobody knows; how many days have any is said.

References
----------
D. G. Bonett, T. A. Wright, "Sample size requirements for estimating Pearson, Kendall and Spearman correlations",
Psychometrika 65:23-28, 2000, doi:10.1007/BF02294183 (variance of the transformed rank correlation; from memory).
"""

import math
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.adherence import DayTally
from imu_rom.dose.case_answer import Pattern
from imu_rom.dose.course_days import CourseDays
from imu_rom.dose.weeks_answer import PainOfDay
from imu_rom.motion.small_samples import NORMAL_FACTOR
from imu_rom.settings import CourseSettings

__all__ = ["lagged_pain_patterns", "partial_rank_correlation"]

Floats = NDArray[np.float64]

STRONG = 0.5
"""A correlation from here on would matter; common practice, no source."""


def partial_rank_correlation(
    days: Sequence[float], exposure: Sequence[float], pain: Sequence[float]
) -> tuple[float, float, float] | None:
    """Correlate two series by ranks, with the course of time taken out.

    Parameters
    ----------
    days : sequence of float
        Times, rising.
    exposure, pain : sequence of float
        One value a day, six days at least.

    Returns
    -------
    tuple of float or None
        The correlation and its 95 % interval. None where either does not vary but for time.
    """
    from scipy.stats import rankdata  # noqa: PLC0415  loads slowly

    time = rankdata(days)
    left = [_without_line(rankdata(each), time) for each in (exposure, pain)]
    spreads = [math.sqrt(float(each @ each)) for each in left]
    if min(spreads) < 1e-9 * len(days):
        return None
    found = float(left[0] @ left[1]) / (spreads[0] * spreads[1])
    alike = max(_lag_one(left[0]) * _lag_one(left[1]), 0.0)
    number = len(days) * (1 - alike) / (1 + alike)
    # one more day goes for the line through time
    half = NORMAL_FACTOR * math.sqrt((1 + found**2 / 2) / max(number - 4, 1.0))
    z = math.atanh(min(max(found, -0.999999), 0.999999))
    return found, math.tanh(z - half), math.tanh(z + half)


def _without_line(values: Floats, time: Floats) -> Floats:
    centred, along = values - values.mean(), time - time.mean()
    rest: Floats = centred - along * float(centred @ along) / float(along @ along)
    return rest


def _lag_one(values: Floats) -> float:
    return float(values[1:] @ values[:-1]) / float(values @ values)


def lagged_pain_patterns(
    course: CourseDays,
    pain: Mapping[date, PainOfDay],
    tallies: Mapping[date, Sequence[DayTally]],
    settings: CourseSettings,
) -> tuple[Pattern, ...]:
    """Look for next morning's pain rising with the day's exposure.

    Parameters
    ----------
    course : CourseDays
        The whole course: stages differ in exposure, and that is what shows it.
    pain : mapping of date to PainOfDay
        Of its days.
    tallies : mapping of date to sequence of DayTally
        Which sessions were only ticked.
    settings : CourseSettings
        How many days it needs.

    Returns
    -------
    tuple of Pattern
        One for each side with exposure, with ``days``, ``days_asked``, ``days_with_ticks``, ``correlation``,
        ``correlation_low``, ``correlation_high``. Seen where the interval lies above zero; not seen where it lies below
        a strong correlation.
    """
    exposure: dict[Literal["left", "right"], dict[date, float]] = {}
    for each in course.recorded:
        if each.past_threshold_s is not None:
            of_side = exposure.setdefault(each.exercise.side, {})
            of_side[each.day] = of_side.get(each.day, 0.0) + each.past_threshold_s.value
    return tuple(_pattern(side, exposure[side], pain, tallies, settings) for side in sorted(exposure))


def _pattern(
    side: Literal["left", "right"],
    exposure: Mapping[date, float],
    pain: Mapping[date, PainOfDay],
    tallies: Mapping[date, Sequence[DayTally]],
    settings: CourseSettings,
) -> Pattern:
    answers = {day: value for day in sorted(exposure) if (value := pain[day].next_morning) is not None}
    days = list(answers)
    ticked = sum(any(each.sessions_ticked + each.sessions_ticked_in_part for each in tallies[day]) for day in days)
    numbers = {
        "days": float(len(days)),
        "days_asked": settings.fewest_days_lagged,
        "days_with_ticks": float(ticked),
    }
    answer: Literal["seen", "not seen", "undecided"] = "undecided"
    why: Literal["", "too few", "between"] = "too few"
    if len(days) >= settings.fewest_days_lagged:
        found = partial_rank_correlation(
            [day.toordinal() for day in days], [exposure[day] for day in days], list(answers.values())
        )
        why = "between"
        if found is not None:
            numbers |= dict(zip(("correlation", "correlation_low", "correlation_high"), found, strict=True))
            if found[1] > 0:
                answer, why = "seen", ""
            elif found[2] < STRONG:
                answer, why = "not seen", ""
    first, last = (days[0], days[-1]) if days else (None, None)
    return Pattern("morning pain rises with exposure", None, side, answer, first, last, numbers, why)
