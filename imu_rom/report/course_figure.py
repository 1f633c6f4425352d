"""What the figures of a course show, as plain values: one source for the page, for print and for papers.

Days of one state are told apart by shape and pattern, series by symbol and line, so that nothing rests on colour alone.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from imu_rom.dose.exposure_answer import PrescribedTime
from imu_rom.dose.follow_up import Interval
from imu_rom.dose.weeks_answer import CourseAnswer, DayAnswer
from imu_rom.wording.course_figures import named

__all__ = [
    "DAY_STATES",
    "PAIN_SERIES",
    "ChangeBand",
    "CourseFigure",
    "DayState",
    "DepthPoint",
    "ExposureBar",
    "PainSeries",
    "StageSpan",
    "course_figure",
]

DayState = Literal["recorded", "ticked", "said not done", "nothing known"]
DAY_STATES: dict[DayState, str] = {
    "recorded": "recorded with sensors",
    "ticked": "ticked in the diary, in all or in part",
    "said not done": "said not done",
    "nothing known": "nothing known: missing is not zero",
}
PAIN_SERIES = {
    "during": "during the exercises",
    "after": "straight after",
    "next_morning": "next morning, placed on the day before",
}


@dataclass(frozen=True)
class StageSpan:
    """Days in a row under one stage.

    Parameters
    ----------
    number : int or None
        Which stage of the plan, from 1, in order of their first days; None: no stage applied.
    name : str
        Its name.
    from_day, to_day : date
        Both included.
    """

    number: int | None
    name: str
    from_day: date
    to_day: date


@dataclass(frozen=True)
class ExposureBar:
    """Time past the compressive angle of one exercise in one week's recorded sessions.

    Parameters
    ----------
    series : int
        Which exercise and side, an index of the figure's names.
    week : int
        From 1.
    from_day, to_day : date
        Of the week.
    past_s : Interval
        Recorded, in seconds.
    asked : PrescribedTime or None
        Prescribed for the same sessions, and how they compare; None where it is not.
    sessions : int
        Recorded sessions.
    """

    series: int
    week: int
    from_day: date
    to_day: date
    past_s: Interval
    asked: PrescribedTime | None
    sessions: int


@dataclass(frozen=True)
class DepthPoint:
    """Median end range of one exercise on one recorded day.

    Parameters
    ----------
    series : int
        Which exercise and side, an index of the figure's names.
    day : date
        When.
    end_range_deg : Interval
        In degrees.
    window_low_deg, window_high_deg, limit_deg : float or None
        Prescribed on that day.
    doubtful : bool
        True where the zero of a session is in doubt.
    """

    series: int
    day: date
    end_range_deg: Interval
    window_low_deg: float | None
    window_high_deg: float | None
    limit_deg: float | None
    doubtful: bool


@dataclass(frozen=True)
class ChangeBand:
    """How far the end range may differ from its first day's before a change is more than measuring again gives.

    Parameters
    ----------
    series : int
        Which exercise and side, an index of the figure's names.
    from_day, to_day : date
        Days of one stage that it stands over.
    middle_deg, half_deg : float
        Median of the first day, and the detectable change.
    lower_bound : bool
        True where the detectable change is at least that.
    """

    series: int
    from_day: date
    to_day: date
    middle_deg: float
    half_deg: float
    lower_bound: bool


@dataclass(frozen=True)
class PainSeries:
    """One of the pain questions over the days that have an answer.

    Parameters
    ----------
    name : str
        One of `PAIN_SERIES`.
    days : tuple of date
        In order; a next morning stands on the day before it.
    pain : tuple of float
        0 to 10.
    """

    name: str
    days: tuple[date, ...]
    pain: tuple[float, ...]


@dataclass(frozen=True)
class CourseFigure:
    """All that the figures of a course show.

    Parameters
    ----------
    from_day, until : date
        Both included.
    names : tuple of str
        Exercise and side of each series.
    stages : tuple of StageSpan
        In order.
    exposure : tuple of ExposureBar
        In order of weeks.
    depths : tuple of DepthPoint
        In order of days.
    bands : tuple of ChangeBand
        Detectable changes.
    pain : tuple of PainSeries
        During, after and next morning.
    days : tuple of (date, str)
        Each day with its `DayState`.
    stop_above : float
        Pain above which to stop.
    """

    from_day: date
    until: date
    names: tuple[str, ...]
    stages: tuple[StageSpan, ...]
    exposure: tuple[ExposureBar, ...]
    depths: tuple[DepthPoint, ...]
    bands: tuple[ChangeBand, ...]
    pain: tuple[PainSeries, ...]
    days: tuple[tuple[date, DayState], ...]
    stop_above: float


def course_figure(answer: CourseAnswer, stop_above: float) -> CourseFigure:
    """Gather what the figures of a course show.

    Parameters
    ----------
    answer : CourseAnswer
        The course, rounded as its file keeps it.
    stop_above : float
        Pain above which to stop, 0 to 10 (setting ``pain.stop_above``).

    Returns
    -------
    CourseFigure
        Numbers as they are in ``progress.json``.
    """
    series: dict[tuple[str, str], int] = {}
    for day in answer.days:
        for each in day.measured:
            if each.exercise is not None:
                series.setdefault((each.exercise, each.side), len(series))
    return CourseFigure(
        from_day=answer.from_day,
        until=answer.until,
        names=tuple(named(*each) for each in series),
        stages=_stages(answer),
        exposure=tuple(
            ExposureBar(
                series[each.exercise, each.side],
                week.number,
                week.from_day,
                week.to_day,
                each.past_threshold.sum_s,
                each.past_threshold_prescribed,
                each.sessions,
            )
            for week in answer.weeks
            for each in week.measured
            if each.exercise is not None and each.past_threshold is not None
        ),
        depths=tuple(
            DepthPoint(
                series[each.exercise, each.side],
                day.day,
                each.end_range_median_deg,
                each.asked.window_low_deg,
                each.asked.window_high_deg,
                each.asked.limit_deg,
                each.sessions_zero_doubtful > 0,
            )
            for day in answer.days
            for each in day.measured
            if each.exercise is not None and each.end_range_median_deg is not None
        ),
        bands=tuple(_bands(answer, series)),
        pain=tuple(_pain(answer.days)),
        days=tuple((each.day, _state(each)) for each in answer.days),
        stop_above=stop_above,
    )


def _stages(answer: CourseAnswer) -> tuple[StageSpan, ...]:
    order: dict[str, int] = {}
    for run in answer.runs:
        if run.stage is not None:
            order.setdefault(run.stage, len(order) + 1)
    return tuple(
        StageSpan(None if run.stage is None else order[run.stage], run.stage or "no stage", run.from_day, run.to_day)
        for run in answer.runs
    )


def _bands(answer: CourseAnswer, series: dict[tuple[str, str], int]) -> Iterable[ChangeBand]:
    stages = {each.day: each.stage for each in answer.days}
    for change in answer.changes:
        if change.between != "first and latest":
            continue
        for run in answer.runs:
            start, stop = max(run.from_day, change.from_day), min(run.to_day, change.to_day)
            # a stage that came between has a prescription of its own
            if start <= stop and run.stage == stages[change.from_day]:
                yield ChangeBand(
                    series[change.exercise, change.side],
                    start,
                    stop,
                    change.from_deg,
                    change.detectable.mdc95_deg,
                    change.detectable.basis == "lower bound",
                )


def _pain(days: Iterable[DayAnswer]) -> Iterable[PainSeries]:
    days = tuple(days)
    for name in PAIN_SERIES:
        said = [(each.day, value) for each in days if (value := getattr(each.pain, name)) is not None]
        yield PainSeries(name, tuple(day for day, _ in said), tuple(float(value) for _, value in said))


def _state(day: DayAnswer) -> DayState:
    if day.measured:
        return "recorded"
    if any(each.sessions_ticked + each.sessions_ticked_in_part for each in day.doses):
        return "ticked"
    return "said not done" if any(each.sessions_said_not_done for each in day.doses) else "nothing known"
