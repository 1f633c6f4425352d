"""Whether morning pain or stiffness rose from one week to the next.

Weeks are runs of seven days counted back from the last day whose next morning is known. The mean of a week is compared
with that of the week before, whichever stage that was under: it rose if it is higher by the smallest rise of the
settings or more. A week with fewer answers than ``course.fewest_days_a_week`` has no mean. The difference comes with a
95 % interval after Welch, which takes days as independent; they are not quite, so that the true one is wider.

References
----------
B. L. Welch, "The generalization of 'Student's' problem when several different population variances are involved",
Biometrika 34:28-35, 1947, doi:10.1093/biomet/34.1-2.28.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from statistics import fmean, variance
from typing import Literal

from imu_rom.dose.case_answer import CriterionAnswer
from imu_rom.dose.weeks_answer import PainOfDay
from imu_rom.motion.small_samples import coverage_factor, effective_degrees
from imu_rom.settings import Settings

__all__ = ["no_rise", "welch_interval"]

WEEK = timedelta(days=7)
Name = Literal["no rise of morning pain", "no rise of morning stiffness"]


def welch_interval(before: Sequence[float], now: Sequence[float]) -> tuple[float, float]:
    """Give the 95 % interval of the difference of two means.

    Parameters
    ----------
    before, now : sequence of float
        Two values at least, each.

    Returns
    -------
    tuple of float
        Of the second mean less the first.
    """
    parts = [(math.sqrt(variance(each) / len(each)), len(each) - 1.0) for each in (before, now)]
    half = coverage_factor(effective_degrees(parts)) * math.hypot(*(u for u, _ in parts))
    difference = fmean(now) - fmean(before)
    return difference - half, difference + half


def no_rise(
    pain: Mapping[date, PainOfDay], until: date, stable_days: int, settings: Settings
) -> Iterator[CriterionAnswer]:
    """Answer whether morning pain and stiffness did not rise.

    Parameters
    ----------
    pain : mapping of date to PainOfDay
        Of all days.
    until : date
        Last day.
    stable_days : int
        As many weeks are compared, each with the one before, as begin within so many days.
    settings : Settings
        The smallest rises, and how many answers a week needs.

    Yields
    ------
    CriterionAnswer
        Of pain; and of stiffness, where any was noted in these weeks.
    """
    last = until if pain[until].next_morning is not None else until - timedelta(days=1)
    weeks = math.ceil(stable_days / 7)
    asked: tuple[tuple[Name, float, Callable[[PainOfDay], float | None]], ...] = (
        ("no rise of morning pain", settings.pain.smallest_rise, lambda each: each.next_morning),
        ("no rise of morning stiffness", settings.pain.smallest_rise_min, lambda each: each.stiffness_min),
    )
    for name, smallest, of in asked:
        values = [_week(pain, last - i * WEEK, of) for i in range(weeks + 1)]
        # stiffness is noted by those who have it; that nobody noted it is no lack of data
        if name == "no rise of morning pain" or any(values):
            yield _answer(name, values, last, smallest, settings)


def _week(pain: Mapping[date, PainOfDay], last: date, of: Callable[[PainOfDay], float | None]) -> list[float]:
    days = [last - timedelta(days=i) for i in range(7)]
    return [value for day in days if day in pain and (value := of(pain[day])) is not None]


def _answer(
    name: Name, values: Sequence[Sequence[float]], last: date, smallest: float, settings: Settings
) -> CriterionAnswer:
    """Answer by all pairs of weeks; the numbers are the largest rise's, or the latest pair's if none is known."""
    fewest = max(int(settings.course.fewest_days_a_week), 2)
    pairs = [(values[i + 1], values[i], last - i * WEEK) for i in range(len(values) - 1)]
    known = [each for each in pairs if min(len(each[0]), len(each[1])) >= fewest]
    before, now, stop = max(known or pairs[:1], key=lambda each: fmean(each[1]) - fmean(each[0]) if known else 0.0)
    numbers = {
        "answered_before": float(len(before)),
        "answered_now": float(len(now)),
        "smallest_rise": smallest,
    }
    rise = None
    if known:
        low, high = welch_interval(before, now)
        rise = fmean(now) - fmean(before)
        numbers |= {
            "mean_before": fmean(before),
            "mean_now": fmean(now),
            "difference_low": low,
            "difference_high": high,
        }
    rose = rise is not None and rise > 0 and rise >= smallest
    return CriterionAnswer(
        name,
        None,
        "not met" if rose else "met" if len(known) == len(pairs) else "not enough data",
        stop - 2 * WEEK + timedelta(days=1),
        stop,
        found=rise,
        days_asked=2 * fewest,
        days_answered=len(before) + len(now),
        numbers=numbers,
    )
