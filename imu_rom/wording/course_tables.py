"""The tables of a course: its stages, what was done of the dose, the pain answer, and every day."""

from dataclasses import dataclass

from imu_rom.dose.adherence_answer import DoneShare, DoseCount
from imu_rom.dose.weeks_answer import CourseAnswer, DayAnswer
from imu_rom.wording.course_figures import NONE, amount, named, percent, span, sum_in_words, week_number, with_interval
from imu_rom.wording.figures import one_decimal

__all__ = ["Table", "day_table", "dose_table", "pain_table", "stage_table", "total_table"]


@dataclass(frozen=True)
class Table:
    """A table for people.

    Parameters
    ----------
    title : str
        What it shows, and what its cells mean.
    headings : tuple of str
        One a column.
    rows : tuple of tuple of str
        Cells.
    words : tuple of int
        Columns of words rather than figures, counted from 0.
    """

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: tuple[int, ...] = ()


def total_table(answer: CourseAnswer) -> Table:
    """Show what is known of the dose over the whole course.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    Table
        A row for each exercise.
    """
    return Table(
        "Whole course: sessions, share of the prescribed repetitions, and recorded repetitions that reached the end "
        "range, of those decided",
        (
            "exercise",
            "sessions asked",
            "recorded",
            "ticked",
            "said not done",
            "missing",
            "more",
            "recorded, %",
            "done, %",
            "reached, % (95 % interval after Wilson)",
        ),
        tuple(
            (
                named(each.exercise, each.side),
                amount(each.sessions_prescribed),
                str(each.sessions_recorded),
                _ticked(each),
                str(each.sessions_said_not_done),
                amount(each.sessions_missing),
                amount(each.sessions_excess),
                NONE if each.repetitions_share is None else percent(each.repetitions_share.recorded),
                _done(each.repetitions_share),
                _reached(each),
            )
            for each in answer.doses
        ),
        words=(0,),
    )


def _reached(dose: DoseCount) -> str:
    found = dose.reached_interval
    undecided = f"{dose.repetitions_undecided} undecided"
    if found is None:
        return undecided if dose.repetitions_undecided else NONE
    return f"{percent(found.value)} ({percent(found.low)} to {percent(found.high)}), {undecided}"


def stage_table(answer: CourseAnswer) -> Table:
    """Show the stages in the order in which they applied.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    Table
        A row for each run of days under one stage and each of its exercises.
    """
    rows = []
    for run in answer.runs:
        why = f"{'back: ' if run.step_back else ''}{run.why or ''}".removesuffix(": ")
        first = (run.stage or "no stage", span(run.from_day, run.to_day))
        for number, each in enumerate(run.doses or (None,)):
            head = first if number == 0 else ("", "")
            rows.append((*head, *_counts(each), why if number == 0 else ""))
    return Table(
        "Stages; sessions and repetitions of each exercise, done by recordings and ticks together",
        ("stage", "days", "exercise", "sessions asked", "recorded", "ticked", "missing", "done, %", "why"),
        tuple(rows),
        words=(0, 1, 2),
    )


def _counts(dose: DoseCount | None) -> tuple[str, ...]:
    if dose is None:
        return (NONE,) * 6
    return (
        named(dose.exercise, dose.side),
        amount(dose.sessions_prescribed),
        str(dose.sessions_recorded),
        _ticked(dose),
        amount(dose.sessions_missing),
        _done(dose.repetitions_share),
    )


def _ticked(dose: DoseCount) -> str:
    part = f" + {dose.sessions_ticked_in_part} in part" if dose.sessions_ticked_in_part else ""
    return f"{dose.sessions_ticked}{part}"


def _done(share: DoneShare | None) -> str:
    """Share with ticks; where more was done than asked, the capped one beside it."""
    if share is None:
        return NONE
    capped = f" (capped {percent(share.with_ticks_capped)})" if share.with_ticks > 1 else ""
    return f"{percent(share.with_ticks)}{capped}"


