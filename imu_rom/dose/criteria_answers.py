"""Criteria of the stage: met, not met, or not enough data, with the numbers that say so; never met without data.

The window is the last ``days_stable`` days (``course.stable_days`` where the stage names none) up to the last day, all
of them under this stage. Pain during and after is asked for on days with a session, pain next morning on every day; the
last day's morning is still to come, so without its answer the window of the mornings ends a day earlier. One answer
above the bound is enough for "not met". For "met", ``course.answered_share`` of the days asked must have an answer.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from imu_rom.dose.adherence import DayTally, dose_over
from imu_rom.dose.case_answer import CriterionAnswer
from imu_rom.dose.course_days import CourseDays, Key, StageDays, key_of
from imu_rom.dose.criteria import Criteria
from imu_rom.dose.measured_weeks import side_differences
from imu_rom.dose.own_side_range import own_range_difference
from imu_rom.dose.week_on_week import no_rise
from imu_rom.dose.weeks_answer import PainOfDay
from imu_rom.settings import Settings

__all__ = ["Window", "criteria_answers", "window_of"]

PainName = Literal["pain during", "pain after", "pain next morning"]


@dataclass(frozen=True)
class Window:
    """The days that criteria are judged over.

    Parameters
    ----------
    days : tuple of date
        In order, all under the current stage.
    asked : int
        How many it should have.
    mornings : tuple of date
        The same, of days whose next morning is known or should be.
    """

    days: tuple[date, ...]
    asked: int
    mornings: tuple[date, ...]

    @property
    def is_whole(self) -> bool:
        """True where the stage has lasted long enough."""
        return len(self.days) == self.asked


def window_of(run: StageDays, pain: Mapping[date, PainOfDay], settings: Settings) -> Window:
    """Give the window that the criteria of a stage are judged over.

    Parameters
    ----------
    run : StageDays
        The current stage and its days.
    pain : mapping of date to PainOfDay
        Of all days.
    settings : Settings
        The usual number of days.

    Returns
    -------
    Window
        Shorter than asked for where the stage began later.
    """
    stable = None if run.stage is None else run.stage.criteria.days_stable
    asked = int(settings.course.stable_days) if stable is None else stable
    last_known = pain[run.days[-1]].next_morning is not None
    mornings = run.days if last_known else run.days[:-1]
    return Window(run.days[-asked:], asked, mornings[-asked:])


def criteria_answers(
    course: CourseDays,
    run: StageDays,
    tallies: Mapping[date, Sequence[DayTally]],
    pain: Mapping[date, PainOfDay],
    settings: Settings,
) -> tuple[CriterionAnswer, ...]:
    """Answer each criterion of the current stage.

    Parameters
    ----------
    course : CourseDays
        The course.
    run : StageDays
        The current stage and its days.
    tallies : mapping of date to sequence of DayTally
        What was prescribed and done.
    pain : mapping of date to PainOfDay
        What the diary says.
    settings : Settings
        How much data is enough.

    Returns
    -------
    tuple of CriterionAnswer
        In a fixed order; empty where no stage applies or it has no criteria.
    """
    if run.stage is None:
        return ()
    criteria = run.stage.criteria
    window = window_of(run, pain, settings)
    return (
        *_shares(course, run, window, tallies, criteria),
        *_pains(course, window, tallies, pain, criteria, settings),
        *(no_rise(pain, run.days[-1], window.asked, settings) if criteria.no_rise_week_on_week else ()),
        *_load_test(run, pain, criteria, settings),
        *_sides(course, window, criteria),
        *(CriterionAnswer("in words", each, "for the clinician", None, None) for each in criteria.in_words),
    )


def _shares(
    course: CourseDays,
    run: StageDays,
    window: Window,
    tallies: Mapping[date, Sequence[DayTally]],
    criteria: Criteria,
) -> Iterator[CriterionAnswer]:
    if criteria.share_of_dose is None or run.stage is None:
        return
    known = [day for day in window.days if day in course.recorded_on or day in course.diary_on]
    unknown = set(window.days) - set(known)
    for key in (key_of(each) for each in run.stage.exercises):
        own = [each for day in window.days for each in tallies[day] if each.key == key]
        (dose,) = dose_over(own)
        numbers = {
            "repetitions_recorded": float(dose.repetitions_recorded),
            "repetitions_ticked": float(dose.repetitions_ticked),
            "sessions_ticked_in_part": float(dose.sessions_ticked_in_part),
        }
        share = dose.repetitions_share
        found = None
        answer: Literal["met", "not met", "not enough data"] = "not enough data"
        if share is not None and dose.repetitions_prescribed is not None:
            numbers |= {"repetitions_prescribed": dose.repetitions_prescribed, "share_recorded": share.recorded}
            # days without a word may have been done, and so may what is missing of sessions done in part
            most = share.with_ticks + _open_share(key, tallies, unknown, dose.repetitions_prescribed)
            most += dose.sessions_ticked_in_part * _session_share(run, key, dose.repetitions_prescribed)
            found = share.with_ticks if known else None
            if share.with_ticks >= criteria.share_of_dose and window.is_whole and known:
                answer = "met"
            elif most < criteria.share_of_dose and window.is_whole:
                answer = "not met"
        yield CriterionAnswer(
            "share of dose",
            criteria.share_of_dose,
            answer,
            window.days[0],
            window.days[-1],
            found=found,
            days_asked=window.asked,
            days_answered=len(known),
            numbers=numbers,
            detail=key[0],
        )


def _open_share(
    key: Key, tallies: Mapping[date, Sequence[DayTally]], unknown: Iterable[date], prescribed: float
) -> float:
    open_repetitions = [
        float(each.repetitions_prescribed or 0) for day in unknown for each in tallies[day] if each.key == key
    ]
    return math.fsum(open_repetitions) / prescribed


def _session_share(run: StageDays, key: Key, prescribed: float) -> float:
    exercises = () if run.stage is None else run.stage.exercises
    return next(each.sets * each.repetitions for each in exercises if key_of(each) == key) / prescribed


def _pains(
    course: CourseDays,
    window: Window,
    tallies: Mapping[date, Sequence[DayTally]],
    pain: Mapping[date, PainOfDay],
    criteria: Criteria,
    settings: Settings,
) -> Iterator[CriterionAnswer]:
    with_session = [day for day in window.days if any(_was_done(each) for each in tallies[day])]
    stage = course.stage_on[window.days[-1]]
    weekly = [each.days_per_week or 7.0 for each in (() if stage is None else stage.exercises)]
    fewest = min(int(settings.course.fewest_days), math.ceil(max(weekly, default=7.0)))
    asked: tuple[tuple[PainName, float | None, Sequence[date], int, Callable[[PainOfDay], float | None]], ...] = (
        ("pain during", criteria.pain_during_at_most, with_session, fewest, lambda each: each.during),
        ("pain after", criteria.pain_after_at_most, with_session, fewest, lambda each: each.after),
        (
            "pain next morning",
            criteria.pain_next_morning_at_most,
            window.mornings,
            window.asked,
            lambda each: each.next_morning,
        ),
    )
    for name, bound, days, needed, of in asked:
        if bound is None:
            continue
        # what was said counts on a day without a session too, if it breaks the bound
        said = {day: value for day in {*window.days, *days} if (value := of(pain[day])) is not None}
        against = tuple(sorted(day for day, value in said.items() if value > bound))
        answered = [day for day in days if day in said]
        enough = (
            window.is_whole
            and len(days) >= needed
            and len(answered) >= max(settings.course.answered_share * len(days), 1)
        )
        span = days or window.days
        yield CriterionAnswer(
            name,
            bound,
            "not met" if against else "met" if enough else "not enough data",
            span[0],
            span[-1],
            found=max(said.values(), default=None),
            days_asked=max(len(days), needed),
            days_answered=len(answered),
            days_against=against,
        )


def _was_done(tally: DayTally) -> bool:
    return tally.sessions_recorded + tally.sessions_ticked + tally.sessions_ticked_in_part > 0


def _load_test(
    run: StageDays, pain: Mapping[date, PainOfDay], criteria: Criteria, settings: Settings
) -> Iterator[CriterionAnswer]:
    test = criteria.load_test
    if test is None:
        return
    until = run.days[-1]
    oldest = until - timedelta(days=int(settings.course.load_test_valid_days))
    done = [(day, value) for day in run.days if day >= oldest and (value := pain[day].load_test) is not None]
    if not done:
        yield CriterionAnswer(
            "load test", test.pain_at_most, "not enough data", None, None, days_asked=1, detail=test.name
        )
        return
    day, value = done[-1]
    passed = value <= test.pain_at_most
    yield CriterionAnswer(
        "load test",
        test.pain_at_most,
        "met" if passed else "not met",
        day,
        day,
        found=value,
        days_asked=1,
        days_answered=1,
        days_against=() if passed else (day,),
        numbers={"days_ago": float((until - day).days)},
        detail=test.name,
    )


def _sides(course: CourseDays, window: Window, criteria: Criteria) -> Iterator[CriterionAnswer]:
    bound = criteria.side_difference_deg_at_most
    if bound is None:
        return
    within = [each for day in window.days for each in course.recorded_on.get(day, ()) if not each.zero_doubtful]
    found = [
        (f"{each.left_exercise}, {each.right_exercise}", each.from_day, each.to_day, each.end_range_deg)
        for each in side_differences(within)
        if each.end_range_deg is not None
    ]
    if not found:
        by_own_range = own_range_difference(course.plan_on(window.days[-1]), window.days[-1])
        found = [] if by_own_range is None else [by_own_range]
    if not found:
        yield CriterionAnswer(
            "side difference", bound, "not enough data", window.days[0], window.days[-1], days_asked=1
        )
    for detail, start, stop, difference in found:
        nearest = 0.0 if difference.low <= 0 <= difference.high else min(abs(difference.low), abs(difference.high))
        farthest = max(abs(difference.low), abs(difference.high))
        yield CriterionAnswer(
            "side difference",
            bound,
            "met" if farthest <= bound else "not met" if nearest > bound else "not enough data",
            start,
            stop,
            found=abs(difference.value),
            days_asked=1,
            days_answered=1,
            numbers={"difference_deg": difference.value, "low_deg": difference.low, "high_deg": difference.high},
            detail=detail,
        )
