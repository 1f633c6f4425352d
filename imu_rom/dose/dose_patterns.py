"""Patterns of the dose: more than prescribed, and gaps in the recordings. Missing is not zero."""

import math
from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from imu_rom.dose.adherence import DayTally, dose_over
from imu_rom.dose.case_answer import Pattern
from imu_rom.dose.course_days import CourseDays, Key
from imu_rom.dose.end_range_patterns import by_session
from imu_rom.dose.follow_up import RecordedExercise
from imu_rom.dose.measured_weeks import complete_repetitions
from imu_rom.settings import CourseSettings

__all__ = ["gap_pattern", "more_pattern"]

DAYS_A_WEEK = 7
FEWEST_LARGE_SESSIONS = 2


def more_pattern(
    key: Key,
    days: Sequence[date],
    tallies: Mapping[date, Sequence[DayTally]],
    recorded: Sequence[RecordedExercise],
    settings: CourseSettings,
) -> Pattern:
    """Look for weeks, or recorded sessions, of more than was prescribed.

    Parameters
    ----------
    key : tuple of str
        The exercise and its side.
    days : sequence of date
        Days under the stage; whole weeks are counted back from the last.
    tallies : mapping of date to sequence of DayTally
        What was prescribed and done.
    recorded : sequence of RecordedExercise
        Of this exercise on these days, in time order.
    settings : CourseSettings
        How much more is more.

    Returns
    -------
    Pattern
        Seen where one whole week, or two recorded sessions, hold more. With ``weeks``, ``weeks_more``,
        ``largest_share`` (of a week's prescribed repetitions, recorded and ticked together), ``sessions``,
        ``sessions_more``.
    """
    whole = [days[max(stop - DAYS_A_WEEK, 0) : stop] for stop in range(len(days), DAYS_A_WEEK - 1, -DAYS_A_WEEK)]
    shares = []
    for week in whole:
        own = [each for day in week for each in tallies[day] if each.key == key]
        shares += [(each.repetitions_share, week) for each in dose_over(own) if each.repetitions_share is not None]
    more = [week for share, week in shares if share is not None and share.with_ticks > 1 + settings.excess_share]
    sessions = by_session(recorded)
    large = [each for each in sessions if _is_large(each, settings)]
    numbers = {
        "weeks": float(len(shares)),
        "weeks_more": float(len(more)),
        "sessions": float(len(sessions)),
        "sessions_more": float(len(large)),
    }
    if shares:
        numbers["largest_share"] = max(share.with_ticks for share, _ in shares if share is not None)
    seen = bool(more) or len(large) >= FEWEST_LARGE_SESSIONS
    enough = bool(shares) or len(sessions) >= settings.fewest_sessions
    answer: Literal["seen", "not seen", "undecided"] = "seen" if seen else "not seen" if enough else "undecided"
    return Pattern(
        "more than prescribed",
        key[0],
        key[1],
        answer,
        days[0],
        days[-1],
        numbers,
        "too few" if answer == "undecided" else "",
        tuple(sorted({each[0].day for each in large})),
    )


def _is_large(session: Sequence[RecordedExercise], settings: CourseSettings) -> bool:
    exercise = session[-1].exercise
    asked = exercise.sets * exercise.repetitions
    return len(complete_repetitions(session)) > asked * (1 + settings.excess_share)


def gap_pattern(course: CourseDays, tallies: Mapping[date, Sequence[DayTally]], settings: CourseSettings) -> Pattern:
    """Look for days in a row without a recording.

    Parameters
    ----------
    course : CourseDays
        The course.
    tallies : mapping of date to sequence of DayTally
        How many recordings were asked for.
    settings : CourseSettings
        What is a gap.

    Returns
    -------
    Pattern
        Of the longest, as seen by how many times longer it is than recordings were planned apart: ``gap_days``,
        ``planned_days_apart``, ``gap_from_days``; and ``days_recorded``, ``weeks``, ``weeks_without_recording``.
        ``from_day`` and ``to_day`` are its first and last day without a recording.
    """
    recorded = {each.day for each in course.recorded}
    weeks = course.weeks()
    numbers = {
        "days_recorded": float(len(recorded)),
        "weeks": float(len(weeks)),
        "weeks_without_recording": float(sum(not recorded & set(week) for week in weeks)),
    }
    marks = [-1, *(i for i, day in enumerate(course.days) if day in recorded), len(course.days)]
    judged = []
    for start, stop in pairwise(marks):
        # days of stages that ask for no recording open no gap
        asked = [day for day in course.days[start + 1 : stop] if _rate(tallies[day])]
        if asked:
            apart = float(1 / max(_rate(tallies[day]) for day in asked))
            judged.append((len(asked) / (settings.gap_factor * apart), asked, apart))
    if not judged:
        known = any(_rate(each) for each in tallies.values())
        answer: Literal["not seen", "undecided"] = "not seen" if known else "undecided"
        why: Literal["", "not prescribed"] = "" if known else "not prescribed"
        return Pattern("gap in recordings", None, None, answer, None, None, numbers, why)
    _, days, apart = max(judged, key=lambda each: each[0])
    smallest = max(settings.gap_factor * apart, settings.shortest_gap_days)
    numbers |= {
        "gap_days": float(len(days)),
        "planned_days_apart": apart,
        "gap_from_days": float(math.ceil(smallest)),
    }
    seen = len(days) >= smallest
    return Pattern("gap in recordings", None, None, "seen" if seen else "not seen", days[0], days[-1], numbers)


def _rate(tallies: Sequence[DayTally]) -> Fraction:
    """Tell how many recordings were asked for on a day, by the exercise that asks for most."""
    return max((each.recordings_prescribed or Fraction(0) for each in tallies), default=Fraction(0))