def dose_table(answer: CourseAnswer) -> Table:
    """Show what was done of what was prescribed, week by week.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    Table
        A row for each week and exercise.
    """
    rows = []
    for week in answer.weeks:
        for number, each in enumerate(week.doses):
            head = (week_number(week), ", ".join(week.stages) or "no stage") if number == 0 else ("", "")
            rows.append(
                (
                    *head,
                    named(each.exercise, each.side),
                    amount(each.sessions_prescribed),
                    str(each.sessions_recorded),
                    _ticked(each),
                    amount(each.sessions_missing),
                    amount(each.repetitions_prescribed),
                    str(each.repetitions_recorded),
                    str(each.repetitions_ticked),
                    NONE if each.repetitions_share is None else percent(each.repetitions_share.recorded),
                    _done(each.repetitions_share),
                )
            )
    return Table(
        "Dose by week; ticked is the person's word, with the prescribed number, and missing is not zero",
        (
            "week",
            "stage",
            "exercise",
            "sessions asked",
            "recorded",
            "ticked",
            "missing",
            "repetitions asked",
            "recorded",
            "ticked",
            "recorded, %",
            "done, %",
        ),
        tuple(rows),
        words=(1, 2),
    )


def pain_table(answer: CourseAnswer) -> Table:
    """Show the pain answer, week by week, and on how many days nothing is known.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    Table
        A row a week.
    """
    rows = []
    for week in answer.weeks:
        pain = week.pain
        exposed = [each.past_threshold for each in week.measured if each.past_threshold is not None and each.exercise]
        past_s = f"{sum(each.sum_s.value for each in exposed):.0f}" if exposed else NONE
        rows.append(
            (
                week_number(week),
                f"{week.days_recorded} / {week.days_ticked} / {week.days_unknown}",
                past_s,
                _pain(pain.highest_during, pain.days_during),
                _pain(pain.highest_after, pain.days_after),
                _pain(pain.highest_next_morning, pain.days_next_morning),
                NONE if pain.mean_next_morning is None else one_decimal(pain.mean_next_morning),
                NONE if pain.mean_stiffness_min is None else f"{pain.mean_stiffness_min:.0f} ({pain.days_stiffness} d)",
            )
        )
    return Table(
        "Pain of 10 by week, next mornings with the day before; in brackets the days answered",
        (
            "week",
            "days recorded / ticked / unknown",
            "past the angle, recorded, s",
            "highest during",
            "highest after",
            "highest next morning",
            "mean next morning",
            "mean stiffness, min",
        ),
        tuple(rows),
    )


def _pain(value: float | None, days: int) -> str:
    return NONE if value is None else f"{value:g} ({days} d)"


def day_table(answer: CourseAnswer) -> Table:
    """Show every day.

    Parameters
    ----------
    answer : CourseAnswer
        The course.

    Returns
    -------
    Table
        A row for each day and exercise of it.
    """
    rows = []
    for day in answer.days:
        head = (str(day.day), day.stage or "no stage")
        for number, each in enumerate(day.doses or (None,)):
            rows.append((*(head if number == 0 else ("", "")), *_day_of(day, each), *_pain_of(day, first=number == 0)))
    return Table(
        "Days; sessions and repetitions asked, recorded and ticked, and pain of 10",
        (
            "day",
            "stage",
            "exercise",
            "sessions asked",
            "recorded",
            "ticked",
            "repetitions recorded",
            "past the angle, s",
            "end range, deg",
            "before / during / after",
            "next morning",
            "stiffness, min",
        ),
        tuple(rows),
        words=(0, 1, 2),
    )


def _day_of(day: DayAnswer, dose: DoseCount | None) -> tuple[str, ...]:
    if dose is None:
        return (NONE,) * 7
    measured = next((each for each in day.measured if (each.exercise, each.side) == (dose.exercise, dose.side)), None)
    return (
        named(dose.exercise, dose.side),
        amount(dose.sessions_prescribed),
        str(dose.sessions_recorded),
        f"{_ticked(dose)}{f', {dose.sessions_said_not_done} not done' if dose.sessions_said_not_done else ''}",
        str(dose.repetitions_recorded),
        NONE if measured is None else sum_in_words(measured.past_threshold),
        NONE if measured is None else with_interval(measured.end_range_median_deg),
    )


def _pain_of(day: DayAnswer, *, first: bool) -> tuple[str, str, str]:
    if not first:
        return "", "", ""
    pain = day.pain
    around = " / ".join(_value(each) for each in (pain.before, pain.during, pain.after))
    return around, _value(pain.next_morning), _value(pain.stiffness_min)


def _value(value: float | None) -> str:
    return NONE if value is None else f"{value:g}"
