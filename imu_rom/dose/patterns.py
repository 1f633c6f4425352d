"""Patterns that matter over weeks, each with its evidence; names for what is seen, never for its cause.

They are looked for in the last ``course.pattern_days`` days of the current stage, but for the gap and the next
morning's pain, which need the whole course. Where nothing of the kind goes on, each is seen in at most about
``course.false_alarm`` of all courses, at one look (tests/dose/test_pattern_rates.py tries that with made-up courses,
tests/benchmarks/course_patterns.py with more of them). What each counts and gives as evidence is said where it is
looked for.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from imu_rom.dose.adherence import DayTally
from imu_rom.dose.case_answer import Pattern
from imu_rom.dose.course_days import CourseDays, Key, StageDays, key_of
from imu_rom.dose.dose_patterns import gap_pattern, more_pattern
from imu_rom.dose.end_range_patterns import limit_pattern, short_patterns, side_patterns
from imu_rom.dose.follow_up import RecordedExercise
from imu_rom.dose.lagged_pain import lagged_pain_patterns
from imu_rom.dose.pace_patterns import fatigue_pattern, hold_pattern, tempo_pattern
from imu_rom.dose.weeks_answer import PainOfDay
from imu_rom.settings import CourseSettings

__all__ = ["patterns"]


def patterns(
    course: CourseDays,
    run: StageDays,
    tallies: Mapping[date, Sequence[DayTally]],
    pain: Mapping[date, PainOfDay],
    settings: CourseSettings,
) -> tuple[Pattern, ...]:
    """Look for all patterns.

    Parameters
    ----------
    course : CourseDays
        The course.
    run : StageDays
        The current stage and its days.
    tallies : mapping of date to sequence of DayTally
        What was prescribed and done.
    pain : mapping of date to PainOfDay
        What the diary says.
    settings : CourseSettings
        How much is enough.

    Returns
    -------
    tuple of Pattern
        Of each exercise that was recorded or is prescribed, of each pair of sides, and of the course.
    """
    days = run.days[-int(settings.pattern_days) :]
    recorded = [each for day in days for each in course.recorded_on.get(day, ())]
    by_key: dict[Key, list[RecordedExercise]] = {}
    for exercise in () if run.stage is None else run.stage.exercises:
        by_key[key_of(exercise)] = []
    for each in recorded:
        by_key.setdefault(key_of(each.exercise), []).append(each)
    return (
        *(each for key, own in by_key.items() for each in _of_exercise(key, own, days, tallies, settings)),
        *side_patterns(recorded, settings),
        *lagged_pain_patterns(course, pain, tallies, settings),
        gap_pattern(course, tallies, settings),
    )


def _of_exercise(
    key: Key,
    recorded: Sequence[RecordedExercise],
    days: Sequence[date],
    tallies: Mapping[date, Sequence[DayTally]],
    settings: CourseSettings,
) -> Iterator[Pattern]:
    if recorded:
        yield from short_patterns(recorded, settings)
        yield limit_pattern(recorded, settings)
        yield tempo_pattern(recorded, settings)
        yield hold_pattern(recorded, settings)
        yield fatigue_pattern(recorded, settings)
    yield more_pattern(key, days, tallies, recorded, settings)
