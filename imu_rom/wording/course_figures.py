"""Figures of a course in words: counts, shares, days and intervals as all sentences and tables of weeks say them."""

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import groupby

from imu_rom.dose.exposure_answer import ExposureSum
from imu_rom.dose.follow_up import Interval
from imu_rom.dose.weeks_answer import WeekAnswer
from imu_rom.wording.figures import interval, one_decimal

__all__ = [
    "NONE",
    "amount",
    "chance",
    "days_in_words",
    "named",
    "percent",
    "span",
    "sum_in_words",
    "week_number",
    "with_interval",
]

NONE = "-"
MOST_SPANS = 6


def amount(value: float | None) -> str:
    """Write a count that may be a fraction, as a seventh of a weekly frequency is.

    Parameters
    ----------
    value : float or None
        How many; None where it is not known.

    Returns
    -------
    str
        With one decimal at most; a dash for what is not known.
    """
    return NONE if value is None else f"{round(value, 1) + 0.0:g}"


def percent(share: float) -> str:
    """Write a share in per cent.

    Parameters
    ----------
    share : float
        0 to 1, or above.

    Returns
    -------
    str
        Without the sign; a share that is short of the whole never reads 100, and one that is not nothing never 0.
    """
    rounded = round(100 * share)
    if share < 1:
        rounded = min(rounded, 99)
    if share > 0:
        rounded = max(rounded, 1)
    return str(rounded)


def span(first: date | None, last: date | None) -> str:
    """Write a stretch of days.

    Parameters
    ----------
    first, last : date or None
        Both included.

    Returns
    -------
    str
        One day alone where both are the same; a dash where there are none.
    """
    if first is None or last is None:
        return NONE
    return str(first) if first == last else f"{first} to {last}"


def days_in_words(days: Sequence[date]) -> str:
    """List days, those in a row as one stretch.

    Parameters
    ----------
    days : sequence of date
        In any order.

    Returns
    -------
    str
        All of them, or the last few stretches and how many days come before.
    """
    ordered = sorted(set(days))
    stretches = []
    for _, group in groupby(enumerate(ordered), key=lambda each: each[1] - timedelta(days=each[0])):
        run = [day for _, day in group]
        stretches.append(run)
    shown = stretches[-MOST_SPANS:]
    before = sum(len(each) for each in stretches[:-MOST_SPANS])
    words = ", ".join(span(each[0], each[-1]) for each in shown)
    return f"{words} and {before} days before" if before else words


def with_interval(found: Interval | None) -> str:
    """Write a value with its 95 % interval in brackets.

    Parameters
    ----------
    found : Interval or None
        Degrees or seconds.

    Returns
    -------
    str
        A dash where it is not known.
    """
    return NONE if found is None else f"{one_decimal(found.value)} ({interval(found.low, found.high)})"


def sum_in_words(found: ExposureSum | None) -> str:
    """Write a sum over sessions with its 95 % interval in brackets.

    Parameters
    ----------
    found : ExposureSum or None
        Seconds.

    Returns
    -------
    str
        A dash where it is not known.
    """
    return NONE if found is None else with_interval(found.sum_s)


def week_number(week: WeekAnswer) -> str:
    """Write which week it is, and how much of it where it is not whole.

    Parameters
    ----------
    week : WeekAnswer
        A week of the course.

    Returns
    -------
    str
        Such as ``"3"`` or ``"3 (2 of 7 days)"``.
    """
    days = (week.to_day - week.from_day).days + 1
    return str(week.number) if week.whole else f"{week.number} ({days} of 7 days)"


def named(exercise: str | None, side: str | None) -> str:
    """Name what a line is about.

    Parameters
    ----------
    exercise : str or None
        None: all exercises, or the course.
    side : str or None
        None: both sides or none.

    Returns
    -------
    str
        Such as ``"heeldrop, left"``; empty where neither is given.
    """
    return ", ".join(each for each in (exercise, side) if each)


def chance(probability: float) -> str:
    """Write how often chance alone gives as much.

    Parameters
    ----------
    probability : float
        0 to 1.

    Returns
    -------
    str
        In per cent, never as nothing.
    """
    return "under 0.1 %" if probability < 0.001 else f"{100 * probability:.1f} %"
