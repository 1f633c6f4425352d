"""The answer for a whole course: its days and weeks, and where the stage stands. Facts only, no sentences."""

from dataclasses import dataclass
from datetime import date

from imu_rom.dose.adherence_answer import DoseCount
from imu_rom.dose.case_answer import (
    CaseFor,
    CriterionAnswer,
    Flare,
    Missing,
    Pattern,
    RedFlagDay,
    StopDay,
    ZeroMoved,
)
from imu_rom.dose.exposure_answer import DetectableChange, EndRangeChange, MeasuredWeek, SideDifference, Trend
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.since_review import SinceReview

__all__ = ["CourseAnswer", "DayAnswer", "PainOfDay", "PainOfWeek", "StageRun", "WeekAnswer"]


@dataclass(frozen=True)
class PainOfDay:
    """What the diary says of one day; each the highest of the day's lines, None where nothing was said.

    Parameters
    ----------
    before, during, after : float or None
        0 to 10, around the exercises.
    next_morning : float or None
        0 to 10, at the first steps of the next morning.
    stiffness_min : float or None
        How long stiffness lasted then.
    load_test : float or None
        0 to 10, in the load test.
    painkiller : bool or None
        True if any line says so.
    other_load, notes : tuple of str
        The person's words.
    heel_lift : tuple of str
        ``"in"``, ``"out"`` or both.
    lines : int
        Lines of the diary.
    """

    before: float | None
    during: float | None
    after: float | None
    next_morning: float | None
    stiffness_min: float | None
    load_test: float | None
    painkiller: bool | None
    other_load: tuple[str, ...]
    notes: tuple[str, ...]
    heel_lift: tuple[str, ...]
    lines: int


@dataclass(frozen=True)
class PainOfWeek:
    """Pain over a week, of the days that have an answer.

    Parameters
    ----------
    highest_during, highest_after, highest_next_morning : float or None
        Highest of the week.
    mean_next_morning, mean_stiffness_min : float or None
        Means of the days answered.
    days_during, days_after, days_next_morning, days_stiffness : int
        How many days have an answer.
    """

    highest_during: float | None
    highest_after: float | None
    highest_next_morning: float | None
    mean_next_morning: float | None
    mean_stiffness_min: float | None
    days_during: int
    days_after: int
    days_next_morning: int
    days_stiffness: int


@dataclass(frozen=True)
class DayAnswer:
    """One day.

    Parameters
    ----------
    day : date
        Of the person's calendar.
    week : int
        From 1.
    stage : str or None
        Stage that applied.
    plan : int
        Which of the plans applied, from 0 in order of their first days.
    doses : tuple of DoseCount
        Of each exercise that was prescribed or done. A frequency of fewer than seven days a week counts its seventh on
        each day, so that days add up to weeks.
    measured : tuple of MeasuredWeek
        Of each recorded exercise, and of each side where it has several.
    pain : PainOfDay
        From the diary.
    """

    day: date
    week: int
    stage: str | None
    plan: int
    doses: tuple[DoseCount, ...]
    measured: tuple[MeasuredWeek, ...]
    pain: PainOfDay


@dataclass(frozen=True)
class WeekAnswer:
    """Seven days from the course's first, or fewer at its end.

    Parameters
    ----------
    number : int
        From 1.
    from_day, to_day : date
        Both included.
    whole : bool
        False where the course's last day lies before the week's.
    stages : tuple of str
        That applied in it, in order.
    doses : tuple of DoseCount
        Of each exercise.
    measured : tuple of MeasuredWeek
        Of each recorded exercise, and of each side where it has several.
    sides : tuple of SideDifference
        Where both sides were recorded.
    pain : PainOfWeek
        From the diary.
    days_recorded, days_ticked, days_unknown : int
        Days with a recording; without one, but ticked as done, in part or not; with neither.
    """

    number: int
    from_day: date
    to_day: date
    whole: bool
    stages: tuple[str, ...]
    doses: tuple[DoseCount, ...]
    measured: tuple[MeasuredWeek, ...]
    sides: tuple[SideDifference, ...]
    pain: PainOfWeek
    days_recorded: int
    days_ticked: int
    days_unknown: int


@dataclass(frozen=True)
class StageRun:
    """Days in a row under one stage; a stage that comes back is a run of its own.

    Parameters
    ----------
    stage : str or None
        Its name; None: no stage applied.
    from_day, to_day : date
        Both included.
    why : str or None
        The clinician's reason from the plan's calendar.
    step_back : bool
        True where the run before was of a later stage.
    doses : tuple of DoseCount
        Over the run.
    """

    stage: str | None
    from_day: date
    to_day: date
    why: str | None
    step_back: bool
    doses: tuple[DoseCount, ...]


@dataclass(frozen=True)
class CourseAnswer:
    """Everything that the arithmetic of weeks says.

    Parameters
    ----------
    plan : Plan
        The version that applies on the last day.
    stage : Stage or None
        The stage that applies on the last day.
    from_day, until : date
        First and last day, both included.
    days : tuple of DayAnswer
        In order.
    weeks : tuple of WeekAnswer
        In order.
    runs : tuple of StageRun
        In order.
    doses : tuple of DoseCount
        Over the whole course.
    criteria : tuple of CriterionAnswer
        Of the current stage.
    case : CaseFor
        For progress, staying and stepping back.
    patterns : tuple of Pattern
        All that were looked for, seen or not.
    trends : tuple of Trend
        Of each prescription that was recorded.
    changes : tuple of EndRangeChange
        Between recorded days.
    since_review : SinceReview or None
        How the end range changed since the last review; None where no day of one is known.
    detectable : tuple of DetectableChange
        All that the changes were held against, each once.
    flares : tuple of Flare
        In order.
    stops : tuple of StopDay
        In order: stop and contact the clinician.
    red_flags : tuple of RedFlagDay
        In order, of the whole diary: they stand before anything else, days outside the course included.
    zero_moved : tuple of ZeroMoved
        Other shoes or lifts than prescribed.
    baseline_next_morning : float or None
        Median of the first seven answers about the next morning; None where there are fewer than three.
    days_outside : tuple of date
        Days of recordings or diary lines that lie before the course or after its last day, and are not counted.
    repeated_recordings, repeated_lines : int
        Left out because they came twice.
    missing : tuple of Missing
        What is not known over the whole course.
    """

    plan: Plan
    stage: Stage | None
    from_day: date
    until: date
    days: tuple[DayAnswer, ...]
    weeks: tuple[WeekAnswer, ...]
    runs: tuple[StageRun, ...]
    doses: tuple[DoseCount, ...]
    criteria: tuple[CriterionAnswer, ...]
    case: CaseFor
    patterns: tuple[Pattern, ...]
    trends: tuple[Trend, ...]
    changes: tuple[EndRangeChange, ...]
    since_review: SinceReview | None
    detectable: tuple[DetectableChange, ...]
    flares: tuple[Flare, ...]
    stops: tuple[StopDay, ...]
    red_flags: tuple[RedFlagDay, ...]
    zero_moved: tuple[ZeroMoved, ...]
    baseline_next_morning: float | None
    days_outside: tuple[date, ...]
    repeated_recordings: int
    repeated_lines: int
    missing: tuple[Missing, ...]
