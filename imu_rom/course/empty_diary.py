"""A diary that waits to be filled in: a line for each session of the plan."""

import csv
import io
from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from imu_rom.course.diary_columns import COLUMNS
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan
from imu_rom.errors import CourseError

__all__ = ["empty_diary", "sessions_asked"]

DAYS_A_WEEK = 7


def sessions_asked(plan: Plan, first: date, days: int) -> tuple[tuple[date, Exercise], ...]:
    """List what a plan asks for, day by day.

    Parameters
    ----------
    plan : Plan
        With the days of its stages.
    first : date
        First day.
    days : int
        How many days.

    Returns
    -------
    tuple of (date, Exercise)
        As often as a day asks for each. Fewer than seven days a week are spread over each week from ``first`` on; which
        they are is the person's to choose. What has no frequency stands there once a day.

    Raises
    ------
    CourseError
        No stage applies on any of these days.
    """
    found = tuple(_asked(plan, first, days))
    if not found:
        last = first + timedelta(days=days - 1)
        raise CourseError(
            f"no stage of the plan applies from {first} to {last}", do="name other days, or give the stages their days"
        )
    return found


def _asked(plan: Plan, first: date, days: int) -> Iterator[tuple[date, Exercise]]:
    for number in range(days):
        day = first + timedelta(days=number)
        stage = plan.stage_on(day)
        for exercise in () if stage is None else stage.exercises:
            a_week = exercise.days_per_week or DAYS_A_WEEK
            place = number % DAYS_A_WEEK
            # as often as the spread-out frequency passes a whole number
            if int((place + 1) * a_week / DAYS_A_WEEK + 1e-9) > int(place * a_week / DAYS_A_WEEK + 1e-9):
                yield from [(day, exercise)] * max(round(exercise.per_day or 1), 1)


def empty_diary(asked: Sequence[tuple[date, Exercise]]) -> str:
    """Write a diary that waits to be filled in; until it is, its lines say nothing.

    Parameters
    ----------
    asked : sequence of (date, Exercise)
        What is to be done on which day, in order.

    Returns
    -------
    str
        The text of the file.
    """
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for day, exercise in asked:
        writer.writerow({"date": day.isoformat(), "exercise": exercise.name, "side": exercise.side})
    return text.getvalue()
