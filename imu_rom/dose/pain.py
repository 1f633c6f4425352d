"""The pain answer: what the diary says by day and week, days to stop at, and flares.

Next morning belongs to the day before. A flare is a day on which pain, during or after the exercises or next morning,
lies above the acceptable band, or has not settled in time. It has settled when that morning's answer is at most
``pain.settled_within`` above its baseline: the pain before that day's exercises, or, where none was noted, the median
of the seven mornings before that have an answer (three at least). The morning is the next one for up to 24 hours, the
one after for up to 48, and so on; without ``settles_within_h`` in the plan only the band is judged (pain-monitoring
model: Thomee, Phys Ther 77:1690-1703, 1997; Silbernagel et al., Am J Sports Med 35:897-906, 2007; from memory).
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from statistics import fmean, median
from typing import Literal

from imu_rom.dose.case_answer import Flare, RedFlagDay, StopDay
from imu_rom.dose.course_days import CourseDays
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.dose.weeks_answer import PainOfDay, PainOfWeek
from imu_rom.settings import PainSettings

__all__ = ["baseline_next_morning", "flares", "pain_by_day", "pain_of_week", "red_flag_days", "stop_days"]

BASELINE_DAYS = 7
FEWEST_FOR_BASELINE = 3

Kind = Literal["during", "after", "next morning", "not settled"]
What = Literal["pain before", "pain during", "pain after", "pain next morning", "load test pain", "stiffness"]


def pain_by_day(course: CourseDays) -> dict[date, PainOfDay]:
    """Sum up the diary day by day.

    Parameters
    ----------
    course : CourseDays
        The course.

    Returns
    -------
    dict of date to PainOfDay
        Every day.
    """
    return {day: _pain(course.diary_on.get(day, ())) for day in course.days}


def _pain(lines: Sequence[DiaryEntry]) -> PainOfDay:
    said = {each.painkiller for each in lines} - {None}
    return PainOfDay(
        before=_highest(each.pain_before for each in lines),
        during=_highest(each.pain_during for each in lines),
        after=_highest(each.pain_after for each in lines),
        next_morning=_highest(each.pain_next_morning for each in lines),
        stiffness_min=_highest(each.stiffness_min for each in lines),
        load_test=_highest(each.load_test_pain for each in lines),
        painkiller=(True in said) if said else None,
        other_load=tuple(each.other_load for each in lines if each.other_load),
        notes=tuple(each.note for each in lines if each.note),
        heel_lift=tuple(sorted({each.heel_lift for each in lines if each.heel_lift})),
        lines=len(lines),
    )


def _highest(values: Iterable[float | None]) -> float | None:
    return max((each for each in values if each is not None), default=None)


def pain_of_week(days: Sequence[PainOfDay]) -> PainOfWeek:
    """Sum up a week's days.

    Parameters
    ----------
    days : sequence of PainOfDay
        Of the week.

    Returns
    -------
    PainOfWeek
        Of the days that have an answer.
    """
    during = [each.during for each in days if each.during is not None]
    after = [each.after for each in days if each.after is not None]
    morning = [each.next_morning for each in days if each.next_morning is not None]
    stiffness = [each.stiffness_min for each in days if each.stiffness_min is not None]
    return PainOfWeek(
        highest_during=max(during, default=None),
        highest_after=max(after, default=None),
        highest_next_morning=max(morning, default=None),
        mean_next_morning=fmean(morning) if morning else None,
        mean_stiffness_min=fmean(stiffness) if stiffness else None,
        days_during=len(during),
        days_after=len(after),
        days_next_morning=len(morning),
        days_stiffness=len(stiffness),
    )


def baseline_next_morning(pain: Mapping[date, PainOfDay]) -> float | None:
    """Give the course's baseline of morning pain.

    Parameters
    ----------
    pain : mapping of date to PainOfDay
        In order of days.

    Returns
    -------
    float or None
        Median of the first seven answers; None of fewer than three.
    """
    answers = [each.next_morning for each in pain.values() if each.next_morning is not None][:BASELINE_DAYS]
    return median(answers) if len(answers) >= FEWEST_FOR_BASELINE else None


def stop_days(pain: Mapping[date, PainOfDay], settings: PainSettings) -> tuple[StopDay, ...]:
    """Find the answers at which to stop and contact the clinician.

    Parameters
    ----------
    pain : mapping of date to PainOfDay
        In order of days.
    settings : PainSettings
        The bounds.

    Returns
    -------
    tuple of StopDay
        In order of days.
    """
    return tuple(stop for day, each in pain.items() for stop in _stops(day, each, settings))


def _stops(day: date, pain: PainOfDay, settings: PainSettings) -> Iterator[StopDay]:
    answers: tuple[tuple[What, float | None, float], ...] = (
        ("pain before", pain.before, settings.stop_above),
        ("pain during", pain.during, settings.stop_above),
        ("pain after", pain.after, settings.stop_above),
        ("pain next morning", pain.next_morning, settings.stop_above),
        ("load test pain", pain.load_test, settings.stop_above),
        ("stiffness", pain.stiffness_min, settings.stiffness_stop_above_min),
    )
    for what, value, bound in answers:
        if value is not None and value > bound:
            yield StopDay(day, what, value, bound)


def flares(course: CourseDays, pain: Mapping[date, PainOfDay], settings: PainSettings) -> tuple[Flare, ...]:
    """Find the flares.

    Parameters
    ----------
    course : CourseDays
        The course, with what its plans say of how fast pain settles.
    pain : mapping of date to PainOfDay
        Of its days, in order.
    settings : PainSettings
        The acceptable band, and how near to its baseline pain has settled.

    Returns
    -------
    tuple of Flare
        In order of days.
    """
    found = []
    for day, each in pain.items():
        banded: tuple[tuple[Kind, float | None], ...] = (
            ("during", each.during),
            ("after", each.after),
            ("next morning", each.next_morning),
        )
        kinds = [kind for kind, value in banded if value is not None and value > settings.acceptable_up_to]
        unsettled = _not_settled(day, pain, course.plan_on(day).settles_within_h, settings)
        if unsettled is not None:
            kinds.append("not settled")
        if kinds:
            highest = [value for _, value in banded if value is not None]
            highest += [] if unsettled is None else [unsettled[1]]
            found.append(Flare(day, tuple(kinds), max(highest), None if unsettled is None else unsettled[0]))
    return tuple(found)


def _not_settled(
    day: date, pain: Mapping[date, PainOfDay], settles_within_h: float | None, settings: PainSettings
) -> tuple[float, float] | None:
    """Baseline and the answer of the morning by which pain should have settled, where it has not."""
    if settles_within_h is None:
        return None
    mornings = max(math.ceil(settles_within_h / 24), 1)
    by_then = pain.get(day + timedelta(days=mornings - 1))
    if by_then is None or by_then.next_morning is None:
        return None
    baseline = pain[day].before
    if baseline is None:
        before = [each.next_morning for one, each in pain.items() if one < day and each.next_morning is not None]
        if len(before) < FEWEST_FOR_BASELINE:
            return None
        baseline = median(before[-BASELINE_DAYS:])
    return (baseline, by_then.next_morning) if by_then.next_morning > baseline + settings.settled_within else None


def red_flag_days(diary: Iterable[DiaryEntry], until: date, settings: PainSettings) -> tuple[RedFlagDay, ...]:
    """Find the days for which the diary names a sign that needs somebody to look at the person.

    Parameters
    ----------
    diary : iterable of DiaryEntry
        All of it, days before and after the course included.
    until : date
        Last day of the course.
    settings : PainSettings
        How long such a sign is recent.

    Returns
    -------
    tuple of RedFlagDay
        In order of days.
    """
    named: dict[date, dict[str, None]] = {}
    for each in diary:
        if each.red_flags:
            named.setdefault(each.day, {}).update(dict.fromkeys(each.red_flags))
    recent = timedelta(days=settings.red_flag_recent_days)
    return tuple(RedFlagDay(day, tuple(sorted(words)), until - day <= recent) for day, words in sorted(named.items()))
