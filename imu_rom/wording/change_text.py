"""Changes of the end range over weeks in sentences: trends, differences between days and sides, what is detectable."""

from collections.abc import Iterator

from imu_rom.dose.exposure_answer import DetectableChange, EndRangeChange, SideDifference, Trend
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.wording.course_figures import named, span
from imu_rom.wording.figures import counted, interval, one_decimal

__all__ = ["change_sentences", "detectable_sentence"]


def change_sentences(answer: CourseAnswer) -> tuple[str, ...]:
    """Say how the end range changed, as far as that can be told from measuring again.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    tuple of str
        Trends, changes between days, sides where both were recorded, and what changes were held against.
    """
    return (
        *(_trend(each) for each in answer.trends),
        *(_change(each) for each in answer.changes),
        *(detectable_sentence(each) for each in answer.detectable),
        *_sides(answer),
    )


def _signed(value: float) -> str:
    text = one_decimal(value)
    return text if value < 0 or text == "0.0" else f"+{text}"


def _trend(trend: Trend) -> str:
    what = f"{named(trend.exercise, trend.side)}, stage {trend.stage!r}, {span(trend.from_day, trend.to_day)}"
    of = counted(trend.sessions, "recorded session")
    slope = trend.slope_deg_per_week
    if slope is None:
        return f"{what}: too few sessions for a trend ({of} on {counted(trend.days, 'day')})."
    figures = (
        f"{_signed(slope.value)} deg a week (95 % interval {interval(slope.low, slope.high)}; "
        f"median of all pairs' slopes after Theil and Sen, {of})"
    )
    if trend.answer == "undecided":
        return f"{what}: whether the end range rises or falls is undecided, {figures}."
    return f"{what}: the end range is {trend.answer}, {figures}."


def _change(change: EndRangeChange) -> str:
    bound = one_decimal(change.detectable.mdc95_deg)
    if change.answer == "real":
        said = f"more than measuring again gives ({bound} deg), so it is real"
    elif change.answer == "not shown":
        said = f"measuring again may give as much ({bound} deg), so no change is shown"
    elif change.detectable.basis == "lower bound" and abs(change.change_deg) > change.detectable.mdc95_deg:
        said = f"undecided, as {bound} deg is only a lower bound of what measuring again gives"
    else:
        said = "undecided, as the zero of one of the days is in doubt"
    which = "the first and the latest" if change.between == "first and latest" else "the last two"
    return (
        f"{named(change.exercise, change.side)}: between {which} recorded days, {change.from_day} and {change.to_day}, "
        f"the median end range went from {one_decimal(change.from_deg)} to {one_decimal(change.to_deg)} deg "
        f"({_signed(change.change_deg)} deg): {said}."
    )


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
        parts.append(f"{_signed(angle.value)} deg of end range (95 % interval {interval(angle.low, angle.high)})")
    if sides.past_threshold_s is not None:
        time_s = sides.past_threshold_s
        parts.append(
            f"{_signed(time_s.value)} s a session past the compressive angle ({interval(time_s.low, time_s.high)})"
        )
    for value, name in ((sides.eccentric_s, "on the way out"), (sides.hold_s, "of hold")):
        if value is not None:
            parts.append(f"{_signed(value)} s {name}")
    names = (
        sides.left_exercise
        if sides.left_exercise == sides.right_exercise
        else f"{sides.left_exercise} and {sides.right_exercise}"
    )
    sessions = f"{sides.left_sessions} left and {sides.right_sessions} right sessions"
    return f"Week {week}, left less right, {names}: {', '.join(parts) or 'nothing to compare'}, of {sessions}."
