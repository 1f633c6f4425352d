"""Adherence: what was prescribed, recorded, ticked and missed, counted by day and summed over days.

Nothing is extrapolated. A session that was recorded and ticked counts once: a tick with a time belongs to a recorded
session that started near it; one without a time belongs to any recorded session of the day that has no tick yet.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta
from fractions import Fraction
from functools import cache
from typing import Literal

from imu_rom.dose.adherence_answer import DoneShare, DoseCount
from imu_rom.dose.course_days import CourseDays, Key, key_of
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.follow_up import DiaryEntry, Interval, RecordedExercise
from imu_rom.dose.plan import Plan
from imu_rom.dose.totals import DAYS_A_WEEK, exercise_total, sessions_a_week
from imu_rom.settings import CourseSettings

__all__ = ["DayTally", "done_share", "dose_over", "tallies_by_day", "wilson_interval"]


@dataclass(frozen=True)
class DayTally:
    """Counts of one exercise on one day; sums of them are exact, as fractions.

    Parameters
    ----------
    key : tuple of str
        Name of the exercise and its side.
    sessions_prescribed, repetitions_prescribed, under_tension_prescribed_s, recordings_prescribed : Fraction or None
        A frequency a week counts a seventh; None: not prescribed.
    sessions_recorded, sessions_ticked, sessions_ticked_in_part, sessions_said_not_done : int
        As in `imu_rom.dose.adherence_answer.DoseCount`.
    repetitions_recorded, repetitions_partial, repetitions_ticked : int
        The same.
    under_tension_recorded_s : float
        The same.
    under_tension_ticked_s : float or None
        The same.
    reached, short, undecided, past_limit : int
        Answers of the repetitions.
    """

    key: Key
    sessions_prescribed: Fraction | None
    repetitions_prescribed: Fraction | None
    under_tension_prescribed_s: Fraction | None
    recordings_prescribed: Fraction | None
    sessions_recorded: int = 0
    sessions_ticked: int = 0
    sessions_ticked_in_part: int = 0
    sessions_said_not_done: int = 0
    repetitions_recorded: int = 0
    repetitions_partial: int = 0
    repetitions_ticked: int = 0
    under_tension_recorded_s: float = 0.0
    under_tension_ticked_s: float | None = 0.0
    reached: int = 0
    short: int = 0
    undecided: int = 0
    past_limit: int = 0


@cache
def wilson_interval(count: int, total: int) -> Interval | None:
    """Give a proportion with its 95 % interval.

    Parameters
    ----------
    count, total : int
        How many of how many, independent of each other.

    Returns
    -------
    Interval or None
        After Wilson; None of nothing.

    References
    ----------
    E. B. Wilson, "Probable inference, the law of succession, and statistical inference", J Am Stat Assoc 22:209-212,
    1927, doi:10.1080/01621459.1927.10502953 (by `scipy.stats.binomtest`).
    """
    if total == 0:
        return None
    from scipy.stats import binomtest  # noqa: PLC0415  loads slowly

    found = binomtest(count, total).proportion_ci(confidence_level=0.95, method="wilson")
    return Interval(count / total, float(found.low), float(found.high))


def done_share(recorded: float, ticked: float, prescribed: float | None) -> DoneShare | None:
    """Divide what was done by what was prescribed.

    Parameters
    ----------
    recorded, ticked : float
        What sensors recorded, and what was only ticked.
    prescribed : float or None
        In the same unit.

    Returns
    -------
    DoneShare or None
        None where nothing is prescribed.
    """
    if not prescribed:
        return None
    by_record, with_ticks = recorded / prescribed, (recorded + ticked) / prescribed
    return DoneShare(by_record, with_ticks, min(by_record, 1.0), min(with_ticks, 1.0))


def tallies_by_day(course: CourseDays, settings: CourseSettings) -> dict[date, tuple[DayTally, ...]]:
    """Count each day.

    Parameters
    ----------
    course : CourseDays
        The course.
    settings : CourseSettings
        How near a tick must be to a recording.

    Returns
    -------
    dict of date to tuple of DayTally
        Every day; exercises in the order of the plan, others after them.
    """
    return {day: tuple(_tallies(course, day, settings)) for day in course.days}


def _tallies(course: CourseDays, day: date, settings: CourseSettings) -> Iterable[DayTally]:
    stage = course.stage_on[day]
    prescribed = {key_of(each): each for each in (() if stage is None else stage.exercises)}
    recorded = course.recorded_on.get(day, ())
    entries = [each for each in course.diary_on.get(day, ()) if each.done is not None]
    done: dict[Key, Exercise] = dict(prescribed)
    for each in recorded:
        done.setdefault(key_of(each.exercise), each.exercise)
    for exercise in _of_other_stages(course.plan_on(day), entries):
        done.setdefault(key_of(exercise), exercise)
    rate = course.plan_on(day).sessions_recorded_per_week
    for key, exercise in done.items():
        yield _tally(
            key,
            exercise,
            [each for each in recorded if key_of(each.exercise) == key],
            _lines_about(key, entries, is_prescribed=key in prescribed),
            rate if key in prescribed else 0.0,
            settings,
            is_prescribed=key in prescribed,
        )


def _of_other_stages(plan: Plan, entries: Sequence[DiaryEntry]) -> Iterable[Exercise]:
    named = {each.exercise for each in entries} - {None}
    if not named:
        return ()
    return (each for stage in plan.stages for each in stage.exercises if each.name in named)


def _lines_about(key: Key, entries: Sequence[DiaryEntry], *, is_prescribed: bool) -> list[DiaryEntry]:
    """Lines that name the exercise; where none does, those that name none and so speak of all that is prescribed."""
    of_side = [each for each in entries if each.side in {None, key[1]}]
    own = [each for each in of_side if each.exercise == key[0]]
    return own or [each for each in of_side if each.exercise is None and is_prescribed]


def _tally(
    key: Key,
    exercise: Exercise,
    recorded: Sequence[RecordedExercise],
    entries: Sequence[DiaryEntry],
    recordings_per_week: float | None,
    settings: CourseSettings,
    *,
    is_prescribed: bool,
) -> DayTally:
    often = sessions_a_week(exercise)
    sessions = Fraction(0) if not is_prescribed else None if often is None else often / DAYS_A_WEEK
    repetitions = exercise.sets * exercise.repetitions
    session_s = exercise_total(exercise).under_tension_s.a_session
    ticked, in_part, not_done = _ticks_alone(recorded, entries, settings)
    judged = [each for one in recorded for part in one.sets for each in part.repetitions]
    reached = [each.reached for each in judged if each.complete]
    return DayTally(
        key=key,
        sessions_prescribed=sessions,
        repetitions_prescribed=None if sessions is None else sessions * repetitions,
        under_tension_prescribed_s=(None if sessions is None or session_s is None else sessions * session_s),
        recordings_prescribed=_recordings_prescribed(sessions, recordings_per_week),
        sessions_recorded=len({each.session for each in recorded}),
        sessions_ticked=ticked,
        sessions_ticked_in_part=in_part,
        sessions_said_not_done=not_done,
        repetitions_recorded=sum(each.complete for each in judged),
        repetitions_partial=sum(not each.complete for each in judged),
        repetitions_ticked=ticked * repetitions,
        under_tension_recorded_s=sum(_under_tension_s(each, exercise) for each in recorded),
        under_tension_ticked_s=None if session_s is None else float(ticked * session_s),
        reached=reached.count("yes"),
        short=reached.count("no"),
        undecided=reached.count("undecided"),
        past_limit=sum(each.within_limit == "no" for each in judged),
    )


def _recordings_prescribed(sessions: Fraction | None, per_week: float | None) -> Fraction | None:
    if per_week is None:
        return sessions
    asked = Fraction(per_week) / DAYS_A_WEEK
    return asked if sessions is None else min(asked, sessions)


def _under_tension_s(recorded: RecordedExercise, prescribed: Exercise) -> float:
    if not prescribed.is_held:
        return recorded.under_tension_s
    # the ways in and out of a hold are no part of what was prescribed
    return sum(each.hold_s for one in recorded.sets for each in one.repetitions)


def _ticks_alone(
    recorded: Sequence[RecordedExercise], entries: Sequence[DiaryEntry], settings: CourseSettings
) -> tuple[int, int, int]:
    """Ticks done and done in part that belong to no recorded session, and lines that say it was not done."""
    starts: dict[str, datetime] = {}
    for each in recorded:
        starts[each.session] = min(each.started_at, starts.get(each.session, each.started_at))
    ticks = [each for each in entries if each.done in {"yes", "part"}]
    near = timedelta(hours=settings.tick_within_h)
    pairs = sorted(
        (apart, session, i)
        for i, tick in enumerate(ticks)
        for session, start in starts.items()
        if (apart := _apart(tick, start)) is not None and apart <= near
    )
    free, alone = set(starts), set(range(len(ticks)))
    for _, session, i in pairs:
        if session in free and i in alone:
            free.remove(session)
            alone.remove(i)
    # of the ticks without a time those that are done in part go to the recorded sessions first: these have a number
    untimed = sorted((i for i in alone if ticks[i].at is None), key=lambda i: (ticks[i].done == "yes", i))
    alone -= set(untimed[: len(free)])
    done = [ticks[i].done for i in alone]
    return done.count("yes"), done.count("part"), sum(each.done == "no" for each in entries)


def _apart(tick: DiaryEntry, start: datetime) -> timedelta | None:
    if tick.at is None:
        return None
    apart = abs(datetime.combine(start.date(), tick.at, start.tzinfo) - start)
    # a session after midnight belongs to the evening before, and so does its tick
    return min(apart, timedelta(days=1) - apart)


COUNTED = tuple(each.name for each in fields(DayTally) if each.type is int)
Prescribed = Literal[
    "sessions_prescribed", "repetitions_prescribed", "under_tension_prescribed_s", "recordings_prescribed"
]


def dose_over(tallies: Iterable[DayTally]) -> tuple[DoseCount, ...]:
    """Sum the counts of some days.

    Parameters
    ----------
    tallies : iterable of DayTally
        Of these days, in order.

    Returns
    -------
    tuple of DoseCount
        One for each exercise and side, in the order in which they first come.
    """
    by_key: dict[Key, list[DayTally]] = {}
    for each in tallies:
        by_key.setdefault(each.key, []).append(each)
    return tuple(_summed(key, each) for key, each in by_key.items())


def _summed(key: Key, tallies: Sequence[DayTally]) -> DoseCount:
    count = {name: sum(getattr(each, name) for each in tallies) for name in COUNTED}
    sessions = _prescribed(tallies, "sessions_prescribed")
    repetitions = _prescribed(tallies, "repetitions_prescribed")
    under_tension_s = _prescribed(tallies, "under_tension_prescribed_s")
    recorded_s = sum(each.under_tension_recorded_s for each in tallies)
    ticked = [each.under_tension_ticked_s for each in tallies]
    ticked_s = None if None in ticked else sum(each for each in ticked if each is not None)
    done_sessions = count["sessions_recorded"] + count["sessions_ticked"] + count["sessions_ticked_in_part"]
    done_repetitions = count["repetitions_recorded"] + count["repetitions_ticked"]
    return DoseCount(
        exercise=key[0],
        side=key[1],
        sessions_prescribed=sessions,
        repetitions_prescribed=repetitions,
        under_tension_prescribed_s=under_tension_s,
        recordings_prescribed=_prescribed(tallies, "recordings_prescribed"),
        sessions_recorded=count["sessions_recorded"],
        sessions_ticked=count["sessions_ticked"],
        sessions_ticked_in_part=count["sessions_ticked_in_part"],
        sessions_said_not_done=count["sessions_said_not_done"],
        sessions_missing=None if sessions is None else max(sessions - done_sessions, 0.0),
        sessions_excess=None if sessions is None else max(done_sessions - sessions, 0.0),
        repetitions_recorded=count["repetitions_recorded"],
        repetitions_partial=count["repetitions_partial"],
        repetitions_ticked=count["repetitions_ticked"],
        under_tension_recorded_s=recorded_s,
        under_tension_ticked_s=ticked_s,
        repetitions_missing=None if repetitions is None else max(repetitions - done_repetitions, 0.0),
        repetitions_excess=None if repetitions is None else max(done_repetitions - repetitions, 0.0),
        # one done in part is a session of unknown size, so it counts as one that is known to be done nowhere
        sessions_share=done_share(count["sessions_recorded"], count["sessions_ticked"], sessions),
        repetitions_share=done_share(count["repetitions_recorded"], count["repetitions_ticked"], repetitions),
        under_tension_share=None if ticked_s is None else done_share(recorded_s, ticked_s, under_tension_s),
        reached_interval=wilson_interval(count["reached"], count["reached"] + count["short"]),
        repetitions_reached=count["reached"],
        repetitions_short=count["short"],
        repetitions_undecided=count["undecided"],
        repetitions_past_limit=count["past_limit"],
    )


def _prescribed(tallies: Sequence[DayTally], name: Prescribed) -> float | None:
    values: list[Fraction | None] = [getattr(each, name) for each in tallies]
    if None in values:
        return None
    return float(sum((each for each in values if each is not None), Fraction(0)))
