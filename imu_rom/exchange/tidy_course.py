"""The tables that go out of a course besides those of its results: weeks, doses by week and exercise, diary."""

from collections.abc import Iterator
from dataclasses import fields

from imu_rom.dose.adherence_answer import DoneShare, DoseCount
from imu_rom.dose.exposure_answer import ExposureSum, MeasuredWeek
from imu_rom.dose.follow_up import DiaryEntry, Interval
from imu_rom.dose.weeks_answer import PainOfWeek, WeekAnswer
from imu_rom.exchange.exported import ExportedCourse
from imu_rom.exchange.plain_values import plain, rounded
from imu_rom.exchange.tidy_columns import Column, TableLayout, column

__all__ = ["DIARY", "DOSES", "WEEKS", "diary_rows", "dose_rows", "week_rows"]

Row = dict[str, object]

SCORE = "{score}"
_PATIENT = column("patient", "t", "pseudonym")
_WEEK = column("week", "w", "which week of the course, from 1")

WEEKS = TableLayout(
    "weeks",
    "one week of the course",
    ("patient", "week"),
    (
        _PATIENT,
        _WEEK,
        column("from_day", "t", "first day, ISO 8601"),
        column("to_day", "t", "last day, included"),
        column("whole", "y", "no where the course ends before the week does"),
        column("days_recorded", "w", "days with a recording", unit="d"),
        column("days_ticked", "w", "days without one, but with a word of the diary on what was done", unit="d"),
        column("days_unknown", "w", "days with neither", unit="d"),
        column("highest_during", "n", "highest pain during the exercises", unit=SCORE),
        column("highest_after", "n", "highest pain after them", unit=SCORE),
        column("highest_next_morning", "n", "highest pain the next morning", unit=SCORE),
        column("mean_next_morning", "n", "mean pain of the next mornings", "mean of the days answered", unit=SCORE),
        column("mean_stiffness_min", "n", "mean stiffness of the next mornings", "mean of the days answered"),
        column("days_during", "w", "days with an answer on pain during", unit="d"),
        column("days_after", "w", "days with an answer on pain after", unit="d"),
        column("days_next_morning", "w", "days with an answer on the next morning", unit="d"),
        column("days_stiffness", "w", "days with an answer on stiffness", unit="d"),
    ),
)

_SHARE = "done over prescribed"
_COUNTS: tuple[Column, ...] = (
    column("sessions_prescribed", "n", "prescribed sessions; a frequency a week counts a seventh each day"),
    column("repetitions_prescribed", "n", "prescribed repetitions"),
    column("under_tension_prescribed_s", "n", "prescribed time under tension"),
    column("recordings_prescribed", "n", "sessions that should have been recorded with sensors"),
    column("sessions_recorded", "w", "sessions with sensors", unit="1"),
    column("sessions_ticked", "w", "sessions only in the diary, as done", unit="1"),
    column("sessions_ticked_in_part", "w", "sessions only in the diary, as done in part", unit="1"),
    column("sessions_said_not_done", "w", "sessions in the diary, as not done", unit="1"),
    column("sessions_missing", "n", "prescribed sessions of which nothing is known, or not done"),
    column("sessions_excess", "n", "done sessions beyond the prescribed"),
    column("repetitions_recorded", "w", "complete repetitions that sensors recorded", unit="1"),
    column("repetitions_partial", "w", "partial ones beside them", unit="1"),
    column("repetitions_ticked", "w", "prescribed repetitions of the sessions only ticked as done", unit="1"),
    column("under_tension_recorded_s", "n", "time of all recorded repetitions"),
    column("under_tension_ticked_s", "n", "prescribed time of the sessions only ticked as done"),
    column("repetitions_missing", "n", "prescribed less recorded and ticked ones, where more"),
    column("repetitions_excess", "n", "recorded and ticked ones less prescribed, where more"),
    column("repetitions_reached", "w", "recorded complete ones that reached the end range", unit="1"),
    column("repetitions_short", "w", "recorded complete ones that did not", unit="1"),
    column("repetitions_undecided", "w", "recorded complete ones of which it can't be told", unit="1"),
    column("repetitions_past_limit", "w", "recorded ones that passed the limit, partial ones included", unit="1"),
)
_SHARES: tuple[Column, ...] = tuple(
    column(f"{what}_share_{which}", "n", f"share of the {words}, {meaning}", _SHARE)
    for what, words in (("sessions", "sessions"), ("repetitions", "repetitions"), ("under_tension", "time"))
    for which, meaning in (("recorded", "recorded with sensors"), ("with_ticks", "recorded or ticked as done"))
)
_MEASURED: tuple[Column, ...] = (
    column("reached_share", "n", "share of the decided repetitions that reached the end range"),
    column("reached_share_low", "n", "lower end of its 95 % interval", "Wilson's interval"),
    column("reached_share_high", "n", "upper end of its 95 % interval", "Wilson's interval"),
    column("past_threshold_measured_s", "n", "time past the compressive angle in the recorded sessions", "sum"),
    column("past_threshold_s", "n", "median of that sum, each session's zero in error by itself"),
    column("past_threshold_low_s", "n", "lower end of its 95 % interval"),
    column("past_threshold_high_s", "n", "upper end of its 95 % interval"),
    column("past_threshold_alike_low_s", "n", "lower end, had the zero been off alike in all sessions"),
    column("past_threshold_alike_high_s", "n", "upper end, had the zero been off alike in all sessions"),
    column("end_range_median_deg", "n", "median end range of the recorded complete repetitions"),
    column("end_range_median_low_deg", "n", "lower end of its 95 % interval"),
    column("end_range_median_high_deg", "n", "upper end of its 95 % interval"),
)

