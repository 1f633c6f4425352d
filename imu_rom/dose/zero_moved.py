"""Where another shoe or heel lift than the plan's was worn: either turns the ankle's zero."""

from collections.abc import Iterator
from datetime import date

from imu_rom.dose.case_answer import ZeroMoved
from imu_rom.dose.course_days import CourseDays
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.heel_lift import heel_lift_deg

__all__ = ["zero_moved"]

ANKLE = "ankle"


def zero_moved(course: CourseDays) -> tuple[ZeroMoved, ...]:
    """Find what was worn otherwise than prescribed.

    Parameters
    ----------
    course : CourseDays
        The course.

    Returns
    -------
    tuple of ZeroMoved
        In order of days.
    """
    return tuple(each for day in course.days for each in _on(course, day))


def _on(course: CourseDays, day: date) -> Iterator[ZeroMoved]:
    stage = course.stage_on[day]
    prescribed = {each.name: each for each in (() if stage is None else stage.exercises)}
    for each in course.recorded_on.get(day, ()):
        exercise = prescribed.get(each.exercise.name, each.exercise)
        if exercise.joint != ANKLE:
            continue
        if each.footwear and exercise.footwear and each.footwear != exercise.footwear:
            yield ZeroMoved(day, exercise.name, exercise.side, "footwear", exercise.footwear, each.footwear, None)
        worn_mm, asked_mm = each.exercise.heel_lift_mm, exercise.heel_lift_mm
        if worn_mm is not None and asked_mm is not None and worn_mm != asked_mm:
            yield ZeroMoved(
                day,
                exercise.name,
                exercise.side,
                "heel lift",
                f"{asked_mm:g} mm",
                f"{worn_mm:g} mm",
                abs(heel_lift_deg(worn_mm) - heel_lift_deg(asked_mm)),
            )
    ankles = [each for each in prescribed.values() if each.joint == ANKLE and each.heel_lift_mm is not None]
    said = {each.heel_lift for each in course.diary_on.get(day, ()) if each.heel_lift is not None}
    for found in sorted(said):
        yield from _said(day, ankles, found)


def _said(day: date, ankles: list[Exercise], found: str) -> Iterator[ZeroMoved]:
    heights = sorted({each.heel_lift_mm or 0.0 for each in ankles})
    # of exercises with and without a lift, nothing says which of them the line is about
    if len(heights) != 1:
        return
    (height_mm,) = heights
    if found == "out" and height_mm > 0:
        yield ZeroMoved(day, None, None, "heel lift", f"{height_mm:g} mm", "out", heel_lift_deg(height_mm))
    elif found == "in" and height_mm == 0:
        yield ZeroMoved(day, None, None, "heel lift", "0 mm", "in", None)
