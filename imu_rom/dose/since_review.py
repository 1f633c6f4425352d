"""The last review of a course, and how the end range changed since then.

Nothing in a course says that a clinician looked at it. What they decided or measured then stands in the plan, so the
last review is taken to be the latest day from which the plan says something new.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from imu_rom.dose.course_days import CourseDays
from imu_rom.dose.end_range_course import days_of, end_range_change
from imu_rom.dose.exposure_answer import EndRangeChange
from imu_rom.dose.follow_up import RecordedExercise
from imu_rom.settings import CourseSettings

__all__ = ["FirstRecorded", "Review", "SinceReview", "last_review", "since_review"]

What = Literal["stage", "plan", "own range"]


@dataclass(frozen=True)
class Review:
    """A day on which somebody decided or measured something.

    Parameters
    ----------
    day : date
        The day.
    what : tuple of {"stage", "plan", "own range"}
        What is new from then on: a stage begins, a version of the plan holds, an own range was measured.
    """

    day: date
    what: tuple[What, ...]


@dataclass(frozen=True)
class FirstRecorded:
    """An exercise that there is nothing to compare with yet.

    Parameters
    ----------
    exercise, side : str
        Of what.
    day : date
        The one day that it was recorded on since the review.
    """

    exercise: str
    side: Literal["left", "right"]
    day: date


@dataclass(frozen=True)
class SinceReview:
    """What changed since the last review.

    Parameters
    ----------
    review : Review
        When that was, and how it is known.
    changes : tuple of EndRangeChange
        Of each exercise that was recorded since then: from the last day recorded before it where the same was
        prescribed right up to it, else from the first day since.
    first : tuple of FirstRecorded
        Exercises with one recorded day, and nothing to compare it with.
    """

    review: Review
    changes: tuple[EndRangeChange, ...]
    first: tuple[FirstRecorded, ...]


def last_review(course: CourseDays) -> Review | None:
    """Find the last review.

    Parameters
    ----------
    course : CourseDays
        Up to its last day.

    Returns
    -------
    Review or None
        None where nothing in the plan has a day.
    """
    plan = course.plan_on(course.until)
    stages = plan.calendar or plan.stages
    dated: list[tuple[What, date | None]] = [("stage", each.from_date) for each in stages]
    dated += [("plan", each.from_date) for each in course.plans]
    dated += [("own range", each.measured_on) for each in plan.own_ranges]
    known = [(what, day) for what, day in dated if day is not None and day <= course.until]
    if not known:
        return None
    last = max(day for _, day in known)
    return Review(last, tuple(dict.fromkeys(what for what, day in known if day == last)))


def since_review(
    course: CourseDays, alike: Sequence[Sequence[RecordedExercise]], settings: CourseSettings
) -> SinceReview | None:
    """Hold what was recorded last against what was known at the last review.

    Parameters
    ----------
    course : CourseDays
        Up to its last day.
    alike : sequence of sequence of RecordedExercise
        What was recorded, by what was prescribed.
    settings : CourseSettings
        Which published error of measurement to take.

    Returns
    -------
    SinceReview or None
        None where no day of a review is known.

    Raises
    ------
    SettingError
        A published error of measurement is named that is not known.
    """
    review = last_review(course)
    if review is None:
        return None
    own = course.plan_on(course.until).own_uncertainty
    changes: list[EndRangeChange] = []
    first: list[FirstRecorded] = []
    for each in alike:
        days = days_of(each)
        since = [day for day in days if day >= review.day]
        if not since:
            continue
        before = [day for day in days if day in _same_run(course, review.day, each[0].stage)]
        start = before[-1] if before else since[0]
        if start == since[-1]:
            first.append(FirstRecorded(each[0].exercise.name, each[0].exercise.side, start))
        else:
            changes.append(end_range_change(each, (start, since[-1]), "since the review", own, settings))
    return SinceReview(review, tuple(changes), tuple(first))


def _same_run(course: CourseDays, day: date, stage: str) -> frozenset[date]:
    """Days in a row under a stage that end just before a day; a stage that was left in between is another one."""
    found: set[date] = set()
    before = day - timedelta(days=1)
    while (held := course.stage_on.get(before)) is not None and held.name == stage:
        found.add(before)
        before -= timedelta(days=1)
    return frozenset(found)