DOSES = TableLayout(
    "doses",
    "one exercise in one week of the course",
    ("patient", "week", "exercise", "side"),
    (
        _PATIENT,
        _WEEK,
        column("exercise", "t", "its name in the plan"),
        column("side", "t", "side of the body: left, right"),
        *_COUNTS,
        *_SHARES,
        *_MEASURED,
    ),
)

DIARY = TableLayout(
    "diary",
    "one line of the diary",
    ("patient", "line"),
    (
        _PATIENT,
        column("line", "w", "line of diary.csv"),
        column("day", "t", "day that it belongs to, ISO 8601"),
        column("at", "t", "time of day"),
        column("exercise", "t", "its name in the plan; empty where the line is of the whole day"),
        column("side", "t", "side of the body: left, right"),
        column("done", "t", "yes, part, no"),
        column("pain_before", "n", "0 to 10", unit=SCORE),
        column("pain_during", "n", "0 to 10", unit=SCORE),
        column("pain_after", "n", "0 to 10", unit=SCORE),
        column("pain_next_morning", "n", "0 to 10, of the morning after the day", unit=SCORE),
        column("stiffness_min", "n", "how long stiffness lasted then"),
        column("load_test_pain", "n", "0 to 10, in the load test", unit=SCORE),
        column("painkiller", "y", "whether one was taken"),
        column("other_load", "t", "the person's words"),
        column("heel_lift", "t", "in, out"),
        column("red_flags", "t", "signs that need help, apart by semicolons"),
        column("note", "t", "the person's words"),
    ),
)


def week_rows(course: ExportedCourse) -> list[Row]:
    """Lay the weeks out.

    Parameters
    ----------
    course : ExportedCourse
        The course.

    Returns
    -------
    list of dict
        By the columns of ``WEEKS``.
    """
    kept = ("from_day", "to_day", "whole", "days_recorded", "days_ticked", "days_unknown")
    return [
        {
            "patient": course.patient,
            "week": each.number,
            **{name: plain(getattr(each, name)) for name in kept},
            **{one.name: plain(rounded(getattr(each.pain, one.name), one.name)) for one in fields(PainOfWeek)},
        }
        for each in course.answer.weeks
    ]


def dose_rows(course: ExportedCourse) -> list[Row]:
    """Lay the doses out, by week and exercise.

    Parameters
    ----------
    course : ExportedCourse
        The course.

    Returns
    -------
    list of dict
        By the columns of ``DOSES``.
    """
    return [
        {"patient": course.patient, "week": week.number, **row} for week in course.answer.weeks for row in _doses(week)
    ]


def _doses(week: WeekAnswer) -> Iterator[Row]:
    counts = {(each.exercise, each.side): each for each in week.doses}
    measured = {(each.exercise, each.side): each for each in week.measured if each.exercise is not None}
    for key in dict.fromkeys([*counts, *measured]):
        yield {"exercise": key[0], "side": key[1], **_count(counts.get(key)), **_measure(measured.get(key))}


def _count(count: DoseCount | None) -> Row:
    row: Row = {
        each.name: None if count is None else plain(rounded(getattr(count, each.name), each.name)) for each in _COUNTS
    }
    for what in ("sessions", "repetitions", "under_tension"):
        share: DoneShare | None = None if count is None else getattr(count, f"{what}_share")
        for which in ("recorded", "with_ticks"):
            row[f"{what}_share_{which}"] = None if share is None else rounded(getattr(share, which), which)
    reached = None if count is None else count.reached_interval
    return row | _interval("reached_share", reached, "")


def _measure(measured: MeasuredWeek | None) -> Row:
    past: ExposureSum | None = None if measured is None else measured.past_threshold
    alike = _interval("past_threshold_alike", None if past is None else past.alike_s, "_s")
    del alike["past_threshold_alike_s"]
    return {
        "past_threshold_measured_s": None if past is None else rounded(past.measured_s, "measured_s"),
        **_interval("past_threshold", None if past is None else past.sum_s, "_s"),
        **alike,
        **_interval("end_range_median", None if measured is None else measured.end_range_median_deg, "_deg"),
    }


def _interval(name: str, interval: Interval | None, unit: str) -> Row:
    ends = {f"{name}{unit}": "value", f"{name}_low{unit}": "low", f"{name}_high{unit}": "high"}
    return {key: None if interval is None else rounded(getattr(interval, end), key) for key, end in ends.items()}


def diary_rows(course: ExportedCourse) -> list[Row]:
    """Lay the diary out.

    Parameters
    ----------
    course : ExportedCourse
        The course.

    Returns
    -------
    list of dict
        By the columns of ``DIARY``.
    """
    return [_entry(course.patient, each) for each in course.diary]


def _entry(patient: str | None, entry: DiaryEntry) -> Row:
    row: Row = {each.name: getattr(entry, each.name) for each in fields(DiaryEntry)}
    return row | {
        "patient": patient,
        "day": entry.day.isoformat(),
        "at": None if entry.at is None else entry.at.isoformat(timespec="minutes"),
        "red_flags": "; ".join(entry.red_flags) or None,
    }
