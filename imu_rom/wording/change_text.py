"""Changes of the end range over weeks in sentences: trends, differences between days and sides, what is detectable."""

from collections.abc import Iterator

from imu_rom.dose.exposure_answer import DetectableChange, EndRangeChange, SideDifference, Trend
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.wording.course_figures import named, span
from imu_rom.wording.course_tables import Table
from imu_rom.wording.figures import counted, interval, one_decimal
from imu_rom.wording.review_text import signed

__all__ = ["change_sentences", "change_table", "detectable_sentence"]


def change_table(answer: CourseAnswer) -> Table:
    """Show how the median end range changed between recorded days, against what measuring again gives.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    Table
        A row for each two days.
    """
    return Table(
        "Change of the median end range between two recorded days of the same prescription",
        ("exercise", "days", "end range, deg", "change, deg", "detectable, deg", "answer"),
        tuple(
            (
                named(each.exercise, each.side),
                f"{'last two: ' if each.between == 'last two' else ''}{each.from_day}, {each.to_day}",
                f"{one_decimal(each.from_deg)}, {one_decimal(each.to_deg)}",
                signed(each.change_deg),
                f"{'over ' if each.detectable.basis == 'lower bound' else ''}{one_decimal(each.detectable.mdc95_deg)}",
                _answer(each),
            )
            for each in answer.changes
        ),
        words=(0, 1),
    )


def _answer(change: EndRangeChange) -> str:
    if change.answer == "real":
        return "real: more than measuring again gives"
    if change.answer == "not shown":
        return "no change shown: measuring again may give as much"
    if change.detectable.basis == "lower bound" and abs(change.change_deg) > change.detectable.mdc95_deg:
        return "undecided: past what is only a lower bound"
    return "undecided: the zero of one of the days is in doubt"


def change_sentences(answer: CourseAnswer) -> tuple[str, ...]:
    """Say how the end range went over weeks and between the sides, and what a change is held against.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    tuple of str
        Trends, what changes were held against, sides where both were recorded.
    """
    # lower bounds differ a little from stage to stage; the largest holds for all
    lower = [each for each in answer.detectable if each.basis == "lower bound"]
    kept = [each for each in answer.detectable if each.basis != "lower bound"]
    kept += [max(lower, key=lambda each: each.mdc95_deg)] if lower else []
    return (
        *(_trend(each) for each in answer.trends),
        *(detectable_sentence(each) for each in kept),
        *_sides(answer),
    )


def _trend(trend: Trend) -> str:
    what = f"{named(trend.exercise, trend.side)}, stage {trend.stage!r}, {span(trend.from_day, trend.to_day)}"
    of = counted(trend.sessions, "recorded session")
    slope = trend.slope_deg_per_week
    if slope is None:
        return f"{what}: too few sessions for a trend ({of} on {counted(trend.days, 'day')})."
    figures = (
        f"{signed(slope.value)} deg a week (95 % interval {interval(slope.low, slope.high)}; "
        f"median of all pairs' slopes after Theil and Sen, {of})"
    )
    if trend.answer == "undecided":
        return f"{what}: whether the end range rises or falls is undecided, {figures}."
    return f"{what}: the end range is {trend.answer}, {figures}."


def detectable_sentence(detectable: DetectableChange) -> str:
    """Say from where on a difference between two days is called real, and on what that rests.

    Parameters
    ----------
    detectable : DetectableChange
        The change.

    Returns
    -------
    str
        One sentence, or two for a lower bound.
    """
    figures = f"{one_decimal(detectable.mdc95_deg)} deg (MDC95 = 1.96 x sqrt 2 x SEM, SEM {detectable.sem_deg:.2g} deg)"
    if detectable.basis == "lower bound":
        return (
            f"Detectable change between two days: at least {figures}, from the stated uncertainty of this tool alone. "
            "How one person varies from day to day is not in it; imu-rom taping-check measures that."
        )
    basis = "the clinic's own check" if detectable.basis == "own check" else "a published study"
    return f"Detectable change between two days: {figures}, after {basis}: {detectable.source}."


def _sides(answer: CourseAnswer) -> Iterator[str]:
    for week in answer.weeks:
        for each in week.sides:
            yield _side(week.number, each)


def _side(week: int, sides: SideDifference) -> str:
    parts = []
    if sides.end_range_deg is not None:
        angle = sides.end_range_deg
        parts.append(f"{signed(angle.value)} deg of end range (95 % interval {interval(angle.low, angle.high)})")
    if sides.past_threshold_s is not None:
        time_s = sides.past_threshold_s
        parts.append(
            f"{signed(time_s.value)} s a session past the compressive angle ({interval(time_s.low, time_s.high)})"
        )
    for value, name in ((sides.eccentric_s, "on the way out"), (sides.hold_s, "of hold")):
        if value is not None:
            parts.append(f"{signed(value)} s {name}")
    names = (
        sides.left_exercise
        if sides.left_exercise == sides.right_exercise
        else f"{sides.left_exercise} and {sides.right_exercise}"
    )
    sessions = f"{sides.left_sessions} left and {sides.right_sessions} right sessions"
    return f"Week {week}, left less right, {names}: {', '.join(parts) or 'nothing to compare'}, of {sessions}."
