"""What a list of patients needs to know of each course: its recorded sessions, each answered once, and what is asked.

The unit is the session, because its repetitions share the zero: one is short, or past the limit, as in
`imu_rom.dose.end_range_patterns`. How much of this is a reason to look is for `imu_rom.dose.attention_reasons`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from imu_rom.dose.case_answer import Flare, StopDay
from imu_rom.dose.course_days import Key, key_of
from imu_rom.dose.end_range_patterns import by_session, session_reached, session_within
from imu_rom.dose.follow_up import RecordedExercise
from imu_rom.dose.measured_weeks import complete_repetitions, end_range_deg
from imu_rom.dose.totals import sessions_a_week
from imu_rom.dose.weeks_answer import CourseAnswer

__all__ = ["AskedRecordings", "AttentionFacts", "SessionFact", "attention_facts"]

KEPT_DAYS = 35

Outcome = Literal["yes", "no", "undecided"]


@dataclass(frozen=True)
class SessionFact:
    """One exercise of one recorded session.

    Parameters
    ----------
    day : date
        The person's day.
    session : str
        What tells sessions of one day apart.
    exercise : str
        Its name in the plan.
    side : {"left", "right"}
        Side of the body.
    reached, within_limit : {"yes", "no", "undecided"} or None
        Of the session as a whole; None where the plan asks nothing.
    complete, short, past_limit : int
        Complete repetitions, those of them decided to be short, and all decided to be past the limit.
    end_range_median_deg, end_range_largest_deg : float or None
        Over its repetitions; None where no angle is known.
    window_low_deg, limit_deg : float or None
        What the plan asks.
    zero_doubtful : bool
        True where a later pose differed from the zero, or a sensor slipped.
    """

    day: date
    session: str
    exercise: str
    side: Literal["left", "right"]
    reached: Outcome | None
    within_limit: Outcome | None
    complete: int
    short: int
    past_limit: int
    end_range_median_deg: float | None
    end_range_largest_deg: float | None
    window_low_deg: float | None
    limit_deg: float | None
    zero_doubtful: bool


@dataclass(frozen=True)
class AskedRecordings:
    """How many sessions a week of one exercise the plan wants recorded.

    Parameters
    ----------
    exercise : str
        Its name in the plan.
    side : {"left", "right"}
        Side of the body.
    a_week : float
        How many.
    since : date
        First day of the stage that asks for it.
    """

    exercise: str
    side: Literal["left", "right"]
    a_week: float
    since: date


@dataclass(frozen=True)
class AttentionFacts:
    """What is kept of a course for the list of patients.

    Parameters
    ----------
    until : date
        Last day that was looked at.
    stage : str or None
        Stage that applies then.
    stage_since : date
        Its first day.
    sessions : tuple of SessionFact
        Of the last five weeks, in order of time.
    asked : tuple of AskedRecordings
        Empty where the plan does not say how many sessions are to be recorded.
    flares : tuple of Flare
        Of the last five weeks.
    criteria_met, criteria_not_met, criteria_open : int
        Answers of the stage's criteria; open: not enough data, or for the clinician to answer.
    stops : tuple of StopDay
        Answers at which to stop, of the whole course.
    """

    until: date
    stage: str | None
    stage_since: date
    sessions: tuple[SessionFact, ...]
    asked: tuple[AskedRecordings, ...]
    flares: tuple[Flare, ...]
    criteria_met: int
    criteria_not_met: int
    criteria_open: int
    stops: tuple[StopDay, ...] = ()


def attention_facts(answer: CourseAnswer, recorded: Sequence[RecordedExercise]) -> AttentionFacts:
    """Gather what the list of patients needs of one course.

    Parameters
    ----------
    answer : CourseAnswer
        The course, followed up to its last day.
    recorded : sequence of RecordedExercise
        What sensors recorded in it.

    Returns
    -------
    AttentionFacts
        Facts only.
    """
    first = answer.until - timedelta(days=KEPT_DAYS - 1)
    by_key: dict[Key, list[RecordedExercise]] = {}
    for each in sorted(recorded, key=lambda each: (each.day, each.started_at)):
        if first <= each.day <= answer.until:
            by_key.setdefault(key_of(each.exercise), []).append(each)
    sessions = [_session(group) for own in by_key.values() for group in by_session(own)]
    said = [each.answer for each in answer.criteria]
    return AttentionFacts(
        until=answer.until,
        stage=None if answer.stage is None else answer.stage.name,
        stage_since=answer.runs[-1].from_day,
        sessions=tuple(sorted(sessions, key=lambda each: (each.day, each.session, each.exercise, each.side))),
        asked=_asked(answer),
        flares=tuple(each for each in answer.flares if each.day >= first),
        criteria_met=said.count("met"),
        criteria_not_met=said.count("not met"),
        criteria_open=len(said) - said.count("met") - said.count("not met"),
        stops=answer.stops,
    )


def _session(group: Sequence[RecordedExercise]) -> SessionFact:
    exercise = group[-1].exercise
    complete = complete_repetitions(group)
    repetitions = [each for one in group for part in one.sets for each in part.repetitions]
    asks_end_range = exercise.asks_end_range and exercise.angle_is_known and bool(complete)
    asks_limit = exercise.limit_deg is not None and exercise.angle_is_known and bool(repetitions)
    return SessionFact(
        day=group[0].day,
        session=group[0].session,
        exercise=exercise.name,
        side=exercise.side,
        reached=session_reached(group) if asks_end_range else None,
        within_limit=session_within(group) if asks_limit else None,
        complete=len(complete),
        short=sum(each.reached == "no" for each in complete),
        past_limit=sum(each.within_limit == "no" for each in repetitions),
        end_range_median_deg=end_range_deg(group),
        end_range_largest_deg=max((each.end_range_deg for each in repetitions), default=None)
        if exercise.angle_is_known
        else None,
        window_low_deg=None if exercise.end_range_deg is None else exercise.end_range_deg[0],
        limit_deg=exercise.limit_deg,
        zero_doubtful=any(each.zero_doubtful for each in group),
    )


def _asked(answer: CourseAnswer) -> tuple[AskedRecordings, ...]:
    a_week = answer.plan.sessions_recorded_per_week
    if a_week is None or answer.stage is None:
        return ()
    found = []
    for exercise in answer.stage.exercises:
        often = sessions_a_week(exercise)
        asked = a_week if often is None else min(a_week, float(often))
        found.append(AskedRecordings(exercise.name, exercise.side, asked, answer.runs[-1].from_day))
    return tuple(found)
