"""A course of weeks: what was prescribed, done, measured and felt, and where the stage stands; composition only."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from imu_rom.dose.adherence import DayTally, dose_over, tallies_by_day
from imu_rom.dose.adherence_answer import DoseCount
from imu_rom.dose.case import case_for, missing_of
from imu_rom.dose.course_days import CourseDays, StageDays, lay_out
from imu_rom.dose.criteria_answers import criteria_answers, window_of
from imu_rom.dose.end_range_course import alike_prescribed, end_range_changes, trend
from imu_rom.dose.follow_up import DiaryEntry, RecordedExercise
from imu_rom.dose.measured_weeks import measured_over, side_differences
from imu_rom.dose.pain import (
    baseline_next_morning,
    flares,
    pain_by_day,
    pain_of_week,
    red_flag_days,
    stop_days,
)
from imu_rom.dose.patterns import patterns
from imu_rom.dose.plan import Plan
from imu_rom.dose.since_review import since_review
from imu_rom.dose.weeks_answer import CourseAnswer, DayAnswer, PainOfDay, StageRun, WeekAnswer
from imu_rom.dose.zero_moved import zero_moved
from imu_rom.settings import Settings

__all__ = ["follow_up"]

Tallies = Mapping[date, Sequence[DayTally]]
Pain = Mapping[date, PainOfDay]


def follow_up(
    plans: Sequence[Plan],
    recorded: Iterable[RecordedExercise],
    diary: Iterable[DiaryEntry],
    until: date,
    settings: Settings | None = None,
) -> CourseAnswer:
    """Follow a course over its weeks.

    Parameters
    ----------
    plans : sequence of Plan
        Versions of one plan, each from its first day on.
    recorded : iterable of RecordedExercise
        In any order; the same one twice counts once.
    diary : iterable of DiaryEntry
        The same.
    until : date
        Last day.
    settings : Settings, optional
        Bands of pain, and how much data is enough.

    Returns
    -------
    CourseAnswer
        Facts only.

    Raises
    ------
    CourseError
        The plans contradict each other, or the last day does not fit them.
    SettingError
        A published error of measurement is named that is not known.
    """
    settings = settings or Settings()
    diary = tuple(diary)
    course = lay_out(plans, recorded, diary, until)
    tallies = tallies_by_day(course, settings.course)
    pain = pain_by_day(course)
    runs = course.runs()
    current = runs[-1]
    plan = course.plan_on(course.until)

    alike = alike_prescribed(course.recorded)
    changes = tuple(
        change for each in alike for change in end_range_changes(each, plan.own_uncertainty, settings.course)
    )
    # the same error is named once, whatever it was used for
    detectable = tuple(dict.fromkeys(each.detectable for each in changes))
    found_flares = flares(course, pain, settings.pain)
    stops = stop_days(pain, settings.pain)
    criteria = criteria_answers(course, current, tallies, pain, settings)
    found_patterns = patterns(course, current, tallies, pain, settings.course)
    window = window_of(current, pain, settings)
    return CourseAnswer(
        plan=plan,
        stage=current.stage,
        from_day=course.days[0],
        until=course.until,
        days=tuple(_day(course, i, day, tallies, pain) for i, day in enumerate(course.days)),
        weeks=tuple(_week(course, i, days, tallies, pain) for i, days in enumerate(course.weeks())),
        runs=_runs(course, runs, tallies),
        doses=_dose(course.days, tallies),
        criteria=criteria,
        case=case_for(
            course,
            course.days[-window.asked :],
            criteria,
            found_patterns,
            found_flares,
            stops,
            missing_of(course, current, window.days, tallies, pain, detectable),
        ),
        patterns=found_patterns,
        trends=tuple(trend(each, settings.course) for each in alike),
        changes=changes,
        since_review=since_review(course, alike, settings.course),
        detectable=detectable,
        flares=found_flares,
        stops=stops,
        red_flags=red_flag_days(diary, course.until, settings.pain),
        zero_moved=zero_moved(course),
        baseline_next_morning=baseline_next_morning(pain),
        days_outside=course.days_outside,
        repeated_recordings=course.repeated_recordings,
        repeated_lines=course.repeated_lines,
        missing=missing_of(course, current, course.days, tallies, pain, detectable),
    )


def _dose(days: Iterable[date], tallies: Tallies) -> tuple[DoseCount, ...]:
    return dose_over(each for day in days for each in tallies[day])


def _day(course: CourseDays, i: int, day: date, tallies: Tallies, pain: Pain) -> DayAnswer:
    stage = course.stage_on[day]
    return DayAnswer(
        day=day,
        week=i // 7 + 1,
        stage=None if stage is None else stage.name,
        plan=course.plan_number_on[day],
        doses=dose_over(tallies[day]),
        measured=measured_over(course.recorded_on.get(day, ())),
        pain=pain[day],
    )


def _week(course: CourseDays, i: int, days: Sequence[date], tallies: Tallies, pain: Pain) -> WeekAnswer:
    recorded = [each for day in days for each in course.recorded_on.get(day, ())]
    on_record = {each.day for each in recorded}
    said = {day for day in days if any(each.done is not None for each in course.diary_on.get(day, ()))}
    stages = [stage.name for day in days if (stage := course.stage_on[day]) is not None]
    return WeekAnswer(
        number=i + 1,
        from_day=days[0],
        to_day=days[-1],
        whole=len(days) == 7,
        stages=tuple(dict.fromkeys(stages)),
        doses=_dose(days, tallies),
        measured=measured_over(recorded),
        sides=side_differences(recorded),
        pain=pain_of_week([pain[day] for day in days]),
        days_recorded=len(on_record),
        days_ticked=len(said - on_record),
        days_unknown=len(set(days) - said - on_record),
    )


def _runs(course: CourseDays, runs: Sequence[StageDays], tallies: Tallies) -> tuple[StageRun, ...]:
    found: list[StageRun] = []
    before: str | None = None
    for run in runs:
        plan = course.plan_on(run.days[-1])
        name = None if run.stage is None else run.stage.name
        order = {each.name: i for i, each in enumerate(plan.stages)}
        why = [each.why for each in plan.calendar if each.from_date == run.days[0] and each.stage == name]
        found.append(
            StageRun(
                stage=name,
                from_day=run.days[0],
                to_day=run.days[-1],
                why=why[-1] if why else None,
                step_back=name in order and before in order and order[name] < order[before],
                doses=_dose(run.days, tallies),
            )
        )
        before = name or before
    return tuple(found)
